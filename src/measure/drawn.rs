//! A stroke as it would be with other errors: what camera, pose model and reading of its moments may be off by, drawn.

use std::ops::Range;

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::errors::{Shake, doubt, drawn_offsets, unsteady};
use super::hand::is_read;
use crate::geometry::{Camera, Court};
use crate::order::median;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::court::{Axes, soles};
use crate::scene::{self, BallError, CourtMotion, Direction, Filmed, Recast, SourceBody, SourcePoint, Space};
use crate::stroke::{Boundary, Contact, Mark, Method, Phases, Stroke, correction};
use crate::units::Seconds;

/// Relative spread of the player's distance from the lens, which wavers with the pose (1 standard deviation). From rendered players, with
/// recorded movement too, seen from all sides: within a tenth of a second it changes by 0.4 %, within half a second by 1.4, within a
/// second by 1.9.
pub(super) const DISTANCE: f64 = 0.012;

/// Nobody is filmed from nearer, metres.
const NEAREST: f64 = 0.5;

/// When the foot tips, its heel's landmark follows the shoe only in part: spread of that part, relative (1 standard
/// deviation). From rendered players.
const TIPPING: f64 = 0.25;

/// Share of the variance of a landmark's lasting error that comes with the pose, and the time in which a pose becomes
/// another. From rendered players.
const PASSING: f64 = 0.3;
const POSE_TIME: Seconds = Seconds(0.5);

/// What is uncertain about a whole clip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sources {
    /// Spread of the landmarks' jitter that smoothing left, metres per axis.
    pub jitter: f64,
    /// Spread of each landmark about its joint that stays the same over a stroke, in the picture's plane, metres.
    pub landmarks: [f64; COUNT],
    /// Pictures per second.
    pub rate: f64,
    /// Whether the stroke looks slowed down: its times and speeds are then not the player's.
    pub slowed: bool,
}

/// What the errors of a stroke are drawn from besides its motion and its camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// How contact was settled.
    pub contact: Contact,
    /// What is uncertain about the clip.
    pub sources: Sources,
    /// Each stroke draws its own errors.
    pub seed: u64,
}

/// How far a boundary read from smoothed landmarks lies from the one in the joints' true motion, beyond what the draws
/// show (1 standard deviation): a flat extreme moves far in time for a small error in place. From rendered players.
fn boundary_spread(boundary: Boundary) -> Seconds {
    Seconds(match boundary {
        Boundary::BackswingEnd => 0.028,
        Boundary::FinishEnd => 0.026,
        Boundary::PrepStart => 0.020,
        Boundary::DropStart => 0.012,
        Boundary::ForwardStart => 0.008,
        Boundary::LowPoint => 0.008,
        Boundary::Contact => 0.0,
    })
}

/// How far the end of a finish may lie from a moment in which the hand only slowed (1 standard deviation): from recorded
/// rallies.
const OTHER_PAUSE: Seconds = Seconds(0.35);

/// How far the forward swing's start may lie from the backswing's end that stands for it (1 standard deviation): a good part of
/// a forward swing.
const UNSEEN_START: Seconds = Seconds(0.08);

/// How far a moment that is read from a hand out of sight may lie from the true one (1 standard deviation): from two-handed
/// backhands seen from the hitting side, where the body hides both hands.
const UNSEEN_HAND: Seconds = Seconds(0.08);

/// How far the start of the drop may lie from the true one where the way to the net lies along the lens (1 standard deviation): the hand
/// turns back and down at once, of which only the way down is seen. From players rendered from behind, in front and at an angle.
const DROP_ALONG_LENS: Seconds = Seconds(0.06);

/// How little of the hitting hand was seen from a boundary to contact (for the finish, from contact to its end): 0 = always in
/// sight, 1 = never.
fn unseen(motion: &CourtMotion, time: Seconds, contact: Seconds) -> f64 {
    let wrist = motion.hitting(Joint::Wrist) as usize;
    let (from, to) = (time.min(contact), time.max(contact));
    let (first, end) =
        (motion.times.partition_point(|t| *t < from), motion.times.partition_point(|t| *t <= to));
    let seen = |i: usize| motion.points[i][wrist].map_or(0.0, |_| motion.visibility[i][wrist]);
    let count = end.saturating_sub(first);
    if count == 0 { 0.0 } else { 1.0 - (first..end).map(seen).sum::<f64>() / count as f64 }
}

