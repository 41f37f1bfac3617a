//! Straight edges: regions of pixels whose brightness rises in the same direction (after von Gioi, Jakubowicz, Morel and
//! Randall 2010, without their count of false alarms: bands are judged later by other means).

use super::plane::Plane;
use crate::geometry::Point2;

/// Smoothing before gradients are taken, pixels.
const SMOOTHING: f32 = 0.7;
/// Weaker rises than this don't belong to an edge, grey levels per pixel.
const WEAKEST: f32 = 2.0;
/// Directions of neighbours in a region differ by no more than this from the region's, radians: at first, and where that has
/// gathered several edges that meet at a flat angle.
const TOLERANCES: [f32; 3] = [0.39, 0.20, 0.10];
/// Shortest edge, pixels.
const SHORTEST: f64 = 11.0;
/// Widest region, pixels: an edge is a few pixels wide, more where it is out of focus.
const WIDEST: f64 = 9.0;
/// Most edges that are kept, longest first.
const MOST: usize = 900;

/// A straight edge with the brighter side to the right of the way from `from` to `to` (as seen in the picture, y down: the
/// side of `normal`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Segment {
    pub from: Point2,
    pub to: Point2,
}

impl Segment {
    pub fn length(&self) -> f64 {
        self.from.distance(self.to)
    }

    /// Direction of the edge, length 1.
    pub fn direction(&self) -> Point2 {
        let (d, length) = (self.to - self.from, self.length());
        Point2::new(d.x / length, d.y / length)
    }

    /// Direction across the edge toward its brighter side, length 1.
    pub fn normal(&self) -> Point2 {
        let d = self.direction();
        Point2::new(-d.y, d.x)
    }

    pub fn middle(&self) -> Point2 {
        self.from.lerp(self.to, 0.5)
    }
}

struct Gradient {
    width: usize,
    height: usize,
    strength: Vec<f32>,
    angle: Vec<f32>,
}

impl Gradient {
    fn of(plane: &Plane) -> Self {
        let smooth = plane.smoothed(SMOOTHING);
        let (width, height) = (plane.width, plane.height);
        let mut strength = vec![0.0; width * height];
        let mut angle = vec![0.0; width * height];
        for y in 1..height.saturating_sub(1) {
            for x in 1..width.saturating_sub(1) {
                let k = y * width + x;
                let right = 0.5 * (smooth.values[k + 1] - smooth.values[k - 1]);
                let down = 0.5 * (smooth.values[k + width] - smooth.values[k - width]);
                strength[k] = right.hypot(down);
                if strength[k] > WEAKEST {
                    angle[k] = down.atan2(right);
                }
            }
        }
        Self { width, height, strength, angle }
    }
}

/// The straight edges of a picture, longest first.
pub(super) fn segments(plane: &Plane) -> Vec<Segment> {
    let gradient = Gradient::of(plane);
    let mut seeds: Vec<u32> =
        (0..gradient.strength.len() as u32).filter(|k| gradient.strength[*k as usize] > WEAKEST).collect();
    // Strongest first, as finely as it matters.
    seeds.sort_by_key(|k| -((gradient.strength[*k as usize] * 8.0) as i32));
    let mut used = vec![false; gradient.strength.len()];
    let mut found = Vec::new();
    let mut region = Vec::new();
    for seed in seeds {
        if used[seed as usize] {
            continue;
        }
        for tolerance in TOLERANCES {
            let angle = grow(&gradient, seed as usize, tolerance, &mut used, &mut region);
            if (region.len() as f64) < SHORTEST {
                break;
            }
            let edge = straight(&gradient, &region, angle);
            found.extend(edge);
            if edge.is_some() {
                break;
            }
            // What was gathered may be several edges: each is looked for again.
            region.iter().skip(1).for_each(|k| used[*k] = false);
        }
    }
    found.sort_by(|a, b| b.length().total_cmp(&a.length()));
    found.truncate(MOST);
    found
}

