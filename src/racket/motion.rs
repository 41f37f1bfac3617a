//! The racket's path through one stroke in the picture.

use crate::geometry::Point2;
use crate::pose::{Joint, Motion, Side};
use crate::units::{FrameIndex, Metres, Seconds};

/// Length of an adult's racket.
pub const USUAL_LENGTH: Metres = Metres(0.685);

/// Where the middle of the strings lies on the way from butt to tip.
pub const MIDDLE: f64 = 0.755;

/// Length of a racket in the picture as a share of trunk, thigh and shank there (a racket of the usual length, a body of
/// usual proportions).
const OF_BODY: f64 = 0.51;

/// The body's size in the picture is its median over this time on either side: it bends and turns from moment to moment.
const SIZE_REACH: Seconds = Seconds(0.5);

/// A point of the racket in a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RacketPoint {
    /// Pixels of the upright picture.
    pub at: Point2,
    /// Chance that it is there, 0 to 1.
    pub confidence: f64,
}

/// The racket in one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Racket {
    /// End of the grip.
    pub butt: RacketPoint,
    /// Where the hoop begins.
    pub throat: RacketPoint,
    /// Middle of the strings.
    pub middle: RacketPoint,
    /// The hoop's far end.
    pub tip: RacketPoint,
    /// Whether it was bridged from its neighbours in time and not seen.
    pub bridged: bool,
    /// Whether a person said where the tip is.
    pub marked: bool,
}

/// The racket through one stroke, pictures in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RacketMotion {
    /// Numbers of the pictures that were looked at, and of those between them.
    pub indices: Vec<FrameIndex>,
    /// Their times.
    pub times: Vec<Seconds>,
    /// The racket in each; `None` where it was not seen.
    pub rackets: Vec<Option<Racket>>,
}

/// Where a person sees the racket's tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tip {
    /// The picture.
    pub frame: FrameIndex,
    /// Pixels of the upright picture.
    pub at: Point2,
}

impl RacketMotion {
    /// Adds the next picture.
    pub(super) fn push(&mut self, frame: FrameIndex, time: Seconds, racket: Option<Racket>) {
        self.indices.push(frame);
        self.times.push(time);
        self.rackets.push(racket);
    }

    /// The racket in a picture.
    pub fn at(&self, frame: FrameIndex) -> Option<Racket> {
        let place = self.indices.binary_search(&frame).ok()?;
        self.rackets[place]
    }

    /// The racket in the picture that was taken at exactly this time.
    pub fn at_time(&self, time: Seconds) -> Option<Racket> {
        let place = self.times.iter().position(|t| *t == time)?;
        self.rackets[place]
    }
}

/// Length that a racket square to the lens has in a picture, pixels, by the size of the body there.
pub fn racket_length(motion: &Motion, place: usize) -> Option<f64> {
    let time = *motion.times.get(place)?;
    let from = motion.times.partition_point(|t| *t < time - SIZE_REACH);
    let to = motion.times.partition_point(|t| *t <= time + SIZE_REACH);
    let mut sizes: Vec<f64> = (from..to).filter_map(|i| body_length(motion, i)).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.get(sizes.len() / 2).map(|size| OF_BODY * size)
}

/// Trunk, thigh and shank in one picture, pixels.
fn body_length(motion: &Motion, place: usize) -> Option<f64> {
    let at = |joint: Joint, side| motion.point(place, joint.on(side)).map(|p| p.at);
    let middle = |joint: Joint| Some(at(joint, Side::Left)?.lerp(at(joint, Side::Right)?, 0.5));
    let trunk = middle(Joint::Shoulder)?.distance(middle(Joint::Hip)?);
    let leg = |side| {
        let (hip, knee, ankle) = (at(Joint::Hip, side)?, at(Joint::Knee, side)?, at(Joint::Ankle, side)?);
        Some(hip.distance(knee) + knee.distance(ankle))
    };
    let legs = [Side::Left, Side::Right].into_iter().filter_map(leg).fold(0.0, f64::max);
    (legs > 0.0).then_some(trunk + legs)
}
