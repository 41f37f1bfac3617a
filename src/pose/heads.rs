//! Turns the raw outputs of the landmark models into points of the input; pure functions.

use crate::model::card::{Head, Refinement, Subcell};
use crate::model::session::Outputs;
use crate::model::{Card, ModelError};

/// Landmarks refined by [`Refinement::Blend`] begin to follow the heat map where its largest value passes this …
const BLEND_FROM: f32 = 0.2;
/// … and follow it alone where its largest value reaches this.
const BLEND_TO: f32 = 0.6;

/// A point of a model's input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawPoint {
    /// To the right, input pixels.
    pub u: f64,
    /// Down, input pixels.
    pub v: f64,
    /// The chance that the point can be seen, 0 to 1.
    pub visibility: f32,
}

/// What a landmark model says about one region.
#[derive(Debug, Clone, PartialEq)]
pub struct RawPose {
    /// In the model's own order.
    pub points: Vec<RawPoint>,
    /// In the model's own order, metres, turned with the region; empty where the model has none.
    pub world: Vec<[f32; 3]>,
    /// How sure the model is that a person is there, 0 to 1.
    pub presence: f32,
}

/// Reads one item of a batch of a landmark model.
///
/// `refinement` replaces the card's where it is given.
///
/// # Errors
/// [`ModelError`] where outputs are missing, have unexpected shapes, or the head isn't one of landmarks.
pub fn read(
    card: &Card,
    outputs: &Outputs<'_>,
    item: usize,
    refinement: Option<Refinement>,
) -> Result<RawPose, ModelError> {
    match &card.head {
        Head::RegressionHeatmap {
            landmarks,
            presence,
            heatmap,
            world,
            refine_window,
            refine_minimum,
            refinement: own,
            ..
        } => {
            let (_, values) = outputs.get(landmarks, item)?;
            let (_, flag) = outputs.get(presence, item)?;
            let (shape, maps) = outputs.get(heatmap, item)?;
            let (rows, columns) = grid(card, shape)?;
            let count = values.len() / 5;
            if maps.len() != count * rows * columns || flag.is_empty() {
                return Err(card.error(format!("`{landmarks}` and `{heatmap}` don't fit together")));
            }
            let refine = Refine {
                mode: refinement.unwrap_or(*own),
                window: *refine_window,
                minimum: *refine_minimum,
                cell: (card.input.width as f64 / columns as f64, card.input.height as f64 / rows as f64),
            };
            let points = values
                .chunks_exact(5)
                .zip(maps.chunks_exact(rows * columns))
                .map(|(value, map)| {
                    let (u, v) = refine.apply(f64::from(value[0]), f64::from(value[1]), map, columns);
                    RawPoint { u, v, visibility: sigmoid(value[3]) }
                })
                .collect();
            let world = match world {
                Some(name) => {
                    outputs.get(name, item)?.1.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect()
                }
                None => Vec::new(),
            };
            Ok(RawPose { points, world, presence: flag[0] })
        }
        Head::Heatmap { heatmap, stride, subcell, .. } => {
            let (shape, maps) = outputs.get(heatmap, item)?;
            let (rows, columns) = grid(card, shape)?;
            let points = maps
                .chunks_exact(rows * columns)
                .map(|map| {
                    let (x, y, value) = heatmap_peak(map, columns, *subcell);
                    RawPoint { u: x * stride, v: y * stride, visibility: value.clamp(0.0, 1.0) }
                })
                .collect();
            Ok(with_mean_presence(points))
        }
        Head::Simcc { x, y, split_ratio, .. } => {
            let (x_shape, xs) = outputs.get(x, item)?;
            let (y_shape, ys) = outputs.get(y, item)?;
            let (Some(&[points, columns]), Some(&[also, rows])) =
                (x_shape.first_chunk::<2>(), y_shape.first_chunk::<2>())
            else {
                return Err(card.error(format!("`{x}` and `{y}` must have the shape [N, points, bins]")));
            };
            if points != also || columns <= 0 || rows <= 0 {
                return Err(card.error(format!("`{x}` and `{y}` don't fit together")));
            }
            let points = xs
                .chunks_exact(columns as usize)
                .zip(ys.chunks_exact(rows as usize))
                .map(|(x, y)| simcc_point(x, y, *split_ratio))
                .collect();
            Ok(with_mean_presence(points))
        }
        Head::Anchors { .. } | Head::Distribution { .. } | Head::CellChances { .. } => {
            Err(card.error("this is a detector; a model with the role `landmarks` is needed"))
        }
    }
}

