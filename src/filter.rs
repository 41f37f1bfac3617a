//! Butterworth filters of second order, for paths of landmarks and for sound.

use std::f64::consts::{PI, SQRT_2};

/// Coefficients of a second-order section, normalised to a leading 1 of the denominator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

impl Section {
    /// Low-pass Butterworth by the bilinear transform with the cutoff pre-warped; `cutoff` and `rate` in Hz, the cutoff
    /// under half the rate.
    pub fn low_pass(cutoff: f64, rate: f64) -> Self {
        let (b0, a) = Self::parts(cutoff, rate);
        Self { b: [b0, 2.0 * b0, b0], a }
    }

    /// High-pass Butterworth in the same way.
    pub fn high_pass(cutoff: f64, rate: f64) -> Self {
        let (low, a) = Self::parts(cutoff, rate);
        let warped = (PI * cutoff / rate).tan();
        let b0 = low / (warped * warped);
        Self { b: [b0, -2.0 * b0, b0], a }
    }

    /// First coefficient of the low-pass numerator, and the denominator that both kinds share.
    fn parts(cutoff: f64, rate: f64) -> (f64, [f64; 2]) {
        let warped = (PI * cutoff / rate).tan();
        let norm = 1.0 / (1.0 + SQRT_2 * warped + warped * warped);
        let a = [2.0 * (warped * warped - 1.0) * norm, (1.0 - SQRT_2 * warped + warped * warped) * norm];
        (warped * warped * norm, a)
    }

    /// Filters in place, starting as if the first value had always stood there.
    pub fn run(&self, values: &mut [f64]) {
        let mut running = self.running();
        values.iter_mut().for_each(|value| *value = running.next(*value));
    }

    /// The same for values that come one after the other.
    pub fn running(self) -> Running {
        Running { section: self, last: None }
    }
}

/// A section through which values run.
#[derive(Debug, Clone, Copy)]
pub struct Running {
    section: Section,
    /// The last two values that went in and came out.
    last: Option<([f64; 2], [f64; 2])>,
}

impl Running {
    /// What comes out for the next value.
    #[inline]
    pub fn next(&mut self, x: f64) -> f64 {
        let Section { b, a } = self.section;
        let ([x1, x2], [y1, y2]) = self.last.unwrap_or_else(|| {
            // What a constant input comes to: all of it through a low-pass, none through a high-pass.
            let steady = x * b.iter().sum::<f64>() / (1.0 + a[0] + a[1]);
            ([x; 2], [steady; 2])
        });
        let y = b[0] * x + b[1] * x1 + b[2] * x2 - a[0] * y1 - a[1] * y2;
        self.last = Some(([x, x1], [y, y1]));
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain(section: Section, frequency: f64, rate: f64) -> f64 {
        let mut wave: Vec<f64> =
            (0..4000).map(|i| (2.0 * PI * frequency * f64::from(i) / rate).sin()).collect();
        section.run(&mut wave);
        (wave[2000..].iter().map(|v| v * v).sum::<f64>() / 1000.0).sqrt()
    }

    #[test]
    fn both_kinds_halve_the_power_at_the_cutoff_and_pass_their_band() {
        let (low, high) = (Section::low_pass(50.0, 1000.0), Section::high_pass(50.0, 1000.0));
        for section in [low, high] {
            assert!((gain(section, 50.0, 1000.0) - std::f64::consts::FRAC_1_SQRT_2).abs() < 0.01);
        }
        assert!(gain(low, 3.0, 1000.0) > 0.99 && gain(low, 400.0, 1000.0) < 0.02);
        assert!(gain(high, 3.0, 1000.0) < 0.01 && gain(high, 400.0, 1000.0) > 0.99);
    }

    #[test]
    fn a_constant_starts_settled() {
        let mut values = [7.0; 5];
        Section::high_pass(50.0, 1000.0).run(&mut values);
        assert!(values.iter().all(|v| v.abs() < 1e-9), "{values:?}");
        let mut values = [7.0; 5];
        Section::low_pass(50.0, 1000.0).run(&mut values);
        assert!(values.iter().all(|v| (v - 7.0).abs() < 1e-9), "{values:?}");
    }
}
