//! Lengths of phases and the hand's speed.

use super::Missing;
use crate::geometry::Court;
use crate::stroke::{Boundary, Sort, Stroke, phases, search};
use crate::units::Seconds;

/// The hand of an overhead swings up to the ball within this time.
const UPWARD_SWING: Seconds = Seconds(0.35);

/// Milliseconds between two boundaries; negative spans don't exist.
fn between(stroke: &Stroke, from: Boundary, to: Boundary) -> Result<f64, Missing> {
    let span = stroke.time_of(to)? - stroke.time_of(from)?;
    if span.0 < 0.0 { Err(Missing::PhaseAbsent) } else { Ok(span.milliseconds()) }
}

pub fn preparation(stroke: &Stroke) -> Result<f64, Missing> {
    let end = if stroke.phases.drop_start.is_some() { Boundary::DropStart } else { Boundary::ForwardStart };
    between(stroke, Boundary::PrepStart, end)
}

pub fn drop(stroke: &Stroke) -> Result<f64, Missing> {
    between(stroke, Boundary::DropStart, Boundary::ForwardStart)
}

pub fn forward_swing(stroke: &Stroke) -> Result<f64, Missing> {
    between(stroke, Boundary::ForwardStart, Boundary::Contact)
}

pub fn hand_speed_peak(stroke: &Stroke) -> Result<f64, Missing> {
    let speed = |t| phases::velocity(&stroke.motion, t).map(Court::norm);
    let from = match stroke.sort() {
        Sort::Overhead => stroke.contact() - UPWARD_SWING,
        _ => stroke.time_of(Boundary::ForwardStart)?,
    };
    search::maximum(speed, from, stroke.contact()).map(|(_, v)| v).ok_or(Missing::Hidden)
}
