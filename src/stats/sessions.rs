//! How much a player's sessions differ when nothing is changed.

use super::Summary;
use super::dependence::inflation;

/// Fewer earlier sessions say nothing about how sessions differ.
pub const FEWEST_SESSIONS: usize = 4;

/// What sessions differ by beyond what their strokes explain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// Standard deviation between sessions, in the measure's unit.
    pub sd: f64,
    /// From how many sessions.
    pub sessions: usize,
}

/// Standard deviation between sessions, τ, by the method of moments: variance of the sessions' means minus the mean
/// variance of a mean (Hedges 1983, Psychol Bull 93:388; Hedges & Olkin 1985 ch. 9), not below 0. A session is its strokes' values in order; those
/// with fewer than two are left out. `None` for fewer than [`FEWEST_SESSIONS`].
pub fn between_sessions<'a>(sessions: impl IntoIterator<Item = &'a [f64]>) -> Option<Between> {
    let known: Vec<(f64, f64)> = sessions
        .into_iter()
        .filter_map(|values| {
            let summary = Summary::of(values)?;
            Some((summary.mean, summary.variance_of_mean(inflation(values))?))
        })
        .collect();
    if known.len() < FEWEST_SESSIONS {
        return None;
    }
    let means: Vec<f64> = known.iter().map(|(mean, _)| *mean).collect();
    let within = known.iter().map(|(_, variance)| variance).sum::<f64>() / known.len() as f64;
    let across = Summary::of(&means)?.sd?.powi(2);
    Some(Between { sd: (across - within).max(0.0).sqrt(), sessions: known.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_sessions_say_nothing() {
        let session: &[f64] = &[1.0, 2.0, 3.0];
        assert_eq!(between_sessions([session; 3]), None);
        assert_eq!(between_sessions([session; 4]), Some(Between { sd: 0.0, sessions: 4 }));
    }
}
