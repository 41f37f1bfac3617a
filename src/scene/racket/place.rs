//! Where a racket of known length can be in space when its ends are seen in one picture.

use rand::Rng;
use rand_distr::StandardNormal;

use crate::geometry::{Camera, Point2};
use crate::scene::{Recast, Sights};
use crate::units::{Metres, Seconds};

/// The racket's ends in one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ends {
    pub(super) time: Seconds,
    /// Butt and tip in the picture, pixels.
    pub(super) pixels: [Point2; 2],
    /// Directions in which they lie, of length 1 along the lens's axis.
    pub(super) butt: Camera,
    pub(super) tip: Camera,
    /// The hitting hand (wrist) in the camera's frame.
    pub(super) wrist: Camera,
    /// The middle of the hips there.
    pub(super) hips: Camera,
    /// Standard deviation of butt and tip per axis, in racket lengths.
    pub(super) spread: f64,
    pub(super) confidence: f64,
}

/// The racket at one moment in the camera's frame, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    /// The butt from the wrist.
    pub(super) butt: Camera,
    /// From butt to tip.
    pub(super) axis: Camera,
}

impl Ends {
    /// The same pixels and hand as another camera has them, the hand `off` by so much; it stays where the lens can't show the hips.
    pub(super) fn recast(&self, recast: &Recast, off: Camera) -> Self {
        let seen = recast.from().body(self.hips);
        let wrist = seen.map_or(self.wrist, |seen| recast.body(&seen).point(&seen.point(self.wrist)));
        Self { wrist: wrist + off, ..*self }.seen_by(recast.to())
    }

    /// With the directions in which a camera has the pixels.
    pub(super) fn seen_by(self, camera: &Sights) -> Self {
        let [butt, tip] = self.pixels.map(|pixel| camera.ray(pixel));
        Self { butt, tip, ..self }
    }
}

/// A racket of a length whose ends lie on two rays: where its butt is, and where along its ray the tip may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rays {
    /// The butt in the camera's frame.
    butt: Camera,
    /// The hand there.
    wrist: Camera,
    /// Way from the butt to the point of the tip's ray that is nearest to it.
    across: Camera,
    /// Direction of the tip's ray, of length 1.
    ray: Camera,
    length: f64,
}

impl Rays {
    /// `errors` are added to butt and tip in the picture's plane, racket lengths. The butt is taken to lie in the plane through the
    /// wrist that is square to the line of sight.
    pub(super) fn of(ends: &Ends, length: Metres, errors: [f64; 4]) -> Self {
        let wrist = ends.wrist;
        let away = wrist.dot(wrist) / wrist.dot(ends.butt);
        let off = |right: f64, up: f64| Camera::new(right, up, 0.0) * length.0;
        let butt = ends.butt * away + off(errors[0], errors[1]);
        let tip = ends.tip + off(errors[2], errors[3]) / away;
        let ray = tip.unit().unwrap_or(tip);
        Self { butt, wrist, across: ray * ray.dot(butt) - butt, ray, length: length.0 }
    }

    /// How long the racket looks, in its lengths: 1 where it is square to the tip's ray, more where it can't be.
    pub(super) fn look(&self) -> f64 {
        self.across.norm() / self.length
    }

    /// The racket with its tip `away` lengths farther from the lens than where its ray comes nearest to the butt.
    pub(super) fn placed(&self, away: f64) -> Placed {
        Placed { butt: self.butt - self.wrist, axis: self.across + self.ray * (away * self.length) }
    }

    /// How far a depth of the tip is off what the look leaves, in standard deviations, where that has the standard deviation
    /// `spread`: depth² + look² = 1.
    pub(super) fn off(&self, depth: f64, spread: f64) -> f64 {
        let look = self.look();
        (depth * depth + look * look - 1.0) / (spread * (2.0 * look + spread))
    }

    /// Depths of the tip that the racket's length leaves: nearer to the lens, and farther; and between them the square, to
    /// which a racket is nearer than it looks where it is seen a little too short. One that looks longer than it is has its tip where
    /// the ray comes nearest.
    pub(super) fn ways(&self) -> [f64; WAYS] {
        let root = (1.0 - self.look().powi(2)).max(0.0).sqrt();
        [-root, 0.0, root]
    }
}

/// So many depths a single picture offers.
pub(super) const WAYS: usize = 3;

/// Errors of butt and tip in each picture, racket lengths.
pub(super) struct Errors {
    pub(super) ends: Vec<[f64; 4]>,
}

impl Errors {
    pub(super) fn none(count: usize) -> Self {
        Self { ends: vec![[0.0; 4]; count] }
    }

    /// Half of the variance stays the same through the stroke, the other half changes from picture to picture.
    pub(super) fn drawn(ends: &[Ends], interval: Seconds, rng: &mut impl Rng) -> Self {
        let mut normal = || -> f64 { rng.sample(StandardNormal) };
        let lasting: [f64; 4] = std::array::from_fn(|_| normal());
        // Errors of pictures nearer than a thirtieth of a second are alike.
        let alike = (-interval.0 * 30.0).exp();
        let mut passing: [f64; 4] = std::array::from_fn(|_| normal());
        let ends = ends
            .iter()
            .map(|ends| {
                passing = passing.map(|p| alike * p + (1.0 - alike * alike).sqrt() * normal());
                std::array::from_fn(|k| {
                    ends.spread * std::f64::consts::FRAC_1_SQRT_2 * (lasting[k] + passing[k])
                })
            })
            .collect();
        Self { ends }
    }
}

/// Value and slope at 0 of the least squares polynomial through points (time, values): a parabola through three or more, a
/// line through two.
pub(super) fn polynomial<const N: usize>(
    points: impl Iterator<Item = (f64, [f64; N])> + Clone,
) -> Option<([f64; N], [f64; N])> {
    let order = points.clone().count().min(3);
    // Normal equations, solved by elimination; times in units of their largest.
    let unit = points.clone().map(|(t, _)| t.abs()).fold(0.0, f64::max).max(1e-9);
    let mut rows = [[0.0; 3]; 3];
    let mut right = [[0.0; N]; 3];
    for (t, values) in points {
        let powers = [1.0, t / unit, (t / unit).powi(2)];
        for i in 0..order {
            for j in 0..order {
                rows[i][j] += powers[i] * powers[j];
            }
            for k in 0..N {
                right[i][k] += powers[i] * values[k];
            }
        }
    }
    for i in 0..order {
        let pivot = rows[i][i];
        if pivot.abs() < 1e-9 {
            return None;
        }
        let (row, values) = (rows[i], right[i]);
        for j in (0..order).filter(|j| *j != i) {
            let factor = rows[j][i] / pivot;
            rows[j].iter_mut().zip(row).for_each(|(a, b)| *a -= factor * b);
            right[j].iter_mut().zip(values).for_each(|(a, b)| *a -= factor * b);
        }
    }
    let value = std::array::from_fn(|k| right[0][k] / rows[0][0]);
    let slope = std::array::from_fn(|k| right[1][k] / rows[1][1] / unit);
    Some((value, slope))
}
