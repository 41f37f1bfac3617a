//! When a stroke is, and in which pictures of it the racket is looked for.

use crate::pose::{Motion, Side};
use crate::stroke::Phases;
use crate::units::{FrameIndex, Seconds};

/// The racket is looked for from this long before the preparation starts, for the ready pose, to this long after the finish.
const READY: Seconds = Seconds(0.3);
const AFTER_FINISH: Seconds = Seconds(0.05);

/// A stroke in which the racket was looked for this long before contact needs no other look.
const AT_CONTACT: Seconds = Seconds(0.15);

/// Body and racket move fast from this long before contact to this long after it. At other times every second picture shows the racket's way …
const FAST: (Seconds, Seconds) = (Seconds(0.5), Seconds(0.15));
/// … where there are so many a second.
const OFTEN: f64 = 48.0;

/// How long a finish whose end was not seen is looked at.
const USUAL_FINISH: Seconds = Seconds(0.5);

/// Where the racket is to be looked for: around which hand, from when to when, and when the ball is met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub hand: Side,
    /// A little before the preparation starts.
    pub from: Seconds,
    /// A little after the finish ends.
    pub to: Seconds,
    pub contact: Seconds,
}

impl Span {
    pub fn of(hand: Side, phases: &Phases) -> Self {
        let contact = phases.contact.time;
        let end = phases.finish_end.map_or(contact + USUAL_FINISH, |mark| mark.time);
        Self { hand, from: phases.preparation_begin() - READY, to: end + AFTER_FINISH, contact }
    }

    /// When body and racket move fast.
    pub fn fast(&self) -> (Seconds, Seconds) {
        (self.contact - FAST.0, self.contact + FAST.1)
    }

    /// Pictures of a motion right before contact.
    pub fn at_contact<'m>(&self, motion: &'m Motion) -> &'m [FrameIndex] {
        Self { from: self.contact - AT_CONTACT, to: self.contact, ..*self }.frames(motion)
    }

    /// Pictures of a motion in it in which the racket is looked for: all around contact, fewer where it moves slowly.
    pub fn looked_at<'m>(&self, motion: &'m Motion) -> impl Iterator<Item = FrameIndex> + use<'m> {
        let step = if motion.rate >= OFTEN { 2 } else { 1 };
        let (from, to) = self.fast();
        let fast = Self { from, to, ..*self }.frames(motion);
        let is_fast = move |frame: FrameIndex| fast.first() <= Some(&frame) && Some(&frame) <= fast.last();
        let frames = self.frames(motion).iter().copied();
        frames.filter(move |frame| frame.0.is_multiple_of(step) || is_fast(*frame))
    }

    /// Pictures of a motion in it.
    fn frames<'m>(&self, motion: &'m Motion) -> &'m [FrameIndex] {
        let from = motion.times.partition_point(|t| *t < self.from);
        let to = motion.times.partition_point(|t| *t <= self.to);
        &motion.indices[from..to.max(from)]
    }
}
