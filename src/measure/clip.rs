//! From a player's motion to the numbers of every stroke in it.

use super::uncertainty::{self, Measured, Sources};
use crate::pose::{Motion, Side};
use crate::scene::direction::{Stated, Swing};
use crate::scene::space::Lift;
use crate::scene::{BodyPrior, CourtMotion, Direction, Lens, Space, lens};
use crate::stroke::{self, Hitting, Kind, Mark, Method, Phases, Stroke, contact, kind};
use crate::units::{Degrees, Metres, Seconds};

/// How far a stroke's motion reaches before and after the hand's speed peak, if no other stroke is nearer.
const BEFORE: Seconds = Seconds(3.2);
const AFTER: Seconds = Seconds(2.4);

/// A stroke's motion keeps this far from the peaks of its neighbours.
const FROM_NEIGHBOUR: Seconds = Seconds(0.45);

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
}

/// A stroke with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredStroke {
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
}

/// Finds and measures every stroke of a motion.
pub fn measure(motion: &Motion, given: &Given) -> ClipMeasures {
    let lens = Lens::new(motion.size, given.field_of_view, given.equivalent_mm);
    let stature = given.height.unwrap_or(lens::ASSUMED_STATURE);
    let lift = if given.planar { Lift::Planar } else { Lift::Perspective };
    let space = Space::lift(motion, &lens, stature, &given.body, lift);
    let mut clip = ClipMeasures {
        hitting: None,
        direction: None,
        lens,
        stature: (stature, given.height.is_some()),
        space,
        strokes: Vec::new(),
    };
    let Some(stroke::Found { hitting, direction, swings }) =
        stroke::find(&clip.space, &given.body, given.hand, given.stated)
    else {
        return clip;
    };
    let sources = Sources {
        scale: if given.height.is_some() {
            lens::STATED_STATURE_SPREAD + 0.012
        } else {
            lens::ASSUMED_STATURE_SPREAD
        },
        jitter: clip.space.jitter.max(0.003),
        landmarks: given.body.landmark_spread(),
        rate: clip.space.rate,
    };
    for (i, swing) in swings.iter().enumerate() {
        let neighbours = (i.checked_sub(1).map(|j| swings[j].peak), swings.get(i + 1).map(|s| s.peak));
        let window = window(&clip.space, swing.peak, neighbours);
        let motion = CourtMotion::new(&clip.space, &direction, hitting.hand, window);
        if let Some((stroke, spread)) = split(motion, swing) {
            let measured = uncertainty::measure(&stroke, swing.peak, spread, &sources, i as u64);
            clip.strokes.push(MeasuredStroke { stroke, measured });
        }
    }
    if !clip.strokes.is_empty() {
        clip.hitting = Some(hitting);
        clip.direction = Some(direction);
    }
    clip
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

/// Names, times and splits one swing; `None` when the motion has a gap there. Also the spread of the contact's time.
pub fn split(motion: CourtMotion, swing: &Swing) -> Option<(Stroke, Seconds)> {
    // Kind and contact need each other: contact as in a forehand is near enough to tell the kind by.
    let near = contact::kinematic(&motion, Kind::Forehand, swing.peak)?;
    let kind = kind::tell(&motion, near.time);
    let met = contact::kinematic(&motion, kind, swing.peak)?;
    let phases = Phases::split(&motion, Mark { time: met.time, method: Method::Kinematic });
    let stance = kind::stance(&motion, met.time);
    Some((Stroke { kind, stance, phases, motion }, met.spread))
}