/// Gathers the neighbours of `seed` that rise in the same direction; answers with that direction.
fn grow(gradient: &Gradient, seed: usize, tolerance: f32, used: &mut [bool], region: &mut Vec<usize>) -> f32 {
    region.clear();
    region.push(seed);
    used[seed] = true;
    let mut angle = gradient.angle[seed];
    let (mut sum_x, mut sum_y) = (angle.cos(), angle.sin());
    let mut next = 0;
    while next < region.len() {
        let (x, y) = (region[next] % gradient.width, region[next] / gradient.width);
        next += 1;
        for v in y.saturating_sub(1)..=(y + 1).min(gradient.height - 1) {
            for u in x.saturating_sub(1)..=(x + 1).min(gradient.width - 1) {
                let k = v * gradient.width + u;
                if used[k] || gradient.strength[k] <= WEAKEST {
                    continue;
                }
                let turn = (gradient.angle[k] - angle).abs();
                if turn.min(std::f32::consts::TAU - turn) > tolerance {
                    continue;
                }
                used[k] = true;
                region.push(k);
                sum_x += gradient.angle[k].cos();
                sum_y += gradient.angle[k].sin();
                angle = sum_y.atan2(sum_x);
            }
        }
    }
    angle
}

/// The edge through a region, if the region is long and narrow.
fn straight(gradient: &Gradient, region: &[usize], angle: f32) -> Option<Segment> {
    let place = |k: &usize| ((k % gradient.width) as f64, (k / gradient.width) as f64);
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for k in region {
        let (weight, at) = (f64::from(gradient.strength[*k]), place(k));
        sum += weight;
        x += weight * at.0;
        y += weight * at.1;
    }
    let (x, y) = (x / sum, y / sum);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for k in region {
        let (weight, at) = (f64::from(gradient.strength[*k]), place(k));
        let (dx, dy) = (at.0 - x, at.1 - y);
        xx += weight * dx * dx;
        xy += weight * dx * dy;
        yy += weight * dy * dy;
    }
    let axis = 0.5 * (2.0 * xy).atan2(xx - yy);
    let (mut dx, mut dy) = (axis.cos(), axis.sin());
    // The brighter side shall lie to the right of the way.
    if -dy * f64::from(angle.cos()) + dx * f64::from(angle.sin()) < 0.0 {
        (dx, dy) = (-dx, -dy);
    }
    let (mut low, mut high, mut across) = (f64::MAX, f64::MIN, 0.0);
    for k in region {
        let at = place(k);
        let along = (at.0 - x) * dx + (at.1 - y) * dy;
        low = low.min(along);
        high = high.max(along);
        across += f64::from(gradient.strength[*k]) * (-(at.0 - x) * dy + (at.1 - y) * dx).powi(2);
    }
    let width = (12.0 * across / sum).sqrt() + 1.0;
    let at = |t: f64| Point2::new(x + t * dx, y + t * dy);
    (high - low >= SHORTEST && width <= WIDEST && width < 0.35 * (high - low))
        .then(|| Segment { from: at(low), to: at(high) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slanted_bright_stripe_has_two_opposite_edges() {
        let values = (0..120 * 80)
            .map(|k| {
                let (x, y) = ((k % 120) as f32, (k / 120) as f32);
                let across: f32 = y - 20.0 - 0.3 * x;
                60.0 + 100.0 * ((3.5 - across.abs()).clamp(-0.5, 0.5) + 0.5)
            })
            .collect();
        let found = segments(&Plane { width: 120, height: 80, values });
        assert!(found.len() >= 2, "{found:?}");
        let (a, b) = (found[0], found[1]);
        assert!(a.length() > 100.0 && b.length() > 100.0);
        let turn = a.direction().x * b.direction().x + a.direction().y * b.direction().y;
        assert!(turn < -0.999, "{turn}");
        let apart = b.middle() - a.middle();
        let apart = apart.x * a.normal().x + apart.y * a.normal().y;
        assert!((apart - 7.0 * 0.958).abs() < 0.5, "{apart}");
    }
}
