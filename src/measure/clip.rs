//! From a player's motion to the numbers of every stroke in it.

use rayon::prelude::*;
use serde::Serialize;

use super::uncertainty::{self, Measured, Sources};
use crate::pose::{Motion, Side};
use crate::scene::direction::{Stated, Swing};
use crate::scene::space::Lift;
use crate::scene::{BodyPrior, CourtMotion, Direction, Lens, Space, lens};
use crate::stroke::{
    self, Boundary, Correction, Corrections, Hitting, Kind, Mark, Method, Phases, Stroke, contact,
    correction, kind,
};
use crate::units::{Degrees, Metres, Seconds};

/// How far a stroke's motion reaches before and after the hand's speed peak, if no other stroke is nearer.
const BEFORE: Seconds = Seconds(3.2);
const AFTER: Seconds = Seconds(2.4);

/// A stroke's motion keeps this far from the peaks of its neighbours.
const FROM_NEIGHBOUR: Seconds = Seconds(0.45);

/// Of a stroke that a person has added, only contact is known; the hand's speed peaks about this long before it.
const PEAK_BEFORE_CONTACT: Seconds = Seconds(0.03);

/// Contacts closer than this are of one stroke.
pub const SAME_STROKE: Seconds = Seconds(0.5);

/// What is known about clip and player beforehand; everything unset is estimated.
#[derive(Debug, Clone, Default)]
pub struct Given {
    /// The hitting hand.
    pub hand: Option<Side>,
    /// The player's stature.
    pub height: Option<Metres>,
    /// View and side of the net.
    pub stated: Stated,
    /// Horizontal field of view.
    pub field_of_view: Option<Degrees>,
    /// The lens's 35 mm equivalent from the file.
    pub equivalent_mm: Option<f64>,
    /// The flat method instead of the perspective one.
    pub planar: bool,
    /// What is known about the pose model's body.
    pub body: BodyPrior,
    /// What a person has corrected after seeing the numbers.
    pub corrections: Corrections,
}

/// A stroke with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredStroke {
    /// Its number in the clip, from 1; numbers of strokes that were taken out are left free.
    pub number: usize,
    /// The stroke.
    pub stroke: Stroke,
    /// Its values and their uncertainty.
    pub measured: Measured,
}

/// The numbers of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct ClipMeasures {
    /// The hitting hand; `None` when no stroke was found.
    pub hitting: Option<Hitting>,
    /// Where the net is; `None` when no stroke was found.
    pub direction: Option<Direction>,
    /// The lens.
    pub lens: Lens,
    /// The stature used and whether it was given.
    pub stature: (Metres, bool),
    /// The player's motion in the camera's frame.
    pub space: Space,
    /// The strokes in order of time.
    pub strokes: Vec<MeasuredStroke>,
    /// How many strokes were found before single ones were taken out or added.
    pub found: usize,
    /// What a person's corrections have changed.
    pub corrected: Vec<Corrected>,
}

/// Something that a person has corrected, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// The stroke's number; none for what concerns the whole clip.
    pub stroke: Option<usize>,
    /// What was corrected, as marks name it.
    pub event: &'static str,
    /// What was found without the correction, where that is known.
    pub before: Option<String>,
    /// What was said.
    pub after: String,
    /// How far a time was moved.
    #[serde(skip)]
    pub shift: Option<Seconds>,
}