/// The presence below which the card sees nobody.
pub fn presence_minimum(head: &Head) -> f32 {
    match head {
        Head::RegressionHeatmap { presence_minimum, .. }
        | Head::Heatmap { presence_minimum, .. }
        | Head::Simcc { presence_minimum, .. } => *presence_minimum,
        Head::Anchors { .. } | Head::Distribution { .. } | Head::CellChances { .. } => 1.0,
    }
}

fn grid(card: &Card, shape: &[i64]) -> Result<(usize, usize), ModelError> {
    match shape {
        &[_, rows, columns] if rows > 0 && columns > 0 => Ok((rows as usize, columns as usize)),
        _ => Err(card.error("heat maps must have the shape [N, points, rows, columns]")),
    }
}

fn with_mean_presence(points: Vec<RawPoint>) -> RawPose {
    let presence = points.iter().map(|p| p.visibility).sum::<f32>() / points.len().max(1) as f32;
    RawPose { points, world: Vec::new(), presence }
}

/// The logistic function.
pub fn sigmoid(x: f32) -> f32 {
    1.0 / (1.0 + (-x.clamp(-80.0, 80.0)).exp())
}

/// Sharpens regressed points by their heat maps.
#[derive(Debug, Clone, Copy)]
pub struct Refine {
    /// How the heat map is used.
    pub mode: Refinement,
    /// Side of the window, cells, odd.
    pub window: usize,
    /// The heat map counts where its largest value in the window reaches this ([`Refinement::Threshold`]).
    pub minimum: f32,
    /// Width and height of a heat-map cell, input pixels.
    pub cell: (f64, f64),
}

impl Refine {
    /// The sharpened place of the point (u, v), input pixels; `map` holds logits in rows of `columns`.
    pub fn apply(&self, u: f64, v: f64, map: &[f32], columns: usize) -> (f64, f64) {
        let rows = map.len() / columns;
        let column = (u / self.cell.0).trunc();
        let row = (v / self.cell.1).trunc();
        let outside = !(column >= 0.0 && row >= 0.0 && column < columns as f64 && row < rows as f64);
        if self.mode == Refinement::Off || outside {
            return (u, v);
        }
        let (column, row, half) = (column as usize, row as usize, self.window / 2);
        let (mut sum, mut sum_x, mut sum_y, mut largest) = (0.0f64, 0.0f64, 0.0f64, 0.0f32);
        for r in row.saturating_sub(half)..(row + half + 1).min(rows) {
            for c in column.saturating_sub(half)..(column + half + 1).min(columns) {
                let value = sigmoid(map[r * columns + c]);
                largest = largest.max(value);
                sum += f64::from(value);
                sum_x += f64::from(value) * c as f64;
                sum_y += f64::from(value) * r as f64;
            }
        }
        let weight = match self.mode {
            Refinement::Off => 0.0,
            Refinement::Threshold => f64::from(u8::from(largest >= self.minimum)),
            Refinement::Blend => {
                f64::from(((largest - BLEND_FROM) / (BLEND_TO - BLEND_FROM)).clamp(0.0, 1.0))
            }
        };
        if weight <= 0.0 || sum <= 0.0 {
            return (u, v);
        }
        let (x, y) = (sum_x / sum * self.cell.0, sum_y / sum * self.cell.1);
        (u + weight * (x - u), v + weight * (y - v))
    }
}

/// The largest value of a heat map with rows of `columns`: x and y in cells, and the value.
pub fn heatmap_peak(map: &[f32], columns: usize, subcell: Subcell) -> (f64, f64, f32) {
    let (at, value) = largest(map);
    let (column, row, rows) = (at % columns, at / columns, map.len() / columns);
    // A neighbour outside the map gives no direction.
    let shift = |inside: bool, before: usize, after: usize| {
        if !inside {
            return 0.0;
        }
        let (a, b, c) = (f64::from(map[before]), f64::from(value), f64::from(map[after]));
        match subcell {
            Subcell::Quarter if a == c => 0.0,
            Subcell::Quarter => 0.25 * (c - a).signum(),
            Subcell::Parabola => {
                let bend = a - 2.0 * b + c;
                if bend < -1e-9 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 }
            }
        }
    };
    let x = shift(column > 0 && column + 1 < columns, at.wrapping_sub(1), at + 1);
    let y = shift(row > 0 && row + 1 < rows, at.wrapping_sub(columns), at + columns);
    (column as f64 + x, row as f64 + y, value)
}

