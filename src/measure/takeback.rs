//! Preparation, backswing and drop.

use super::Missing;
use crate::geometry::{Court, angle_between};
use crate::pose::Joint;
use crate::stroke::{Boundary, Stroke, search};
use crate::units::Seconds;

/// From the preparation's start to the forward swing's, the span in which the takeback is judged.
fn takeback_span(stroke: &Stroke) -> Result<(Seconds, Seconds), Missing> {
    let begin = stroke.phases.preparation_begin();
    let end = stroke.time_of(Boundary::ForwardStart)?;
    // From behind the body hides the waiting hand; where it is farthest back it must be in sight.
    stroke.joint(stroke.motion.hitting(Joint::Wrist), stroke.time_of(Boundary::BackswingEnd)?)?;
    Ok((begin, end))
}

/// Largest value of a curve over the takeback.
fn largest(stroke: &Stroke, curve: impl Fn(Seconds) -> Option<f64>) -> Result<f64, Missing> {
    let (begin, end) = takeback_span(stroke)?;
    search::maximum(curve, begin, end).map(|(_, v)| v).ok_or(Missing::Hidden)
}

pub fn hand_behind_shoulder(stroke: &Stroke) -> Result<f64, Missing> {
    let motion = &stroke.motion;
    let shoulder = Joint::Shoulder.on(stroke.rear_shoulder()?);
    let behind = |t| {
        let now = motion.moment(t);
        Some(now.at(shoulder)?.net - now.hand()?.net)
    };
    Ok(100.0 * largest(stroke, behind)?)
}

pub fn hand_behind_chest_plane(stroke: &Stroke) -> Result<f64, Missing> {
    let motion = &stroke.motion;
    let behind = |t| {
        let now = motion.moment(t);
        let shoulder = now.hitting(Joint::Shoulder)?;
        let across = (shoulder - now.off(Joint::Shoulder)?).horizontal().unit()?;
        // Facing the net the hitting shoulder points along `side` and the chest along `net`.
        let forward = Court::new(across.side, -across.net, 0.0);
        Some((shoulder - now.hand()?).dot(forward))
    };
    Ok(100.0 * largest(stroke, behind)?)
}

pub fn hand_above_shoulder(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.time_of(Boundary::DropStart)?;
    let hand = stroke.joint(stroke.motion.hitting(Joint::Wrist), t)?;
    Ok(100.0 * (hand.up - stroke.joint(Joint::Shoulder.on(stroke.rear_shoulder()?), t)?.up))
}

pub fn elbow_at_backswing_end(stroke: &Stroke) -> Result<f64, Missing> {
    stroke.elbow_angle(stroke.time_of(Boundary::BackswingEnd)?)
}

/// Smallest value of a curve over the drop.
fn smallest_in_drop(
    stroke: &Stroke,
    curve: impl Fn(Seconds) -> Result<f64, Missing>,
) -> Result<f64, Missing> {
    let begin = stroke.time_of(Boundary::DropStart)?;
    let end = stroke.time_of(Boundary::ForwardStart)?;
    if end <= begin {
        return Err(Missing::PhaseAbsent);
    }
    curve(begin)?;
    search::minimum(|t| curve(t).ok(), begin, end).map(|(_, v)| v).ok_or(Missing::Hidden)
}

pub fn elbow_off_ribs(stroke: &Stroke) -> Result<f64, Missing> {
    smallest_in_drop(stroke, |t| {
        let now = stroke.now(t);
        let shoulder = now.hitting(Joint::Shoulder)?;
        let elbow = now.hitting(Joint::Elbow)?;
        let trunk = now.middle(Joint::Hip)? - now.middle(Joint::Shoulder)?;
        angle_between(elbow - shoulder, trunk).ok_or(Missing::Undefined)
    })
}

pub fn hand_to_body_in_drop(stroke: &Stroke) -> Result<f64, Missing> {
    smallest_in_drop(stroke, |t| {
        let now = stroke.now(t);
        Ok(100.0 * (now.hitting(Joint::Wrist)?.side - now.hitting(Joint::Hip)?.side).abs())
    })
}

pub fn backswing_path(stroke: &Stroke) -> Result<f64, Missing> {
    let begin = stroke.time_of(Boundary::PrepStart)?;
    let end = stroke.time_of(Boundary::BackswingEnd)?;
    stroke.joint(stroke.motion.hitting(Joint::Wrist), begin)?;
    let step = Seconds(0.01);
    let (mut t, mut length) = (begin, 0.0);
    let mut last = stroke.motion.hand_at(begin);
    while t < end {
        t = (t + step).min(end);
        let now = stroke.motion.hand_at(t);
        length += now.zip(last).map(|(a, b)| (a - b).norm()).ok_or(Missing::Hidden)?;
        last = now;
    }
    Ok(100.0 * length)
}

pub fn backswing_travel(stroke: &Stroke) -> Result<f64, Missing> {
    let begin = stroke.phases.preparation_begin();
    let end = stroke.time_of(Boundary::ForwardStart)?;
    let start = stroke.joint(stroke.motion.hitting(Joint::Wrist), begin)?;
    let net = |t| stroke.motion.hand_at(t).map(|p| p.net);
    let (_, farthest) = search::minimum(net, begin, end).ok_or(Missing::Hidden)?;
    Ok(100.0 * (start.net - farthest))
}
