//! From a player's motion to the numbers of every stroke in it.

mod corrected;
mod facing;
mod finding;
mod given;
mod settled;
mod span;
mod swung;
mod unmeasured;

pub use corrected::Corrected;
pub use given::{Seen, Stated};
pub use unmeasured::{Found, Unmeasured};

use super::drawn::Source;
use super::uncertainty::Measured;
use crate::ball::Flight;
use crate::pose::Motion;
use crate::racket::RacketMotion;
use crate::scene::{Direction, Filmed, Space, Unsuitable};
use crate::stroke::hits::Hits;
use crate::stroke::{Hitting, Stroke};
use crate::units::{Reading, Seconds};

/// Contacts closer than this are of one stroke.
pub const SAME_STROKE: Seconds = Seconds(0.5);

/// A stroke with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredStroke {
    /// Its number in the clip, from 1; numbers of strokes that were taken out are left free.
    pub number: usize,
    /// The stroke.
    pub stroke: Stroke,
    /// The racket in the stroke's pictures; without any where it was not looked for.
    pub racket: RacketMotion,
    /// The ball's ways around contact, where it was seen.
    pub flight: Option<Flight>,
    /// How many times slower than bodies swing it is shown; `None` where it may be as it was.
    pub slowed: Option<f64>,
    /// What its uncertainty is drawn from.
    pub source: Source,
    /// Its values and their uncertainty.
    pub measured: Measured,
}

/// The numbers of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct ClipMeasures {
    /// The hitting hand; `None` when no stroke was found.
    pub hitting: Option<Hitting>,
    /// Where the net is; `None` when no stroke was found.
    pub direction: Option<Direction>,
    /// The camera as it stood, and the player's stature.
    pub filmed: Filmed,
    /// The player's motion in the camera's frame.
    pub space: Space,
    /// Why nothing was measured, where the view does not allow it.
    pub unsuitable: Option<Unsuitable>,
    /// Whether somebody moves as in a stroke, but no racket is plain in the hand that would play it, so that no stroke is told.
    pub without_racket: bool,
    /// What the sound says of the strokes, in their order; `None` where it was not listened to.
    pub hits: Option<Hits>,
    /// How late the clip's sound is on its pictures, the way of the sound taken off; `None` where no hit was heard.
    pub sound_late: Option<Reading>,
    /// The strokes in order of time.
    pub strokes: Vec<MeasuredStroke>,
    /// How many strokes were found before single ones were taken out or added.
    pub found: usize,
    /// What a person's corrections have changed.
    pub corrected: Vec<Corrected>,
}

/// Finds and measures every stroke of a motion.
pub fn measure(motion: &Motion, stated: &Stated, seen: &Seen) -> ClipMeasures {
    Unmeasured::of(motion, stated, seen).measure()
}