/// One drawn set of errors.
struct Draw {
    recast: Recast,
    axes: Axes,
    direction: Direction,
    /// Offsets of the landmarks that stay the same, and those that come and go with the pose, at even knots; so does the relative error
    /// of the distance.
    offsets: [Camera; COUNT],
    passing: Vec<[Camera; COUNT]>,
    distance: Vec<f64>,
    start: Seconds,
    tipping: f64,
    contact: f64,
    shake: Shake,
}

impl Draw {
    /// The `place`-th draw: the camera is the `place`-th of the likely ones.
    fn new(
        motion: &CourtMotion,
        camera: &Filming<'_>,
        place: usize,
        sources: &Sources,
        rng: &mut Pcg64Mcg,
    ) -> Self {
        let offsets = drawn_offsets(&sources.landmarks, rng);
        let (start, end) = motion.span().unwrap_or_default();
        let knots = ((end - start).0 / POSE_TIME.0).ceil() as usize + 2;
        let passing = (0..knots).map(|_| drawn_offsets(&sources.landmarks, rng)).collect();
        let distance = (0..knots).map(|_| DISTANCE * rng.sample::<f64, _>(StandardNormal)).collect();
        let mut normal = || -> f64 { rng.sample(StandardNormal) };
        let (recast, direction) = camera.drawn(motion, place);
        Self {
            recast,
            axes: Axes::new(direction.angle, motion.hand),
            direction,
            offsets,
            passing,
            distance,
            start,
            tipping: TIPPING * normal(),
            contact: normal(),
            shake: Shake::new(&motion.times, rng),
        }
    }

    /// The knots on either side of a time, and what counts of each: between two drawn values all are spread as widely as these.
    fn knots(&self, time: Seconds) -> [(usize, f64); 2] {
        let place = ((time - self.start).0 / POSE_TIME.0).clamp(0.0, (self.passing.len() - 2) as f64);
        let i = (place.floor() as usize).min(self.passing.len() - 2);
        let (sin, cos) = ((place - i as f64) * std::f64::consts::FRAC_PI_2).sin_cos();
        [(i, cos), (i + 1, sin)]
    }

    /// The landmarks' offsets at a time: part of each is the body's and stays, part comes with the pose.
    fn offsets_at(&self, time: Seconds) -> impl Fn(usize) -> Camera {
        let [(i, cos), (j, sin)] = self.knots(time);
        let (from, to) = (&self.passing[i], &self.passing[j]);
        move |k| {
            let passing = from[k] * cos + to[k] * sin;
            self.offsets[k] * (1.0 - PASSING).sqrt() + passing * PASSING.sqrt()
        }
    }

    /// The relative error of the distance at a time.
    fn farther(&self, time: Seconds) -> f64 {
        self.knots(time).into_iter().map(|(i, share)| self.distance[i] * share).sum()
    }

