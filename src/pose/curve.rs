//! A smooth curve through values at uneven times: cubics whose slopes come from the neighbours (Catmull–Rom for uneven steps).

/// A time between two values of a curve: what all curves with values at the same times share there.
#[derive(Debug, Clone, Copy)]
pub struct Between {
    /// How much the two values count, without the slopes.
    values: [f64; 2],
    /// How much the slopes at both count.
    slopes: [f64; 2],
    /// The step between both as a share of that between the values beside each of them.
    shares: [f64; 2],
}

impl Between {
    /// The time `t` between the middle two of the times `t0` to `t3`.
    pub fn of([t0, t1, t2, t3]: [f64; 4], t: f64) -> Self {
        let span = t2 - t1;
        let share = |before: f64, after: f64| if after > before { span / (after - before) } else { 0.0 };
        let u = (t - t1) / span;
        let (u2, u3) = (u * u, u * u * u);
        Self {
            values: [2.0 * u3 - 3.0 * u2 + 1.0, 3.0 * u2 - 2.0 * u3],
            slopes: [u3 - 2.0 * u2 + u, u3 - u2],
            shares: [share(t0, t2), share(t1, t3)],
        }
    }

    /// How much each of the four values counts. Where an outer value is not `known`, the inner one stands there once more.
    pub fn weights(&self, known: [bool; 2]) -> [f64; 4] {
        let slope = |side: usize| self.slopes[side] * if known[side] { self.shares[side] } else { 1.0 };
        let (first, second) = (slope(0), slope(1));
        [-first, self.values[0] - second, self.values[1] + first, second]
    }
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
        Some(Self { values, weights: Between::of(values.map(|i| times[i]), t).weights([true; 2]) })
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
