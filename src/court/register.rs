//! Brings a map between two pictures of a camera that moves to a fraction of a pixel, by all that has an edge: lines on plain ground
//! have no corners (inverse compositional alignment: Baker and Matthews 2004, with weights against what moves by itself).

use super::align::{Map, solved};
use super::empty::Hidden;
use super::plane::Plane;
use crate::geometry::Point2;
use crate::order::median;

/// How far both pictures are smoothed, pixels: first for what is some pixels off.
const SMOOTHING: [f32; 2] = [3.0, 1.2];
/// Rounds with each.
const ROUNDS: usize = 8;
/// Cells of the picture, and how many pixels of each are compared: those with the strongest edges.
const CELLS: (usize, usize) = (40, 24);
const OF_CELL: usize = 6;
/// Weaker edges than this aren't compared, grey levels per pixel.
const WEAKEST: f64 = 1.5;
/// Fewer pixels than this tell nothing.
const LEAST: usize = 100;
/// Brightness is never told apart better than this, grey levels.
const NOISE: f64 = 1.5;
/// Unit of length, pixels, so that the equations are sound.
const SCALE: f64 = 500.0;

/// A pixel that is compared.
struct Pixel {
    at: Point2,
    value: f64,
    /// How its value changes with each term of a map.
    slopes: [f64; 8],
}

/// The pixels of a picture that are compared with others, for each smoothing.
pub(super) struct Edges {
    levels: [Vec<Pixel>; SMOOTHING.len()],
    middle: Point2,
}

impl Edges {
    /// Of a picture, away from people.
    pub fn of(plane: &Plane, people: &[Hidden]) -> Self {
        let middle = Point2::new(0.5 * plane.width as f64, 0.5 * plane.height as f64);
        Self { levels: SMOOTHING.map(|sigma| pixels(&plane.smoothed(sigma), people, middle)), middle }
    }

    /// The map from this picture to another one, from one that is a few pixels off; that one where it can't be bettered.
    pub fn bring(&self, other: &Plane, map: &Map) -> Map {
        let mut brought = *map;
        for (pixels, sigma) in self.levels.iter().zip(SMOOTHING) {
            let other = other.smoothed(sigma);
            let mut off = residuals(pixels, &other, &brought);
            for _ in 0..ROUNDS {
                let Some(next) = self.step(pixels, &off, &brought) else { break };
                let better = residuals(pixels, &other, &next);
                if usual(&better) >= usual(&off) {
                    break;
                }
                (brought, off) = (next, better);
            }
        }
        brought
    }

    /// The next map after one with which the other picture is brighter by `off` at each pixel's place.
    fn step(&self, pixels: &[Pixel], off: &[Option<f64>], map: &Map) -> Option<Map> {
        let seen = || off.iter().flatten();
        if seen().count() < LEAST {
            return None;
        }
        // The pictures' brightness may differ.
        let brighter = median(seen().copied())?;
        let spread = 1.48 * median(seen().map(|off| (off - brighter).abs()))? + NOISE;
        let mut m = [[0.0; 9]; 8];
        for (pixel, off) in pixels.iter().zip(off) {
            let Some(off) = off.map(|off| off - brighter) else { continue };
            let weight = 1.0 / (1.0 + (off / spread).powi(2)).powi(2);
            for (row, slope) in m.iter_mut().zip(pixel.slopes) {
                for (sum, other) in row.iter_mut().zip(pixel.slopes) {
                    *sum += weight * slope * other;
                }
                row[8] += weight * slope * off;
            }
        }
        let p = solved(m, 8)?;
        let step = Map([1.0 + p[0], p[1], p[2], p[3], 1.0 + p[4], p[5], p[6], p[7]]);
        // The step is in units around the middle.
        let (to, from) = (self.units(), self.units().inverse()?);
        Some(map.after(&from.after(&step.inverse()?.after(&to))))
    }

    /// From pixels to units around the middle.
    fn units(&self) -> Map {
        Map([1.0 / SCALE, 0.0, -self.middle.x / SCALE, 0.0, 1.0 / SCALE, -self.middle.y / SCALE, 0.0, 0.0])
    }
}

/// By how much the other picture is brighter at each pixel's place; `None` outside it.
fn residuals(pixels: &[Pixel], other: &Plane, map: &Map) -> Vec<Option<f64>> {
    let (right, bottom) = (other.width as f64 - 2.0, other.height as f64 - 2.0);
    let off = |pixel: &Pixel| {
        let p = map.apply(pixel.at);
        let inside = (1.0..right).contains(&p.x) && (1.0..bottom).contains(&p.y);
        inside.then(|| f64::from(other.linear(p.x, p.y)) - pixel.value)
    };
    pixels.iter().map(off).collect()
}

