//! Low-pass filtering of a landmark's path without delay.

use crate::filter::Section;

/// A second-order Butterworth filter run forward and backward narrows its own pass band; its cutoff is divided by this
/// so that the pair has the cutoff asked for (Winter, Biomechanics and Motor Control of Human Movement, 4th ed., 2.2.4.4).
const TWO_PASS_CUTOFF: f64 = 0.802;

/// Cutoff for landmarks of the body, Hz, by the rate of pictures per second: more pictures carry more of the motion.
pub fn cutoff_for(rate: f64) -> f64 {
    if rate >= 100.0 { 12.0 } else { 8.0 }
}

/// Filters evenly spaced values with a second-order Butterworth run both ways (no delay, fourth order in all). The ends
/// are continued by point reflection so that a moving point is not pulled to a stop there. Values too short to filter
/// (under four), and rates too low for the cutoff, come back as they are.
pub fn low_pass(values: &[f64], cutoff: f64, rate: f64) -> Vec<f64> {
    let corrected = cutoff / TWO_PASS_CUTOFF;
    let n = values.len();
    if n < 4 || corrected >= 0.5 * rate {
        return values.to_vec();
    }
    let pad = (n - 1).min((rate / cutoff * 1.5).ceil() as usize);
    let mut padded = Vec::with_capacity(n + 2 * pad);
    padded.extend((1..=pad).rev().map(|i| 2.0 * values[0] - values[i]));
    padded.extend_from_slice(values);
    padded.extend((1..=pad).map(|i| 2.0 * values[n - 1] - values[n - 1 - i]));
    let section = Section::low_pass(corrected, rate);
    section.run(&mut padded);
    padded.reverse();
    section.run(&mut padded);
    padded.reverse();
    padded[pad..pad + n].to_vec()
}

/// How far from an impact its jump of speed is looked for, seconds; and how far what smoothing takes from a jump reaches.
const AROUND: f64 = 0.30;
const BUMP: f64 = 0.10;

/// A jump of the speed at an impact, as a share of the speed (1 standard deviation): a racket's handle slows the hand by a
/// tenth to a third.
const JUMP: f64 = 0.25;

/// Errors of a landmark in neighbouring pictures resemble each other; so much larger is the variance of what they feign.
const ALIKE: f64 = 2.0;

/// The same for a path in space (all axes at once) whose speed may jump at `impacts`, places on the grid in steps.
///
/// A path with a jump of speed is a smooth path and a ramp that begins at the impact. What smoothing takes away from a ramp
/// is known, so the size of the ramp follows from what it has taken away from the path, shrunk by as much as the landmark's
/// jitter would feign (ridge regression, Hoerl and Kennard 1970, Technometrics 12:55). Smoothing both sides by
/// themselves would leave their last values as they are, with all their jitter.
pub fn low_pass_struck<const D: usize>(
    path: &[[f64; D]],
    cutoff: f64,
    rate: f64,
    impacts: &[f64],
) -> Vec<[f64; D]> {
    let n = path.len();
    let smooth: [Vec<f64>; D] = std::array::from_fn(|axis| {
        let values: Vec<f64> = path.iter().map(|at| at[axis]).collect();
        low_pass(&values, cutoff, rate)
    });
    let mut out: Vec<[f64; D]> = (0..n).map(|i| std::array::from_fn(|axis| smooth[axis][i])).collect();
    for &impact in impacts.iter().filter(|place| **place > 1.0 && **place < n as f64 - 2.0) {
        let reach = AROUND * rate;
        let near = (impact - reach).ceil().max(0.0) as usize..((impact + reach).floor() as usize + 1).min(n);
        let ramp: Vec<f64> = near.clone().map(|i| (i as f64 - impact).max(0.0) / rate).collect();
        let taken: Vec<f64> = ramp.iter().zip(low_pass(&ramp, cutoff, rate)).map(|(r, s)| r - s).collect();
        let left = |axis: usize, i: usize| path[i][axis] - smooth[axis][i];
        let beside = near.clone().filter(|i| (*i as f64 - impact).abs() > BUMP * rate);
        let squares = beside.clone().map(|i| (0..D).map(|axis| left(axis, i).powi(2)).sum::<f64>());
        let noise = squares.sum::<f64>() / (D * beside.count()).max(1) as f64;
        let (last, next) = (smooth_at(&smooth, impact - 1.0), smooth_at(&smooth, impact + 1.0));
        let speed = (0..D).map(|axis| (next[axis] - last[axis]).powi(2)).sum::<f64>().sqrt() * 0.5 * rate;
        let own: f64 = taken.iter().map(|r| r * r).sum();
        let shrunk = own + ALIKE * noise / (JUMP * speed).powi(2);
        if own < 1e-12 || !shrunk.is_finite() {
            continue;
        }
        let jumps: [f64; D] = std::array::from_fn(|axis| {
            near.clone().zip(&taken).map(|(i, r)| r * left(axis, i)).sum::<f64>() / shrunk
        });
        for (i, r) in near.zip(&taken) {
            out[i].iter_mut().zip(&jumps).for_each(|(at, jump)| *at += jump * r);
        }
    }
    out
}

