//! The player's landmarks in metres in the camera's frame.

use super::body::{BodyPrior, share};
use super::depth;
use super::lens::Lens;
use crate::geometry::Camera;
use crate::pose::landmark::COUNT;
use crate::pose::{Depth, Joint, Landmark, Motion, Side};
use crate::units::{Metres, Seconds};

/// Landmarks from which the player's distance is solved: the body's large rigid parts.
const ANCHORS: [Landmark; 9] = [
    Landmark::Nose,
    Landmark::LeftShoulder,
    Landmark::RightShoulder,
    Landmark::LeftHip,
    Landmark::RightHip,
    Landmark::LeftKnee,
    Landmark::RightKnee,
    Landmark::LeftAnkle,
    Landmark::RightAnkle,
];

/// The distance to the player is smoothed over this time (1 standard deviation of the window): steps are slower, the
/// model's wavering is faster.
const DISTANCE_WINDOW: Seconds = Seconds(0.35);

/// How the picture is turned into metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lift {
    /// Through the lens, with the depth of each landmark.
    #[default]
    Perspective,
    /// As if everything stood in one upright plane at the hips' distance.
    Planar,
}

/// The player's motion in the camera's frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// Times of the pictures.
    pub times: Vec<Seconds>,
    /// Pictures per second.
    pub rate: f64,
    /// Joints per picture, metres; `None` where a landmark was not seen.
    pub points: Vec<[Option<Camera>; COUNT]>,
    /// Visibility of each landmark, 0 to 1 (0 where it was not seen).
    pub visibility: Vec<[f64; COUNT]>,
    /// Standard deviation of each landmark's depth relative to the hips, metres.
    pub depth_spread: Vec<[f64; COUNT]>,
    /// Metres per pixel at the hips, per picture.
    pub scale: Vec<Option<f64>>,
    /// The player's stature used for the scale.
    pub stature: Metres,
    /// Whether depth along the lens is known at all.
    pub has_depth: bool,
    /// Whether the depth network told it.
    pub lifted: bool,
    /// Median over the clip of the landmarks' jitter after smoothing, metres per axis.
    pub jitter: f64,
}

impl Space {
    /// Lifts a motion in the picture into the camera's frame.
    ///
    /// The distance to the player is the one at which the model's body, scaled to `stature`, projects onto the
    /// landmarks (least squares in each picture, smoothed over time). Models without a body in space take the lengths of
    /// the legs in the picture instead, and every landmark lies in one plane.
    pub fn lift(motion: &Motion, lens: &Lens, stature: Metres, body: &BodyPrior, lift: Lift) -> Self {
        let body_scale = stature.0 / body.stature;
        let with_depth = lift == Lift::Perspective && depth::is_told(motion);
        let raw: Vec<Option<f64>> =
            (0..motion.len()).map(|i| distance_by_body(motion, i, lens, body_scale)).collect();
        let raw =
            if raw.iter().any(Option::is_some) { raw } else { distance_by_lengths(motion, lens, stature) };
        let distance = smoothed(&raw, &motion.times);
        let mut points = vec![[None; COUNT]; motion.len()];
        let mut visibility = vec![[0.0; COUNT]; motion.len()];
        let mut depth_spread = vec![[depth::UNKNOWN; COUNT]; motion.len()];
        let mut scale = vec![None; motion.len()];
        for i in 0..motion.len() {
            let Some(hips_away) = distance[i] else { continue };
            let metres = hips_away / lens.focal;
            scale[i] = Some(metres);
            let depths = if with_depth { depth::of(motion, i, metres, body_scale) } else { [None; COUNT] };
            for (k, point) in motion.points[i].iter().enumerate() {
                let Some(point) = point else { continue };
                let depth = depths[k].unwrap_or(Depth { away: 0.0, spread: depth::UNKNOWN });
                let away = hips_away + depth.away;
                points[i][k] = Some(Camera::new(
                    (point.at.x - lens.middle.0) * away / lens.focal,
                    -(point.at.y - lens.middle.1) * away / lens.focal,
                    away,
                ));
                visibility[i][k] = point.visibility;
                depth_spread[i][k] = depth.spread;
            }
            if with_depth {
                body.correct(&mut points[i], body_scale);
            }
        }
        let median_scale = median(scale.iter().flatten().copied()).unwrap_or(0.0);
        let jitter = median(motion.jitter.iter().copied()).unwrap_or(0.0) * median_scale;
        Self {
            times: motion.times.clone(),
            rate: motion.rate,
            points,
            visibility,
            depth_spread,
            scale,
            stature,
            has_depth: with_depth,
            lifted: with_depth && motion.depth.iter().flatten().any(Option::is_some),
            jitter,
        }
    }

    /// A joint in a picture.
    pub fn at(&self, frame: usize, landmark: Landmark) -> Option<Camera> {
        self.points.get(frame)?[landmark as usize]
    }

