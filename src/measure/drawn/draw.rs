//! One drawn set of errors, and a motion as it would be with them.

use std::ops::Range;

use rand::Rng;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::seen::{Seen, SeenFrame, SeenPoint};
use super::{Filming, Sources};
use crate::geometry::{Camera, Court};
use crate::measure::errors::{Shake, drawn_offsets};
use crate::order::median;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Side};
use crate::scene::court::Axes;
use crate::scene::{CourtMotion, Direction, Recast};
use crate::units::Seconds;

/// Relative spread of the player's distance from the lens, which wavers with the pose (1 standard deviation). From rendered players, with
/// recorded movement too, seen from all sides: within a tenth of a second it changes by 0.4 %, within half a second by 1.4, within a
/// second by 1.9.
pub const DISTANCE: f64 = 0.012;

/// Nobody is filmed from nearer, metres.
const NEAREST: f64 = 0.5;

/// When the foot tips, its heel's landmark follows the shoe only in part: spread of that part, relative (1 standard
/// deviation). From rendered players.
const TIPPING: f64 = 0.25;

/// Share of the variance of a landmark's lasting error that comes with the pose, and the time in which a pose becomes
/// another. From rendered players.
const PASSING: f64 = 0.3;
const POSE_TIME: Seconds = Seconds(0.5);

/// One drawn set of errors.
pub(super) struct Draw {
    pub recast: Recast,
    pub axes: Axes,
    direction: Direction,
    /// Offsets of the landmarks that stay the same, and those that come and go with the pose, at even knots; so does the relative error
    /// of the distance.
    offsets: [Camera; COUNT],
    passing: Vec<[Camera; COUNT]>,
    distance: Vec<f64>,
    start: Seconds,
    tipping: f64,
    /// What contact is off by, a normal deviate.
    pub contact: f64,
    shake: Shake,
}

impl Draw {
    /// The `place`-th draw: the camera is the `place`-th of the likely ones.
    pub fn new(
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
    pub fn apply(&self, seen: &Seen, drawn: &mut CourtMotion) -> Vec<Camera> {
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
    pub fn complete(&self, seen: &Seen, within: Range<usize>, drawn: &mut CourtMotion) {
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

#[cfg(test)]
mod tests {
    use rand::SeedableRng;

    use super::*;
    use crate::measure::figure;
    use crate::scene::Filmed;
    use crate::stroke::Kind;

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