/// Finds and measures every stroke of a motion.
pub fn measure(motion: &Motion, given: &Given) -> ClipMeasures {
    let said = &given.corrections;
    let lens = Lens::new(motion.size, given.field_of_view, given.equivalent_mm);
    let height = said.height.or(given.height);
    let stature = height.unwrap_or(lens::ASSUMED_STATURE);
    let lift = if given.planar { Lift::Planar } else { Lift::Perspective };
    let space = Space::lift(motion, &lens, stature, &given.body, lift);
    let mut clip = ClipMeasures {
        hitting: None,
        direction: None,
        lens,
        stature: (stature, height.is_some()),
        space,
        strokes: Vec::new(),
        found: 0,
        corrected: of_the_whole_clip(said, given),
    };
    let Some(stroke::Found { hitting, direction, swings }) =
        stroke::find(&clip.space, &given.body, said.hand.or(given.hand), given.stated)
    else {
        return clip;
    };
    let sources = Sources {
        scale: if height.is_some() {
            lens::STATED_STATURE_SPREAD + 0.012
        } else {
            lens::ASSUMED_STATURE_SPREAD
        },
        jitter: clip.space.jitter.max(0.003),
        has_depth: clip.space.has_depth,
        rate: clip.space.rate,
    };
    let peaks = peaks(&swings, said);
    let mut drafts: Vec<Draft> = Vec::new();
    for (i, peak) in peaks.iter().enumerate() {
        let neighbours = (i.checked_sub(1).map(|j| peaks[j].time), peaks.get(i + 1).map(|p| p.time));
        let window = window(&clip.space, peak.time, neighbours);
        let motion = CourtMotion::new(&clip.space, &direction, hitting.hand, window.clone());
        if let Some((stroke, spread)) = split(motion, peak.time, None) {
            drafts.push(Draft { stroke, spread, peak: *peak, window });
        }
    }
    clip.found = drafts.iter().filter(|draft| draft.peak.added.is_none()).count();
    let mut found = 0;
    let mut corrected = Vec::new();
    for draft in drafts {
        let (number, seed) = match draft.peak.added {
            None => {
                found += 1;
                (found, draft.peak.place)
            }
            Some(_) => (clip.found + 1 + draft.peak.place, swings.len() + draft.peak.place),
        };
        let mut said = said.of(number);
        if said.no_stroke {
            clip.corrected.push(Corrected::of_stroke(number, "no_stroke", None, "yes".to_owned()));
            continue;
        }
        said.times[Boundary::Contact as usize] = said.time(Boundary::Contact).or(draft.peak.added);
        let peak = draft.peak.time;
        let motion_of = |hand| CourtMotion::new(&clip.space, &direction, hand, draft.window.clone());
        let found = (draft.stroke, draft.spread);
        let (stroke, spread) =
            correct(number, &said, found, peak, motion_of, sources.rate, &mut clip.corrected);
        corrected.push((number, stroke, peak, spread, seed as u64));
    }
    // Each stroke draws its own errors, so that neither their order nor the number of cores changes a digit.
    clip.strokes = corrected
        .into_par_iter()
        .map(|(number, stroke, peak, spread, seed)| {
            let measured = uncertainty::measure(&stroke, peak, spread, &sources, seed);
            MeasuredStroke { number, stroke, measured }
        })
        .collect();
    if !clip.strokes.is_empty() {
        clip.hitting = Some(hitting);
        clip.direction = Some(direction);
    }
    clip
}

/// A peak of the hand's speed that stands for a stroke.
#[derive(Debug, Clone, Copy)]
struct Peak {
    time: Seconds,
    /// Its place among those that were found, or among those that were added.
    place: usize,
    /// The contact that a person has named for a stroke that was missed.
    added: Option<Seconds>,
}

/// A stroke before corrections.
struct Draft {
    stroke: Stroke,
    spread: Seconds,
    peak: Peak,
    window: std::ops::Range<usize>,
}

/// Peaks of the found swings and of those that a person has added, in order of time.
fn peaks(swings: &[Swing], said: &Corrections) -> Vec<Peak> {
    let found = swings.iter().enumerate().map(|(place, swing)| Peak { time: swing.peak, place, added: None });
    let added = said.added.iter().enumerate().map(|(place, contact)| Peak {
        time: *contact - PEAK_BEFORE_CONTACT,
        place,
        added: Some(*contact),
    });
    // What is found already is not added once more.
    let added = added.filter(|peak| swings.iter().all(|s| (s.peak - peak.time).abs() >= SAME_STROKE));
    let mut peaks: Vec<Peak> = found.chain(added).collect();
    peaks.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
    peaks
}

impl Corrected {
    fn of_stroke(number: usize, event: &'static str, before: Option<String>, after: String) -> Self {
        Self { stroke: Some(number), event, before, after, shift: None }
    }

    /// What was corrected as a line for a person.
    pub fn line(&self) -> String {
        let whose = self.stroke.map_or_else(String::new, |number| format!(" of stroke {number}"));
        let before = self.before.as_ref().map_or_else(String::new, |before| format!("{before} → "));
        format!("{}{whose}: {before}{}", self.event, self.after)
    }
}