/// How much the pictures differ, grey levels: median over the pixels.
fn usual(off: &[Option<f64>]) -> f64 {
    median(off.iter().flatten().map(|off| off.abs())).unwrap_or(f64::INFINITY)
}

fn pixels(plane: &Plane, people: &[Hidden], middle: Point2) -> Vec<Pixel> {
    let mut cells: Vec<Vec<(f64, Pixel)>> = (0..CELLS.0 * CELLS.1).map(|_| Vec::new()).collect();
    for y in (2..plane.height.saturating_sub(2)).step_by(2) {
        for x in (2..plane.width.saturating_sub(2)).step_by(2) {
            let (i, j) = (x as i64, y as i64);
            let (right, down) = plane.slope(i, j);
            let (right, down) = (f64::from(right), f64::from(down));
            let strength = right.hypot(down);
            let at = Point2::new(x as f64, y as f64);
            if strength < WEAKEST || people.iter().any(|person| person.holds(at)) {
                continue;
            }
            let cell = &mut cells[y * CELLS.1 / plane.height * CELLS.0 + x * CELLS.0 / plane.width];
            let (u, v) = ((at.x - middle.x) / SCALE, (at.y - middle.y) / SCALE);
            let (a, b) = (right * SCALE, down * SCALE);
            let bend = -(a * u + b * v);
            let slopes = [a * u, a * v, a, b * u, b * v, b, bend * u, bend * v];
            cell.push((strength, Pixel { at, value: f64::from(plane.get(i, j)), slopes }));
        }
    }
    let strongest = |mut cell: Vec<(f64, Pixel)>| {
        cell.sort_by(|a, b| b.0.total_cmp(&a.0));
        cell.truncate(OF_CELL);
        cell.into_iter().map(|(_, pixel)| pixel)
    };
    cells.into_iter().flat_map(strongest).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plain ground with three lines under a plain wall with posts, as a map shows it.
    fn court(map: &Map) -> Plane {
        let (width, height) = (480, 300);
        let back = map.inverse().unwrap();
        let edge = |off: f64, half: f64| (half + 0.5 - off.abs()).clamp(0.0, 1.0);
        let values = (0..width * height)
            .map(|k| {
                let p = back.apply(Point2::new((k % width) as f64, (k / width) as f64));
                let ground = (p.y - 140.0 + 0.5).clamp(0.0, 1.0);
                let posts = (0..8).map(|i| edge(p.x - 60.0 * f64::from(i) - 20.0, 3.0)).fold(0.0, f64::max);
                let lines = edge(p.y - 160.0, 1.0)
                    .max(edge(p.y - 200.0 - 0.1 * p.x, 1.5))
                    .max(edge(p.x - 150.0 - 0.4 * (p.y - 160.0), 2.0));
                ((1.0 - ground) * (180.0 - 90.0 * posts) + ground * (70.0 + 140.0 * lines)) as f32
            })
            .collect();
        Plane { width, height, values }
    }

    #[test]
    fn lines_on_plain_ground_bring_a_map_to_a_fraction_of_a_pixel() {
        let truth = Map([0.999, -0.006, 9.0, 0.005, 1.001, -4.0, 1e-5, -5e-6]);
        let (first, second) = (court(&Map::SAME), court(&truth));
        // Right on the wall, four pixels off at the bottom.
        let begun = Map([0.999, -0.006, 9.0, 0.005, 1.015, -5.0, 1e-5, -5e-6]);
        let brought = Edges::of(&first, &[]).bring(&second, &begun);
        for p in [Point2::new(60.0, 150.0), Point2::new(420.0, 200.0), Point2::new(240.0, 280.0)] {
            assert!(begun.apply(p).distance(truth.apply(p)) > 0.8);
            let off = brought.apply(p).distance(truth.apply(p));
            assert!(off < 0.25, "{p:?}: {off}");
        }
    }

    #[test]
    fn a_plain_picture_leaves_the_map_as_it_was() {
        let plain = Plane { width: 480, height: 300, values: vec![90.0; 480 * 300] };
        let map = Map([1.0, 0.0, 3.0, 0.0, 1.0, 2.0, 0.0, 0.0]);
        assert_eq!(Edges::of(&plain, &[]).bring(&plain, &map), map);
    }
}
