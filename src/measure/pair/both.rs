//! A stroke measured in the motion that two cameras give together.

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::measure::contact_point;
use crate::measure::drawn::{self, DISTANCE, Drawing, Source, Sources};
use crate::measure::errors::unsteady;
use crate::measure::uncertainty::{DRAWS, Tally};
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::joined::{self, Clock, Joining, Spread, View, Way};
use crate::scene::{CourtMotion, Filmed};
use crate::stroke::{Mark, Stroke};
use crate::units::{Degrees, Seconds};

/// A landmark that is out of sight may be off by so many times what one in plain sight is, across the line of sight.
const HIDDEN: f64 = 4.0;

/// Whether a landmark is in sight is told over so long a time before and after, so that the joint motion doesn't leap where one
/// camera loses it.
const SIGHT: Seconds = Seconds(0.1);

/// The body of a pose model has the player's size to this share, besides what is uncertain of the stature (1 standard deviation).
const MODEL_SIZE: f64 = 0.02;

/// What the place of contact is off by, from the hips, where the ball was seen, and where only the racket tells it.
const OF_BALL: Spread = Spread { across: 0.03, along: 0.25 };
const OF_RACKET: Spread = Spread { across: 0.05, along: 0.25 };

/// How many times what it is on average a joint's spread across the line of sight is where the body faces the lens or turns its back to it,
/// and where it stands sideways, so that one side hides the other. From rendered players.
const ASIDE: [(Joint, f64, f64); 3] =
    [(Joint::Shoulder, 0.6, 2.2), (Joint::Elbow, 0.8, 2.0), (Joint::Hip, 0.6, 1.2)];

/// What heights tell of the clocks in one stroke is off by so much, what contacts tell by so much in a clip, and clocks run so differently
/// (1 standard deviation each). From a rendered pair, of sounds that are late by what the ball's way leaves open, of cameras.
const BY_HEIGHTS: Seconds = Seconds(0.004);
const BY_CONTACTS: Seconds = Seconds(0.008);
const DRIFT: f64 = 2e-4;

/// Depths of limbs are less sure than they are told to be. From a player rendered from behind, whose feet and hands were told up to three
/// times as far wrong.
const LIMB_DEPTH: f64 = 1.5;

/// Spread of the direction to the net of a camera that has it straight ahead or behind and sees no lines, degrees. From recorded players
/// seen from there, whose net was told 30° wrong in the middle.
const NET_FROM_DEPTH: f64 = 30.0;

/// What is drawn for the second camera is not what is drawn for the first.
const OTHER_SEED: u64 = 0x5ec0_4d00_0000_0000;
const JOINT_SEED: u64 = 0x0b07_4000_0000_0000;

/// A stroke of one clip, with its clip.
pub(super) type Of<'a> = (&'a ClipMeasures, &'a MeasuredStroke);

/// The stroke as both cameras show it, on the first one's clock and in its court's frame; `None` where their motions can't be brought
/// together. No measure of it rests on the racket, but for the place of contact: rackets are measured in each view.
pub(super) fn stroke_of(first: Of<'_>, second: Of<'_>, clock: &Clocks) -> Option<MeasuredStroke> {
    let both = Both::of([first, second], *clock);
    let [a, b] = [first.1, second.1];
    let on_first = b.source.contact.at(clock.clock.first(b.source.contact.mark.time));
    let (contact, share) = a.source.contact.of_both(&on_first);
    let seen = [
        met_at(&a.stroke, contact.mark),
        met_at(&b.stroke, Mark { time: clock.clock.second(contact.mark.time), ..contact.mark }),
    ];
    let joining = Joining::of(&both.views(seen.each_ref()), clock.clock)?;
    let mut stroke = both.stroke(&joining, seen.each_ref());
    stroke.phases = a.stroke.phases.again(&stroke.motion, contact.mark, stroke.sort());
    let slowed = a.slowed.or(b.slowed);
    let sources = Sources { slowed: slowed.is_some(), ..a.source.sources };
    let source = Source { contact, sources, seed: a.source.seed };
    let tally = both.tally(&stroke, &source, share);
    let views = [a, b].map(|found| found.stroke.motion.direction.view);
    let least = contact.least(Seconds(1.0 / sources.rate));
    let measured = tally.measured(&mut stroke, &views, &sources, least);
    stroke.racket.clone_from(&a.stroke.racket);
    Some(MeasuredStroke { stroke, slowed, source, measured, ..a.clone() })
}

/// How the second clip's times follow from the first one's.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clocks {
    /// The best that is known.
    pub clock: Clock,
    /// What it is off by (1 standard deviation).
    spread: Seconds,
}

