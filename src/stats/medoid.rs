//! The most typical of several strokes.

use super::Summary;

/// Place of the row that is nearest to all others: the medoid over standardised columns. `None` for no rows.
///
/// Each column (a measure, in its own unit; `None` where it is missing) is divided by its standard deviation, so that units
/// and scales make no difference; columns without spread or with a single value say nothing and are left out. Two rows are as
/// far apart as the root mean square of their differences in the columns that both have. A row's distance is the mean to
/// all others; the smallest wins, the first where several are equal. A row that shares no column with any other can't be
/// judged and is chosen only where that holds for all. Kaufman and Rousseeuw 1990, Finding Groups in Data, ch. 2.
pub fn medoid(rows: &[Vec<Option<f64>>]) -> Option<usize> {
    let columns = rows.iter().map(Vec::len).max()?;
    let spreads: Vec<Option<f64>> = (0..columns)
        .map(|c| {
            let values: Vec<f64> = rows.iter().filter_map(|row| *row.get(c)?).collect();
            Summary::of(&values)?.sd.filter(|sd| *sd > 0.0 && sd.is_finite())
        })
        .collect();
    let mean_distance = |i: usize| {
        let others = (0..rows.len()).filter(|j| *j != i);
        let distances: Vec<f64> = others.filter_map(|j| distance(&rows[i], &rows[j], &spreads)).collect();
        (!distances.is_empty()).then(|| distances.iter().sum::<f64>() / distances.len() as f64)
    };
    (0..rows.len()).min_by(|a, b| {
        let [a, b] = [*a, *b].map(|i| mean_distance(i).unwrap_or(f64::MAX));
        a.total_cmp(&b)
    })
}

fn distance(a: &[Option<f64>], b: &[Option<f64>], spreads: &[Option<f64>]) -> Option<f64> {
    let squares: Vec<f64> = spreads
        .iter()
        .enumerate()
        .filter_map(|(c, spread)| Some((((*a.get(c)?)? - (*b.get(c)?)?) / (*spread)?).powi(2)))
        .collect();
    (!squares.is_empty()).then(|| (squares.iter().sum::<f64>() / squares.len() as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_middle_one_is_typical() {
        let rows = [9.0, 1.0, 5.0, 4.9, 40.0].map(|v| vec![Some(v), None, Some(2.0)]);
        assert_eq!(medoid(&rows), Some(2));
        assert_eq!(medoid(&[]), None);
        assert_eq!(medoid(&[vec![None]]), Some(0));
        assert_eq!(medoid(&[vec![None, None], vec![Some(1.0), None], vec![Some(2.0), None]]), Some(1));
    }

    fn rows() -> impl Strategy<Value = Vec<Vec<Option<f64>>>> {
        prop::collection::vec(prop::collection::vec(prop::option::weighted(0.8, -100.0..100.0), 4), 2..9)
    }

    proptest! {
        #[test]
        fn units_and_origins_make_no_difference(rows in rows(), scale in 0.01..100.0, shift in -50.0..50.0) {
            let moved: Vec<Vec<Option<f64>>> =
                rows.iter().map(|r| r.iter().map(|v| v.map(|v| v * scale + shift)).collect()).collect();
            let (a, b) = (medoid(&rows).unwrap(), medoid(&moved).unwrap());
            prop_assert!(a == b || total(&rows, a) - total(&rows, b) < 1e-6);
        }

        #[test]
        fn the_order_makes_no_difference(rows in rows()) {
            let turned: Vec<Vec<Option<f64>>> = rows.iter().rev().cloned().collect();
            let (a, b) = (medoid(&rows).unwrap(), rows.len() - 1 - medoid(&turned).unwrap());
            prop_assert!(a == b || (total(&rows, a) - total(&rows, b)).abs() < 1e-9);
        }

        #[test]
        fn a_row_far_from_all_others_is_not_typical(mut rows in prop::collection::vec(
            prop::collection::vec((-1.0..1.0).prop_map(Some), 3), 3..8), at in 0usize..8) {
            let at = at % rows.len();
            rows[at] = vec![Some(1000.0); 3];
            prop_assert_ne!(medoid(&rows), Some(at));
        }
    }

    /// A row's mean distance, found again the long way round.
    fn total(rows: &[Vec<Option<f64>>], i: usize) -> f64 {
        let sd = |c: usize| {
            let v: Vec<f64> = rows.iter().filter_map(|r| r[c]).collect();
            let mean = v.iter().sum::<f64>() / v.len() as f64;
            (v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (v.len() as f64 - 1.0)).sqrt()
        };
        let (mut sum, mut n) = (0.0, 0.0);
        for j in (0..rows.len()).filter(|j| *j != i) {
            let (mut squares, mut count) = (0.0, 0.0);
            for (c, (one, other)) in rows[i].iter().zip(&rows[j]).enumerate() {
                if let (Some(a), Some(b)) = (one, other)
                    && sd(c) > 0.0
                {
                    squares += ((a - b) / sd(c)).powi(2);
                    count += 1.0;
                }
            }
            if count > 0.0 {
                sum += f64::sqrt(squares / count);
                n += 1.0;
            }
        }
        if n > 0.0 { sum / n } else { f64::MAX }
    }
}
