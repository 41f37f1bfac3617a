//! Mean and spread of one sample.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::scene::space::median;

/// An interval that holds the truth in 95 of 100 cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// What a sample is described by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// How many values.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their median.
    pub median: f64,
    /// Their standard deviation (divisor n − 1); `None` for a single value.
    pub sd: Option<f64>,
}

impl Summary {
    /// Describes a sample; `None` for an empty one.
    pub fn of(values: &[f64]) -> Option<Self> {
        let n = values.len();
        let median = median(values.iter().copied())?;
        let mean = values.iter().sum::<f64>() / n as f64;
        let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
        let sd = (n > 1).then(|| (squares / (n - 1) as f64).sqrt());
        Some(Self { n, mean, median, sd })
    }
}

/// 95 % interval of a sample's mean (Student's t); `None` for fewer than two values.
pub fn mean_interval(values: &[f64]) -> Option<Interval> {
    let summary = Summary::of(values)?;
    let t = StudentsT::new(0.0, 1.0, summary.n as f64 - 1.0).ok()?.inverse_cdf(0.975);
    let half = t * summary.sd? / (summary.n as f64).sqrt();
    Some(Interval { low: summary.mean - half, high: summary.mean + half })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_is_described_as_in_a_textbook() {
        // Quartiles of t with 4 degrees of freedom: 2.776 for 95 %.
        let values = [1.0, 2.0, 3.0, 4.0, 10.0];
        let summary = Summary::of(&values).unwrap();
        assert_eq!((summary.n, summary.mean, summary.median), (5, 4.0, 3.0));
        assert!((summary.sd.unwrap() - 3.535_533_9).abs() < 1e-6);
        let interval = mean_interval(&values).unwrap();
        assert!((interval.high - 4.0 - 2.776_445 * 3.535_533_9 / 5f64.sqrt()).abs() < 1e-4, "{interval:?}");
        assert_eq!(mean_interval(&[1.0]), None);
        assert_eq!(Summary::of(&[]), None);
    }
}
