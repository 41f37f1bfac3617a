//! Brings pictures of a camera that moves a little onto one of them.

use super::empty::Hidden;
use super::plane::Plane;
use crate::geometry::Point2;
use crate::order::median;

/// Cells of the picture in each of which the best place to be recognised is looked for.
const CELLS: (usize, usize) = (16, 10);
/// Half the side of what is recognised, pixels; the border that is left out.
const HALF: i64 = 7;
const BORDER: i64 = 20;
/// A place must differ from its surroundings in every direction by this much, grey levels squared per pixel.
const CORNER: f32 = 12.0;
/// How far from where it is expected a place is looked for: steps of four, two and one pixels.
const SEARCH: [(i64, i64); 3] = [(4, 8), (2, 2), (1, 2)];
/// Two patches that differ by more than this share of what the patch differs in itself are not the same.
const UNLIKE: f32 = 0.6;
/// Places that fit within this are on the background, pixels; least number of them and least share.
const FITS: f64 = 1.5;
const LEAST: usize = 12;
const LEAST_SHARE: f64 = 0.35;
/// Rounds of weighing again, and the spread at the first and at the last, pixels.
const ROUNDS: usize = 8;
const WIDE: f64 = 12.0;
const NARROW: f64 = 0.6;
/// Moves smaller than this don't blur a median, pixels.
pub(super) const STILL: f64 = 0.35;

/// A projective map between two pictures: (x, y) ↦ ((a x + b y + c) / w, (d x + e y + f) / w), w = g x + h y + 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Map(pub [f64; 8]);

impl Map {
    pub const SAME: Self = Self([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0]);

    pub fn apply(&self, p: Point2) -> Point2 {
        let [a, b, c, d, e, f, g, h] = self.0;
        let w = g * p.x + h * p.y + 1.0;
        Point2::new((a * p.x + b * p.y + c) / w, (d * p.x + e * p.y + f) / w)
    }

    /// This map after another one.
    pub fn after(&self, first: &Self) -> Self {
        let rows = |[a, b, c, d, e, f, g, h]: [f64; 8]| [[a, b, c], [d, e, f], [g, h, 1.0]];
        let (m, n) = (rows(self.0), rows(first.0));
        let at = |i: usize, j: usize| (0..3).map(|k| m[i][k] * n[k][j]).sum::<f64>();
        let last = at(2, 2);
        Self(std::array::from_fn(|k| at(k / 3, k % 3) / last))
    }

    /// The way back; `None` for a map that has none.
    pub fn inverse(&self) -> Option<Self> {
        let [a, b, c, d, e, f, g, h] = self.0;
        let m = [
            e - f * h,
            c * h - b,
            b * f - c * e,
            f * g - d,
            a - c * g,
            c * d - a * f,
            d * h - e * g,
            b * g - a * h,
        ];
        let last = a * e - b * d;
        (last.abs() > 1e-9).then(|| Self(m.map(|v| v / last)))
    }

    /// The largest move of a corner of the picture, pixels.
    pub fn largest_move(&self, width: f64, height: f64) -> f64 {
        [(0.0, 0.0), (width, 0.0), (0.0, height), (width, height)]
            .into_iter()
            .map(|(x, y)| Point2::new(x, y))
            .map(|p| self.apply(p).distance(p))
            .fold(0.0, f64::max)
    }
}

/// Places of a picture that are easily recognised, away from people.
pub(super) struct Places<'a> {
    plane: &'a Plane,
    at: Vec<(i64, i64)>,
}

impl<'a> Places<'a> {
    pub fn of(plane: &'a Plane, people: &[Hidden]) -> Self {
        let inside = |size: usize| (size as i64 - 2 * BORDER).max(0);
        let (columns, rows) = (inside(plane.width), inside(plane.height));
        let cells = |count: usize| count as i64;
        let mut at = Vec::new();
        for (row, column) in (0..cells(CELLS.1)).flat_map(|r| (0..cells(CELLS.0)).map(move |c| (r, c))) {
            let (left, right) = (column * columns / cells(CELLS.0), (column + 1) * columns / cells(CELLS.0));
            let (top, bottom) = (row * rows / cells(CELLS.1), (row + 1) * rows / cells(CELLS.1));
            let mut best = (CORNER, None);
            for y in (top..bottom).step_by(4) {
                for x in (left..right).step_by(4) {
                    let (x, y) = (x + BORDER, y + BORDER);
                    let at = Point2::new(x as f64, y as f64);
                    let strength = corner(plane, x, y);
                    if strength > best.0 && !people.iter().any(|person| person.holds(at)) {
                        best = (strength, Some((x, y)));
                    }
                }
            }
            at.extend(best.1);
        }
        Self { plane, at }
    }