    /// Where this draw has the points of a frame.
    fn points_of<'s>(
        &'s self,
        time: Seconds,
        frame: &SeenFrame,
    ) -> impl Fn(&SeenPoint) -> DrawnPoint + use<'s> {
        let body = frame.body.as_ref().map(|body| self.recast.body(body));
        let farther = self.farther(time);
        let (offsets, shaken) = (self.offsets_at(time), self.shake.at(time));
        move |known| {
            let k = known.landmark as usize;
            let shaken = shaken(k);
            let moved = known.moment;
            let shaken = Camera::new(moved * shaken.right, moved * shaken.up, shaken.away);
            let error = offsets(k) + shaken;
            let across = Camera::new(error.right * known.doubt, error.up * known.doubt, 0.0);
            let seen = known.point.at;
            // What is told to be farther away lies farther on its line of sight.
            let along = seen * (error.away * known.depth / seen.away.max(NEAREST));
            let error = across + along;
            let through = body.as_ref().map_or(seen, |body| body.point(&known.point));
            let mut c = through + error;
            c.right += farther * seen.right;
            c.away += farther * seen.away;
            DrawnPoint { across, through, at: self.axes.to_court(c) }
        }
    }

    /// Puts the motion as it would be with these errors into `drawn`, which has the same landmarks that measures read in the same
    /// frames: those that tell the stroke's phases. Returns what the hitting hand is off by in each frame across the line of sight, in the
    /// camera's frame; what it is off by along it the racket shares.
    fn apply(&self, seen: &Seen, drawn: &mut CourtMotion) -> Vec<Camera> {
        let wrist = drawn.hitting(Joint::Wrist);
        let mut hand = vec![Camera::default(); seen.times.len()];
        let mut lowest = Vec::with_capacity(seen.frames.len());
        let frames = seen.times.iter().zip(&seen.frames).zip(&mut drawn.points).zip(&mut hand);
        for (((time, frame), points), hand_off) in frames {
            let drawn_point = self.points_of(*time, frame);
            let mut sole: Option<f64> = None;
            for known in &frame.of_phases {
                let point = drawn_point(known);
                if known.landmark == wrist {
                    *hand_off = point.across;
                }
                // The ground is where the drawn camera has the feet, not where their landmarks err to.
                if known.is_sole {
                    sole = Some(sole.map_or(point.through.up, |lowest| lowest.min(point.through.up)));
                }
                points[known.landmark as usize] = Some(point.at);
            }
            lowest.extend(sole);
        }
        let ground = median(lowest.into_iter()).unwrap_or_default();
        for (frame, points) in seen.frames.iter().zip(&mut drawn.points) {
            for known in &frame.of_phases {
                points[known.landmark as usize].iter_mut().for_each(|point| point.up -= ground);
            }
            for side in [Side::Left, Side::Right] {
                let toe = points[Joint::Toe.on(side) as usize];
                if let (Some(toe), Some(heel)) = (toe, points[Joint::Heel.on(side) as usize].as_mut()) {
                    heel.up += self.tipping * (heel.up - toe.up).max(0.0);
                }
            }
        }
        (drawn.direction, drawn.ground) = (self.direction, ground);
        hand
    }

    /// Adds the other landmarks in some frames; in others they are not there.
    fn complete(&self, seen: &Seen, within: Range<usize>, drawn: &mut CourtMotion) {
        let frames = seen.times.iter().zip(&seen.frames).zip(&mut drawn.points);
        for (i, ((time, frame), points)) in frames.enumerate() {
            if !within.contains(&i) {
                frame.others.iter().for_each(|known| points[known.landmark as usize] = None);
                continue;
            }
            let drawn_point = self.points_of(*time, frame);
            for known in &frame.others {
                let at = drawn_point(known).at;
                points[known.landmark as usize] = Some(Court { up: at.up - drawn.ground, ..at });
            }
        }
    }
}

/// A point as it was drawn.
struct DrawnPoint {
    /// What it is off by across the line of sight, camera's frame.
    across: Camera,
    /// Where the drawn camera has it without that.
    through: Camera,
    /// Where it is, over the level of the lens.
    at: Court,
}

/// Whether phases and contact are read from a landmark, or the ground.
fn tells_phases(landmark: Landmark) -> bool {
    const JOINTS: [Joint; 5] = [Joint::Wrist, Joint::Hip, Joint::Shoulder, Joint::Heel, Joint::Toe];
    let sides = [Side::Left, Side::Right];
    JOINTS.iter().any(|joint| sides.iter().any(|side| joint.on(*side) == landmark))
}

/// When measures read other landmarks than those that tell the phases: from a little before the preparation, or this long before
/// contact, …
const BEFORE_PREPARATION: Seconds = Seconds(0.4);
const BEFORE_CONTACT: Seconds = Seconds(1.2);
/// … to a little after the finish, or this long after contact.
const AFTER_FINISH: Seconds = Seconds(0.1);
const AFTER_CONTACT: Seconds = Seconds(0.2);

/// The frames in which measures read other landmarks than those that tell the phases.
fn read_closely(times: &[Seconds], phases: &Phases) -> Range<usize> {
    let met = phases.contact.time;
    let from = (phases.preparation_begin() - BEFORE_PREPARATION).min(met - BEFORE_CONTACT);
    let finish = phases.finish_end.map_or(met, |mark| mark.time + AFTER_FINISH);
    let to = finish.max(met + AFTER_CONTACT);
    times.partition_point(|t| *t < from)..times.partition_point(|t| *t <= to)
}

/// A stroke's motion as the camera has it through which it was lifted: what all draws of it share.
struct Seen {
    times: Vec<Seconds>,
    frames: Vec<SeenFrame>,
}

struct SeenFrame {
    /// The body, where its hips are seen.
    body: Option<SourceBody>,
    /// Landmarks that tell the phases.
    of_phases: Vec<SeenPoint>,
    others: Vec<SeenPoint>,
}

