//! Bootstrap interval of a difference of means.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::{Interval, normal_cdf, normal_quantile};
use crate::order::quantile_of_sorted;

/// Resamples: the ends of a 95 % interval then scatter by about a fiftieth of its width.
pub const RESAMPLES: usize = 9999;

/// The same samples give the same interval.
const SEED: u64 = 0x70e1_1e01;

/// 95 % interval of mean(after) − mean(before): bias-corrected and accelerated bootstrap (Efron 1987, J Am Stat Assoc
/// 82:171), each sample resampled on its own, the acceleration from the influence of every value of both samples (Efron &
/// Tibshirani 1993, An Introduction to the Bootstrap, eq. 14.15). `None` for fewer than two values on a side or where the
/// resamples don't spread.
pub fn bca(before: &[f64], after: &[f64]) -> Option<Interval> {
    if before.len() < 2 || after.len() < 2 {
        return None;
    }
    let (mean_before, mean_after) = (mean(before), mean(after));
    let observed = mean_after - mean_before;
    let mut rng = Pcg64Mcg::seed_from_u64(SEED);
    let mut drawn: Vec<f64> =
        (0..RESAMPLES).map(|_| resampled_mean(after, &mut rng) - resampled_mean(before, &mut rng)).collect();
    drawn.sort_by(f64::total_cmp);
    if drawn[0] >= drawn[RESAMPLES - 1] {
        return None;
    }
    // Resamples that equal the estimate count half, else samples with many equal values look biased.
    let below = drawn.partition_point(|d| *d < observed) as f64;
    let not_above = drawn.partition_point(|d| *d <= observed) as f64;
    let bias = normal_quantile((0.5 * (below + not_above) / RESAMPLES as f64).clamp(1e-4, 1.0 - 1e-4))?;
    let influence = |values: &[f64], mean: f64, power: i32| -> f64 {
        values.iter().map(|x| ((x - mean) / values.len() as f64).powi(power)).sum()
    };
    let cubes = influence(after, mean_after, 3) - influence(before, mean_before, 3);
    let squares = influence(after, mean_after, 2) + influence(before, mean_before, 2);
    let acceleration = if squares > 0.0 { cubes / (6.0 * squares.powf(1.5)) } else { 0.0 };
    let end = |p: f64| {
        let z = bias + normal_quantile(p)?;
        let share = normal_cdf(bias + z / (1.0 - acceleration * z));
        quantile_of_sorted(&drawn, share)
    };
    Some(Interval { low: end(0.025)?, high: end(0.975)? })
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn resampled_mean(values: &[f64], rng: &mut Pcg64Mcg) -> f64 {
    let n = values.len();
    (0..n).map(|_| values[rng.random_range(0..n)]).sum::<f64>() / n as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_spread_there_is_no_interval() {
        assert_eq!(bca(&[1.0; 20], &[2.0; 20]), None);
        assert_eq!(bca(&[1.0], &[2.0, 3.0]), None);
    }

    #[test]
    fn exchanging_the_sessions_turns_the_interval_round() {
        let a: Vec<f64> = (0..20).map(|i| f64::from(i * i % 17)).collect();
        let b: Vec<f64> = (0..16).map(|i| 3.0 + f64::from(i * 5 % 11)).collect();
        let (there, back) = (bca(&a, &b).unwrap(), bca(&b, &a).unwrap());
        assert!((there.low + back.high).abs() < 0.25 && (there.high + back.low).abs() < 0.25);
    }
}
