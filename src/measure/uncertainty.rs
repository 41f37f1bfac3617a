//! The ± of every value and time, by drawing the known sources of error many times and measuring again.
//!
//! One mechanism serves all measures: a draw shifts, turns, scales and shakes the motion as camera and pose model may have
//! done, the phases are found again in it, and every formula is evaluated again. What a view can't see gets a wide ± by
//! itself, because depth is drawn wider than what lies in the picture's plane.

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::errors::{Shake, doubt, drawn_offsets, unsteady};
use super::hand::is_read;
use super::{CATALOGUE, Grade, Measure, Measurement, Missing, Outcome, lag, veto};
use crate::geometry::{Camera, Court};
use crate::order::median;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::court::{Axes, soles};
use crate::scene::{
    BallError, CourtMotion, Direction, Filmed, Recast, Source, SourceBody, SourcePoint, Space, View,
};
use crate::stats::TWO_SIDED_95;
use crate::stroke::{Boundary, Contact, Method, Stroke, correction};
use crate::units::Seconds;

/// Draws per stroke: the ± they give is good to about a tenth.
const DRAWS: usize = 64;

/// The ± is the distance from the value within which this share of the draws lies.
const HELD: f64 = 0.95;

/// A value is not given when fewer than this share of the draws could be measured.
const MEASURABLE_SHARE: f64 = 0.6;

/// A ± this many times the limit of a fair grade says nothing any more.
const USELESS: f64 = 3.0;

/// Relative spread of the player's distance from the lens, which wavers over a stroke (1 standard deviation). From players
/// rendered from behind and in front.
const DISTANCE: f64 = 0.012;

/// When the foot tips, its heel's landmark follows the shoe only in part: spread of that part, relative (1 standard
/// deviation). From rendered players.
const TIPPING: f64 = 0.25;

/// Share of the variance of a landmark's lasting error that comes with the pose, and the time in which a pose becomes
/// another. From rendered players.
const PASSING: f64 = 0.3;
const POSE_TIME: Seconds = Seconds(0.5);

/// Relative spread of a speed whose peak smoothing has cut or noise has raised (1 standard deviation). From rendered players.
const PEAK_SPEED: f64 = 0.07;

