//! The player's stature: the number that sets the scale of everything.

use crate::units::Metres;

/// Stature assumed where none is given.
pub const ASSUMED_STATURE: Metres = Metres(1.75);

/// Spread of an assumed stature over club players, relative (1 standard deviation).
const ASSUMED_SPREAD: f64 = 0.055;

/// Spread of a stated stature, shoes and slouching, relative (1 standard deviation).
const STATED_SPREAD: f64 = 0.012;

/// A stature that the court tells no better than this (relative) is not taken from them.
const MEASURED_SPREAD: f64 = 0.04;

/// Where a stature comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatureSource {
    /// The user said it.
    Given,
    /// It was measured with the court's lines.
    Lines,
    /// It was measured with points of the court that the user has placed.
    Points,
    /// It is that of many players.
    Assumed,
}

impl StatureSource {
    /// The word in tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Lines => "court lines",
            Self::Points => "court points",
            Self::Assumed => "assumed",
        }
    }
}

/// A player's stature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stature {
    /// The stature.
    pub metres: Metres,
    /// Its relative spread (1 standard deviation).
    pub spread: f64,
    /// Where it comes from.
    pub source: StatureSource,
}

impl Stature {
    /// The best that is known: what was given, what was `measured` (metres, standard deviation and with what), or what many players are.
    pub fn of(given: Option<Metres>, measured: Option<(f64, f64, StatureSource)>) -> Self {
        let measured = measured.filter(|(metres, spread, _)| *spread < MEASURED_SPREAD * metres);
        match (given, measured) {
            (Some(metres), _) => Self { metres, spread: STATED_SPREAD, source: StatureSource::Given },
            (None, Some((metres, spread, source))) => {
                Self { metres: Metres(metres), spread: spread / metres, source }
            }
            (None, None) => {
                Self { metres: ASSUMED_STATURE, spread: ASSUMED_SPREAD, source: StatureSource::Assumed }
            }
        }
    }
}
