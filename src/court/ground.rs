//! What the ground looks like: painted lines lie on it, seat rows, beams and fences don't.

use super::assume::Standing;
use super::band::Band;
use super::plane::Plane;
use crate::geometry::Point2;
use crate::video::Picture;

/// Cells of each of the two axes of colour.
const CELLS: usize = 32;
/// The width of a cell in colour, as a share of brightness.
const CELL: f64 = 0.05;
/// The ground is what is below this share of the player's height over the feet.
const ABOVE_FEET: f64 = 0.1;
/// Steeper places are no plain ground, grey levels over four pixels.
const PLAIN: f32 = 14.0;
/// A colour that covers less of the ground's pixels may be anything, share.
const LEAST: f64 = 0.02;
/// The same of all of the picture's pixels, for colours that are reached across a line.
const LEAST_ANYWHERE: f64 = 0.015;
/// Lines across which the ground goes on: their contrast, grey levels, their length as a share of the picture's width; and how
/// many lines in turn.
const CLEAR: f64 = 15.0;
const LONG: f64 = 0.08;
const ROUNDS: usize = 3;
/// Pixels looked at.
const STEP: usize = 3;
/// How far beside a band the ground is looked at, pixels and as a share of the band's width.
const BESIDE: (f64, f64) = (5.0, 0.25);

/// The colours of the ground.
pub(super) struct Ground {
    common: Vec<bool>,
}

fn cell(rgb: [u8; 3]) -> usize {
    let [r, g, b] = rgb.map(f64::from);
    let sum = r + g + b + 40.0;
    let axis = |v: f64| ((v / sum / CELL + CELLS as f64 / 2.0).clamp(0.0, CELLS as f64 - 1.0)) as usize;
    axis(2.0 * (r - g)) * CELLS + axis(2.0 * b - r - g)
}

impl Ground {
    /// The colours that are common below the player's feet (or in the lower half where there is no player), and those that
    /// lie across a painted line from them.
    pub fn of(picture: &Picture, plane: &Plane, player: Option<&Standing>, bands: &[Band]) -> Self {
        let height = plane.height as f64;
        let top = player
            .map_or(0.55 * height, |p| (p.foot.y - ABOVE_FEET * (p.foot.y - p.head.y)).min(0.8 * height));
        let everywhere = common(picture, plane, 0, LEAST_ANYWHERE);
        let mut ground = Self { common: common(picture, plane, top.max(0.0) as usize, LEAST) };
        for _ in 0..ROUNDS {
            let mut more = vec![0; CELLS * CELLS];
            for band in bands.iter().filter(|b| b.contrast > CLEAR && b.length() > LONG * plane.width as f64)
            {
                let sides = ground.sides(band, picture);
                for side in 0..2 {
                    let known = sides.iter().filter(|s| s[side].is_some_and(|c| ground.common[c])).count();
                    if 5 * known >= 4 * sides.len() {
                        sides.iter().filter_map(|s| s[1 - side]).for_each(|c| more[c] += 1);
                    }
                }
            }
            for (cell, count) in more.into_iter().enumerate() {
                ground.common[cell] |= count >= 2 && everywhere[cell];
            }
        }
        ground
    }

    /// The colours on either side of a band, at each of its points.
    fn sides(&self, band: &Band, picture: &Picture) -> Vec<[Option<usize>; 2]> {
        let at = |p: Point2| {
            let (x, y) = (p.x.round(), p.y.round());
            if x < 0.0 || y < 0.0 { None } else { picture.pixel(x as u32, y as u32).map(cell) }
        };
        let sides = |(a, b): (&Point2, &Point2)| {
            let width = a.distance(*b).max(1.0);
            let out = (BESIDE.0 + BESIDE.1 * width) / width;
            [at(a.lerp(*b, -out)), at(b.lerp(*a, -out))]
        };
        band.edges[0].iter().zip(&band.edges[1]).map(sides).collect()
    }

    /// The share of a band's points that have ground on both sides; what lies outside the picture may be ground.
    pub fn beside(&self, band: &Band, picture: &Picture) -> f64 {
        let sides = self.sides(band, picture);
        let is_ground = |side: &Option<usize>| side.is_none_or(|cell| self.common[cell]);
        let both = sides.iter().filter(|s| s.iter().all(is_ground)).count();
        both as f64 / sides.len().max(1) as f64
    }
}

/// Which colours cover at least a share of the plain pixels from a row downward.
fn common(picture: &Picture, plane: &Plane, top: usize, least: f64) -> Vec<bool> {
    let mut counts = vec![0.0; CELLS * CELLS];
    let mut total = 0.0;
    for y in (top..plane.height).step_by(STEP) {
        for x in (2..plane.width.saturating_sub(2)).step_by(STEP) {
            let k = y * plane.width + x;
            if (plane.values[k + 2] - plane.values[k - 2]).abs() > PLAIN {
                continue;
            }
            if let Some(rgb) = picture.pixel(x as u32, y as u32) {
                counts[cell(rgb)] += 1.0;
                total += 1.0;
            }
        }
    }
    // Neighbouring cells join: light changes along the court.
    let mut common = vec![false; CELLS * CELLS];
    for (i, j) in (1..CELLS - 1).flat_map(|i| (1..CELLS - 1).map(move |j| (i, j))) {
        let row = |u: usize| counts[u * CELLS + j - 1..=u * CELLS + j + 1].iter().sum::<f64>();
        common[i * CELLS + j] = (i - 1..=i + 1).map(row).sum::<f64>() > least * total;
    }
    common
}