struct SeenPoint {
    landmark: Landmark,
    is_sole: bool,
    point: SourcePoint,
    /// By how much its error grows because it is hardly in sight. Doubt is that of the moment: a joint may be hidden in the drop
    /// and in plain sight at contact.
    doubt: f64,
    /// Spread of what it is off by for a moment, metres per axis in the picture's plane: jitter, and more while it moves.
    moment: f64,
    /// Spread of its depth, metres.
    depth: f64,
}

impl Seen {
    fn of(motion: &CourtMotion, camera: &Filming<'_>, sources: &Sources) -> Self {
        let level = |at| motion.in_camera(at);
        let source = camera.source();
        let soles: Vec<Landmark> = soles().collect();
        let frame = |i: usize| {
            let points = &motion.points[i];
            let hips = points[Landmark::LeftHip as usize].zip(points[Landmark::RightHip as usize]);
            let body = hips.and_then(|(l, r)| source.body(level(l.middle(r))));
            let known =
                Landmark::ALL.into_iter().filter(|landmark| is_read(*landmark)).filter_map(|landmark| {
                    let k = landmark as usize;
                    let at = level(points[k]?);
                    Some(SeenPoint {
                        landmark,
                        is_sole: soles.contains(&landmark),
                        point: body.as_ref().map_or_else(|| SourcePoint::alone(at), |body| body.point(at)),
                        doubt: doubt(motion.visibility[i][k]),
                        moment: sources.jitter.hypot(unsteady(landmark, speed(motion, i, k))),
                        depth: motion.depth_spread[i][k],
                    })
                });
            let (of_phases, others) = known.partition(|point: &SeenPoint| tells_phases(point.landmark));
            SeenFrame { body, of_phases, others }
        };
        Self { times: motion.times.clone(), frames: (0..motion.times.len()).map(frame).collect() }
    }
}

/// Speed of a landmark in a frame, metres per second.
pub(super) fn speed(motion: &CourtMotion, i: usize, k: usize) -> f64 {
    let (from, to) = (i.saturating_sub(1), (i + 1).min(motion.points.len() - 1));
    let way = motion.points[to][k].zip(motion.points[from][k]).map_or(0.0, |(a, b)| (a - b).norm());
    way / (motion.times[to] - motion.times[from]).0.max(1e-6)
}

/// The camera of a stroke: the likely ones.
#[derive(Debug, Clone, Copy)]
struct Filming<'a> {
    filmed: &'a Filmed,
    space: &'a Space,
}

impl Filming<'_> {
    /// The camera through which the motion was lifted.
    fn source(&self) -> scene::Source {
        scene::Source::new(self.space.stand, self.space.size, self.space.teller)
    }

    fn drawn(&self, motion: &CourtMotion, place: usize) -> (Recast, Direction) {
        let Some(camera) = self.filmed.draws.get(place % self.filmed.draws.len().max(1)) else {
            return (Recast::new(self.source(), self.space.stand, 1.0), motion.direction);
        };
        let scale = camera.stature.0 / self.space.stature.0;
        let recast = Recast::new(self.source(), camera.stand, scale);
        (recast, Direction { angle: camera.net, ..motion.direction })
    }
}

/// A stroke that one camera saw, with errors drawn again and again.
pub(super) struct Drawing<'a> {
    stroke: &'a Stroke,
    source: &'a Source,
    camera: Filming<'a>,
    seen: Seen,
    rng: Pcg64Mcg,
    /// By itself, so that what is seen of the racket moves no digit of what is read from the body.
    rackets: Pcg64Mcg,
    draw: Option<Draw>,
    /// What the hitting hand was drawn to be off by in each frame, across the line of sight.
    hand_off: Vec<Camera>,
    /// The stroke as it was drawn last.
    pub drawn: Stroke,
}

impl<'a> Drawing<'a> {
    /// `space` is what the stroke's motion was taken from, `filmed` its camera; the same is drawn of the same.
    pub fn new(stroke: &'a Stroke, source: &'a Source, (space, filmed): (&'a Space, &'a Filmed)) -> Self {
        let camera = Filming { filmed, space };
        let mut drawn = stroke.clone();
        for landmark in Landmark::ALL.into_iter().filter(|landmark| !is_read(*landmark)) {
            // So that a measure which reads it after all has no value in any draw.
            drawn.motion.points.iter_mut().for_each(|frame| frame[landmark as usize] = None);
        }
        Self {
            stroke,
            source,
            camera,
            seen: Seen::of(&stroke.motion, &camera, &source.sources),
            rng: Pcg64Mcg::seed_from_u64(source.seed),
            rackets: Pcg64Mcg::seed_from_u64(!source.seed),
            draw: None,
            hand_off: Vec::new(),
            drawn,
        }
    }

