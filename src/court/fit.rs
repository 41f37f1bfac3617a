//! Least squares over a pose, from the bands that are taken for known lines.

use super::assume::Lens;
use super::band::Band;
use super::dual::COUNT;
use super::paint::Line;
use super::pose::{Pose, Setting, View, assumed_errors, band_errors, is_swapped, unknowns};

/// Size of a usual step in each unknown; also makes the equations well scaled.
const SCALE: Pose = [0.1, 0.05, 0.05, 0.02, 0.5, 0.5, 0.1, 0.02, 10.0, 10.0, 0.01, 0.02, 0.03, 0.03, 0.03];
/// Gain of a step that ends the search.
const LEAST_GAIN: f64 = 1e-4;

/// Which band is which line.
pub(super) type Named = Vec<(usize, Line)>;

/// A pose that fits best.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    pub pose: Pose,
    pub named: Named,
    /// Half the sum of squared errors, assumptions included.
    pub cost: f64,
    pub covariance: [[f64; COUNT]; COUNT],
    /// Logarithm of the square root of the covariance's determinant.
    pub log_volume: f64,
    /// The share of each band in the cost, in the order of `named`.
    pub each: Vec<f64>,
    /// Number of the lens among those assumed.
    pub lens: usize,
}

type Square = [[f64; COUNT]; COUNT];

struct Problem<'a> {
    setting: &'a Setting<'a>,
    lens: &'a Lens,
    bands: &'a [Band],
    named: &'a [(usize, Line)],
}

impl Problem<'_> {
    fn swaps(&self, pose: &Pose) -> Vec<bool> {
        let view = View::new(*pose);
        self.named.iter().map(|(band, line)| is_swapped(&view, &self.bands[*band], *line)).collect()
    }

    fn cost(&self, pose: &Pose, swaps: &[bool]) -> f64 {
        let view = View::new(*pose);
        let mut sum = 0.0;
        assumed_errors(self.setting, self.lens, &view, |e| sum += e * e);
        for ((band, line), swap) in self.named.iter().zip(swaps) {
            band_errors(&view, &self.bands[*band], *line, *swap, |e| sum += e * e);
        }
        0.5 * sum
    }

    /// The normal equations, scaled: matrix and right side.
    fn equations(&self, pose: &Pose, swaps: &[bool]) -> (Square, Pose) {
        let view = View::new(unknowns(pose));
        let (mut matrix, mut right) = ([[0.0; COUNT]; COUNT], [0.0; COUNT]);
        let mut add = |e: super::dual::Dual| {
            let mut slope = e.slope;
            slope.iter_mut().zip(SCALE).for_each(|(s, scale)| *s *= scale);
            for (i, row) in matrix.iter_mut().enumerate() {
                if slope[i] != 0.0 {
                    row.iter_mut().zip(slope).for_each(|(m, s)| *m += slope[i] * s);
                    right[i] -= slope[i] * e.value;
                }
            }
        };
        assumed_errors(self.setting, self.lens, &view, &mut add);
        for ((band, line), swap) in self.named.iter().zip(swaps) {
            band_errors(&view, &self.bands[*band], *line, *swap, &mut add);
        }
        (matrix, right)
    }
}

/// The best pose from a start (Levenberg and Marquardt); `None` where the equations break down.
pub(super) fn fit(
    setting: &Setting,
    lenses: &[Lens],
    lens: usize,
    bands: &[Band],
    named: Named,
    start: &Pose,
    steps: usize,
) -> Option<Fitted> {
    let problem = Problem { setting, lens: &lenses[lens], bands, named: &named };
    let mut pose = *start;
    let mut swaps = problem.swaps(&pose);
    let mut cost = problem.cost(&pose, &swaps);
    let mut damping = 1e-3;
    for step in 0..steps {
        if step == steps / 2 {
            swaps = problem.swaps(&pose);
            cost = problem.cost(&pose, &swaps);
        }
        let (matrix, right) = problem.equations(&pose, &swaps);
        let mut gained = None;
        for _ in 0..6 {
            let mut damped = matrix;
            (0..COUNT).for_each(|k| damped[k][k] += damping * matrix[k][k] + 1e-9);
            let way = solve(&cholesky(&damped)?, &right);
            let mut next = pose;
            (0..COUNT).for_each(|k| next[k] += (way[k] * SCALE[k]).clamp(-8.0 * SCALE[k], 8.0 * SCALE[k]));
            let next_cost = problem.cost(&next, &swaps);
            if next_cost < cost {
                gained = Some(cost - next_cost);
                (pose, cost) = (next, next_cost);
                damping = (damping * 0.2).max(1e-7);
                break;
            }
            damping *= 8.0;
        }
        match gained {
            Some(gain) if gain > LEAST_GAIN => {}
            _ if step >= steps / 2 => break,
            _ => {}
        }
    }
    let swaps = problem.swaps(&pose);
    let (matrix, _) = problem.equations(&pose, &swaps);
    let mut sound = matrix;
    (0..COUNT).for_each(|k| sound[k][k] += 1e-6);
    let root = cholesky(&sound)?;
    let mut covariance = [[0.0; COUNT]; COUNT];
    for k in 0..COUNT {
        let mut unit = [0.0; COUNT];
        unit[k] = 1.0;
        let column = solve(&root, &unit);
        (0..COUNT).for_each(|i| covariance[i][k] = column[i] * SCALE[i] * SCALE[k]);
    }
    let log_volume = (0..COUNT).map(|k| SCALE[k].ln() - root[k][k].ln()).sum();
    let view = View::new(pose);
    let each = named
        .iter()
        .zip(&swaps)
        .map(|((band, line), swap)| {
            let mut sum = 0.0;
            band_errors(&view, &bands[*band], *line, *swap, |e| sum += e * e);
            0.5 * sum
        })
        .collect();
    let cost = problem.cost(&pose, &swaps);
    cost.is_finite().then_some(Fitted { pose, named, cost, covariance, log_volume, each, lens })
}

/// The lower triangle L with L Lᵀ = m; `None` where m is not positive.
fn cholesky(m: &Square) -> Option<Square> {
    let mut root = [[0.0; COUNT]; COUNT];
    for i in 0..COUNT {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            let rest = m[i][j] - known;
            if i == j {
                if rest.is_nan() || rest <= 0.0 {
                    return None;
                }
                root[i][i] = rest.sqrt();
            } else {
                root[i][j] = rest / root[j][j];
            }
        }
    }
    Some(root)
}

fn solve(root: &Square, right: &Pose) -> Pose {
    let mut x = *right;
    for i in 0..COUNT {
        let known: f64 = (0..i).map(|k| root[i][k] * x[k]).sum();
        x[i] = (x[i] - known) / root[i][i];
    }
    for i in (0..COUNT).rev() {
        let known: f64 = (i + 1..COUNT).map(|k| root[k][i] * x[k]).sum();
        x[i] = (x[i] - known) / root[i][i];
    }
    x
}
