//! The difference of two sessions' means with its interval and the smallest change that could be told.

use super::dependence::inflation;
use super::{Between, Interval, Summary, TWO_SIDED_95, bca, t_quantile, t_two_sided};

/// From so many strokes on each side the interval is bootstrapped; below, Welch's.
pub const BOOTSTRAP_FROM: usize = 15;

/// What is uncertain about a difference besides the strokes' own spread.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Extra {
    /// Standard deviation of the measurement's own error in the difference: the part that all strokes of a session share
    /// and the two sessions don't.
    pub measurement: f64,
    /// What the player's sessions are known to differ by when nothing is changed.
    pub between: Option<Between>,
    /// What sessions differ by as a rule, where that is not known of this player; comes on top of the measurement's error.
    pub usual: Option<Between>,
}

impl Extra {
    /// Its variance and degrees of freedom. The sessions from which [`Extra::between`] comes were measured in the same way, so
    /// it holds the measurement's error already; that is a floor, not an addition.
    fn variance(&self) -> (f64, f64) {
        let floor = self.measurement.powi(2);
        let of = |between: Between| (2.0 * between.sd.powi(2), between.sessions as f64 - 1.0);
        let (known, known_freedom) = match self.between.map(of) {
            Some((known, freedom)) if known > floor => (known, freedom),
            _ => (floor, f64::INFINITY),
        };
        let (usual, usual_freedom) = self.usual.map_or((0.0, 1.0), of);
        let by_freedom = known.powi(2) / known_freedom + usual.powi(2) / usual_freedom;
        let all = known + usual;
        (all, if by_freedom > 0.0 { all.powi(2) / by_freedom } else { f64::INFINITY })
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
    /// Two-sided p that goes with the interval: under 0.05 where the interval leaves out zero. Unlike a permutation's it
    /// knows that strokes resemble their neighbours and what else is uncertain.
    pub p: f64,
}

/// Compares two sessions whose strokes stand in the order in which they were hit. Below [`BOOTSTRAP_FROM`] strokes on a
/// side the interval is Welch's (1947, Biometrika 34:28) with Satterthwaite's degrees of freedom; from there on the
/// bootstrap's [`bca`]. Standard errors are widened by [`inflation`]; `extra` widens both intervals. `None` for fewer than two
/// values on a side.
pub fn difference(before: &[f64], after: &[f64], extra: Extra) -> Option<Difference> {
    let sides = [before, after];
    let [first, second] = [Summary::of(before)?, Summary::of(after)?];
    let value = second.mean - first.mean;
    // Variances of the difference as resamples show it and as it is.
    let (mut drawn, mut inflated, mut strokes_freedom) = (0.0, 0.0, 0.0);
    for (values, summary) in sides.iter().zip([first, second]) {
        let variance = summary.variance_of_mean(inflation(values))?;
        let n = summary.n as f64;
        drawn += summary.variance_of_mean(1.0)? * (n - 1.0) / n;
        inflated += variance;
        strokes_freedom += variance.powi(2) / (n - 1.0);
    }
    let (more, more_freedom) = extra.variance();
    let variance = inflated + more;
    let by_freedom = strokes_freedom + more.powi(2) / more_freedom;
    // Without any spread there is nothing that a quantile could widen.
    let freedom = if by_freedom > 0.0 { variance.powi(2) / by_freedom } else { f64::INFINITY };
    let t = t_quantile(0.975, freedom)?;
    let minimal = t * variance.sqrt();
    let few = before.len().min(after.len()) < BOOTSTRAP_FROM;
    let interval = match if few { None } else { bca(before, after) } {
        None => Interval { low: value - minimal, high: value + minimal },
        Some(bare) => {
            // Resamples spread by the divisor n and know nothing of how uncertain that spread is: Student's factor is put
            // back (Hesterberg 2015, Am Stat 69:371), so that one stroke more doesn't make the interval a step narrower.
            let t = t_quantile(0.975, inflated.powi(2) / strokes_freedom)?;
            let factor = (inflated / drawn).sqrt() * t / TWO_SIDED_95;
            let more = t_quantile(0.975, more_freedom.min(1e9))? * more.sqrt();
            Interval {
                low: value - (factor * (value - bare.low)).hypot(more),
                high: value + (factor * (bare.high - value)).hypot(more),
            }
        }
    };
    // On the side of zero, in standard errors.
    let half = if value > 0.0 { value - interval.low } else { interval.high - value };
    let p =
        if half > 0.0 { t_two_sided(t * value / half, freedom)? } else { f64::from(u8::from(value == 0.0)) };
    Some(Difference { value, interval, minimal, p })
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
        let floor = difference(&BEFORE, &AFTER, Extra { measurement: 3.0, ..Extra::default() }).unwrap();
        assert!(width(&floor) > width(&bare) && width(&floor) > 2.0 * 1.96 * 3.0);
        assert!((width(&floor) - 2.0 * floor.minimal).abs() < 1e-9);
        // A between-session spread smaller than the floor changes nothing; a larger one replaces it.
        let between = |sd| {
            let extra = Extra { measurement: 3.0, between: Some(Between { sd, sessions: 6 }), usual: None };
            width(&difference(&BEFORE, &AFTER, extra).unwrap())
        };
        assert_eq!(between(1.0), width(&floor));
        assert!(between(4.0) > width(&floor));
    }

    #[test]
    fn p_and_interval_agree() {
        for shift in [-2.0, 0.0, 0.3, 0.8, 1.2, 1.6, 2.0, 3.0] {
            for long in [1, 3] {
                let before: Vec<f64> = BEFORE.repeat(long);
                let after: Vec<f64> = before.iter().map(|x| x + shift).collect();
                let extra = Extra { measurement: 0.3, ..Extra::default() };
                let d = difference(&before, &after, extra).unwrap();
                assert_eq!(d.p < 0.05, !d.interval.holds(0.0), "{shift}: {d:?}");
            }
        }
    }

    #[test]
    fn sides_without_spread_have_an_interval_without_width() {
        let d = difference(&[5.0; 6], &[5.0; 7], Extra::default()).unwrap();
        assert_eq!((d.value, d.interval.low, d.interval.high, d.minimal), (0.0, 0.0, 0.0, 0.0));
        assert_eq!(difference(&[5.0], &[5.0; 7], Extra::default()), None);
    }
}
