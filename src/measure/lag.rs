//! The hand's angle to the forearm, and what needs the racket.

use super::Missing;
use crate::geometry::angle_between;
use crate::pose::Joint;
use crate::stroke::Stroke;
use crate::stroke::search;
use crate::units::Seconds;

/// Measures of the racket have no value where no racket was seen.
pub fn needs_racket(_: &Stroke) -> Result<f64, Missing> {
    Err(Missing::NoRacket)
}

/// The peak is looked for this long before contact, its base a little longer.
const PEAK_WINDOW: Seconds = Seconds(0.35);
const BASE_WINDOW: Seconds = Seconds(0.45);

/// The rise has begun when this share of it is done.
const ONSET_SHARE: f64 = 0.10;

/// Angle between forearm and hand, degrees.
fn hand_angle(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    let wrist = stroke.joint(stroke.motion.hitting(Joint::Wrist), time)?;
    let elbow = stroke.joint(stroke.motion.hitting(Joint::Elbow), time)?;
    let index = stroke.joint(stroke.motion.hitting(Joint::Index), time)?;
    let pinky = stroke.joint(stroke.motion.hitting(Joint::Pinky), time)?;
    angle_between(wrist - elbow, index.middle(pinky) - wrist).ok_or(Missing::Undefined)
}

/// Time and size of the largest bend.
fn peak(stroke: &Stroke) -> Result<(Seconds, f64), Missing> {
    let met = stroke.contact();
    hand_angle(stroke, met)?;
    search::maximum(|t| hand_angle(stroke, t).ok(), met - PEAK_WINDOW, met).ok_or(Missing::Hidden)
}

pub fn hand_angle_peak(stroke: &Stroke) -> Result<f64, Missing> {
    Ok(peak(stroke)?.1)
}

pub fn hand_angle_peak_before_contact(stroke: &Stroke) -> Result<f64, Missing> {
    Ok((stroke.contact() - peak(stroke)?.0).milliseconds())
}

pub fn hand_angle_onset_before_contact(stroke: &Stroke) -> Result<f64, Missing> {
    let (at, largest) = peak(stroke)?;
    let angle = |t: Seconds| hand_angle(stroke, t).ok();
    let from = stroke.contact() - BASE_WINDOW;
    let (_, base) = search::minimum(angle, from, at).ok_or(Missing::Hidden)?;
    let level = base + ONSET_SHARE * (largest - base);
    let onset = search::last_at_or_under(angle, level, from, at).ok_or(Missing::Undefined)?;
    Ok((stroke.contact() - onset).milliseconds())
}

pub fn hand_angle_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    hand_angle(stroke, stroke.contact())
}
