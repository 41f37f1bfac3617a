//! What a player's motion says about the arm that holds the racket, and about where the camera stands.

use crate::pose::Joint;
use crate::scene::body::share;
use crate::scene::court::{Axes, CourtMotion};
use crate::scene::space::Space;

/// How far a player's forearm differs from the usual one for the stature (1 standard deviation, relative), and the error of
/// its length in the picture's plane, metres.
pub(super) const FOREARM_SPREAD: f64 = 0.08;
pub(super) const FOREARM_PLACE: f64 = 0.02;

/// Height at which cameras stand, metres, and its spread. A camera that stands higher than what its picture's middle shows
/// looks down, and what is nearer to it then looks lower than it is.
const CAMERA_HEIGHT: f64 = 1.15;
const CAMERA_HEIGHT_SPREAD: f64 = 0.3;

/// Length of the forearm: the usual one for the stature, or longer where it looks longer in a tenth of the stroke's pictures.
pub(super) fn forearm_length(space: &Space, court: &CourtMotion) -> f64 {
    const LONG_SHARE: f64 = 0.9;
    let usual = share::FOREARM * space.stature.0;
    let axes = Axes::new(court.direction.angle, court.hand);
    let (elbow, wrist) = (court.hitting(Joint::Elbow) as usize, court.hitting(Joint::Wrist) as usize);
    let mut flat: Vec<f64> = court
        .points
        .iter()
        .filter_map(|points| {
            let along = axes.to_camera(points[wrist]? - points[elbow]?);
            Some(along.right.hypot(along.up))
        })
        .collect();
    flat.sort_by(f64::total_cmp);
    let long = flat.get((LONG_SHARE * flat.len() as f64) as usize).copied().unwrap_or(usual);
    // Landmarks that are simply wrong don't make an arm grow.
    long.clamp(usual, usual * (1.0 + 2.0 * FOREARM_SPREAD))
}

/// How much lower what is a metre nearer looks, and its spread, by where cameras stand: the height over the ground at which
/// the lens's axis meets the player says how far down it looks from there.
pub(super) fn lowered(space: &Space, court: &CourtMotion) -> (f64, f64) {
    let away = space.camera_distance().map_or(8.0, |distance| distance.0);
    let axis_height = court.ground_in(space).map_or(CAMERA_HEIGHT, |ground| -ground);
    ((CAMERA_HEIGHT - axis_height) / away, CAMERA_HEIGHT_SPREAD / away)
}
