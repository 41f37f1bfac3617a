//! Where hand and racket are when the ball is met.

use super::Missing;
use crate::geometry::Court;
use crate::pose::Joint;
use crate::racket::MIDDLE;
use crate::stroke::Stroke;
use crate::units::Seconds;

pub fn hand_ahead_of_front_toe(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.contact();
    let hand = stroke.joint(stroke.motion.hitting(Joint::Wrist), t)?;
    Ok(100.0 * (hand.net - stroke.front_toe(t)?.net))
}

/// The point of contact: the ball where it was seen, else the middle of the strings, from pictures before the impact.
pub(crate) fn point(stroke: &Stroke) -> Result<Court, Missing> {
    let t = stroke.contact();
    if let Some(struck) = stroke.struck {
        return Ok(stroke.joint(stroke.motion.hitting(Joint::Wrist), t)? + struck);
    }
    stroke.racket_point(MIDDLE, t)
}

pub fn ahead_of_front_toe(stroke: &Stroke) -> Result<f64, Missing> {
    Ok(100.0 * (point(stroke)?.net - stroke.front_toe(stroke.contact())?.net))
}

pub fn height(stroke: &Stroke) -> Result<f64, Missing> {
    Ok(100.0 * point(stroke)?.up)
}

pub fn over_stature(stroke: &Stroke) -> Result<f64, Missing> {
    Ok(point(stroke)?.up / stroke.stature.0)
}

/// How far up from hip to shoulder the chest is.
const CHEST: f64 = 0.72;

pub fn level(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.contact();
    let up = point(stroke)?.up;
    let middle = |joint| Ok::<f64, Missing>(stroke.middle(joint, t)?.up);
    let (knee, hip) = (middle(Joint::Knee)?, middle(Joint::Hip)?);
    let chest = hip + CHEST * (middle(Joint::Shoulder)? - hip);
    if hip - knee < 0.05 || chest - hip < 0.05 {
        return Err(Missing::Undefined);
    }
    Ok(if up < hip { (up - knee) / (hip - knee) } else { 1.0 + (up - hip) / (chest - hip) })
}

pub fn reach(stroke: &Stroke) -> Result<f64, Missing> {
    let across = point(stroke)?.side - stroke.middle(Joint::Hip, stroke.contact())?.side;
    Ok(if stroke.is_across()? { -100.0 * across } else { 100.0 * across })
}

/// The hand's velocity just before contact is its mean over this time.
const JUST_BEFORE: Seconds = Seconds(0.016);

/// Fewer pictures a second don't show how fast the racket is.
const LEAST_RATE: f64 = 55.0;

pub fn tip_speed(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.contact();
    let racket = stroke.racket.as_ref().ok_or(Missing::NoRacket)?;
    if racket.rate() < LEAST_RATE {
        return Err(Missing::FrameRateTooLow);
    }
    let (butt, axis) = racket.velocity(t).ok_or(Missing::NoRacket)?;
    let wrist = stroke.motion.hitting(Joint::Wrist);
    let hand = (stroke.joint(wrist, t)? - stroke.joint(wrist, t - JUST_BEFORE)?) / JUST_BEFORE.0;
    Ok((hand + butt + axis).norm())
}

pub fn elbow(stroke: &Stroke) -> Result<f64, Missing> {
    stroke.elbow_angle(stroke.contact())
}
