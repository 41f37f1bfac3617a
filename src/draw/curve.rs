//! Curves over time with gaps, sampled on one grid around contact so that strokes can be laid over each other.

use crate::order::median;
use crate::stroke::Stroke;
use crate::units::Seconds;

use super::style::LEAST_FOR_MEDIAN;

/// Step of the grid.
pub const STEP: f64 = 0.01;

/// Values at multiples of [`STEP`] from contact, seconds; `None` in a gap.
pub type Samples = Vec<(f64, Option<f64>)>;

/// Samples a curve of the clip's time at even times around a stroke's contact.
pub fn around_contact(
    stroke: &Stroke,
    (from, to): (f64, f64),
    curve: impl FnMut(Seconds) -> Option<f64>,
) -> Samples {
    let mut curve = curve;
    let met = stroke.phases.contact.time;
    ((from / STEP).ceil() as i64..=(to / STEP).floor() as i64)
        .map(|k| k as f64 * STEP)
        .map(|t| (t, curve(met + Seconds(t)).filter(|v| v.is_finite())))
        .collect()
}

/// The median of curves on one grid, where more than half of them have a value; empty for fewer curves than a median
/// needs.
pub fn medians(curves: &[&Samples]) -> Samples {
    if curves.len() < LEAST_FOR_MEDIAN {
        return Samples::new();
    }
    let length = curves.iter().map(|c| c.len()).min().unwrap_or(0);
    (0..length)
        .map(|i| {
            let values: Vec<f64> = curves.iter().filter_map(|c| c[i].1).collect();
            let middle = (2 * values.len() > curves.len()).then(|| median(values.into_iter())).flatten();
            (curves[0][i].0, middle)
        })
        .collect()
}

/// The unbroken stretches of a curve.
pub fn stretches(samples: &Samples) -> Vec<Vec<(f64, f64)>> {
    samples
        .split(|(_, value)| value.is_none())
        .map(|part| part.iter().filter_map(|(t, v)| Some((*t, (*v)?))).collect::<Vec<_>>())
        .filter(|part| part.len() > 1)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_stays_a_gap() {
        let samples =
            vec![(0.0, Some(1.0)), (0.1, Some(2.0)), (0.2, None), (0.3, Some(4.0)), (0.4, Some(5.0))];
        assert_eq!(stretches(&samples), [vec![(0.0, 1.0), (0.1, 2.0)], vec![(0.3, 4.0), (0.4, 5.0)]]);
    }

    #[test]
    fn a_median_needs_most_of_the_strokes() {
        let full = |v: f64| vec![(0.0, Some(v)), (0.1, Some(v))];
        let short = vec![(0.0, Some(9.0)), (0.1, None)];
        let curves = [full(1.0), full(2.0), short.clone(), short];
        let all: Vec<&Samples> = curves.iter().collect();
        assert_eq!(medians(&all), [(0.0, Some(5.5)), (0.1, None)]);
        assert!(medians(&all[..2]).is_empty());
    }
}