    /// The map from this picture to another one, starting from a first guess; `None` where too little is recognised.
    pub fn find_in(&self, other: &Plane, guess: &Map) -> Option<Map> {
        let pairs: Vec<(Point2, Point2)> = self
            .at
            .iter()
            .filter_map(|(x, y)| {
                let from = Point2::new(*x as f64, *y as f64);
                Some((from, self.recognise(*x, *y, other, guess.apply(from))?))
            })
            .collect();
        let map = fit(&pairs)?;
        let good = pairs.iter().filter(|(a, b)| map.apply(*a).distance(*b) < FITS).count();
        (good >= LEAST && good as f64 >= LEAST_SHARE * pairs.len() as f64).then_some(map)
    }

    fn recognise(&self, x: i64, y: i64, other: &Plane, expected: Point2) -> Option<Point2> {
        let (mut u, mut v) = (expected.x.round() as i64, expected.y.round() as i64);
        let difference = |u: i64, v: i64, step: usize| unlike(self.plane, (x, y), other, (u, v), step);
        for (step, reach) in SEARCH {
            let around = (u, v);
            let mut least = f32::MAX;
            for (i, j) in (-reach..=reach).flat_map(|j| (-reach..=reach).map(move |i| (i, j))) {
                let at = (around.0 + i * step, around.1 + j * step);
                let d = difference(at.0, at.1, 2);
                if d < least {
                    (least, u, v) = (d, at.0, at.1);
                }
            }
        }
        let here = difference(u, v, 1);
        let inside = |at: i64, size: usize| at >= BORDER / 2 && at < size as i64 - BORDER / 2;
        if here > UNLIKE || !inside(u, other.width) || !inside(v, other.height) {
            return None;
        }
        let part = |before: f32, after: f32| {
            let bend = before - 2.0 * here + after;
            if bend > 1e-6 { f64::from((0.5 * (before - after) / bend).clamp(-0.5, 0.5)) } else { 0.0 }
        };
        Some(Point2::new(
            u as f64 + part(difference(u - 1, v, 1), difference(u + 1, v, 1)),
            v as f64 + part(difference(u, v - 1, 1), difference(u, v + 1, 1)),
        ))
    }
}

/// How much a patch changes in the direction in which it changes least (Shi and Tomasi 1994).
fn corner(plane: &Plane, x: i64, y: i64) -> f32 {
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (i, j) in (-2..=2).flat_map(|j| (-2..=2).map(move |i| (2 * i, 2 * j))) {
        let (right, down) = plane.slope(x + i, y + j);
        xx += right * right;
        xy += right * down;
        yy += down * down;
    }
    let (half, rest) = (0.5 * (xx + yy), 0.5 * (xx - yy));
    (half - rest.hypot(xy)) / 25.0
}

/// Squared difference of two patches whose brightness may differ, as a share of the first one's own variation.
fn unlike(a: &Plane, (x, y): (i64, i64), b: &Plane, (u, v): (i64, i64), step: usize) -> f32 {
    let (mut n, mut sa, mut sb, mut saa, mut sdd) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for j in (-HALF..=HALF).step_by(step) {
        for i in (-HALF..=HALF).step_by(step) {
            let (p, q) = (a.get(x + i, y + j), b.get(u + i, v + j));
            n += 1.0;
            sa += p;
            sb += q;
            saa += p * p;
            sdd += (p - q) * (p - q);
        }
    }
    let off = (sa - sb) / n;
    (sdd - n * off * off) / (saa - sa * sa / n).max(1.0)
}

/// The map that most pairs agree on.
fn fit(pairs: &[(Point2, Point2)]) -> Option<Map> {
    if pairs.len() < LEAST {
        return None;
    }
    let shift = |axis: fn(&Point2) -> f64| median(pairs.iter().map(|(a, b)| axis(b) - axis(a)));
    let (right, down) = (shift(|p| p.x)?, shift(|p| p.y)?);
    let mut map = Map([1.0, 0.0, right, 0.0, 1.0, down, 0.0, 0.0]);
    for round in 0..ROUNDS {
        let share = round as f64 / (ROUNDS - 1) as f64;
        let spread = WIDE * (NARROW / WIDE).powf(share);
        // An affine map first: few wrong pairs can bend a projective one out of all proportion.
        let order = if round < ROUNDS / 2 { 6 } else { 8 };
        map = weighted(pairs, &map, spread, order)?;
    }
    Some(map)
}