/// Speeds from fewer pictures a second than this are indicative only.
const FULL_RATE: f64 = 55.0;

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
    /// Relative error of the distance at the motion's start and end.
    distance: [f64; 2],
    /// Offsets of the landmarks that stay the same, and those that come and go with the pose, at even knots.
    offsets: [Camera; COUNT],
    passing: Vec<[Camera; COUNT]>,
    start: Seconds,
    tipping: f64,
    contact: f64,
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
        let mut normal = || -> f64 { rng.sample(StandardNormal) };
        let (recast, direction) = camera.drawn(motion, place);
        Self {
            recast,
            axes: Axes::new(direction.angle, motion.hand),
            direction,
            distance: [DISTANCE * normal(), DISTANCE * normal()],
            offsets,
            passing,
            start,
            tipping: TIPPING * normal(),
            contact: normal(),
        }
    }

    /// The landmarks' offsets at a time: part of each is the body's and stays, part comes with the pose.
    fn offsets_at(&self, time: Seconds) -> impl Fn(usize) -> Camera {
        let place = ((time - self.start).0 / POSE_TIME.0).clamp(0.0, (self.passing.len() - 2) as f64);
        let i = (place.floor() as usize).min(self.passing.len() - 2);
        let (sin, cos) = ((place - i as f64) * std::f64::consts::FRAC_PI_2).sin_cos();
        let (from, to) = (&self.passing[i], &self.passing[i + 1]);
        // Between two drawn ones, spread as widely all the way.
        move |k| {
            let passing = from[k] * cos + to[k] * sin;
            self.offsets[k] * (1.0 - PASSING).sqrt() + passing * PASSING.sqrt()
        }
    }

    /// The relative error of the distance at a share of the motion's length.
    fn farther(&self, share: f64) -> f64 {
        let (sin, cos) = (share * std::f64::consts::FRAC_PI_2).sin_cos();
        self.distance[0] * cos + self.distance[1] * sin
    }

    /// Puts the motion as it would be with these errors into `drawn`, which has the same landmarks that measures read in the same
    /// frames.
    fn apply(&self, seen: &Seen, sources: &Sources, rng: &mut Pcg64Mcg, drawn: &mut CourtMotion) {
        let shake = Shake::new(&seen.times, rng);
        let mut lowest = Vec::with_capacity(seen.frames.len());
        for ((time, frame), points) in seen.times.iter().zip(&seen.frames).zip(&mut drawn.points) {
            let body = frame.body.as_ref().map(|body| self.recast.body(body));
            let farther = self.farther(frame.share);
            let (offsets, shaken) = (self.offsets_at(*time), shake.at(*time));
            let mut sole: Option<f64> = None;
            for known in &frame.points {
                let k = known.landmark as usize;
                let shaken = shaken(k);
                let plane = sources.jitter.hypot(known.unsteady);
                let shaken = Camera::new(plane * shaken.right, plane * shaken.up, shaken.away);
                let error = offsets(k) + shaken;
                let error =
                    Camera::new(error.right * known.doubt, error.up * known.doubt, error.away * known.depth);
                let seen = known.point.at;
                let through = body.as_ref().map_or(seen, |body| body.point(&known.point));
                // The ground is where the drawn camera has the feet, not where their landmarks err to.
                if known.is_sole {
                    sole = Some(sole.map_or(through.up, |lowest| lowest.min(through.up)));
                }
                let mut c = through + error;
                c.right += farther * seen.right;
                c.away += farther * seen.away;
                points[k] = Some(self.axes.to_court(c));
            }
            lowest.extend(sole);
        }
        let ground = median(lowest.into_iter()).unwrap_or_default();
        for points in &mut drawn.points {
            for point in points.iter_mut().flatten() {
                point.up -= ground;
            }
            for side in [Side::Left, Side::Right] {
                let toe = points[Joint::Toe.on(side) as usize];
                if let (Some(toe), Some(heel)) = (toe, points[Joint::Heel.on(side) as usize].as_mut()) {
                    heel.up += self.tipping * (heel.up - toe.up).max(0.0);
                }
            }
        }
        drawn.direction = self.direction;
    }
}

/// A stroke's motion as the camera has it through which it was lifted: what all draws of it share.
struct Seen {
    times: Vec<Seconds>,
    frames: Vec<SeenFrame>,
}

struct SeenFrame {
    /// Which share of the motion's time has passed.
    share: f64,
    /// The body, where its hips are seen.
    body: Option<SourceBody>,
    points: Vec<SeenPoint>,
}

struct SeenPoint {
    landmark: Landmark,
    is_sole: bool,
    point: SourcePoint,
    /// By how much its error grows because it is hardly in sight. Doubt is that of the moment: a joint may be hidden in the drop
    /// and in plain sight at contact.
    doubt: f64,
    /// Spread of what it is off by for a moment while it moves, metres per axis in the picture's plane.
    unsteady: f64,
    /// Spread of its depth, metres.
    depth: f64,
}

impl Seen {
    fn of(motion: &CourtMotion, camera: &Filming<'_>) -> Self {
        let axes = Axes::new(motion.direction.angle, motion.hand);
        let level = |at: Court| {
            let c = axes.to_camera(at);
            Camera { up: c.up + camera.ground, ..c }
        };
        let source = camera.source();
        let soles: Vec<Landmark> = soles().collect();
        let (start, end) = motion.span().unwrap_or_default();
        let speed = |i: usize, k: usize| {
            let (from, to) = (i.saturating_sub(1), (i + 1).min(motion.points.len() - 1));
            let way = motion.points[to][k].zip(motion.points[from][k]).map_or(0.0, |(a, b)| (a - b).norm());
            way / (motion.times[to] - motion.times[from]).0.max(1e-6)
        };
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
                        unsteady: unsteady(landmark, speed(i, k)),
                        depth: motion.depth_spread[i][k],
                    })
                });
            let share = (motion.times[i] - start).0 / (end - start).0.max(1e-6);
            SeenFrame { share, body, points: known.collect() }
        };
        Self { times: motion.times.clone(), frames: (0..motion.times.len()).map(frame).collect() }
    }
}