impl Clocks {
    /// From the contacts' clock and the heights of what moves in all strokes together: sounds are late by different times in two clips,
    /// heights are not.
    pub fn of(strokes: &[(&Stroke, &Stroke)], clock: Clock) -> Self {
        let of_stroke = |(a, b): &(&Stroke, &Stroke)| {
            Some((a.phases.contact.time.0, joined::later(&a.motion, &b.motion, clock)?.0))
        };
        let told: Vec<(f64, f64)> = strokes.iter().filter_map(of_stroke).collect();
        let n = told.len() as f64;
        let middle = told.iter().map(|(time, _)| time).sum::<f64>() / n.max(1.0);
        let weight = BY_HEIGHTS.0.powi(-2);
        let known = BY_CONTACTS.0.powi(-2) + n * weight;
        let shift = told.iter().map(|(_, later)| later * weight).sum::<f64>() / known;
        let across = told.iter().map(|(time, later)| (time - middle) * later * weight).sum::<f64>();
        let square = told.iter().map(|(time, _)| (time - middle).powi(2) * weight).sum::<f64>();
        let faster = across / (square + DRIFT.powi(-2));
        let offset = Seconds(clock.offset.0 + shift - faster * middle);
        Self { clock: Clock { offset, drift: clock.drift + faster }, spread: Seconds(known.powf(-0.5)) }
    }
}

/// A stroke as one camera saw it, with contact where both together have it.
fn met_at(stroke: &Stroke, mark: Mark) -> Stroke {
    let mut stroke = stroke.clone();
    stroke.phases.contact = mark;
    stroke.racket = stroke.racket.map(|racket| racket.met_at(mark.time));
    let ball = stroke.flight.as_ref();
    stroke.struck = ball.and_then(|ball| ball.from_hand(&stroke.motion, stroke.racket.as_ref(), mark.time));
    stroke
}

/// Two cameras on one stroke.
struct Both<'a> {
    of: [Of<'a>; 2],
    spreads: [Vec<[Spread; COUNT]>; 2],
    clocks: Clocks,
}