    /// Middle of the hips in a picture.
    pub fn hips(&self, frame: usize) -> Option<Camera> {
        Some(self.at(frame, Landmark::LeftHip)?.middle(self.at(frame, Landmark::RightHip)?))
    }

    /// Median distance from the camera to the player's hips, metres.
    pub fn camera_distance(&self) -> Option<Metres> {
        median((0..self.points.len()).filter_map(|i| self.hips(i)).map(|p| p.away)).map(Metres)
    }

    /// Hand (wrist) relative to the hips in a picture.
    pub fn hand(&self, frame: usize, side: Side) -> Option<Camera> {
        Some(self.at(frame, Joint::Wrist.on(side))? - self.hips(frame)?)
    }
}

/// Distance from the lens to the hips at which the model's body projects onto the landmarks of one picture, metres:
/// linear least squares over x·(Z + w_z) = f·(X + w_x) and the same for y.
fn distance_by_body(motion: &Motion, frame: usize, lens: &Lens, body_scale: f64) -> Option<f64> {
    let world = motion.world.get(frame)?.as_ref()?;
    // Normal equations for (X, Y, Z), unrolled: the matrix has the form [[n,0,-Sx],[0,n,-Sy],[-Sx,-Sy,Sxx+Syy]].
    let (mut n, mut sx, mut sy, mut sq) = (0.0, 0.0, 0.0, 0.0);
    let mut rhs = [0.0; 3];
    for landmark in ANCHORS {
        let Some(point) = motion.point(frame, landmark) else { continue };
        let u = (point.at.x - lens.middle.0) / lens.focal;
        let v = (point.at.y - lens.middle.1) / lens.focal;
        let [wx, wy, wz] = world[landmark as usize].map(|c| c * body_scale);
        let (ex, ey) = (u * wz - wx, v * wz - wy);
        n += 1.0;
        sx += u;
        sy += v;
        sq += u * u + v * v;
        rhs[0] += ex;
        rhs[1] += ey;
        rhs[2] -= u * ex + v * ey;
    }
    if n < 5.0 {
        return None;
    }
    // Eliminating X and Y leaves one equation for Z.
    let pivot = sq - (sx * sx + sy * sy) / n;
    let z = (rhs[2] + (sx * rhs[0] + sy * rhs[1]) / n) / pivot;
    (z.is_finite() && z > 0.3).then_some(z)
}

/// Distance from the lengths of the legs in the picture, for models without a body in space. A segment is never
/// longer in the picture than in truth, so the long readings within a second are believed.
fn distance_by_lengths(motion: &Motion, lens: &Lens, stature: Metres) -> Vec<Option<f64>> {
    let length = |i: usize, a: Landmark, b: Landmark| -> Option<f64> {
        Some(motion.point(i, a)?.at.distance(motion.point(i, b)?.at))
    };
    let readings: Vec<Option<f64>> = (0..motion.len())
        .map(|i| {
            let legs = [Side::Left, Side::Right].into_iter().filter_map(|side| {
                let thigh = length(i, Joint::Hip.on(side), Joint::Knee.on(side))?;
                let shank = length(i, Joint::Knee.on(side), Joint::Ankle.on(side))?;
                Some((thigh + shank) / ((share::THIGH + share::SHANK) * stature.0))
            });
            legs.fold(None, |best: Option<f64>, v| Some(best.map_or(v, |b| b.max(v))))
        })
        .collect();
    (0..motion.len())
        .map(|i| {
            readings[i]?;
            let mut near: Vec<f64> = (0..motion.len())
                .filter(|&j| (motion.times[j] - motion.times[i]).abs().0 <= 1.0)
                .filter_map(|j| readings[j])
                .collect();
            near.sort_by(f64::total_cmp);
            near.get(near.len() * 9 / 10).map(|pixels_per_metre| lens.focal / pixels_per_metre)
        })
        .collect()
}

/// A running median against slips, then a Gaussian window; gaps stay gaps.
fn smoothed(raw: &[Option<f64>], times: &[Seconds]) -> Vec<Option<f64>> {
    let window = |i: usize, reach: f64| {
        let first = times.partition_point(|t| t.0 < times[i].0 - reach);
        let last = times.partition_point(|t| t.0 <= times[i].0 + reach);
        first..last
    };
    let medians: Vec<Option<f64>> = (0..raw.len())
        .map(|i| raw[i].and_then(|_| median(raw[window(i, DISTANCE_WINDOW.0)].iter().flatten().copied())))
        .collect();
    (0..raw.len())
        .map(|i| {
            medians[i]?;
            let (mut sum, mut weights) = (0.0, 0.0);
            for j in window(i, 3.0 * DISTANCE_WINDOW.0) {
                if let Some(value) = medians[j] {
                    let u = (times[j] - times[i]).0 / DISTANCE_WINDOW.0;
                    let weight = (-0.5 * u * u).exp();
                    sum += weight * value;
                    weights += weight;
                }
            }
            Some(sum / weights)
        })
        .collect()
}

/// Median of some values; `None` for none.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    (n > 0).then(|| 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]))
}
