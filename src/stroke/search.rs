//! Looking along a curve in time for its extremes and crossings.

use crate::units::Seconds;

/// Curves are sampled at this step and refined by a parabola or a straight line.
pub const STEP: Seconds = Seconds(0.004);

/// A curve over time that has gaps.
pub trait Curve: Fn(Seconds) -> Option<f64> {}
impl<F: Fn(Seconds) -> Option<f64>> Curve for F {}

/// Samples a curve from `from` to `to` in even steps of about [`STEP`], both ends included; gaps are left out.
pub fn samples(curve: impl Curve, from: Seconds, to: Seconds) -> Vec<(Seconds, f64)> {
    times(from, to).filter_map(|t| Some((t, curve(t)?))).collect()
}

/// The same samples last first, each taken when it is asked for.
pub fn samples_backward(
    curve: impl Curve,
    from: Seconds,
    to: Seconds,
) -> impl Iterator<Item = (Seconds, f64)> {
    times(from, to).rev().filter_map(move |t| Some((t, curve(t)?)))
}

/// The times at which a curve is sampled; none where `to` lies before `from`.
pub fn times(from: Seconds, to: Seconds) -> impl DoubleEndedIterator<Item = Seconds> {
    let count = count(from, to);
    let steps = count.saturating_sub(1);
    (0..count).map(move |i| from + (to - from) * (i as f64 / steps as f64))
}

/// Time and value of the largest value of a curve between two times, between samples by a parabola.
pub fn maximum(curve: impl Curve, from: Seconds, to: Seconds) -> Option<(Seconds, f64)> {
    largest(times(from, to).filter_map(|t| Some((t, curve(t)?))))
}

/// The same of a curve's samples.
pub fn largest(samples: impl IntoIterator<Item = (Seconds, f64)>) -> Option<(Seconds, f64)> {
    let mut all = samples.into_iter();
    // The largest sample, the last of equals, with those beside it.
    let mut best = (None, all.next()?, None);
    let mut last = best.1;
    for sample in all {
        if sample.1.total_cmp(&best.1.1).is_ge() {
            best = (Some(last), sample, None);
        } else if best.2.is_none() {
            best.2 = Some(sample);
        }
        last = sample;
    }
    let (Some((earlier, before)), (t, v), Some((later, after))) = best else { return Some(best.1) };
    let bend = before - 2.0 * v + after;
    if bend >= -1e-15 {
        return Some((t, v));
    }
    let shift = 0.5 * (before - after) / bend;
    let step = 0.5 * (later - earlier).0;
    Some((t + Seconds(shift * step), v - 0.25 * (before - after) * shift))
}

/// Time and value of the smallest value of a curve between two times.
pub fn minimum(curve: impl Curve, from: Seconds, to: Seconds) -> Option<(Seconds, f64)> {
    smallest(times(from, to).filter_map(|t| Some((t, curve(t)?))))
}

/// The same of a curve's samples.
pub fn smallest(samples: impl IntoIterator<Item = (Seconds, f64)>) -> Option<(Seconds, f64)> {
    let (t, v) = largest(samples.into_iter().map(|(t, v)| (t, -v)))?;
    Some((t, -v))
}

/// The first time between two times at which a curve is at or under `level`, between samples by a straight line.
pub fn first_at_or_under(curve: impl Curve, level: f64, from: Seconds, to: Seconds) -> Option<Seconds> {
    let mut before: Option<(Seconds, f64)> = None;
    for (t1, v1) in times(from, to).filter_map(|t| Some((t, curve(t)?))) {
        if v1 <= level {
            return Some(match before {
                Some((t0, v0)) if v0 > v1 => t0 + (t1 - t0) * ((v0 - level) / (v0 - v1)),
                _ => t1,
            });
        }
        before = Some((t1, v1));
    }
    None
}

/// The last time between two times at which a curve is at or under `level`.
pub fn last_at_or_under(curve: impl Curve, level: f64, from: Seconds, to: Seconds) -> Option<Seconds> {
    // The same search with time running backward from `to`.
    let reversed = first_at_or_under(|t| curve(from + (to - t)), level, from, to)?;
    Some(from + (to - reversed))
}

/// At how many times a curve is sampled between two.
pub fn count(from: Seconds, to: Seconds) -> usize {
    let span = (to - from).0;
    if span >= 0.0 { (span / STEP.0).ceil().max(1.0) as usize + 1 } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bell(t: Seconds) -> Option<f64> {
        Some((-((t.0 - 0.501) / 0.1).powi(2)).exp())
    }

    #[test]
    fn extremes_fall_between_samples() {
        let (t, v) = maximum(bell, Seconds(0.0), Seconds(1.0)).unwrap();
        assert!((t.0 - 0.501).abs() < 1e-4 && (v - 1.0).abs() < 1e-4, "{t:?} {v}");
        let (t, _) = minimum(|t| Some((t.0 - 0.3).powi(2)), Seconds(0.0), Seconds(1.0)).unwrap();
        assert!((t.0 - 0.3).abs() < 1e-6);
    }

    #[test]
    fn crossings_are_found_from_both_ends() {
        let first = first_at_or_under(|t| bell(t).map(|v| -v), -0.5, Seconds(0.0), Seconds(1.0)).unwrap();
        let last = last_at_or_under(|t| bell(t).map(|v| -v), -0.5, Seconds(0.0), Seconds(1.0)).unwrap();
        let half_width = 0.1 * 2.0_f64.ln().sqrt();
        assert!((first.0 - (0.501 - half_width)).abs() < 1e-4, "{first:?}");
        assert!((last.0 - (0.501 + half_width)).abs() < 1e-4, "{last:?}");
    }

    #[test]
    fn samples_are_the_same_from_both_ends() {
        let mut backward: Vec<_> = samples_backward(bell, Seconds(0.1), Seconds(0.7013)).collect();
        backward.reverse();
        assert_eq!(backward, samples(bell, Seconds(0.1), Seconds(0.7013)));
    }

    #[test]
    fn nothing_is_found_in_a_gap() {
        assert_eq!(maximum(|_| None, Seconds(0.0), Seconds(1.0)), None);
        assert_eq!(samples(bell, Seconds(1.0), Seconds(0.0)), Vec::new());
        assert_eq!(samples(bell, Seconds(f64::NAN), Seconds(0.0)), Vec::new());
    }
}
