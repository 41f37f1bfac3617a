//! A clip's strokes before their rackets and numbers.

use rayon::prelude::*;

use super::given::{Given, Seen, Stated};
use super::span::Span;
use super::{ClipMeasures, MeasuredStroke};
use crate::ball::{Around, Balls, Flight};
use crate::measure::drawn::{Source, Sources};
use crate::measure::uncertainty;
use crate::pose::{Motion, Side};
use crate::racket::{self, Length, RacketMotion, Sightings};
use crate::recogniser::Event;
use crate::scene::{CourtBall, CourtRacket, Direction, Filmed};
use crate::stroke::{Contact, Hitting, Stroke, held, slow};
use crate::units::{FrameIndex, Reading, Seconds};

/// A stroke before its racket and its numbers.
#[derive(Debug)]
pub(super) struct Draft {
    pub number: usize,
    pub seed: u64,
    pub stroke: Stroke,
    pub contact: Contact,
    pub flight: Option<Flight>,
}

impl Draft {
    /// Where its racket is to be looked for.
    fn span(&self) -> Span {
        Span::of(self.stroke.motion.hand, &self.stroke.phases)
    }
}

/// A clip whose strokes are found and split, before their rackets and numbers: which pictures show the racket isn't known
/// earlier.
#[derive(Debug)]
pub struct Unmeasured<'a> {
    pub(super) motion: &'a Motion,
    pub(super) given: Given<'a>,
    pub(super) found: Found,
}

/// What was found in a motion.
#[derive(Debug)]
pub struct Found {
    pub(super) clip: ClipMeasures,
    pub(super) sources: Sources,
    /// What may be strokes, before the racket has been asked.
    pub(super) candidates: Vec<Event>,
    pub(super) hitting_and_direction: Option<(Hitting, Direction)>,
    pub(super) strokes: Vec<Draft>,
}

impl<'a> Unmeasured<'a> {
    /// What was found, apart from what it was found in.
    pub fn into_found(self) -> Found {
        self.found
    }

    /// What [`Self::of`] has found in the same motion with the same things stated and seen.
    pub fn with(found: Found, motion: &'a Motion, stated: &'a Stated, seen: &'a Seen) -> Self {
        Self { motion, given: Given { stated, seen }, found }
    }

    /// Pictures in which the racket is still to be looked for, and around which hand: those of strokes in which nobody has
    /// looked, and single ones at both wrists where there may be a stroke. Corrections move strokes a little; what was seen then is enough.
    pub fn to_look_at(&self, seen: &Sightings) -> Vec<(FrameIndex, Side)> {
        let motion = self.motion;
        // Where the hand isn't seen nobody can look.
        let is_left = |hand, frame| seen.at(hand, frame).is_none() && racket::can_look(motion, frame, hand);
        let is_known = |span: &Span| !span.at_contact(motion).iter().any(|frame| is_left(span.hand, *frame));
        let through = self
            .found
            .strokes
            .iter()
            .map(Draft::span)
            .filter(|span| !is_known(span))
            .flat_map(|span| span.looked_at(motion).map(move |frame| (frame, span.hand)))
            .filter(|(frame, hand)| racket::can_look(motion, *frame, *hand));
        // What may be a stroke is asked for its racket at both wrists.
        let around = self.found.candidates.iter().flat_map(|event| {
            let both = |frame| [Side::Right, Side::Left].map(|hand| (frame, hand));
            held::frames(event, motion).into_iter().flat_map(both)
        });
        let mut wanted: Vec<(FrameIndex, Side)> =
            through.chain(around.filter(|(frame, hand)| is_left(*hand, *frame))).collect();
        wanted.sort();
        wanted.dedup();
        wanted
    }

    /// When each stroke is: from a little before its preparation to a little after its finish.
    pub fn spans(&self) -> Vec<(Seconds, Seconds)> {
        self.found.strokes.iter().map(Draft::span).map(|span| (span.from, span.to)).collect()
    }

