//! A level base with a straight rise, laid through a curve of an angle in time.

use crate::units::Seconds;

/// What strays less than this counts no more for it, degrees.
const LEAST_STRAY: f64 = 1.0;

/// A level base with a straight rise after it.
pub struct Ramp {
    /// Where the rise begins.
    pub start: Seconds,
    /// Degrees.
    pub base: f64,
    /// Degrees a second.
    pub slope: f64,
    /// Mean distance of the curve, degrees.
    pub stray: f64,
}

/// Rounds in which what strays far from a ramp comes to count for less.
const ROUNDS: usize = 4;

impl Ramp {
    /// The ramp that rises from `start` and lies closest to a curve by the sum of its distances, each as far as it is to be
    /// trusted, so that a stretch that was misread bends it little (least squares, weighed again by one over the distance).
    /// `None` where that doesn't rise.
    pub fn through(curve: &[(Seconds, f64)], trust: &[f64], start: Seconds) -> Option<Self> {
        let risen = |t: Seconds| (t - start).0.max(0.0);
        let all: f64 = trust.iter().sum();
        let mut weights = trust.to_vec();
        let mut ramp = None;
        for _ in 0..ROUNDS {
            let [mut n, mut x, mut y, mut xx, mut xy] = [0.0; 5];
            for ((t, angle), weight) in curve.iter().zip(&weights) {
                let since = risen(*t);
                n += weight;
                x += weight * since;
                y += weight * angle;
                xx += weight * (since * since);
                xy += weight * (since * angle);
            }
            let slope = (n * xy - x * y) / (n * xx - x * x);
            if !(slope.is_finite() && slope > 0.0) {
                return None;
            }
            let base = (y - slope * x) / n;
            let mut stray = 0.0;
            for (((t, angle), trust), weight) in curve.iter().zip(trust).zip(&mut weights) {
                let far = (angle - base - slope * risen(*t)).abs();
                stray += trust * far;
                *weight = trust / far.max(LEAST_STRAY);
            }
            ramp = Some(Self { start, base, slope, stray: stray / all });
        }
        ramp
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misread_stretch_of_the_base_moves_the_rise_little() {
        let rise = |t: f64| 50.0 + 400.0 * (t - 0.2).max(0.0);
        let curve: Vec<(Seconds, f64)> = (0..80)
            .map(|i| 0.004 * f64::from(i))
            .map(|t| (Seconds(t), if (0.06..0.12).contains(&t) { 30.0 } else { rise(t) }))
            .collect();
        let trust = vec![1.0; curve.len()];
        let best = curve
            .iter()
            .filter_map(|(start, _)| Ramp::through(&curve, &trust, *start))
            .min_by(|a, b| a.stray.total_cmp(&b.stray))
            .unwrap();
        assert!((best.start.0 - 0.2).abs() < 0.008, "{}", best.start.0);
        assert!(
            (best.base - 50.0).abs() < 1.5 && (best.slope - 400.0).abs() < 15.0,
            "{} {}",
            best.base,
            best.slope
        );
    }
}
