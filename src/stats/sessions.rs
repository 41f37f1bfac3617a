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

impl Between {
    /// What is known of a player joined with what is usual, which counts like so many sessions more: a few sessions tell a
    /// spread badly, and by chance often none at all. Variances are weighed by their degrees of freedom.
    pub fn joined(self, usual_sd: f64, weight: usize) -> Self {
        let (own, usual) = ((self.sessions - 1) as f64, weight as f64);
        let variance = (own * self.sd.powi(2) + usual * usual_sd.powi(2)) / (own + usual);
        Self { sd: variance.sqrt(), sessions: self.sessions + weight }
    }
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
        let alike = Between { sd: 0.0, sessions: 4 };
        assert_eq!(between_sessions([session; 4]), Some(alike));
        assert_eq!(alike.joined(2.0, 1), Between { sd: 1.0, sessions: 5 });
    }
}
