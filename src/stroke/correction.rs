//! What a person corrects: said once, it stands against everything that is read from the pictures.

use std::collections::BTreeMap;

use super::phases::{Boundary, Mark};
use super::{Kind, Method};
use crate::court::Spot;
use crate::geometry::Point2;
use crate::pose::Side;
use crate::racket::Tip;
use crate::scene::Placed;
use crate::units::{FrameIndex, Metres, Seconds};

/// A time that a person has read off a picture is off by about half a picture's interval (1 standard deviation): the
/// instant lies between two pictures, and people differ about which one it is.
pub const SPREAD_IN_PICTURES: f64 = 0.5;

/// What a person says of one stroke.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Correction {
    /// That it is none.
    pub no_stroke: bool,
    /// The hitting hand.
    pub hand: Option<Side>,
    /// Its kind.
    pub kind: Option<Kind>,
    /// Times of boundaries, in the order of [`Boundary::ALL`], seconds since the clip's first picture.
    pub times: [Option<Seconds>; 7],
}

impl Correction {
    /// The boundaries that were said, as marks of phases.
    pub fn marks(&self) -> [Option<Mark>; 7] {
        self.times.map(|time| time.map(|time| Mark { time, method: Method::Marked }))
    }

    /// The time that was said of a boundary.
    pub fn time(&self, boundary: Boundary) -> Option<Seconds> {
        self.times[boundary as usize]
    }
}

/// A point of the court that a person has pointed at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CourtPoint {
    /// The point.
    pub spot: &'static Spot,
    /// The picture.
    pub frame: FrameIndex,
    /// Its pixel there.
    pub at: Point2,
}

/// What a person says of a clip's strokes. Strokes are counted from 1 as they are found without corrections of single
/// strokes; numbers don't shift when one is taken out or added.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Corrections {
    /// The hitting hand of all strokes.
    pub hand: Option<Side>,
    /// The kind of all strokes.
    pub kind: Option<Kind>,
    /// The player's stature, which sets the scale.
    pub height: Option<Metres>,
    /// Contacts of strokes that were missed.
    pub added: Vec<Seconds>,
    /// What was said of single strokes, by number.
    pub strokes: BTreeMap<usize, Correction>,
    /// The racket's tip in single pictures.
    pub racket_tips: Vec<Tip>,
    /// Points of the court.
    pub court_points: Vec<CourtPoint>,
    /// What the points of the court say; `None` without any.
    pub placed: Option<Placed>,
}

impl Corrections {
    /// Everything that was said of a stroke.
    pub fn of(&self, number: usize) -> Correction {
        let mut said = self.strokes.get(&number).cloned().unwrap_or_default();
        said.kind = said.kind.or(self.kind);
        said
    }
}