/// The camera of a stroke: the likely ones, and where the ground is.
struct Filming<'a> {
    filmed: &'a Filmed,
    space: &'a Space,
    /// Height of the motion's ground in the camera's frame, metres.
    ground: f64,
}

impl Filming<'_> {
    /// The camera through which the motion was lifted.
    fn source(&self) -> Source {
        Source::new(self.space.stand, self.space.size, self.space.has_depth)
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

/// A stroke's values with their ±, and the ± of its boundaries.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// One outcome per entry of the catalogue, in its order.
    pub outcomes: Vec<Outcome>,
    /// Half width of the 95 % interval of each boundary, in the order of [`Boundary::ALL`].
    pub boundaries: [Option<Seconds>; 7],
}

/// Evaluates every measure of a stroke and its uncertainty. `space` is what the stroke's motion was taken from, `filmed` the
/// camera, `contact` how contact was settled; the result is the same for the same input (`seed`).
pub fn measure(
    stroke: &Stroke,
    contact: &Contact,
    (space, filmed): (&Space, &Filmed),
    sources: &Sources,
    seed: u64,
) -> Measured {
    let camera = Filming { filmed, space, ground: stroke.motion.ground_in(space).unwrap_or_default() };
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    // By itself, so that what is seen of the racket moves no digit of what is read from the body.
    let mut rackets = Pcg64Mcg::seed_from_u64(!seed);
    let values: Vec<_> = CATALOGUE.iter().map(|m| m.of(stroke)).collect();
    let mut off: Vec<Vec<f64>> = vec![Vec::with_capacity(DRAWS); CATALOGUE.len()];
    let mut boundaries_off: [Vec<f64>; 7] = Default::default();
    let seen = Seen::of(&stroke.motion, &camera);
    let mut drawn = stroke.clone();
    for landmark in Landmark::ALL.into_iter().filter(|landmark| !is_read(*landmark)) {
        // So that a measure which reads it after all has no value in any draw.
        drawn.motion.points.iter_mut().for_each(|frame| frame[landmark as usize] = None);
    }
    for place in 0..DRAWS {
        let draw = Draw::new(&stroke.motion, &camera, place, sources, &mut rng);
        draw.apply(&seen, sources, &mut rng, &mut drawn.motion);
        let motion = &drawn.motion;
        let Some(mark) = contact.again(motion, stroke.kind, draw.contact) else { continue };
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
                        Seconds(boundary_spread(boundary).0.hypot(UNSEEN_HAND.0 * doubt))
                    }
                };
                mark.time = mark.time + spread * normal;
            }
        }
        let racket = stroke.racket.as_ref();
        let racket = racket.map(|r| r.drawn(&draw.recast, draw.axes, phases.contact.time, &mut rackets));
        let contact_time = phases.contact.time;
        let struck = stroke.flight.as_ref().and_then(|ball| {
            let error = BallError::drawn(&mut rackets);
            ball.drawn((&stroke.motion, motion), &draw.recast, racket.as_ref(), contact_time, error)
        });
        (drawn.phases, drawn.racket, drawn.struck) = (phases, racket, struck);
        drawn.stature = stroke.stature * draw.recast.scale();
        for ((measure, value), off) in CATALOGUE.iter().zip(&values).zip(&mut off) {
            if let (Ok(value), Ok(again)) = (value, measure.of(&drawn)) {
                off.push((again - value).abs());
            }
        }
        for (boundary, off) in Boundary::ALL.into_iter().zip(&mut boundaries_off) {
            if let (Some(found), Some(again)) = (stroke.phases.get(boundary), drawn.phases.get(boundary)) {
                off.push((again.time - found.time).abs().0);
            }
        }
    }
    let enough = (MEASURABLE_SHARE * DRAWS as f64) as usize;
    let doubted = veto::doubted(stroke, &values, sources.slowed);
    let outcomes = CATALOGUE
        .iter()
        .zip(values)
        .zip(off)
        .zip(doubted)
        .map(|(((measure, value), off), doubted)| {
            let value = value?;
            let plus_minus = held_within(off, enough).unwrap_or(f64::INFINITY);
            let graded = graded(measure, value, plus_minus, stroke.motion.direction.view, sources);
            let graded = graded.map_err(|reason| {
                let lag = measure.id.starts_with("lag_") && reason == Missing::TooUncertain;
                if lag { lag::foreshortened(stroke).unwrap_or(reason) } else { reason }
            });
            let guessed = measure.hangs_on.iter().any(|boundary| is_guessed(stroke, *boundary));
            graded.map(
                |found| if doubted || guessed { Measurement { grade: Grade::Low, ..found } } else { found },
            )
        })
        .collect();
    // What is read from pictures is not known better than half the interval between them.
    let interval = Seconds(1.0 / sources.rate);
    let boundaries = std::array::from_fn(|b| {
        let at_contact = Boundary::ALL[b] == Boundary::Contact;
        let least = if at_contact { contact.least(interval) } else { interval * 0.5 };
        held_within(std::mem::take(&mut boundaries_off[b]), enough).map(|held| Seconds(held).max(least))
    });
    Measured { outcomes, boundaries }
}

