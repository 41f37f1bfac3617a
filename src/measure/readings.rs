//! What several measures read of one stroke, worked out once for all of them.

use std::cell::OnceCell;

use super::{Missing, lag, rotation};
use crate::stroke::Stroke;
use crate::units::Seconds;

/// A curve's extreme: when and how large, or why it is missing.
pub type Extreme = Result<(Seconds, f64), Missing>;

/// A stroke with what was worked out of it. What the stroke is must not change meanwhile.
#[derive(Debug)]
pub struct Readings<'a> {
    /// The stroke.
    pub stroke: &'a Stroke,
    lag_peak: OnceCell<Extreme>,
    hand_peak: OnceCell<Extreme>,
    turns: OnceCell<Vec<(Seconds, rotation::Turns)>>,
}

impl<'a> Readings<'a> {
    /// Nothing is worked out yet.
    pub fn of(stroke: &'a Stroke) -> Self {
        Self { stroke, lag_peak: OnceCell::new(), hand_peak: OnceCell::new(), turns: OnceCell::new() }
    }

    /// The largest angle between forearm and racket before contact, degrees.
    pub(super) fn lag_peak(&self) -> Extreme {
        *self.lag_peak.get_or_init(|| lag::lag_peak_at(self.stroke))
    }

    /// The largest angle between forearm and hand before contact, degrees.
    pub(super) fn hand_peak(&self) -> Extreme {
        *self.hand_peak.get_or_init(|| lag::hand_peak_at(self.stroke))
    }

    /// The turn of shoulders and hips from the preparation's start to contact.
    pub(super) fn turns(&self) -> &[(Seconds, rotation::Turns)] {
        self.turns.get_or_init(|| rotation::turns(self.stroke))
    }
}