/// What is corrected for all strokes at once.
fn of_the_whole_clip(said: &Corrections, given: &Given) -> Vec<Corrected> {
    let centimetres = |height: Metres| format!("{:.0} cm", 100.0 * height.0);
    let whole = |event, before, after| Corrected { stroke: None, event, before, after, shift: None };
    let mut lines = Vec::new();
    if let Some(hand) = said.hand {
        lines.push(whole("hand", given.hand.map(|hand| hand.name().to_owned()), hand.name().to_owned()));
    }
    if let Some(height) = said.height {
        lines.push(whole("scale", given.height.map(centimetres), centimetres(height)));
    }
    for tip in &said.racket_tips {
        lines.push(whole("racket_tip", None, format!("{:.0},{:.0} in {}", tip.at.x, tip.at.y, tip.frame)));
    }
    lines
}

/// Applies what a person said of a stroke; also the spread of its contact's time.
fn correct(
    number: usize,
    said: &Correction,
    (mut stroke, mut spread): (Stroke, Seconds),
    peak: Seconds,
    motion_of: impl Fn(Side) -> CourtMotion,
    rate: f64,
    log: &mut Vec<Corrected>,
) -> (Stroke, Seconds) {
    let before = (stroke.kind, stroke.motion.hand);
    let (kind, hand) = (said.kind.unwrap_or(before.0), said.hand.unwrap_or(before.1));
    if (kind, hand) != before {
        // Another hand's movement says something else about the kind as well, unless that was said too.
        let kind = if hand == before.1 { Some(kind) } else { said.kind };
        if let Some(again) = split(motion_of(hand), peak, kind) {
            (stroke, spread) = again;
        }
    }
    if said.hand.is_some() {
        log.push(Corrected::of_stroke(
            number,
            "hand",
            Some(before.1.name().to_owned()),
            hand.name().to_owned(),
        ));
    }
    if said.kind.is_some() {
        log.push(Corrected::of_stroke(
            number,
            "kind",
            Some(before.0.name().to_owned()),
            kind.name().to_owned(),
        ));
    }
    let marks = said.marks();
    for (boundary, mark) in Boundary::ALL.into_iter().zip(marks) {
        let Some(mark) = mark else { continue };
        let before = stroke.phases.get(boundary).map(|mark| mark.time);
        let seconds = |time: Seconds| format!("{:.3} s", time.0);
        let line = Corrected::of_stroke(number, boundary.name(), before.map(seconds), seconds(mark.time));
        log.push(Corrected { shift: before.map(|before| mark.time - before), ..line });
    }
    if marks.iter().any(Option::is_some) {
        let contact = marks[Boundary::Contact as usize].unwrap_or(stroke.phases.contact);
        stroke.phases = Phases::split_between(&stroke.motion, contact, marks);
        stroke.stance = kind::stance(&stroke.motion, contact.time);
        if contact.method == Method::Marked {
            spread = Seconds(correction::SPREAD_IN_PICTURES / rate);
        }
    }
    (stroke, spread)
}

/// Pictures that belong to the stroke with its peak at `peak`.
fn window(
    space: &Space,
    peak: Seconds,
    (before, after): (Option<Seconds>, Option<Seconds>),
) -> std::ops::Range<usize> {
    let from = before.map_or(peak - BEFORE, |t| (t + FROM_NEIGHBOUR).max(peak - BEFORE));
    let to = after.map_or(peak + AFTER, |t| (t - FROM_NEIGHBOUR).min(peak + AFTER));
    space.times.partition_point(|t| *t < from)..space.times.partition_point(|t| *t <= to)
}

/// Names, times and splits the swing whose speed peaks at `peak`, with its kind where that is known; `None` when the
/// motion has a gap there. Also the spread of the contact's time.
pub fn split(motion: CourtMotion, peak: Seconds, kind: Option<Kind>) -> Option<(Stroke, Seconds)> {
    // Kind and contact need each other: contact as in a forehand is near enough to tell the kind by.
    let near = contact::kinematic(&motion, Kind::Forehand, peak)?;
    let kind = kind.unwrap_or_else(|| kind::tell(&motion, near.time));
    let met = contact::kinematic(&motion, kind, peak)?;
    let phases = Phases::split(&motion, Mark { time: met.time, method: Method::Kinematic });
    let stance = kind::stance(&motion, met.time);
    Some((Stroke { kind, stance, phases, motion }, met.spread))
}