/// The point of a pair of distributions with `split_ratio` bins an input pixel.
pub fn simcc_point(x: &[f32], y: &[f32], split_ratio: f64) -> RawPoint {
    let (column, in_x) = largest(x);
    let (row, in_y) = largest(y);
    RawPoint {
        u: column as f64 / split_ratio,
        v: row as f64 / split_ratio,
        visibility: in_x.min(in_y).clamp(0.0, 1.0),
    }
}

fn largest(values: &[f32]) -> (usize, f32) {
    let mut best = (0, f32::NEG_INFINITY);
    for (index, &value) in values.iter().enumerate() {
        if value > best.1 {
            best = (index, value);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map_with(columns: usize, rows: usize, values: &[(usize, usize, f32)]) -> Vec<f32> {
        let mut map = vec![0.0; columns * rows];
        for &(x, y, value) in values {
            map[y * columns + x] = value;
        }
        map
    }

    #[test]
    fn quarter_goes_toward_the_larger_neighbour() {
        let map = map_with(8, 6, &[(3, 2, 0.9), (4, 2, 0.5), (2, 2, 0.1), (3, 1, 0.4)]);
        assert_eq!(heatmap_peak(&map, 8, Subcell::Quarter), (3.25, 1.75, 0.9));
    }

    #[test]
    fn a_peak_at_the_edge_stays_in_its_cell() {
        let map = map_with(8, 6, &[(0, 5, 0.9), (1, 5, 0.5), (0, 4, 0.3)]);
        assert_eq!(heatmap_peak(&map, 8, Subcell::Quarter), (0.0, 5.0, 0.9));
    }

    #[test]
    fn parabola_finds_the_vertex() {
        let value = |x: f32| 1.0 - 0.1 * (x - 3.2) * (x - 3.2);
        let map: Vec<f32> = (0..8).map(|x| value(x as f32)).collect();
        let (x, _, _) = heatmap_peak(&map, 8, Subcell::Parabola);
        assert!((x - 3.2).abs() < 1e-5, "{x}");
    }

    #[test]
    fn simcc_reads_bins_as_fractions_of_a_pixel() {
        let mut x = vec![0.0; 384];
        let mut y = vec![0.0; 512];
        x[101] = 0.8;
        y[7] = 0.6;
        assert_eq!(simcc_point(&x, &y, 2.0), RawPoint { u: 50.5, v: 3.5, visibility: 0.6 });
    }

    fn refine(mode: Refinement) -> Refine {
        Refine { mode, window: 9, minimum: 0.5, cell: (4.0, 4.0) }
    }

    fn logit(p: f32) -> f32 {
        (p / (1.0 - p)).ln()
    }

    /// A heat map of 64 × 64 with one cell of chance `p` at (20, 30) in nothingness.
    fn one_cell(p: f32) -> Vec<f32> {
        let mut map = vec![-80.0; 64 * 64];
        map[30 * 64 + 20] = logit(p);
        map
    }

    #[test]
    fn threshold_takes_the_heat_map_or_leaves_it() {
        let sharp = refine(Refinement::Threshold);
        let (u, v) = sharp.apply(83.0, 118.0, &one_cell(0.51), 64);
        assert!((u - 80.0).abs() < 1e-6 && (v - 120.0).abs() < 1e-6, "{u} {v}");
        assert_eq!(sharp.apply(83.0, 118.0, &one_cell(0.49), 64), (83.0, 118.0));
        assert_eq!(sharp.apply(-3.0, 300.0, &one_cell(0.9), 64), (-3.0, 300.0));
    }

    #[test]
    fn blend_has_no_jump_at_the_threshold() {
        let soft = refine(Refinement::Blend);
        let below = soft.apply(83.0, 118.0, &one_cell(0.499), 64);
        let above = soft.apply(83.0, 118.0, &one_cell(0.501), 64);
        assert!((below.0 - above.0).abs() < 0.05, "{below:?} {above:?}");
        let sure = soft.apply(83.0, 118.0, &one_cell(0.9), 64);
        assert!((sure.0 - 80.0).abs() < 1e-6);
    }
}