fn weighted(pairs: &[(Point2, Point2)], last: &Map, spread: f64, order: usize) -> Option<Map> {
    // Scaled so that the equations are sound.
    const SCALE: f64 = 500.0;
    let mut m = [[0.0; 9]; 8];
    for (from, to) in pairs {
        let off = last.apply(*from).distance(*to) / spread;
        let weight = 1.0 / (1.0 + off * off).powi(2);
        let (x, y, u, v) = (from.x / SCALE, from.y / SCALE, to.x / SCALE, to.y / SCALE);
        let rows =
            [[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u], [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v]];
        for row in rows {
            for i in 0..order {
                for j in 0..order {
                    m[i][j] += weight * row[i] * row[j];
                }
                m[i][8] += weight * row[i] * row[8];
            }
        }
    }
    let [a, b, c, d, e, f, g, h] = solved(m, order)?;
    Some(Map([a, b, c * SCALE, d, e, f * SCALE, g / SCALE, h / SCALE]))
}

/// The first `order` of eight unknowns from as many equations, the right side last; the others 0. `None` where they tell nothing.
pub(super) fn solved(mut m: [[f64; 9]; 8], order: usize) -> Option<[f64; 8]> {
    for (i, row) in m.iter_mut().enumerate().take(order) {
        row[i] += 1e-9;
    }
    for i in 0..order {
        let pivot = (i..order).max_by(|a, b| m[*a][i].abs().total_cmp(&m[*b][i].abs()))?;
        m.swap(i, pivot);
        if m[i][i].abs() < 1e-9 {
            return None;
        }
        let row = m[i];
        for below in m.iter_mut().take(order).skip(i + 1) {
            let factor = below[i] / row[i];
            below.iter_mut().zip(row).for_each(|(b, r)| *b -= factor * r);
        }
    }
    let mut terms = [0.0; 8];
    for i in (0..order).rev() {
        let known: f64 = (i + 1..order).map(|k| m[i][k] * terms[k]).sum();
        terms[i] = (m[i][8] - known) / m[i][i];
    }
    Some(terms)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Blotches that differ everywhere.
    fn texture(x: f64, y: f64) -> f32 {
        let at = |i: f64, j: f64| {
            let mixed = (i as i64 as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
                ^ (j as i64 as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
            (mixed.wrapping_mul(0xD6E8_FEB8_6659_FD93) >> 40) as f64 / f64::from(1 << 24)
        };
        let (i, j) = (x.floor(), y.floor());
        let (u, v) = (x - i, y - j);
        let row = |j: f64| at(i, j) * (1.0 - u) + at(i + 1.0, j) * u;
        (40.0 + 170.0 * (row(j) * (1.0 - v) + row(j + 1.0) * v)) as f32
    }

    fn pattern(map: &Map, player: f64) -> Plane {
        let (width, height) = (480, 300);
        let back = map.inverse().unwrap();
        let values = (0..width * height)
            .map(|k| {
                let (x, y) = ((k % width) as f64, (k / width) as f64);
                if (x - player).abs() < 40.0 && (y - 150.0).abs() < 90.0 {
                    return if ((x - player) / 9.0 + y / 13.0).rem_euclid(2.0) < 1.0 { 30.0 } else { 220.0 };
                }
                let p = back.apply(Point2::new(x, y));
                texture(p.x / 7.0, p.y / 7.0)
            })
            .collect();
        Plane { width, height, values }
    }

    #[test]
    fn a_turned_camera_is_found_behind_a_player_who_moves() {
        let truth = Map([0.999, -0.012, 21.0, 0.011, 1.001, -6.0, 1e-5, -5e-6]);
        let (first, second) = (pattern(&Map::SAME, 200.0), pattern(&truth, 260.0));
        let found = Places::of(&first, &[]).find_in(&second, &Map::SAME).unwrap();
        for p in [Point2::new(60.0, 40.0), Point2::new(420.0, 80.0), Point2::new(300.0, 270.0)] {
            assert!(
                found.apply(p).distance(truth.apply(p)) < 0.5,
                "{:?} {:?}",
                found.apply(p),
                truth.apply(p)
            );
        }
        let back = truth.inverse().unwrap().apply(truth.apply(Point2::new(99.0, 55.0)));
        assert!(back.distance(Point2::new(99.0, 55.0)) < 1e-6);
    }

    #[test]
    fn nothing_is_found_in_a_plain_picture() {
        let plain = Plane { width: 480, height: 300, values: vec![90.0; 480 * 300] };
        assert!(Places::of(&plain, &[]).find_in(&plain, &Map::SAME).is_none());
    }
}