    /// When the player moves fast in each stroke.
    pub fn fast(&self) -> Vec<(Seconds, Seconds)> {
        self.found.strokes.iter().map(|stroke| stroke.span().fast()).collect()
    }

    /// When there may be a stroke, believed or not: from a time before contact to as long after it.
    pub fn moments(&self, around: Seconds) -> impl Iterator<Item = (Seconds, Seconds)> {
        let contacts = self.found.candidates.iter().map(|event| event.contact.time);
        contacts.map(move |contact| (contact - around, contact + around))
    }

    /// Contacts around which balls are still to be looked for.
    pub fn to_watch(&self, seen: &Balls) -> Vec<Around> {
        let around = |draft: &Draft| Around {
            hand: draft.stroke.motion.hand,
            contact: Reading { time: draft.stroke.phases.contact.time, spread: draft.contact.spread },
        };
        let unknown = |around: &Around| seen.around(around.hand, around.contact.time).is_none();
        self.found.strokes.iter().map(around).filter(unknown).collect()
    }

    /// The same strokes with the camera known otherwise: `how` answers with the camera as it would be known.
    pub fn knowing(mut self, how: impl FnOnce(&Filmed) -> Filmed) -> Self {
        self.found.clip.filmed = how(&self.found.clip.filmed);
        self
    }

    /// Puts the rackets that were seen into the strokes and measures them.
    pub fn measure(self) -> ClipMeasures {
        let Self { motion, given, found } = self;
        let Found { mut clip, sources, hitting_and_direction, strokes, .. } = found;
        let pace = |draft: &Draft| {
            slow::pace(&clip.space, draft.stroke.motion.hand, draft.stroke.phases.contact.time)
        };
        let slowed = slow::slowed(&strokes.iter().map(pace).collect::<Vec<_>>());
        // Each stroke draws its own errors, so that neither their order nor the number of cores changes a digit.
        let strokes: Vec<MeasuredStroke> = strokes
            .into_par_iter()
            .zip(slowed)
            // One takes much longer than another.
            .with_max_len(1)
            .map(|(draft, slowed)| {
                let racket = trace_racket(motion, given, &draft.span());
                let Draft { number, seed, mut stroke, contact, flight } = draft;
                stroke.racket = CourtRacket::new(
                    &racket,
                    motion,
                    &clip.space,
                    &stroke.motion,
                    Length::of(given.stated.racket_length, clip.filmed.stature.told()),
                    stroke.phases.contact.time,
                );
                let met = (stroke.racket.as_ref(), stroke.phases.contact.time);
                let side = stroke.kind.side();
                let ball = |flight| CourtBall::new(flight, &clip.space, &stroke.motion, side, met);
                stroke.flight = flight.as_ref().map(ball);
                stroke.struck =
                    stroke.flight.as_ref().and_then(|ball| ball.from_hand(&stroke.motion, met.0, met.1));
                let mut sources = sources;
                sources.slowed = slowed.is_some();
                let source = Source { contact, sources, seed };
                let measured = uncertainty::measure(&mut stroke, &source, (&clip.space, &clip.filmed));
                MeasuredStroke { number, stroke, racket, flight, slowed, source, measured }
            })
            .collect();
        clip.strokes = strokes;
        if let Some((hitting, direction)) = hitting_and_direction {
            // Where no stroke is left nothing but the court tells where the net is.
            let is_played = !clip.strokes.is_empty();
            clip.hitting = is_played.then_some(hitting);
            clip.direction = (is_played || clip.filmed.court.is_some()).then_some(direction);
        }
        clip
    }
}

/// The racket's path through a stroke among what was seen of it.
fn trace_racket(motion: &Motion, given: Given<'_>, span: &Span) -> RacketMotion {
    let tips = &given.stated.corrections.racket_tips;
    match &given.seen.racket {
        Some(seen) => racket::trace(motion, seen, span.hand, (span.from, span.to), span.contact, tips),
        None => RacketMotion::default(),
    }
}
