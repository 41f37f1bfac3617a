//! Strokes: finding them, telling their kind and hand, splitting them into phases.

pub mod contact;
pub mod correction;
mod delay;
pub mod find;
pub mod hands;
pub mod held;
pub mod hits;
pub mod kind;
pub mod offset;
pub mod phases;
pub mod search;
pub mod slow;
pub mod sort;
mod spans;

use serde::{Deserialize, Serialize};

pub use contact::Contact;
pub use correction::{Correction, Corrections, CourtPoint};
pub use delay::Distance;
pub use find::{Found, Hitting, find};
pub use hands::Hands;
pub use kind::{Kind, Stance};
pub use phases::{Boundary, Mark, Phases};
pub use sort::Sort;

use crate::geometry::Court;
use crate::scene::{CourtBall, CourtMotion, CourtRacket};
use crate::units::Metres;

/// One stroke: its motion in the court's frame with what was made out about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Forehand, backhand, overhead or unknown.
    pub kind: Kind,
    /// How many hands held the racket through the forward swing.
    pub hands: Hands,
    /// Whether the ball was taken out of the air.
    pub volley: bool,
    /// How the feet stood at contact, where they were seen.
    pub stance: Option<Stance>,
    /// When its phases begin and end.
    pub phases: Phases,
    /// Whether a ball was hit; `None` where nothing tells.
    pub ball: Option<bool>,
    /// The player's motion around the stroke.
    pub motion: CourtMotion,
    /// The racket, where it was seen.
    pub racket: Option<CourtRacket>,
    /// The ball around contact, where it was seen.
    pub flight: Option<CourtBall>,
    /// The ball from the hitting hand at contact, metres, where it was seen.
    pub struck: Option<Court>,
    /// The player's stature, which sets the scale.
    pub stature: Metres,
}

impl Stroke {
    /// Which strokes it is judged with.
    pub const fn sort(&self) -> Sort {
        Sort::of(self.kind, self.volley)
    }
}

/// How the evidence for a time was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// From the turn of the shoulder line.
    ShoulderTurn,
    /// From the first sustained retreat of the hitting hand.
    HandRetreat,
    /// From the hand's position.
    HandPosition,
    /// From the hand's speed.
    HandSpeed,
    /// From a moment in which the hand slowed between two movements, without coming to rest.
    HandSlowed,
    /// From the hand's speed and path around contact, without sound or ball.
    Kinematic,
    /// From the backswing's end, because nothing shows when the hand starts forward.
    BackswingEnd,
    /// A person said so.
    Marked,
    /// From the sound of the hit.
    Sound,
    /// From the hand's movement, corrected or sharpened by sound.
    #[serde(rename = "sound+kinematic")]
    SoundKinematic,
    /// From the ball's change of direction.
    Ball,
    /// From the ball's change of direction and the sound of the hit.
    #[serde(rename = "ball+sound")]
    BallSound,
    /// From the ball's change of direction and the hand's movement.
    #[serde(rename = "ball+kinematic")]
    BallKinematic,
}

impl Method {
    /// The word used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ShoulderTurn => "shoulder-turn",
            Self::HandRetreat => "hand-retreat",
            Self::HandPosition => "hand-position",
            Self::HandSpeed => "hand-speed",
            Self::HandSlowed => "hand-slowed",
            Self::Kinematic => "kinematic",
            Self::BackswingEnd => "backswing-end",
            Self::Marked => "marked",
            Self::Sound => "sound",
            Self::SoundKinematic => "sound+kinematic",
            Self::Ball => "ball",
            Self::BallSound => "ball+sound",
            Self::BallKinematic => "ball+kinematic",
        }
    }

    /// The method of a time to which two methods contribute. Only ways of timing contact are ever joined.
    fn joined(self, other: Self) -> Self {
        let either = |method| self == method || other == method;
        match () {
            () if self == other => self,
            () if either(Self::BallSound) || either(Self::Ball) && either(Self::Sound) => Self::BallSound,
            () if either(Self::Ball) || either(Self::BallKinematic) => Self::BallKinematic,
            () => Self::SoundKinematic,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Method;

    #[test]
    fn joined_methods_name_the_surest_two() {
        let joined = |all: &[Method]| all.iter().copied().reduce(Method::joined).map(Method::name);
        assert_eq!(joined(&[Method::Sound, Method::Kinematic]), Some("sound+kinematic"));
        assert_eq!(joined(&[Method::Ball, Method::Sound]), Some("ball+sound"));
        assert_eq!(joined(&[Method::Ball, Method::Kinematic]), Some("ball+kinematic"));
        assert_eq!(joined(&[Method::Ball, Method::Sound, Method::Kinematic]), Some("ball+sound"));
    }
}
