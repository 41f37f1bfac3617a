//! From a player's motion to the numbers of every stroke in it.

use super::uncertainty::{self, Measured, Sources};
use crate::pose::{Motion, Side};
use crate::scene::direction::Stated;
use crate::scene::space::Lift;
use crate::scene::{BodyPrior, CourtMotion, Direction, Lens, Space, lens};
use crate::sound::Heard;
use crate::stroke::hits::{self, Hits};
use crate::stroke::{self, Contact, Distance, Hitting, Kind, Method, Phases, Reading, Stroke, contact, kind};
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
    /// From the camera to the player.
    pub camera_distance: Option<Metres>,
    /// What there is to hear; `None` where the clip has no sound that can be used.
    pub sound: Option<Heard>,
    /// Whether no ball is hit in the clip, as in shadow swings.
    pub shadow: bool,
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
    /// What the sound says of the strokes, in their order; `None` where it was not listened to.
    pub hits: Option<Hits>,
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
        hits: None,
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
    let swung: Vec<Swung> = swings
        .iter()
        .enumerate()
        .filter_map(|(i, swing)| {
            let neighbours = (i.checked_sub(1).map(|j| swings[j].peak), swings.get(i + 1).map(|s| s.peak));
            let window = window(&clip.space, swing.peak, neighbours);
            let motion = CourtMotion::new(&clip.space, &direction, hitting.hand, window.clone());
            Swung::new(&motion, swing.peak, window)
        })
        .collect();
    let distance = Distance { stated: given.camera_distance, spread: lens.focal_spread.hypot(sources.scale) };
    clip.hits = listen(&swung, given, &clip.space, hitting.hand, distance);
    let contacts = settle(&swung, clip.hits.as_ref());
    let impacts: Vec<Seconds> =
        contacts.iter().filter(|c| c.is_instant()).map(|contact| contact.mark.time).collect();
    if !impacts.is_empty() {
        clip.space = Space::lift(&motion.split_at(&impacts), &lens, stature, &given.body, lift);
    }
    for (i, (swung, contact)) in swung.into_iter().zip(contacts).enumerate() {
        let motion = CourtMotion::new(&clip.space, &direction, hitting.hand, swung.window);
        let phases = Phases::split(&motion, contact.mark);
        let stance = kind::stance(&motion, contact.mark.time);
        let heard = clip.hits.as_ref().and_then(|hits| hits.ball[i]);
        let ball = if given.shadow { Some(false) } else { heard };
        let stroke = Stroke { kind: swung.kind, stance, phases, ball, motion };
        let measured = uncertainty::measure(&stroke, &contact, &sources, i as u64);
        clip.strokes.push(MeasuredStroke { stroke, measured });
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

/// A swing whose contact the hand's movement tells.
struct Swung {
    peak: Seconds,
    window: std::ops::Range<usize>,
    kind: Kind,
    kinematic: Reading,
}

impl Swung {
    /// Names and times one swing; `None` when the motion has a gap there.
    fn new(motion: &CourtMotion, peak: Seconds, window: std::ops::Range<usize>) -> Option<Self> {
        // Kind and contact need each other: contact as in a forehand is near enough to tell the kind by.
        let near = contact::kinematic(motion, Kind::Forehand, peak)?;
        let kind = kind::tell(motion, near.time);
        Some(Self { peak, window, kind, kinematic: contact::kinematic(motion, kind, peak)? })
    }
}

/// Looks for the hits of the swings in the clip's sound; `None` without sound, or where the user says there is no ball.
fn listen(swung: &[Swung], given: &Given, space: &Space, hand: Side, distance: Distance) -> Option<Hits> {
    let heard = given.sound.as_ref().filter(|_| !given.shadow)?;
    let expected: Option<Vec<hits::Swung>> = swung
        .iter()
        .map(|swung| {
            let delay = distance.delay(space, hand, swung.kinematic.time)?;
            Some(hits::Swung { kinematic: swung.kinematic, delay })
        })
        .collect();
    Some(hits::own(&expected?, heard, Seconds(1.0 / space.rate)))
}

/// A reading farther from a surer one than this many of its standard deviations was misled and witnesses nothing.
const CONTRADICTS: f64 = 3.0;

/// Contact of each swing from everything that witnessed it.
fn settle(swung: &[Swung], hits: Option<&Hits>) -> Vec<Contact> {
    let shift = hits.and_then(|hits| hits.shift);
    let settle_one = |(i, swung): (usize, &Swung)| {
        let by_movement = Contact::by_movement(swung.kinematic, swung.peak, shift);
        let Some(sound) = hits.and_then(|hits| hits.of_swings[i]) else { return by_movement };
        // What saw the ball or the racket would join these.
        let mut witnesses = vec![(Method::Sound, sound)];
        // As the hand alone tells it: the shift was learnt from these very sounds.
        if (swung.kinematic.time - sound.time).abs() < swung.kinematic.spread * CONTRADICTS {
            witnesses.push((Method::Kinematic, swung.kinematic));
        }
        Contact::fused(&witnesses).unwrap_or(by_movement)
    };
    swung.iter().enumerate().map(settle_one).collect()
}
