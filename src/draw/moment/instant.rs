//! The moments of a stroke that stills show.

use crate::measure::clip::MeasuredStroke;
use crate::measure::{Family, Grade, Measure, lag_peak_at};
use crate::order;
use crate::pose::Motion;
use crate::stroke::{Boundary, Stroke};
use crate::units::Seconds;

use super::super::words;

/// A moment of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Instant {
    /// A boundary between phases.
    Boundary(Boundary),
    /// When the racket trails the forearm most.
    LargestLag,
}

/// The moments of which a stroke's stills are written, in order, with the names of their files.
pub const MOMENTS: [(Instant, &str); 6] = [
    (Instant::Boundary(Boundary::PrepStart), "ready"),
    (Instant::Boundary(Boundary::BackswingEnd), "takeback"),
    (Instant::Boundary(Boundary::LowPoint), "low_point"),
    (Instant::LargestLag, "largest_lag"),
    (Instant::Boundary(Boundary::Contact), "contact"),
    (Instant::Boundary(Boundary::FinishEnd), "finish"),
];

impl Instant {
    /// When it is in a stroke; `None` where the stroke has no such moment.
    pub fn time(self, stroke: &Stroke) -> Option<Seconds> {
        match self {
            Self::Boundary(boundary) => Some(stroke.phases.get(boundary)?.time),
            Self::LargestLag => Some(lag_peak_at(stroke).ok()?.0),
        }
    }

    /// When it is in a stroke, and the place of the picture nearest to that. Of the largest lag that is one before contact:
    /// after it the racket is another matter.
    pub fn picture(self, stroke: &Stroke, motion: &Motion) -> Option<(Seconds, usize)> {
        let time = self.time(stroke)?;
        let until = match self {
            Self::Boundary(_) => motion.len(),
            Self::LargestLag => motion.times.partition_point(|t| *t <= stroke.phases.contact.time),
        };
        Some((time, order::nearest(&motion.times[..until], |t| t.0, time.0)?))
    }

    /// Whether it deserves a still of its own where nobody has asked for it: of the largest lag size or time must be known.
    pub fn is_worth_it(self, stroke: &MeasuredStroke) -> bool {
        let known =
            |id| words::outcome(stroke, id).is_some_and(|(_, o)| o.is_ok_and(|m| m.grade > Grade::Low));
        match self {
            Self::Boundary(_) => true,
            Self::LargestLag => known("lag_peak_deg") || known("lag_peak_before_contact_ms"),
        }
    }

    /// Its name for a coach.
    pub const fn name(self) -> &'static str {
        match self {
            Self::LargestLag => "largest lag",
            Self::Boundary(Boundary::PrepStart) => "ready",
            Self::Boundary(Boundary::DropStart) => "top of the loop",
            Self::Boundary(Boundary::BackswingEnd) => "end of takeback",
            Self::Boundary(Boundary::LowPoint) => "low point",
            Self::Boundary(Boundary::ForwardStart) => "start of the forward swing",
            Self::Boundary(Boundary::Contact) => "contact",
            Self::Boundary(Boundary::FinishEnd) => "finish",
        }
    }

    /// The moment at which a measure is best shown.
    pub fn of(measure: &Measure) -> Self {
        Self::Boundary(match measure.id {
            "hand_above_shoulder_cm" | "drop_ms" => Boundary::DropStart,
            "elbow_off_ribs_deg" | "hand_to_body_in_drop_cm" | "tip_direction_in_drop_deg" => {
                Boundary::LowPoint
            }
            "preparation_ms" => Boundary::PrepStart,
            "pelvis_advance_cm" | "back_heel_lift_cm" | "finish_hand_above_shoulder_cm" => {
                Boundary::FinishEnd
            }
            "head_shift_cm" => Boundary::Contact,
            "knee_bend_deg" | "tip_across_back_cm" => Boundary::BackswingEnd,
            "toss_arm_up_ms" | "elbow_in_drop_deg" => Boundary::Contact,
            "hips_before_contact_ms" | "shoulders_before_contact_ms" => Boundary::Contact,
            id if id.contains("at_contact") => Boundary::Contact,
            id if id.contains("at_finish") => Boundary::FinishEnd,
            id if id.starts_with("lag_") => return Self::LargestLag,
            _ => match measure.family {
                Family::Ready => Boundary::PrepStart,
                Family::Takeback | Family::Rotation => Boundary::BackswingEnd,
                Family::Lag => Boundary::ForwardStart,
                Family::Contact | Family::Weight | Family::Tempo => Boundary::Contact,
            },
        })
    }
}
