//! Lines and slightly bent curves through points, against outliers.

use crate::order::median;

/// Rounds of weighing again.
const ROUNDS: usize = 6;

/// y = a + b t + c t² with t = (x − middle) / scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line1 {
    middle: f64,
    scale: f64,
    terms: [f64; 3],
}

impl Line1 {
    /// The straight line through two points.
    pub fn through(a: (f64, f64), b: (f64, f64)) -> Self {
        let slope = (b.1 - a.1) / (b.0 - a.0);
        Self { middle: a.0, scale: 1.0, terms: [a.1, slope, 0.0] }
    }

    pub fn at(&self, x: f64) -> f64 {
        let t = (x - self.middle) / self.scale;
        self.terms[0] + t * (self.terms[1] + t * self.terms[2])
    }
}

/// The line, or where `bent` the parabola, through points of which a few are wrong (least squares, weighed again by Huber's
/// function); `None` for too few points.
pub(super) fn robust(points: impl Iterator<Item = (f64, f64)>, bent: bool) -> Option<Line1> {
    let points: Vec<(f64, f64)> = points.collect();
    let (first, last) = (points.first()?.0, points.last()?.0);
    let (middle, scale) = (0.5 * (first + last), (0.5 * (last - first)).abs().max(1.0));
    let order = if bent { 3 } else { 2 };
    if points.len() <= order {
        return None;
    }
    let mut weights = vec![1.0; points.len()];
    let mut line = Line1 { middle, scale, terms: [0.0; 3] };
    for _ in 0..ROUNDS {
        let mut m = [[0.0; 4]; 3];
        for ((x, y), weight) in points.iter().zip(&weights) {
            let t = (x - middle) / scale;
            let powers = [1.0, t, t * t];
            for i in 0..order {
                for j in 0..order {
                    m[i][j] += weight * powers[i] * powers[j];
                }
                m[i][3] += weight * powers[i] * y;
            }
        }
        line.terms = eliminate(m, order)?;
        let off = |(x, y): &(f64, f64)| (y - line.at(*x)).abs();
        let spread = 1.48 * median(points.iter().map(off))? + 0.08;
        for (weight, point) in weights.iter_mut().zip(&points) {
            *weight = 1.0 / (off(point) / (1.5 * spread)).max(1.0);
        }
    }
    Some(line)
}

fn eliminate(mut m: [[f64; 4]; 3], order: usize) -> Option<[f64; 3]> {
    for i in 0..order {
        if m[i][i].abs() < 1e-12 {
            return None;
        }
        let row = m[i];
        for below in m.iter_mut().take(order).skip(i + 1) {
            let factor = below[i] / row[i];
            below.iter_mut().zip(row).for_each(|(b, r)| *b -= factor * r);
        }
    }
    let mut terms = [0.0; 3];
    for i in (0..order).rev() {
        let known: f64 = (i + 1..order).map(|k| m[i][k] * terms[k]).sum();
        terms[i] = (m[i][3] - known) / m[i][i];
    }
    Some(terms)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_few_wrong_points_hardly_move_the_curve() {
        let y = |x: f64| 3.0 - 0.5 * x + 0.01 * x * x;
        let point = |k: usize| (k as f64, y(k as f64) + if k.is_multiple_of(8) { 15.0 } else { 0.0 });
        let curve = robust((0..60).map(point), true).unwrap();
        assert!((curve.at(30.0) - y(30.0)).abs() < 0.5, "{}", curve.at(30.0));
        assert_eq!(robust([(0.0, 1.0), (1.0, 2.0)].into_iter(), false), None);
    }
}