    /// Draws motion and stature with the `place`-th of the likely cameras.
    pub fn draw_motion(&mut self, place: usize) {
        self.draw_phases(place);
        self.complete(0..self.seen.times.len());
    }

    /// Draws of the motion those landmarks first that tell the phases; when these are known, [`Self::complete_stroke`] draws what measures read of
    /// the others.
    pub fn draw_phases(&mut self, place: usize) {
        let (motion, sources) = (&self.stroke.motion, &self.source.sources);
        let draw = Draw::new(motion, &self.camera, place, sources, &mut self.rng);
        self.hand_off = draw.apply(&self.seen, &mut self.drawn.motion);
        self.drawn.stature = self.stroke.stature * draw.recast.scale();
        self.draw = Some(draw);
    }

    /// Draws the other landmarks where measures read them in a stroke with the drawn phases.
    pub fn complete_stroke(&mut self) {
        self.complete(read_closely(&self.seen.times, &self.drawn.phases));
    }

    fn complete(&mut self, within: Range<usize>) {
        if let Some(draw) = &self.draw {
            draw.complete(&self.seen, within, &mut self.drawn.motion);
        }
    }

    /// Contact as it was drawn, a normal deviate's standard deviations off; `None` where the drawn motion doesn't show it.
    pub fn contact(&self, deviate: f64) -> Option<Mark> {
        self.source.contact.again(&self.drawn.motion, self.stroke.kind, deviate)
    }

    /// The deviate that was drawn for contact.
    pub fn deviate(&self) -> f64 {
        self.draw.as_ref().map_or(0.0, |draw| draw.contact)
    }

    /// Splits the drawn motion around its drawn contact.
    pub fn split(&mut self, mark: Mark) {
        let sources = &self.source.sources;
        self.drawn.phases = split(self.stroke, &self.drawn.motion, mark, sources, &mut self.rng);
    }

    /// Draws racket and ball around the drawn contact.
    pub fn draw_racket(&mut self) {
        let Some(draw) = &self.draw else { return };
        let (stroke, motion, met) = (self.stroke, &self.drawn.motion, self.drawn.phases.contact.time);
        let hand_off = |time: Seconds| between(&self.seen.times, &self.hand_off, time);
        let racket = stroke.racket.as_ref();
        let racket = racket.map(|r| r.drawn(&draw.recast, draw.axes, met, &hand_off, &mut self.rackets));
        let struck = stroke.flight.as_ref().and_then(|ball| {
            let error = BallError::drawn(&mut self.rackets);
            let met = (met, hand_off(met));
            ball.drawn((&stroke.motion, motion), &draw.recast, racket.as_ref(), met, error)
        });
        (self.drawn.racket, self.drawn.struck) = (racket, struck);
    }
}

/// What is known at `times`, at a time between, straight from one to the next.
fn between(times: &[Seconds], known: &[Camera], time: Seconds) -> Camera {
    let after = times.partition_point(|t| *t < time).min(times.len().saturating_sub(1));
    let before = after.saturating_sub(1);
    let (Some(from), Some(to)) = (known.get(before), known.get(after)) else { return Camera::default() };
    let step = (times[after] - times[before]).0.max(1e-9);
    let share = ((time - times[before]).0 / step).clamp(0.0, 1.0);
    *from * (1.0 - share) + *to * share
}

