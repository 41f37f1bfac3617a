//! Low-pass filtering of a landmark's path without delay.

use std::f64::consts::PI;

/// A second-order Butterworth filter run forward and backward narrows its own pass band; its cutoff is divided by this
/// so that the pair has the cutoff asked for (Winter, Biomechanics and Motor Control of Human Movement, 4th ed., 2.2.4.4).
const TWO_PASS_CUTOFF: f64 = 0.802;

/// Cutoff for landmarks of the body, Hz, by the rate of pictures per second: more pictures carry more of the motion.
pub fn cutoff_for(rate: f64) -> f64 {
    if rate >= 100.0 { 10.0 } else { 8.0 }
}

/// Coefficients of a second-order section, normalised to a leading 1.
#[derive(Debug, Clone, Copy)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

impl Section {
    /// Low-pass Butterworth by the bilinear transform with the cutoff pre-warped; `cutoff` and `rate` in Hz.
    fn butterworth(cutoff: f64, rate: f64) -> Self {
        let warped = (PI * cutoff / rate).tan();
        let norm = 1.0 / (1.0 + std::f64::consts::SQRT_2 * warped + warped * warped);
        let b0 = warped * warped * norm;
        Self {
            b: [b0, 2.0 * b0, b0],
            a: [
                2.0 * (warped * warped - 1.0) * norm,
                (1.0 - std::f64::consts::SQRT_2 * warped + warped * warped) * norm,
            ],
        }
    }

    /// Filters in place, starting as if the first value had always stood there.
    fn run(&self, values: &mut [f64]) {
        let Some(&first) = values.first() else { return };
        let (mut x1, mut x2, mut y1, mut y2) = (first, first, first, first);
        for value in values {
            let x = *value;
            let y = self.b[0] * x + self.b[1] * x1 + self.b[2] * x2 - self.a[0] * y1 - self.a[1] * y2;
            (x2, x1, y2, y1) = (x1, x, y1, y);
            *value = y;
        }
    }
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
    let section = Section::butterworth(corrected, rate);
    section.run(&mut padded);
    padded.reverse();
    section.run(&mut padded);
    padded.reverse();
    padded[pad..pad + n].to_vec()
}

#[cfg(test)]
mod tests {
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
}