impl<'a> Both<'a> {
    fn of(of: [Of<'a>; 2], clocks: Clocks) -> Self {
        let spreads = of.map(|(_, found)| spreads(&found.stroke.motion, &found.source.sources));
        Self { of, spreads, clocks }
    }

    /// What each camera has of a stroke, as it was seen or as it was drawn.
    fn views<'v>(&'v self, strokes: [&'v Stroke; 2]) -> [View<'v>; 2] {
        std::array::from_fn(|i| View {
            motion: &strokes[i].motion,
            spreads: &self.spreads[i],
            distance: DISTANCE,
            size: self.of[i].0.filmed.stature.spread.hypot(MODEL_SIZE),
            net: self.net_spread(i),
        })
    }

    /// How far a camera's direction to the net may be off: without lines a camera that has the net ahead of it or behind knows it from depth.
    fn net_spread(&self, i: usize) -> Degrees {
        let (clip, found) = self.of[i];
        let motion = &found.stroke.motion;
        let from_depth =
            if clip.filmed.court.is_some() { 0.0 } else { NET_FROM_DEPTH * motion.side_in_picture() };
        Degrees(motion.direction.spread.0.hypot(from_depth))
    }

    /// The joint stroke, its phases still those of the first; without a racket.
    fn stroke(&self, joining: &Joining, strokes: [&Stroke; 2]) -> Stroke {
        let motion = joining.motion(&self.views(strokes));
        let to_ball = |stroke: &Stroke| -> Option<Way> {
            let spread = if stroke.struck.is_some() { OF_BALL } else { OF_RACKET };
            let hips = stroke.motion.middle(Joint::Hip, stroke.phases.contact.time)?;
            let from = stroke.motion.in_camera(hips);
            let way = stroke.motion.in_camera(contact_point(stroke).ok()?) - from;
            Some(Way { from, way, spread })
        };
        let [a, b] = strokes.map(to_ball);
        let way = joining.way(motion.hand, a, b);
        let hand = motion.hand_from_hips(strokes[0].phases.contact.time);
        let struck = way.zip(hand).map(|(way, hand)| way - hand);
        Stroke { motion, struck, racket: None, ..strokes[0].clone() }
    }

    /// Draws both cameras' errors, joins again and measures.
    fn tally(&self, stroke: &Stroke, source: &Source, share: f64) -> Tally {
        let [(clip_a, a), (clip_b, b)] = self.of;
        let other = Source { seed: b.source.seed ^ OTHER_SEED, ..b.source };
        let mut drawings = [
            Drawing::new(&a.stroke, &a.source, (&clip_a.space, &clip_a.filmed)),
            Drawing::new(&b.stroke, &other, (&clip_b.space, &clip_b.filmed)),
        ];
        let mut rng = Pcg64Mcg::seed_from_u64(source.seed ^ JOINT_SEED);
        let is_alike = a.source.contact.is_by_movement() || b.source.contact.is_by_movement();
        let mut tally = Tally::of(stroke);
        for places in alike_in_stature(&clip_a.filmed, &clip_b.filmed) {
            for (drawing, place) in drawings.iter_mut().zip(places) {
                drawing.draw_motion(place);
            }
            let [first, second] = &drawings;
            let deviate = if is_alike { first.deviate() } else { second.deviate() };
            let marks = [first.contact(first.deviate()), second.contact(deviate)];
            let [Some(met), Some(other_met)] = marks else { continue };
            let off: f64 = rng.sample(StandardNormal);
            let offset = self.clocks.clock.offset + self.clocks.spread * off;
            let clock = Clock { offset, ..self.clocks.clock };
            let time = Seconds(met.time.0 * share + clock.first(other_met.time).0 * (1.0 - share));
            for (drawing, time) in drawings.iter_mut().zip([time, clock.second(time)]) {
                drawing.drawn.phases.contact = Mark { time, ..source.contact.mark };
                drawing.draw_racket();
            }
            let strokes = drawings.each_ref().map(|drawing| &drawing.drawn);
            let Some(joining) = Joining::of(&self.views(strokes), clock) else { continue };
            let mut drawn = self.stroke(&joining, strokes);
            let mark = drawn.phases.contact;
            drawn.phases = drawn::split(stroke, &drawn.motion, mark, &source.sources, &mut rng);
            tally.add(stroke, &drawn);
        }
        tally
    }
}

/// What each landmark is off by in each frame.
fn spreads(motion: &CourtMotion, sources: &Sources) -> Vec<[Spread; COUNT]> {
    let sight = |i: usize, k: usize| {
        let from = motion.times.partition_point(|time| *time < motion.times[i] - SIGHT);
        let to = motion.times.partition_point(|time| *time <= motion.times[i] + SIGHT);
        let seen = motion.visibility[from..to].iter().map(|frame| f64::from(frame[k]));
        seen.sum::<f64>() / (to - from).max(1) as f64
    };
    let is = |landmark: Landmark, joint: Joint| {
        [Side::Left, Side::Right].into_iter().any(|side| joint.on(side) == landmark)
    };
    let is_trunk = |landmark| [Joint::Shoulder, Joint::Hip].into_iter().any(|joint| is(landmark, joint));
    let aside = |i: usize, landmark: Landmark| {
        let at = |landmark: Landmark| motion.points[i][landmark as usize].map(|at| motion.in_camera(at));
        let (_, facing, profile) = ASIDE.into_iter().find(|(joint, ..)| is(landmark, *joint))?;
        let line = (at(landmark)? - at(landmark.mirrored())?).horizontal().unit()?;
        Some((facing * line.right).hypot(profile * line.away))
    };
    let of = |i: usize, landmark: Landmark| {
        let k = landmark as usize;
        let hidden = 1.0 + (HIDDEN - 1.0) * (1.0 - sight(i, k)).clamp(0.0, 1.0);
        let moving = sources.jitter.hypot(unsteady(landmark, drawn::speed(motion, i, k)));
        let lasting = sources.landmarks[k] * aside(i, landmark).unwrap_or(1.0);
        Spread {
            across: (lasting.hypot(moving) * hidden).max(1e-3),
            along: (f64::from(motion.depth_spread[i][k]) * if is_trunk(landmark) { 1.0 } else { LIMB_DEPTH })
                .max(1e-3),
        }
    };
    (0..motion.times.len()).map(|i| Landmark::ALL.map(|landmark| of(i, landmark))).collect()
}

/// Places of the cameras that are drawn, one of each: the player is as tall in both, so that tall ones meet tall ones.
fn alike_in_stature(first: &Filmed, second: &Filmed) -> Vec<[usize; 2]> {
    let by_stature = |filmed: &Filmed| {
        let mut places: Vec<usize> = (0..DRAWS).collect();
        let stature = |place: &usize| {
            filmed.draws.get(place % filmed.draws.len().max(1)).map_or(0.0, |camera| camera.stature.0)
        };
        places.sort_by(|a, b| stature(a).total_cmp(&stature(b)));
        places
    };
    let (first, second) = (by_stature(first), by_stature(second));
    let mut pairs: Vec<[usize; 2]> = first.into_iter().zip(second).map(|(a, b)| [a, b]).collect();
    // In the order of the first camera's draws, which is a random one.
    pairs.sort_unstable();
    pairs
}
