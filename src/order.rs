//! Order statistics: the median and other quantiles of a few values.

/// Median of some values; `None` for none.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (under, upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let lower = if n % 2 == 1 { None } else { under.iter().copied().max_by(f64::total_cmp) };
    Some(0.5 * (lower.unwrap_or(*upper) + *upper))
}

/// The value under which a share (0 to 1) of some values lies, straight between the nearest two (Hyndman and Fan 1996, type 7);
/// `None` for none.
pub fn quantile(values: Vec<f64>, share: f64) -> Option<f64> {
    quantile_of_sorted(&sorted(values), share)
}

/// The same of values in rising order.
pub fn quantile_of_sorted(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let low = place.floor() as usize;
    let (below, above) = (sorted[low], sorted[(low + 1).min(last)]);
    Some(below + (place - low as f64) * (above - below))
}

fn sorted(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_lie_between_the_nearest_two() {
        let values = vec![4.0, 1.0, 3.0, 2.0];
        assert_eq!(median(values.iter().copied()), Some(2.5));
        assert_eq!(quantile(values.clone(), 0.25), Some(1.75));
        assert_eq!([0.0, 1.0].map(|share| quantile(values.clone(), share)), [Some(1.0), Some(4.0)]);
        assert_eq!(quantile(vec![7.0], 0.95), Some(7.0));
        assert_eq!((median(std::iter::empty()), quantile(Vec::new(), 0.5)), (None, None));
    }
}
