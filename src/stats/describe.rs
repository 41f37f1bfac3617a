//! Mean and spread of one sample.

use super::dependence::inflation;
use super::{Interval, t_quantile};
use crate::order::median;

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

    /// Variance of the mean of values that follow one another in time: s²/n, widened by [`inflation`] squared. `None` for
    /// fewer than two values.
    pub fn variance_of_mean(&self, inflation: f64) -> Option<f64> {
        Some((self.sd? * inflation).powi(2) / self.n as f64)
    }
}

/// 95 % interval of the mean of a session's strokes (Student's t, the standard error widened for neighbours that
/// resemble each other); `None` for fewer than two values.
pub fn mean_interval(values: &[f64]) -> Option<Interval> {
    let summary = Summary::of(values)?;
    let half =
        t_quantile(0.975, summary.n as f64 - 1.0)? * summary.variance_of_mean(inflation(values))?.sqrt();
    Some(Interval { low: summary.mean - half, high: summary.mean + half })
}

/// Places of values that lie far from the others: a modified z-score over 3.5, from the median and the median absolute
/// deviation (Iglewicz & Hoaglin 1993, How to Detect and Handle Outliers). They are to be named, never dropped.
pub fn outliers(values: &[f64]) -> Vec<usize> {
    /// Standard deviation of a normal distribution in median absolute deviations.
    const TO_SD: f64 = 1.4826;
    const FAR: f64 = 3.5;
    let Some(middle) = median(values.iter().copied()) else { return Vec::new() };
    let Some(spread) = median(values.iter().map(|x| (x - middle).abs())) else { return Vec::new() };
    (0..values.len()).filter(|&i| (values[i] - middle).abs() > FAR * TO_SD * spread && spread > 0.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_values_have_no_spread() {
        assert_eq!(Summary::of(&[]), None);
        let one = Summary::of(&[3.0]).unwrap();
        assert_eq!((one.mean, one.median, one.sd), (3.0, 3.0, None));
        assert_eq!(mean_interval(&[3.0]), None);
        let two = Summary::of(&[1.0, 3.0]).unwrap();
        assert_eq!((two.mean, two.sd), (2.0, Some(2f64.sqrt())));
    }

    #[test]
    fn a_stroke_far_from_the_others_is_named() {
        assert_eq!(outliers(&[10.0, 11.0, 9.5, 10.5, 30.0, 10.2]), [4]);
        assert!(outliers(&[10.0, 11.0, 9.5, 10.5, 10.2]).is_empty());
        assert!(outliers(&[5.0, 5.0, 5.0, 6.0]).is_empty(), "no spread to judge by");
    }
}