/// Whether another boundary stands for one that nothing shows.
fn is_guessed(stroke: &Stroke, boundary: Boundary) -> bool {
    stroke.phases.get(boundary).is_some_and(|mark| mark.method == Method::BackswingEnd)
}

/// The distance within which [`HELD`] of the draws lie; `None` for fewer than `enough`. A few draws in which something else
/// was taken for a peak or an onset say how often that happens, not how far off the others are.
///
/// The rank is the one that holds the next draw with that probability (Vovk, Gammerman & Shafer 2005, Algorithmic Learning
/// in a Random World, ch. 2): between the sorted draws lie n + 1 places of which each is as likely.
fn held_within(mut off: Vec<f64>, enough: usize) -> Option<f64> {
    if off.len() < enough {
        return None;
    }
    off.sort_by(f64::total_cmp);
    let rank = (HELD * (off.len() + 1) as f64).ceil() as usize;
    off.get(rank.clamp(1, off.len().max(1)) - 1).copied()
}

/// Grades a value by its ±; refuses what is too uncertain to be of any use.
fn graded(measure: &Measure, value: f64, plus_minus: f64, view: View, sources: &Sources) -> Outcome {
    let (good, fair) = measure.grades;
    let speed = measure.unit == super::Unit::MetrePerSecond;
    let more = if speed { PEAK_SPEED * value } else { measure.undrawn };
    let plus_minus = plus_minus.hypot(TWO_SIDED_95 * more);
    if !value.is_finite() || !plus_minus.is_finite() || plus_minus > USELESS * fair {
        return Err(Missing::TooUncertain);
    }
    let mut grade = match plus_minus {
        p if p <= good => Grade::Good,
        p if p <= fair => Grade::Fair,
        _ => Grade::Low,
    };
    let timed = speed || measure.unit == super::Unit::Millisecond;
    if !measure.views.contains(&view) || (speed && sources.rate < FULL_RATE) || (timed && sources.slowed) {
        grade = Grade::Low;
    }
    Ok(Measurement { value, plus_minus, grade })
}
