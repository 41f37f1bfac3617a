//! Where the player is in a picture.

use crate::geometry::Point2;
use crate::measure::clip::ClipMeasures;
use crate::pose::{Joint, Landmark, Motion, Side};

/// Half width of a limb and of the head, in body heights.
const LIMB: f64 = 0.045;
const HEAD: f64 = 0.11;

/// All body points of a picture, pixels.
pub fn points(motion: &Motion, place: usize) -> impl Iterator<Item = Point2> + '_ {
    Landmark::ALL.into_iter().filter_map(move |landmark| Some(motion.point(place, landmark)?.at))
}

/// Squares (middle and half a side, pixels) that cover the body in a picture; `height` is the body's, pixels.
pub fn areas(motion: &Motion, place: usize, height: f64) -> Vec<(Point2, f64)> {
    const LIMBS: [(Joint, Joint); 6] = [
        (Joint::Hip, Joint::Knee),
        (Joint::Knee, Joint::Ankle),
        (Joint::Heel, Joint::Toe),
        (Joint::Shoulder, Joint::Elbow),
        (Joint::Elbow, Joint::Wrist),
        (Joint::Shoulder, Joint::Hip),
    ];
    let at = |landmark| Some(motion.point(place, landmark)?.at);
    let sides = [Side::Left, Side::Right];
    let limbs = sides.into_iter().flat_map(|side| LIMBS.map(|(a, b)| (a.on(side), b.on(side))));
    let across = [Joint::Shoulder, Joint::Hip].map(|joint| (joint.on(Side::Left), joint.on(Side::Right)));
    let mut areas = Vec::new();
    for (a, b) in limbs.chain(across) {
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
