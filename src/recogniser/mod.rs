//! Which stroke is played, by which hand, and when the ball is met: a network reads it from how the body moves in the picture.
//!
//! A small network of convolutions over time (1 s to either side) sees 17 points of the body and gives for each moment the
//! chances of no stroke and of forehand, backhand and overhead of either hand, of a volley, of two hands on the racket, and how
//! far away contact is. It learnt from recorded players seen by made-up cameras and from movement that is no tennis
//! (`scripts/recogniser/`). It reads the motion at its own pace and as if it were slowed down; where a slower reading is surer,
//! the clip shows that stroke slowed. Ends at [`Chances`] and the [`Event`]s in them.

mod events;
mod input;
mod network;

use serde::{Deserialize, Serialize};

pub use events::{Event, believed, best_odds, event_at, events};
pub use network::{NETWORK, Recogniser};

use crate::units::Seconds;

/// How many times slower than life the motion is taken to run, by turns.
pub const PACES: [f64; 4] = [1.0, 1.4, 2.0, 4.0];

/// Kinds of strokes that the network tells apart: forehand, backhand, overhead.
pub const KINDS: usize = 3;

/// What the network says of one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// Seconds since the clip's first picture.
    pub time: Seconds,
    /// Logits of no stroke, then of forehand, backhand, overhead by the right hand, then by the left.
    pub strokes: [f32; 1 + 2 * KINDS],
    /// Logit of a volley, if this is a stroke.
    pub volley: f32,
    /// Logit of two hands on the racket, if this is a backhand.
    pub both: f32,
    /// How long after this moment the ball is met, if this is a stroke, seconds at the reading's pace.
    pub ahead: f32,
    /// Logarithm of the mean distance of that from the truth.
    pub spread: f32,
}

/// What the network says of a motion; without any reading where it can't be read.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Chances {
    /// One reading for each of [`PACES`], and one more where hidden points are known as the pose model guesses them.
    pub readings: Vec<Paced>,
}

/// A motion as it reads at one pace.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Paced {
    /// How many times slower than life it is taken to run.
    pub pace: f64,
    /// Moments in order of time.
    pub moments: Vec<Moment>,
}
