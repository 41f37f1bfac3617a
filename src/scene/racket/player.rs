//! What a player's motion says about the arm that holds the racket.

use crate::pose::Joint;
use crate::scene::body::share;
use crate::scene::court::{Axes, CourtMotion};
use crate::scene::space::Space;

/// How far a player's forearm differs from the usual one for the stature (1 standard deviation, relative), and the error of
/// its length in the picture's plane, metres.
pub(super) const FOREARM_SPREAD: f64 = 0.08;
pub(super) const FOREARM_PLACE: f64 = 0.02;

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
