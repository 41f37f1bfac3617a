//! Looking along a curve in time for its extremes and crossings.

use crate::units::Seconds;

/// Curves are sampled at this step and refined by a parabola or a straight line.
pub const STEP: Seconds = Seconds(0.004);

/// A curve over time that has gaps.
pub trait Curve: Fn(Seconds) -> Option<f64> {}
impl<F: Fn(Seconds) -> Option<f64>> Curve for F {}

/// Samples a curve from `from` to `to` in even steps of about [`STEP`], both ends included; gaps are left out.
pub fn samples(curve: impl Curve, from: Seconds, to: Seconds) -> Vec<(Seconds, f64)> {
    let span = (to - from).0;
    if span.is_nan() || span < 0.0 {
        return Vec::new();
    }
    let steps = (span / STEP.0).ceil().max(1.0) as usize;
    (0..=steps)
        .filter_map(|i| {
            let t = from + (to - from) * (i as f64 / steps as f64);
            Some((t, curve(t)?))
        })
        .collect()
}

/// Time and value of the largest value of a curve between two times, between samples by a parabola.
pub fn maximum(curve: impl Curve, from: Seconds, to: Seconds) -> Option<(Seconds, f64)> {
    let values = samples(curve, from, to);
    let best = (0..values.len()).max_by(|&a, &b| values[a].1.total_cmp(&values[b].1))?;
    let (t, v) = values[best];
    if best == 0 || best + 1 == values.len() {
        return Some((t, v));
    }
    let (before, after) = (values[best - 1].1, values[best + 1].1);
    let bend = before - 2.0 * v + after;
    if bend >= -1e-15 {
        return Some((t, v));
    }
    let shift = 0.5 * (before - after) / bend;
    let step = 0.5 * (values[best + 1].0 - values[best - 1].0).0;
    Some((t + Seconds(shift * step), v - 0.25 * (before - after) * shift))
}

/// Time and value of the smallest value of a curve between two times.
pub fn minimum(curve: impl Curve, from: Seconds, to: Seconds) -> Option<(Seconds, f64)> {
    let (t, v) = maximum(|t| curve(t).map(|v| -v), from, to)?;
    Some((t, -v))
}

/// The first time between two times at which a curve is at or under `level`, between samples by a straight line.
pub fn first_at_or_under(curve: impl Curve, level: f64, from: Seconds, to: Seconds) -> Option<Seconds> {
    let values = samples(curve, from, to);
    let hit = values.iter().position(|(_, v)| *v <= level)?;
    let (t1, v1) = values[hit];
    match hit.checked_sub(1).map(|i| values[i]) {
        Some((t0, v0)) if v0 > v1 => Some(t0 + (t1 - t0) * ((v0 - level) / (v0 - v1))),
        _ => Some(t1),
    }
}

/// The last time between two times at which a curve is at or under `level`.
pub fn last_at_or_under(curve: impl Curve, level: f64, from: Seconds, to: Seconds) -> Option<Seconds> {
    // The same search with time running backward from `to`.
    let reversed = first_at_or_under(|t| curve(from + (to - t)), level, from, to)?;
    Some(from + (to - reversed))
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
    fn nothing_is_found_in_a_gap() {
        assert_eq!(maximum(|_| None, Seconds(0.0), Seconds(1.0)), None);
        assert_eq!(samples(bell, Seconds(1.0), Seconds(0.0)), Vec::new());
    }
}
