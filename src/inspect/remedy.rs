//! What a person can do to have a clip's numbers surer.

use crate::analyse::Analysis;
use crate::scene::{Filmed, StatureSource, Witness};

/// Something that a person can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// Have the direction to the net known.
    Direction,
    /// Say how tall the player is.
    Stature,
    /// Have lens, tilt and height of the camera known.
    Stand,
}

impl Remedy {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Direction, Self::Stature, Self::Stand];

    /// What to do, in words that a player understands too.
    pub const fn advice(self) -> &'static str {
        match self {
            Self::Direction => {
                "let two of the court's lines be in the picture, film square to the baseline and say so, or let the player wait \
                 facing the net for two seconds"
            }
            Self::Stature => "say how tall the player is",
            Self::Stand => {
                "film so that three of the court's lines are in view, or say where the camera stands and how wide its view is"
            }
        }
    }

    /// The options that say it.
    pub const fn options(self) -> &'static str {
        match self {
            Self::Direction => "--view",
            Self::Stature => "--height",
            Self::Stand => "--camera-height, --camera-distance, --fov",
        }
    }

    /// Whether it is still to be done.
    pub fn is_open(self, analysis: &Analysis) -> bool {
        let filmed = &analysis.measures.filmed;
        match self {
            Self::Direction => filmed.court.is_none(),
            Self::Stature => filmed.stature.source == StatureSource::Assumed,
            Self::Stand => !matches!(filmed.focal().1, Witness::Lines | Witness::Points),
        }
    }

    /// The camera as it would be known.
    pub fn applied_to(self, filmed: &Filmed) -> Filmed {
        match self {
            Self::Direction => filmed.with_direction(),
            Self::Stature => filmed.with_stature(),
            Self::Stand => filmed.with_stand(),
        }
    }
}