/// A path between two steps of its grid; inside of it.
fn smooth_at<const D: usize>(path: &[Vec<f64>; D], place: f64) -> [f64; D] {
    let (low, share) = (place.floor() as usize, place.fract());
    std::array::from_fn(|axis| path[axis][low] * (1.0 - share) + path[axis][low + 1] * share)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;

    fn sine(frequency: f64, rate: f64, n: usize) -> Vec<f64> {
        (0..n).map(|i| (2.0 * PI * frequency * i as f64 / rate).sin()).collect()
    }

    #[test]
    fn halves_the_power_at_the_cutoff() {
        let (rate, cutoff) = (120.0, 10.0);
        let filtered = low_pass(&sine(cutoff, rate, 1200), cutoff, rate);
        let amplitude = filtered[300..900].iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        assert!((amplitude - std::f64::consts::FRAC_1_SQRT_2).abs() < 0.02, "{amplitude}");
    }

    #[test]
    fn leaves_a_straight_line_alone() {
        let line: Vec<f64> = (0..50).map(|i| 3.0 + 0.7 * i as f64).collect();
        for (filtered, expected) in low_pass(&line, 8.0, 60.0).iter().zip(&line) {
            assert!((filtered - expected).abs() < 0.05, "{filtered} {expected}");
        }
    }

    #[test]
    fn adds_no_delay() {
        let bell: Vec<f64> = (0..200).map(|i| (-((i as f64 - 100.0) / 12.0).powi(2)).exp()).collect();
        let filtered = low_pass(&bell, 8.0, 60.0);
        let peak = (0..200).max_by(|&a, &b| filtered[a].total_cmp(&filtered[b]));
        assert_eq!(peak, Some(100));
    }

    /// `fixtures/filter.csv` is made by SciPy, see `scripts/filter-reference.py`.
    #[test]
    fn agrees_with_an_independent_implementation() {
        let mut paths: Vec<(f64, f64, Vec<f64>, Vec<f64>)> = Vec::new();
        for line in include_str!("../../fixtures/filter.csv").lines().skip(1) {
            let numbers: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            if numbers[2] == 0.0 {
                paths.push((numbers[0], numbers[1], Vec::new(), Vec::new()));
            }
            let path = paths.last_mut().unwrap();
            path.2.push(numbers[3]);
            path.3.push(numbers[4]);
        }
        assert_eq!(paths.len(), 3);
        for (rate, cutoff, raw, expected) in paths {
            for (i, (ours, theirs)) in low_pass(&raw, cutoff, rate).iter().zip(&expected).enumerate() {
                assert!((ours - theirs).abs() < 1e-6, "{rate} Hz, place {i}: {ours} {theirs}");
            }
        }
    }

    #[test]
    fn an_end_is_not_pulled_to_a_stop() {
        // A path at full speed up to its last point, as before an impact.
        let path: Vec<f64> = (0..40).map(|i| 100.0 * (f64::from(i) / 60.0).powi(2)).collect();
        let filtered = low_pass(&path, 8.0, 60.0);
        let speed = |p: &[f64]| (p[39] - p[37]) * 30.0;
        assert!(
            (speed(&filtered) / speed(&path) - 1.0).abs() < 0.05,
            "{} {}",
            speed(&filtered),
            speed(&path)
        );
    }
}
