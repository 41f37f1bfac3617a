//! A stroke as it would be with other errors: what camera, pose model and reading of its moments may be off by, drawn.

mod draw;
mod seen;
mod split;

use std::ops::Range;

use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

pub(super) use draw::DISTANCE;
use draw::Draw;
pub(super) use seen::speed;
use seen::{Seen, read_closely};
pub(super) use split::split;

use super::hand::is_read;
use crate::geometry::Camera;
use crate::pose::Landmark;
use crate::pose::landmark::COUNT;
use crate::scene::{self, BallError, CourtMotion, Direction, Filmed, Recast, Space};
use crate::stroke::{Contact, Mark, Stroke};
use crate::units::Seconds;

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
