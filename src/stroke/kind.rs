//! Forehand, backhand or overhead; and how the feet stand.

use serde::{Deserialize, Serialize};

use crate::pose::{Joint, Side};
use crate::recogniser::{Event, KINDS};
use crate::scene::CourtMotion;
use crate::units::Seconds;

/// Kind of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Hit on the hitting arm's side.
    Forehand,
    /// Hit on the other side.
    Backhand,
    /// Hit above the head: serve or smash.
    Overhead,
    /// Could not be told.
    Unknown,
}

impl Kind {
    /// The word used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Forehand => "forehand",
            Self::Backhand => "backhand",
            Self::Overhead => "overhead",
            Self::Unknown => "unknown",
        }
    }

    /// The side of the body on which the ball is met: 1 is the hitting arm's, −1 the other; 0 above the head or not known.
    pub const fn side(self) -> f64 {
        match self {
            Self::Forehand => 1.0,
            Self::Backhand => -1.0,
            Self::Overhead | Self::Unknown => 0.0,
        }
    }
}

/// How the line between the feet stands to the direction of the net at contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stance {
    /// Feet side by side, facing the net.
    Open,
    /// Between open and neutral.
    SemiOpen,
    /// One foot behind the other, in line with the shot.
    Neutral,
    /// The front foot across that line.
    Closed,
}

impl Stance {
    /// The word used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::SemiOpen => "semi-open",
            Self::Neutral => "neutral",
            Self::Closed => "closed",
        }
    }
}

/// The network's order of kinds.
const IN_ORDER: [Kind; KINDS] = [Kind::Forehand, Kind::Backhand, Kind::Overhead];

/// A stroke that is taken for the other hand's is taken for the kind that swings the same way: how often, beside a stroke that is read
/// right. Two hands on the racket look like the other hand's forehand.
const OTHER_HAND: f64 = 0.2;
const SAME_WAY: [usize; KINDS] = [1, 0, 2];

/// The kind of a recognised stroke, if this hand plays it.
pub fn recognised(event: &Event, hand: Side) -> Kind {
    let (own, other) = (event.of_hand(hand), event.of_hand(hand.other()));
    let chance = |kind: usize| own[kind] + OTHER_HAND * other[SAME_WAY[kind]];
    let best = (0..KINDS).max_by(|a, b| chance(*a).total_cmp(&chance(*b)));
    best.map_or(Kind::Unknown, |kind| IN_ORDER[kind])
}

/// Stance from the line between the ankles at contact. The foot that leads into a forehand, and into an overhead, is the off
/// one, into a backhand the hitting one; positive angles put it to its own side of the direction of the shot.
pub fn stance(motion: &CourtMotion, kind: Kind, contact: Seconds) -> Option<Stance> {
    let hitting = motion.at(motion.hitting(Joint::Ankle), contact)?;
    let off = motion.at(motion.off(Joint::Ankle), contact)?;
    let angle = if kind == Kind::Backhand {
        let line = hitting - off;
        line.side.atan2(line.net).to_degrees()
    } else {
        let line = off - hitting;
        (-line.side).atan2(line.net).to_degrees()
    };
    Some(match angle {
        a if a > 70.0 => Stance::Open,
        a if a > 35.0 => Stance::SemiOpen,
        a if a > -15.0 => Stance::Neutral,
        _ => Stance::Closed,
    })
}
