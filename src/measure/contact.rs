//! Where the hand is when the ball is met.

use super::Missing;
use crate::pose::Joint;
use crate::stroke::Stroke;

pub fn hand_ahead_of_front_toe(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.contact();
    let hand = stroke.joint(stroke.motion.hitting(Joint::Wrist), t)?;
    Ok(100.0 * (hand.net - stroke.front_toe(t)?.net))
}

pub fn elbow(stroke: &Stroke) -> Result<f64, Missing> {
    stroke.elbow_angle(stroke.contact())
}
