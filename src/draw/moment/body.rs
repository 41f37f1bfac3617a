//! Where the player is in a picture.

use crate::geometry::Point2;
use crate::measure::clip::ClipMeasures;
use crate::pose::landmark::LIMBS;
use crate::pose::{Joint, Landmark, Motion, Side};

/// Half width of a limb and of the head, in body heights.
const LIMB: f64 = 0.045;
const HEAD: f64 = 0.11;

/// The side of the trunk.
pub const FLANK: [(Joint, Joint); 1] = [(Joint::Shoulder, Joint::Hip)];

/// The trunk from one side to the other.
pub const ACROSS: [(Landmark, Landmark); 2] =
    [(Landmark::LeftShoulder, Landmark::RightShoulder), (Landmark::LeftHip, Landmark::RightHip)];

/// All body points of a picture, pixels.
pub fn points(motion: &Motion, place: usize) -> impl Iterator<Item = Point2> + '_ {
    Landmark::ALL.into_iter().filter_map(move |landmark| Some(motion.point(place, landmark)?.at))
}

/// Squares (middle and half a side, pixels) that cover the body in a picture; `height` is the body's, pixels.
pub fn areas(motion: &Motion, place: usize, height: f64) -> Vec<(Point2, f64)> {
    let at = |landmark| Some(motion.point(place, landmark)?.at);
    let sides = [Side::Left, Side::Right];
    let of_sides = |lines: &'static [(Joint, Joint)]| {
        sides.into_iter().flat_map(move |side| lines.iter().map(move |(a, b)| (a.on(side), b.on(side))))
    };
    let mut areas = Vec::new();
    for (a, b) in of_sides(&LIMBS).chain(of_sides(&FLANK)).chain(ACROSS) {
        if let (Some(a), Some(b)) = (at(a), at(b)) {
            let steps = (a.distance(b) / (LIMB * height)).ceil().clamp(1.0, 50.0) as usize;
            areas.extend((0..=steps).map(|i| (a.lerp(b, i as f64 / steps as f64), LIMB * height)));
        }
    }
    if let Some(nose) = at(Landmark::Nose) {
        areas.push((nose, HEAD * height));
    }
    areas
}

/// How high the player stands in a picture, pixels: by the scale there, else as far as the body reaches.
pub fn height(motion: &Motion, clip: &ClipMeasures, place: usize) -> f64 {
    let by_scale = clip.space.scale.get(place).copied().flatten();
    by_scale.filter(|scale| *scale > 0.0).map_or_else(
        || {
            let ys = || points(motion, place).map(|p| p.y);
            (ys().fold(f64::MIN, f64::max) - ys().fold(f64::MAX, f64::min)).clamp(1.0, f64::MAX)
        },
        |scale| clip.space.stature.0 / scale,
    )
}
