//! How far the player is from the lens, picture by picture.

use rayon::prelude::*;

use super::body::share;
use super::depth::Axis;
use super::stand::{Sights, Stand};
use crate::geometry::{Camera, Point2};
use crate::order::median;
use crate::pose::{Joint, Landmark, Motion, Side};
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

/// Distance to the middle of the hips along the axis of [`Teller::of_size`], per picture, metres; `None` where it can't be told.
///
/// It is the one at which the model's body, scaled to `stature`, projects onto the landmarks (least squares in each picture,
/// smoothed over time). Models without a body in space take the lengths of the legs in the picture instead.
pub fn of(motion: &Motion, stand: &Stand, stature: Metres, body_scale: f64) -> Vec<Option<f64>> {
    let camera = stand.sights();
    let raw: Vec<Option<f64>> =
        (0..motion.len()).into_par_iter().map(|i| by_body(motion, i, &camera, body_scale)).collect();
    let raw =
        if raw.iter().any(Option::is_some) { raw } else { by_lengths(motion, stand.lens.focal, stature) };
    smoothed(&raw, &motion.times)
}

/// The middle of the hips in a picture, pixels.
pub(super) fn hips(motion: &Motion, frame: usize) -> Option<Point2> {
    Some(motion.point(frame, Landmark::LeftHip)?.at.lerp(motion.point(frame, Landmark::RightHip)?.at, 0.5))
}

/// Distance from the lens to the hips at which the model's body projects onto the landmarks of one picture, metres:
/// linear least squares over x·(Z + w_z) = f·(X + w_x) and the same for y.
fn by_body(motion: &Motion, frame: usize, camera: &Sights, body_scale: f64) -> Option<f64> {
    let world = motion.world.get(frame)?.as_ref()?;
    // The model's body stands in axes of its own.
    let axis = Axis::of_pose_network(camera, hips(motion, frame)?, motion.size);
    let [right, down] = axis.across(camera)?;
    // Normal equations for (X, Y, Z), unrolled: the matrix has the form [[n,0,-Sx],[0,n,-Sy],[-Sx,-Sy,Sxx+Syy]].
    let (mut n, mut sx, mut sy, mut sq) = (0.0, 0.0, 0.0, 0.0);
    let mut rhs = [0.0; 3];
    for landmark in ANCHORS {
        let Some(point) = motion.point(frame, landmark) else { continue };
        let ray: Camera = camera.ray(point.at);
        let along = axis.along(ray);
        let (u, v) = (ray.dot(right) / along, ray.dot(down) / along);
        let [wx, wy, wz] = world[landmark as usize].map(|c| f64::from(c) * body_scale);
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
fn by_lengths(motion: &Motion, focal: f64, stature: Metres) -> Vec<Option<f64>> {
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
            near.get(near.len() * 9 / 10).map(|pixels_per_metre| focal / pixels_per_metre)
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
        .into_par_iter()
        .map(|i| raw[i].and_then(|_| median(raw[window(i, DISTANCE_WINDOW.0)].iter().flatten().copied())))
        .collect();
    (0..raw.len())
        .into_par_iter()
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
