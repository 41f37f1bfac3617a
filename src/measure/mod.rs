//! The measures of a stroke: one catalogue, one file per family of formulas, and the uncertainty of each value.

pub mod catalogue;
pub mod clip;
mod contact;
pub mod drawn;
mod errors;
#[cfg(test)]
mod figure;
mod hand;
#[cfg(test)]
mod kinds_tests;
mod lag;
pub mod pair;
mod posture;
#[cfg(test)]
mod properties_tests;
mod ramp;
mod readings;
mod ready;
mod rotation;
mod serve;
mod spoken;
mod swing;
mod takeback;
mod tempo;
pub mod uncertainty;
mod veto;
mod weight;

use serde::{Deserialize, Serialize};

pub use catalogue::{CATALOGUE, Family, Measure, Unit};
pub(crate) use contact::point as contact_point;
pub use lag::{lag, lag_peak_at};
pub(crate) use weight::{centre_of_mass, pelvis_over_base};

/// How far a value can be trusted, judged by its ± against what a coach would still call useful.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// For orientation only.
    Low,
    /// Useful with its ± in mind.
    Fair,
    /// As good as a camera gives it.
    Good,
}

impl Grade {
    /// The word used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Fair => "fair",
            Self::Low => "low",
        }
    }
}

/// A measure's value on one stroke.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measurement {
    /// In the measure's unit.
    pub value: f64,
    /// Half width of the 95 % interval, in the same unit.
    pub plus_minus: f64,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// Why a value is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Missing {
    /// A joint that is needed was not seen at that time.
    Hidden,
    /// The clip or the picture ends before the measure's time.
    OutOfFrame,
    /// The view can't show it.
    ViewUnsuitable,
    /// No racket was seen.
    NoRacket,
    /// The racket points at the camera or away, and how far can't be told.
    RacketForeshortened,
    /// The forearm does.
    ForearmForeshortened,
    /// A phase that the measure needs doesn't exist in this stroke or was not seen.
    PhaseAbsent,
    /// Too few pictures a second.
    FrameRateTooLow,
    /// The pose model doesn't give a point that is needed.
    NoSuchLandmark,
    /// The value is not defined in this pose, such as a share of a base that has no length.
    Undefined,
    /// The uncertainty is larger than anything that would be of use.
    TooUncertain,
    /// Strokes of this kind have no such thing.
    NotForThisKind,
    /// Both hands hold the racket.
    TwoHands,
    /// The foot stepped, so that its heel rose with it.
    Stepped,
}

impl Missing {
    /// The words used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hidden => "hidden",
            Self::OutOfFrame => "out of frame",
            Self::ViewUnsuitable => "view unsuitable",
            Self::NoRacket => "no racket seen",
            Self::RacketForeshortened => "racket foreshortened",
            Self::ForearmForeshortened => "forearm foreshortened",
            Self::PhaseAbsent => "phase absent",
            Self::FrameRateTooLow => "frame rate too low",
            Self::NoSuchLandmark => "landmark not in model",
            Self::Undefined => "undefined in this pose",
            Self::TooUncertain => "too uncertain",
            Self::NotForThisKind => "not for this kind",
            Self::TwoHands => "two hands on the racket",
            Self::Stepped => "stepped",
        }
    }
}

/// A value or the reason why there is none.
pub type Outcome = Result<Measurement, Missing>;