/// The boundaries of a drawn `motion` of a `stroke` around its contact, each off by what reading it may be off by.
pub(super) fn split(
    stroke: &Stroke,
    motion: &CourtMotion,
    mark: Mark,
    sources: &Sources,
    rng: &mut Pcg64Mcg,
) -> Phases {
    let met = mark.time;
    let mut phases = stroke.phases.again(motion, mark, stroke.sort());
    for boundary in Boundary::ALL {
        let normal: f64 = rng.sample(StandardNormal);
        if let Some(mark) = phases.get_mut(boundary) {
            let method = stroke.phases.get(boundary).map_or(mark.method, |found| found.method);
            let spread = match method {
                // Contact's own spread is in its time already.
                Method::Marked if boundary == Boundary::Contact => Seconds(0.0),
                Method::Marked => Seconds(correction::SPREAD_IN_PICTURES / sources.rate),
                Method::HandSlowed => OTHER_PAUSE,
                Method::BackswingEnd => UNSEEN_START,
                _ if boundary == Boundary::Contact => boundary_spread(boundary),
                Method::ShoulderTurn => boundary_spread(boundary),
                _ => {
                    let doubt = unseen(&stroke.motion, mark.time, met);
                    let along = match boundary {
                        Boundary::DropStart => 1.0 - stroke.motion.net_in_picture(),
                        _ => 0.0,
                    };
                    let own = boundary_spread(boundary).0.hypot(UNSEEN_HAND.0 * doubt);
                    Seconds(own.hypot(DROP_ALONG_LENS.0 * along))
                }
            };
            mark.time = mark.time + spread * normal;
        }
    }
    phases
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::CATALOGUE;
    use crate::measure::figure;
    use crate::stroke::Kind;

    #[test]
    fn measures_read_what_is_drawn_of_a_stroke() {
        let kinds = [Kind::Forehand, Kind::Backhand, Kind::Overhead];
        let begins = [None, Some(1.0), Some(0.25)];
        for (kind, begins) in kinds.into_iter().flat_map(|kind| begins.map(|begins| (kind, begins))) {
            let mut stroke = figure::stroke(kind, |landmark, t, at| match landmark {
                Landmark::RightWrist => {
                    at + Court::new(0.6 * (4.0 * t).sin(), 0.1 * t, 0.2 * (5.0 * t).cos())
                }
                _ => at,
            });
            let met = stroke.phases.contact.time;
            stroke.phases.prep_start =
                begins.map(|before| Mark { time: met - Seconds(before), method: Method::HandRetreat });
            let mut drawn = stroke.clone();
            let within = read_closely(&stroke.motion.times, &stroke.phases);
            for (i, frame) in drawn.motion.points.iter_mut().enumerate() {
                for landmark in Landmark::ALL.into_iter().filter(|landmark| !tells_phases(*landmark)) {
                    if !within.contains(&i) || !is_read(landmark) {
                        assert!(frame[landmark as usize].take().is_some());
                    }
                }
            }
            assert!(within.len() < stroke.motion.times.len(), "{kind:?}: nothing was left out");
            let values = |stroke: &Stroke| CATALOGUE.iter().map(|m| m.of(stroke)).collect::<Vec<_>>();
            assert_eq!(values(&stroke), values(&drawn), "{kind:?}");
            let again =
                |stroke: &Stroke| stroke.phases.again(&stroke.motion, stroke.phases.contact, stroke.sort());
            assert_eq!(again(&stroke), again(&drawn), "{kind:?}");
        }
    }

    #[test]
    fn the_distance_wavers_with_the_pose() {
        let stroke = figure::stroke(Kind::Forehand, |_, _, at| at);
        let motion = &stroke.motion;
        let seen = |p: Court| Camera::new(p.net, p.up - 1.2, 5.0 - p.side);
        let space = figure::space(motion, seen);
        let filmed = Filmed::at(space.stand, space.stature, motion.direction.angle);
        let camera = Filming { filmed: &filmed, space: &space };
        let sources = Sources { jitter: 0.0, landmarks: [0.0; COUNT], rate: 60.0, slowed: false };
        let mut rng = Pcg64Mcg::seed_from_u64(5);
        let draws: Vec<Draw> = (0..500).map(|i| Draw::new(motion, &camera, i, &sources, &mut rng)).collect();
        let met = stroke.phases.contact.time;
        let changes = |before: f64| {
            let change = |draw: &Draw| draw.farther(met) - draw.farther(met - Seconds(before));
            (draws.iter().map(|draw| change(draw).powi(2)).sum::<f64>() / draws.len() as f64).sqrt()
        };
        // In rendered and recorded players by 0.4, 1.0 and 1.4 %.
        for (before, wanted) in [(0.1, 0.004), (0.3, 0.010), (0.5, 0.014)] {
            let got = changes(before);
            assert!((0.75..1.35).contains(&(got / wanted)), "{before} s: {got}");
        }
    }
}
