//! Order statistics (median and other quantiles of some values), and the nearest of values in rising order.

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
pub fn quantile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    quantile_of_sorted(&values, share)
}

/// The same of values in rising order.
pub fn quantile_of_sorted(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let low = place.floor() as usize;
    let (below, above) = (sorted[low], sorted[(low + 1).min(last)]);
    Some(below + (place - low as f64) * (above - below))
}

/// The place of the item nearest to a value among items whose `value_of` rises; the earlier one of two that are equally near.
/// `None` for no items.
pub fn nearest<T>(items: &[T], value_of: impl Fn(&T) -> f64, to: f64) -> Option<usize> {
    let after = items.partition_point(|item| value_of(item) < to);
    let apart = |place: usize| items.get(place).map(|item| (value_of(item) - to).abs());
    match (after.checked_sub(1), apart(after)) {
        (None, None) => None,
        (None, Some(_)) => Some(after),
        (Some(before), None) => Some(before),
        (Some(before), Some(distance)) => {
            Some(if apart(before).is_some_and(|other| other <= distance) { before } else { after })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_lie_between_the_nearest_two() {
        let values = vec![4.0, 1.0, 3.0, 2.0];
        assert_eq!(median(values.iter().copied()), Some(2.5));
        assert_eq!(median([5.0, 9.0, 1.0].into_iter()), Some(5.0));
        assert_eq!(quantile(values.clone(), 0.25), Some(1.75));
        assert_eq!([0.0, 1.0].map(|share| quantile(values.clone(), share)), [Some(1.0), Some(4.0)]);
        assert_eq!(quantile(vec![7.0], 0.95), Some(7.0));
        assert_eq!((median(std::iter::empty()), quantile(Vec::new(), 0.5)), (None, None));
    }

    #[test]
    fn the_nearest_is_the_earlier_one_of_two() {
        let place = |to: f64| nearest(&[1.0, 2.0, 4.0], |value| *value, to);
        let places = [0.0, 1.4, 1.5, 1.6, 3.0, 3.1, 9.0].map(place);
        assert_eq!(places, [0, 0, 0, 1, 1, 2, 2].map(Some));
        assert_eq!(nearest(&[], |value: &f64| *value, 1.0), None);
    }
}
