//! A smooth curve through values at uneven times: cubics whose slopes come from the neighbours (Catmull–Rom for uneven steps).

/// How much each of four values at the times `t0` to `t3` counts at time `t` between the middle two. At an end of the curve the
/// outer value is the inner one once more.
pub fn weights([t0, t1, t2, t3]: [f64; 4], t: f64) -> [f64; 4] {
    let span = t2 - t1;
    let slope = |before: f64, after: f64| if after > before { span / (after - before) } else { 0.0 };
    let u = (t - t1) / span;
    let (u2, u3) = (u * u, u * u * u);
    let first = (u3 - 2.0 * u2 + u) * slope(t0, t2);
    let second = (u3 - u2) * slope(t1, t3);
    [-first, 2.0 * u3 - 3.0 * u2 + 1.0 - second, 3.0 * u2 - 2.0 * u3 + first, second]
}

/// A place on a curve: which of its values count there, and how much.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    values: [usize; 4],
    weights: [f64; 4],
}

impl Place {
    /// The place at time `t` of a curve with values at `times` (increasing), which is held constant outside; `right` is the number
    /// of the first of them that is not before `t`. `None` for a curve without values.
    pub fn beside(times: &[f64], right: usize, t: f64) -> Option<Self> {
        let last = times.len().checked_sub(1)?;
        if right == 0 || right > last {
            return Some(Self { values: [right.min(last); 4], weights: [0.0, 1.0, 0.0, 0.0] });
        }
        let values = [right.saturating_sub(2), right - 1, right, (right + 1).min(last)];
        Some(Self { values, weights: weights(values.map(|i| times[i]), t) })
    }

    /// The curve's value there.
    pub fn value(&self, value: impl Fn(usize) -> f64) -> f64 {
        self.values.iter().zip(self.weights).map(|(i, weight)| weight * value(*i)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TIMES: [f64; 5] = [0.0, 0.1, 0.25, 0.3, 0.5];

    fn at(t: f64, value: impl Fn(usize) -> f64) -> f64 {
        Place::beside(&TIMES, TIMES.partition_point(|time| *time < t), t).unwrap().value(value)
    }

    #[test]
    fn a_straight_line_stays_one_and_is_held_outside() {
        let line = |i: usize| 2.0 - 3.0 * TIMES[i];
        for t in [0.0, 0.03, 0.1, 0.2, 0.26, 0.49, 0.5] {
            assert!((at(t, line) - (2.0 - 3.0 * t)).abs() < 1e-12, "{t}");
        }
        assert_eq!((at(-1.0, line), at(2.0, line)), (2.0, 0.5));
        assert!(Place::beside(&[], 0, 0.0).is_none());
    }

    #[test]
    fn the_curve_goes_through_its_values_with_the_slope_of_their_neighbours() {
        let value = |i: usize| [1.0, 3.0, -2.0, 0.5, 4.0][i];
        for (i, t) in TIMES.into_iter().enumerate() {
            assert!((at(t, value) - value(i)).abs() < 1e-12);
        }
        let (slope, step) = ((value(3) - value(1)) / (TIMES[3] - TIMES[1]), 1e-6);
        assert!(((at(0.25 + step, value) - at(0.25 - step, value)) / (2.0 * step) - slope).abs() < 1e-2);
    }
}
