//! The ready pose.

use super::Missing;
use crate::pose::Landmark;
use crate::stroke::{Boundary, Stroke, search};
use crate::units::Seconds;

/// The ready pose is the mean over this time before the preparation starts.
const WINDOW: Seconds = Seconds(0.25);

/// The racket must be seen for this share of it.
const SEEN_SHARE: f64 = 0.5;

pub fn tip_above_eyes(stroke: &Stroke) -> Result<f64, Missing> {
    let start = stroke.time_of(Boundary::PrepStart)?;
    let above = |t: Seconds| -> Result<f64, Missing> {
        let tip = stroke.racket_point(1.0, t)?;
        let eyes = stroke.joint(Landmark::LeftEye, t)?.middle(stroke.joint(Landmark::RightEye, t)?);
        Ok(100.0 * (tip.up - eyes.up))
    };
    let from = start - WINDOW;
    let values = search::samples(|t| above(t).ok(), from, start);
    if (values.len() as f64) < SEEN_SHARE * WINDOW.0 / search::STEP.0 {
        return Err(above(start).err().unwrap_or(Missing::NoRacket));
    }
    Ok(values.iter().map(|(_, value)| value).sum::<f64>() / values.len() as f64)
}
