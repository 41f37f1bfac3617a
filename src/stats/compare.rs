//! The difference of two sessions' means with its interval and the smallest change that could be told.

use super::dependence::inflation;
use super::{Between, Interval, Summary, TWO_SIDED_95, bca, t_quantile};

/// From so many strokes on each side the interval is bootstrapped; below, Welch's.
pub const BOOTSTRAP_FROM: usize = 15;

/// What is uncertain about a difference besides the strokes' own spread.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Extra {
    /// Standard deviation of the measurement's own error in the difference: the part that all strokes of a session share
    /// and the two sessions don't.
    pub measurement: f64,
    /// What the player's sessions differ by when nothing is changed.
    pub between: Option<Between>,
}

impl Extra {
    /// Its variance and degrees of freedom. The sessions from which [`Between`] comes were measured in the same way, so it
    /// holds the measurement's error already; that is a floor, not an addition.
    fn variance(&self) -> (f64, f64) {
        let floor = self.measurement.powi(2);
        match self.between {
            Some(between) if 2.0 * between.sd.powi(2) > floor => {
                (2.0 * between.sd.powi(2), between.sessions as f64 - 1.0)
            }
            _ => (floor, f64::INFINITY),
        }
    }
}

/// The difference of two sessions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Mean after minus mean before.
    pub value: f64,
    /// Its 95 % interval.
    pub interval: Interval,
    /// The minimal detectable change: t·√(V₁ + V₂ + E), with the inflated variances of both means and the variance of
    /// [`Extra`] (Weir 2005, J Strength Cond Res 19:231, for the mean of several trials and with Student's t).
    pub minimal: f64,
}

/// Compares two sessions whose strokes stand in the order in which they were hit. Below [`BOOTSTRAP_FROM`] strokes on a
/// side the interval is Welch's (1947, Biometrika 34:28) with Satterthwaite's degrees of freedom; from there on the
/// bootstrap's [`bca`]. Standard errors are widened by [`inflation`]; `extra` widens both intervals. `None` for fewer than two
/// values on a side.
pub fn difference(before: &[f64], after: &[f64], extra: Extra) -> Option<Difference> {
    let sides = [before, after];
    let [first, second] = [Summary::of(before)?, Summary::of(after)?];
    let value = second.mean - first.mean;
    let (mut plain, mut inflated, mut by_freedom) = (0.0, 0.0, 0.0);
    for (values, summary) in sides.iter().zip([first, second]) {
        let variance = summary.variance_of_mean(inflation(values))?;
        plain += summary.variance_of_mean(1.0)?;
        inflated += variance;
        by_freedom += variance.powi(2) / (summary.n as f64 - 1.0);
    }
    let (more, more_freedom) = extra.variance();
    let variance = inflated + more;
    by_freedom += more.powi(2) / more_freedom;
    // Without any spread there is nothing that a quantile could widen.
    let t = if by_freedom > 0.0 { t_quantile(0.975, variance.powi(2) / by_freedom)? } else { TWO_SIDED_95 };
    let minimal = t * variance.sqrt();
    let few = before.len().min(after.len()) < BOOTSTRAP_FROM;
    let interval = match if few { None } else { bca(before, after) } {
        None => Interval { low: value - minimal, high: value + minimal },
        Some(bare) => {
            let factor = (inflated / plain).sqrt();
            let more = t_quantile(0.975, more_freedom.min(1e9))? * more.sqrt();
            Interval {
                low: value - (factor * (value - bare.low)).hypot(more),
                high: value + (factor * (bare.high - value)).hypot(more),
            }
        }
    };
    Some(Difference { value, interval, minimal })
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: [f64; 8] = [39.1, 36.0, 40.2, 37.7, 38.3, 41.0, 36.9, 38.8];
    const AFTER: [f64; 8] = [14.0, 12.2, 16.1, 13.3, 15.0, 12.7, 14.9, 13.8];

    #[test]
    fn what_else_is_uncertain_widens_the_interval() {
        let bare = difference(&BEFORE, &AFTER, Extra::default()).unwrap();
        let width = |d: &Difference| d.interval.high - d.interval.low;
        let floor = difference(&BEFORE, &AFTER, Extra { measurement: 3.0, between: None }).unwrap();
        assert!(width(&floor) > width(&bare) && width(&floor) > 2.0 * 1.96 * 3.0);
        assert!((width(&floor) - 2.0 * floor.minimal).abs() < 1e-9);
        // A between-session spread smaller than the floor changes nothing; a larger one replaces it.
        let between = |sd| {
            let extra = Extra { measurement: 3.0, between: Some(Between { sd, sessions: 6 }) };
            width(&difference(&BEFORE, &AFTER, extra).unwrap())
        };
        assert_eq!(between(1.0), width(&floor));
        assert!(between(4.0) > width(&floor));
    }

    #[test]
    fn sides_without_spread_have_an_interval_without_width() {
        let d = difference(&[5.0; 6], &[5.0; 7], Extra::default()).unwrap();
        assert_eq!((d.value, d.interval.low, d.interval.high, d.minimal), (0.0, 0.0, 0.0, 0.0));
        assert_eq!(difference(&[5.0], &[5.0; 7], Extra::default()), None);
    }
}
