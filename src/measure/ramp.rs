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

/// So many ramps are laid at the same time, each by itself: a processor adds them in one step.
const LANES: usize = 4;

impl Ramp {
    /// The ramp through a curve that lies closest to it, by the sum of its distances, among those that rise from one of `starts`,
    /// each distance counting as far as it is to be trusted, so that a stretch that was misread bends it little (least squares, weighed
    /// again by one over the distance). `None` where none of them rises.
    pub fn closest(curve: &[(Seconds, f64)], trust: &[f64], starts: &[Seconds]) -> Option<Self> {
        let all: f64 = trust.iter().sum();
        let mut weights = vec![[0.0; LANES]; curve.len()];
        let mut best: Option<Self> = None;
        for some in starts.chunks(LANES) {
            let lanes = std::array::from_fn(|lane| some.get(lane).copied().unwrap_or(some[0]));
            let ramps = through(curve, (trust, all), lanes, &mut weights);
            for ramp in ramps.into_iter().take(some.len()).flatten() {
                // The first of equals.
                if best.as_ref().is_none_or(|best| ramp.stray.total_cmp(&best.stray).is_lt()) {
                    best = Some(ramp);
                }
            }
        }
        best
    }
}

/// The ramps that rise from `starts`; `None` for those that don't rise. `all` is the sum of `trust`, `weights` room for one weight for
/// each point and ramp.
fn through(
    curve: &[(Seconds, f64)],
    (trust, all): (&[f64], f64),
    starts: [Seconds; LANES],
    weights: &mut [[f64; LANES]],
) -> [Option<Ramp>; LANES] {
    let risen = |t: Seconds| starts.map(|start| (t - start).0.max(0.0));
    for (weights, trust) in weights.iter_mut().zip(trust) {
        *weights = [*trust; LANES];
    }
    let (mut slopes, mut bases, mut strays) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
    let mut rises = [true; LANES];
    for _ in 0..ROUNDS {
        let [mut n, mut x, mut y, mut xx, mut xy] = [[0.0; LANES]; 5];
        for ((t, angle), weights) in curve.iter().zip(&*weights) {
            let since = risen(*t);
            for lane in 0..LANES {
                let (weight, since) = (weights[lane], since[lane]);
                n[lane] += weight;
                x[lane] += weight * since;
                y[lane] += weight * angle;
                xx[lane] += weight * (since * since);
                xy[lane] += weight * (since * angle);
            }
        }
        for lane in 0..LANES {
            let slope = (n[lane] * xy[lane] - x[lane] * y[lane]) / (n[lane] * xx[lane] - x[lane] * x[lane]);
            rises[lane] &= slope.is_finite() && slope > 0.0;
            slopes[lane] = slope;
            bases[lane] = (y[lane] - slope * x[lane]) / n[lane];
        }
        if rises == [false; LANES] {
            break;
        }
        strays = [0.0; LANES];
        for (((t, angle), trust), weights) in curve.iter().zip(trust).zip(&mut *weights) {
            let since = risen(*t);
            for lane in 0..LANES {
                let far = (angle - bases[lane] - slopes[lane] * since[lane]).abs();
                strays[lane] += trust * far;
                weights[lane] = trust / far.max(LEAST_STRAY);
            }
        }
    }
    std::array::from_fn(|lane| {
        let ramp =
            Ramp { start: starts[lane], base: bases[lane], slope: slopes[lane], stray: strays[lane] / all };
        rises[lane].then_some(ramp)
    })
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
        let starts: Vec<Seconds> = curve.iter().map(|(start, _)| *start).collect();
        let best = Ramp::closest(&curve, &trust, &starts).unwrap();
        assert!((best.start.0 - 0.2).abs() < 0.008, "{}", best.start.0);
        assert!(
            (best.base - 50.0).abs() < 1.5 && (best.slope - 400.0).abs() < 15.0,
            "{} {}",
            best.base,
            best.slope
        );
    }
}
