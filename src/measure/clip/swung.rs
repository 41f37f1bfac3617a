//! Swings of a clip: what stands for a stroke, and what the hand's movement says of it.

use super::SAME_STROKE;
use super::corrected::Corrected;
use crate::pose::Side;
use crate::recogniser::{self, Chances, Event};
use crate::scene::direction::Swing;
use crate::scene::{CourtMotion, Space};
use crate::stroke::{
    Boundary, Contact, Correction, Corrections, Hands, Kind, Phases, Sort,
    contact::{self, Moved},
    kind,
};
use crate::units::Seconds;

/// How far a stroke's motion reaches before and after the hand's speed peak, if no other stroke is nearer.
const BEFORE: Seconds = Seconds(3.2);
const AFTER: Seconds = Seconds(2.4);

/// A stroke's motion keeps this far from the peaks of its neighbours.
const FROM_NEIGHBOUR: Seconds = Seconds(0.45);

/// Of a stroke that a person has added, only contact is known; the hand's speed peaks about this long before it.
const PEAK_BEFORE_CONTACT: Seconds = Seconds(0.03);

/// A peak of the hand's speed that stands for a stroke.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub time: Seconds,
    /// Its place among those that were found, or among those that were added.
    pub place: usize,
    /// The contact that a person has named for a stroke that was missed.
    pub added: Option<Seconds>,
    /// What was recognised there.
    pub event: Option<Event>,
}

/// Peaks of the found swings and of those that a person has added, in order of time.
pub(super) fn peaks(swings: &[Swing], events: &[Event], said: &Corrections, chances: &Chances) -> Vec<Peak> {
    let found = swings.iter().enumerate().map(|(place, swing)| Peak {
        time: swing.peak,
        place,
        added: None,
        event: events.get(place).copied(),
    });
    let added = said.added.iter().enumerate().map(|(place, contact)| Peak {
        time: *contact - PEAK_BEFORE_CONTACT,
        place,
        added: Some(*contact),
        event: recogniser::event_at(chances, *contact),
    });
    // What is found already is not added once more.
    let added = added.filter(|peak| swings.iter().all(|s| (s.peak - peak.time).abs() >= SAME_STROKE));
    let mut peaks: Vec<Peak> = found.chain(added).collect();
    peaks.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
    peaks
}

/// Kind and kinematic contact of a swing as a person's word about hand and kind has it, and the hand.
pub(super) fn corrected_movement(
    number: usize,
    said: &Correction,
    usual: Side,
    as_seen: Movement,
    peak: &Peak,
    motion_of: impl Fn(Side) -> CourtMotion,
    log: &mut Vec<Corrected>,
) -> (Side, Movement) {
    let mut changed = |event, before: &str, after: &str| {
        log.push(Corrected::of_stroke(number, event, Some(before.to_owned()), after.to_owned()));
    };
    let hand = said.hand.unwrap_or(usual);
    // Another hand's movement says something else about the kind as well, unless that was said too.
    let movement = match said.kind {
        None if hand == usual => as_seen,
        kind => Movement::of(&motion_of(hand), peak, kind).unwrap_or(as_seen),
    };
    if said.hand.is_some() {
        changed("hand", usual.name(), hand.name());
    }
    if said.kind.is_some() {
        changed("kind", as_seen.kind.name(), movement.kind.name());
    }
    (hand, movement)
}

/// Pictures that belong to the stroke with its peak at `peak`.
pub(super) fn window(
    space: &Space,
    peak: Seconds,
    (before, after): (Option<Seconds>, Option<Seconds>),
) -> std::ops::Range<usize> {
    let from = before.map_or(peak - BEFORE, |t| (t + FROM_NEIGHBOUR).max(peak - BEFORE));
    let to = after.map_or(peak + AFTER, |t| (t - FROM_NEIGHBOUR).min(peak + AFTER));
    space.times.partition_point(|t| *t < from)..space.times.partition_point(|t| *t <= to)
}

/// What the hand's movement says of a swing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Movement {
    pub kind: Kind,
    pub moved: Moved,
}

impl Movement {
    /// Names and times the swing whose speed peaks at `peak`, with its kind where that is known; `None` when the motion has
    /// a gap there and nothing was recognised.
    pub fn of(motion: &CourtMotion, peak: &Peak, kind: Option<Kind>) -> Option<Self> {
        let recognised = || peak.event.map(|event| kind::recognised(&event, motion.hand));
        let kind = kind.or_else(recognised).unwrap_or(Kind::Unknown);
        let path = contact::kinematic(motion, kind, peak.time);
        let moved = contact::from_movement(path, peak.event.map(|event| event.contact))?;
        Some(Self { kind, moved })
    }
}

/// A swing before its contact is settled.
pub(super) struct Swung {
    pub number: usize,
    pub seed: u64,
    pub peak: Seconds,
    pub event: Option<Event>,
    pub window: std::ops::Range<usize>,
    pub hand: Side,
    pub movement: Movement,
    pub said: Correction,
}

/// What is likelier than not.
const LIKELY: f64 = 0.5;

impl Swung {
    /// How many hands hold the racket: in a backhand as it was recognised, else as far as the wrists are apart.
    pub fn hands(&self, seen: impl FnOnce() -> Hands) -> Hands {
        match (self.movement.kind, self.event) {
            (Kind::Backhand, Some(event)) if event.both > LIKELY => Hands::Two,
            (Kind::Backhand, Some(_)) => Hands::One,
            _ => seen(),
        }
    }

    /// Whether the ball is met before it bounces, at the net.
    pub fn is_volley(&self) -> bool {
        let can_be = matches!(self.movement.kind, Kind::Forehand | Kind::Backhand);
        can_be && self.event.is_some_and(|event| event.volley > LIKELY)
    }

    /// Splits the swing between what was said of its boundaries.
    pub fn phases(
        &self,
        motion: &CourtMotion,
        contact: &Contact,
        sort: Sort,
        log: &mut Vec<Corrected>,
    ) -> Phases {
        let marks = self.said.marks();
        if marks.iter().all(Option::is_none) {
            return Phases::split(motion, contact.mark, sort);
        }
        let mut found = Phases::split(motion, contact.mark, sort);
        found.contact.time = self.movement.moved.contact.time;
        for (boundary, mark) in Boundary::ALL.into_iter().zip(marks) {
            let Some(mark) = mark else { continue };
            let before = found.get(boundary).map(|mark| mark.time);
            let seconds = |time: Seconds| format!("{:.3} s", time.0);
            let line =
                Corrected::of_stroke(self.number, boundary.name(), before.map(seconds), seconds(mark.time));
            log.push(Corrected { shift: before.map(|before| mark.time - before), ..line });
        }
        Phases::split_between(motion, contact.mark, sort, marks)
    }
}
