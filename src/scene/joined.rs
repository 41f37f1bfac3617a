//! One motion of what two cameras saw of it.
//!
//! A camera tells a point's place across its line of sight to centimetres and along it to a hand's width. Where two cameras look from
//! different sides, each tells what the other can't: the joint place is the mean of both, each weighed in every direction by how well it
//! is known there (the product of two normal distributions). The hips are joined first and all else relative to them, because a body
//! that is taken for too far away is so as a whole. Before that the second camera's frame is brought into the first one's: its clock by
//! the heights of what moves, which both see, its turn and size by all joints, its place by the hips.

use super::CourtMotion;
use super::court::Axes;
use super::direction::Direction;
use crate::geometry::{Camera, Court};
use crate::order;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::units::{Degrees, Seconds};

/// A player as one camera has it.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The motion, in its own court's frame.
    pub motion: &'a CourtMotion,
    /// What each landmark may be off by in each frame, along the line of sight from the hips.
    pub spreads: &'a [[Spread; COUNT]],
    /// By how much the player's distance wavers, relative (1 standard deviation).
    pub distance: f64,
    /// By how much the player's size may be off, relative (1 standard deviation).
    pub size: f64,
    /// By how much the direction to the net may be off (1 standard deviation).
    pub net: Degrees,
}

/// What a point may be off by, metres (1 standard deviation).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// On each axis across the line of sight.
    pub across: f64,
    /// Along it.
    pub along: f64,
}

/// How the second camera's times follow from the first one's: stretched by `1 + drift`, then `offset` later.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Seconds to add …
    pub offset: Seconds,
    /// … to a time stretched by this share.
    pub drift: f64,
}

impl Clock {
    /// A time of the first camera on the second one's clock.
    pub fn second(&self, time: Seconds) -> Seconds {
        Seconds(time.0 * (1.0 + self.drift) + self.offset.0)
    }

    /// A time of the second camera on the first one's clock.
    pub fn first(&self, time: Seconds) -> Seconds {
        Seconds((time.0 - self.offset.0) / (1.0 + self.drift))
    }
}

/// The way from the second camera's frame into the first one's, and what both together have of the player's size and the net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joining {
    clock: Clock,
    /// Turn about the vertical.
    turn: Degrees,
    /// Size in the first camera's frame over that in the second's.
    scale: f64,
    /// Where the second camera stands in the first one's frame.
    place: Camera,
    /// True size over that in the first camera's frame.
    size: f64,
    /// Where the net is from the first camera, by both.
    direction: Direction,
}

/// Joints by which the frames are brought together.
const JOINTS: [Joint; 6] =
    [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Hip, Joint::Knee, Joint::Ankle];

/// Frames of a stroke that are enough to bring the frames together.
const ENOUGH: usize = 120;

/// Heights tell the clocks apart by less than this.
const MOST_SHIFT: f64 = 0.12;

/// A stroke whose joints rise and fall less than this says nothing of the clocks: sum of squares of their speeds, m²/s².
const LEAST_MOVED: f64 = 20.0;

/// What a joint errs by changes through a stroke about this often, and changes by this share of its variance.
const CHANGES: f64 = 6.0;
const CHANGING: f64 = 0.35;

/// Motions whose joints lie farther apart than so many times what they are off by are not of one player's stroke: mean of squares.
const NOT_ONE: f64 = 9.0;

/// Where both cameras have the net in directions that contradict each other by more than so many standard deviations, one has it wrong, and
/// nobody knows which.
const CONTRADICTS: f64 = 2.0;

/// Lines of sight that cross at an angle whose sine is less than this (30°) see the same across and the same as depth, and the networks err
/// alike along both.
const CROSSING: f64 = 0.5;

/// Spread of a depth of which nothing is known, metres.
const ANYWHERE: f64 = 1.0;

/// Steps of the fits.
const STEPS: usize = 6;

/// What brings the frames together: turn (radians) and size (logarithm).
const UNKNOWNS: usize = 2;

impl Joining {
    /// Brings the frames together; `None` where the motions don't have enough in common or contradict each other, and
    /// where both cameras look the same way.
    pub fn of([first, second]: &[View<'_>; 2], clock: Clock) -> Option<Self> {
        let (a, b) = (first.motion.direction, second.motion.direction);
        let spread = first.net.0.hypot(second.net.0).max(1.0);
        let mut joining = Self {
            clock,
            turn: Degrees(a.angle.0 - b.angle.0),
            scale: 1.0,
            place: Camera::default(),
            size: 1.0,
            direction: a,
        };
        let samples = joining.samples(first, second);
        let prior = [spread.to_radians(), first.size.hypot(second.size).max(0.003)];
        let mut off = [0.0; UNKNOWNS];
        for _ in 0..STEPS {
            let change = joining.step(&samples, off, prior)?;
            for (off, change) in off.iter_mut().zip(change) {
                *off += change;
            }
            joining.turn = Degrees(joining.turn.0 + change[0].to_degrees());
            joining.scale *= change[1].exp();
        }
        let turned = off[0].to_degrees().abs();
        if joining.apart(&samples) > NOT_ONE || turned > CONTRADICTS * spread {
            return None;
        }
        if joining.crossing(first, second)? < CROSSING {
            return None;
        }
        joining.place = joining.placed(first, second)?;
        let share = |own: f64, other: f64| {
            let all = own * own + other * other;
            if all > 0.0 { own * own / all } else { 0.5 }
        };
        joining.size = (-off[1] * share(first.size, second.size)).exp();
        let known = first.net.0 * share(second.net.0, first.net.0).sqrt();
        joining.direction = Direction {
            angle: Degrees(a.angle.0 + off[0].to_degrees() * share(first.net.0, second.net.0)),
            spread: Degrees(known),
            ..a
        };
        Some(joining)
    }

    fn turned(&self, at: Camera) -> Camera {
        let (sin, cos) = self.turn.radians().sin_cos();
        Camera::new(cos * at.right - sin * at.away, at.up, sin * at.right + cos * at.away)
    }

    /// Both cameras' joints from the hips at the same times, in their own frames.
    fn samples(&self, first: &View<'_>, second: &View<'_>) -> Vec<Vec<Sample>> {
        let step = first.motion.times.len().div_ceil(ENOUGH).max(1);
        let of_joint = |landmark: Landmark| {
            let k = landmark as usize;
            let frames = (0..first.motion.times.len()).step_by(step);
            let samples = frames.filter_map(|i| {
                let time = self.clock.second(first.motion.times[i]);
                let (a, from_a) =
                    (first.at(landmark, first.motion.times[i])?, first.hips(first.motion.times[i])?);
                let (b, from_b) = (second.at(landmark, time)?, second.hips(time)?);
                let (of_a, of_b) = (first.spreads[i][k], second.spreads[nearest(second.motion, time)][k]);
                let told = Spreads::of(a, of_a).plus(&Spreads::of(self.turned(b), of_b)).inverse()?;
                Some(Sample { a: a - from_a, b: b - from_b, told })
            });
            samples.collect::<Vec<_>>()
        };
        let sides = [Side::Left, Side::Right];
        let all = JOINTS.iter().flat_map(|joint| sides.map(|side| joint.on(side)));
        all.map(of_joint).filter(|samples| samples.len() > 2).collect()
    }

    /// Sine of the angle between both cameras' lines of sight over the ground.
    fn crossing(&self, first: &View<'_>, second: &View<'_>) -> Option<f64> {
        let sight = |time: &Seconds| {
            let a = first.hips(*time)?.horizontal().unit()?;
            let b = self.turned(second.hips(self.clock.second(*time))?).horizontal().unit()?;
            Some((a.right * b.away - a.away * b.right).abs())
        };
        first.motion.times.iter().find_map(sight)
    }

    /// Where the second camera stands: it has the hips where the first one has them.
    fn placed(&self, first: &View<'_>, second: &View<'_>) -> Option<Camera> {
        let apart = |time: &Seconds| {
            Some(first.hips(*time)? - self.turned(second.hips(self.clock.second(*time))?) * self.scale)
        };
        let apart: Vec<Camera> = first.motion.times.iter().filter_map(apart).collect();
        let sum = apart.iter().fold(Camera::default(), |sum, apart| sum + *apart);
        (!apart.is_empty()).then(|| sum / apart.len() as f64)
    }

    /// What brings the frames nearer together, by least squares: what a joint errs by stays through a stroke for the most part, so that its
    /// mean and its way about that count apart. `off` is how far they were brought from where they were believed, to within `prior`.
    fn step(
        &self,
        joints: &[Vec<Sample>],
        off: [f64; UNKNOWNS],
        prior: [f64; UNKNOWNS],
    ) -> Option<[f64; UNKNOWNS]> {
        let mut normal = Normal::default();
        for i in 0..UNKNOWNS {
            let weight = prior[i].powi(-2);
            normal.square[i][i] += weight;
            normal.right[i] -= weight * off[i];
        }
        for samples in joints {
            let n = samples.len() as f64;
            let rows: Vec<Row> = samples.iter().map(|sample| self.row(sample)).collect();
            let mean = Row::mean(&rows);
            // The middle sample's weights stand for all: they change little.
            normal.add(&mean, &samples[samples.len() / 2].told, 1.0);
            for (row, sample) in rows.iter().zip(samples) {
                normal.add(&row.without(&mean), &sample.told, CHANGES / CHANGING / n);
            }
        }
        normal.solved()
    }

    /// What is left of a sample, and how each unknown moves the second camera's point.
    fn row(&self, sample: &Sample) -> Row {
        let carried = self.turned(sample.b) * self.scale;
        let turning = Camera::new(-carried.away, 0.0, carried.right);
        Row { left: sample.a - carried, moves: [turning, carried] }
    }

    /// Mean square of what the joints lie apart, over what they may.
    fn apart(&self, joints: &[Vec<Sample>]) -> f64 {
        let of_joint = |samples: &Vec<Sample>| {
            let rows: Vec<Row> = samples.iter().map(|sample| self.row(sample)).collect();
            let mean = Row::mean(&rows);
            samples[samples.len() / 2].told.square(mean.left, mean.left)
        };
        joints.iter().map(of_joint).sum::<f64>() / (3 * joints.len().max(1)) as f64
    }

    /// A place or a way in the first camera's frame, of what both cameras have of it.
    fn met(a: Option<(Camera, Spreads)>, b: Option<(Camera, Spreads)>) -> Option<(Camera, Spreads)> {
        let (a, b) = match (a, b) {
            (Some(a), Some(b)) => (a, b),
            (one, other) => return one.or(other),
        };
        // a + A (A + B)⁻¹ (b − a), with A and B what each may be off by.
        let told = a.1.plus(&b.1).inverse()?;
        let met = a.0 + a.1.times(told.times(b.0 - a.0));
        let left = a.1.inverse()?.plus(&b.1.inverse()?).inverse()?;
        Some((met, left))
    }

    /// Where both have the hips at a time of the first one's clock.
    fn hips(&self, first: &View<'_>, second: &View<'_>, i: usize) -> Option<Camera> {
        let time = first.motion.times[i];
        let a = first.hips(time).map(|at| (at, Spreads::of(at, first.of_hips(at, i))));
        let later = self.clock.second(time);
        let b = second.hips(later).map(|at| {
            let spread = second.of_hips(at, nearest(second.motion, later));
            let turned = self.turned(at);
            (turned * self.scale + self.place, Spreads::of(turned, spread))
        });
        Some(Self::met(a, b)?.0)
    }

    /// The joint motion, at the first camera's times and seen from there.
    pub fn motion(&self, [first, second]: &[View<'_>; 2]) -> CourtMotion {
        let mut joined = first.motion.clone();
        joined.direction = self.direction;
        joined.ground = 0.0;
        let axes = Axes::new(self.direction.angle, joined.hand);
        for i in 0..joined.times.len() {
            let time = first.motion.times[i];
            let later = self.clock.second(time);
            let j = nearest(second.motion, later);
            let hips = self.hips(first, second, i);
            let (from_a, from_b) = (first.hips(time), second.hips(later));
            for landmark in Landmark::ALL {
                let k = landmark as usize;
                let a = first.at(landmark, time).zip(from_a);
                let a = a.map(|(at, from)| (at - from, Spreads::of(at, first.spreads[i][k])));
                let b = second.at(landmark, later).zip(from_b);
                let seen = b.map_or(0.0, |_| second.motion.visibility[j][k]);
                let b = b.map(|(at, from)| {
                    let way = self.turned(at - from) * self.scale;
                    (way, Spreads::of(self.turned(at), second.spreads[j][k]))
                });
                let met = Self::met(a, b).zip(hips).map(|((way, left), hips)| (hips + way, left));
                joined.points[i][k] = met.map(|(at, _)| axes.to_court(at * self.size));
                joined.visibility[i][k] = joined.visibility[i][k].max(seen);
                if let Some((at, left)) = met {
                    let along = at.unit().unwrap_or_default();
                    joined.depth_spread[i][k] = left.square(along, along).max(0.0).sqrt() as f32;
                }
            }
        }
        joined.set_on_ground();
        joined
    }

    /// The way from one point of the court to another, in the frame of the joint motion, of what each camera has of it. Where they contradict
    /// each other, one of them has taken the way for one toward the lens that leads away from it, or the reverse: then only what lies across counts.
    pub fn way(&self, hand: Side, a: Option<Way>, b: Option<Way>) -> Option<Court> {
        let of = |deep: bool| {
            let told = |way: Way| if deep { Spread { along: ANYWHERE, ..way.spread } } else { way.spread };
            let a = a.map(|way| (way.way, Spreads::of(way.from + way.way, told(way))));
            let b = b.map(|way| {
                let spread = Spreads::of(self.turned(way.from + way.way), told(way));
                (self.turned(way.way) * self.scale, spread)
            });
            (a, b)
        };
        let (first, second) = of(false);
        let is_contradicted = first.zip(second).is_some_and(|(a, b)| {
            let told = a.1.plus(&b.1).inverse();
            told.is_some_and(|told| told.square(b.0 - a.0, b.0 - a.0) > NOT_ONE)
        });
        let (first, second) = of(is_contradicted);
        Some(Axes::new(self.direction.angle, hand).to_court(Self::met(first, second)?.0 * self.size))
    }
}

/// A way from a point as a camera has it, in its own frame.
#[derive(Debug, Clone, Copy)]
pub struct Way {
    /// Where it begins.
    pub from: Camera,
    /// The way.
    pub way: Camera,
    /// What its end may be off by.
    pub spread: Spread,
}

impl View<'_> {
    /// A landmark in the camera's frame at a time of its clock.
    fn at(&self, landmark: Landmark, time: Seconds) -> Option<Camera> {
        Some(self.motion.in_camera(self.motion.at(landmark, time)?))
    }

    fn hips(&self, time: Seconds) -> Option<Camera> {
        Some(self.motion.in_camera(self.motion.middle(Joint::Hip, time)?))
    }

    /// What the middle of the hips at a place is off by in a frame.
    fn of_hips(&self, at: Camera, frame: usize) -> Spread {
        let across = self.spreads[frame][Landmark::LeftHip as usize].across * std::f64::consts::FRAC_1_SQRT_2;
        Spread { across, along: self.distance * at.norm() }
    }
}

/// How much later the second camera's clock is than believed, from one stroke: the heights of what moves are seen by both. `None` where
/// too little rises and falls.
pub fn later(first: &CourtMotion, second: &CourtMotion, clock: Clock) -> Option<Seconds> {
    /// Half of the span over which speeds are taken.
    const STEP: Seconds = Seconds(0.012);
    let sides = [Side::Left, Side::Right];
    let moving = [Joint::Wrist, Joint::Elbow, Joint::Shoulder, Joint::Hip, Joint::Knee];
    let landmarks: Vec<Landmark> = moving.iter().flat_map(|joint| sides.map(|side| joint.on(side))).collect();
    let mut shift = 0.0;
    for _ in 0..STEPS {
        let on_second = |time| clock.second(time) + Seconds(shift);
        let (mut across, mut square) = (0.0, 0.0);
        for landmark in &landmarks {
            let k = *landmark as usize;
            let up = |time| second.at(*landmark, time).map(|at| at.up);
            let of_frame = |(time, points): (&Seconds, &[Option<Court>; COUNT])| {
                let time = on_second(*time);
                let speed = (up(time + STEP)? - up(time - STEP)?) / (2.0 * STEP.0);
                Some((points[k]?.up - up(time)?, speed))
            };
            let rows: Vec<(f64, f64)> = first.times.iter().zip(&first.points).filter_map(of_frame).collect();
            let n = rows.len().max(1) as f64;
            // Landmarks sit higher in one view than in the other.
            let (left, speed) = rows.iter().fold((0.0, 0.0), |(l, s), row| (l + row.0 / n, s + row.1 / n));
            for row in &rows {
                across += (row.0 - left) * (row.1 - speed);
                square += (row.1 - speed).powi(2);
            }
        }
        if square < LEAST_MOVED {
            return None;
        }
        shift = (shift + across / square).clamp(-MOST_SHIFT, MOST_SHIFT);
    }
    Some(Seconds(shift))
}

/// Place of the frame nearest to a time.
fn nearest(motion: &CourtMotion, time: Seconds) -> usize {
    order::nearest(&motion.times, |at| at.0, time.0).unwrap_or_default()
}

/// A joint at one time: where each camera has it in its own frame, and how well their distance is known.
struct Sample {
    a: Camera,
    b: Camera,
    told: Spreads,
}

/// What is left of a sample and how the unknowns move it.
struct Row {
    left: Camera,
    moves: [Camera; UNKNOWNS],
}

impl Row {
    fn mean(rows: &[Self]) -> Self {
        let mut mean = Self { left: Camera::default(), moves: [Camera::default(); UNKNOWNS] };
        let share = 1.0 / rows.len().max(1) as f64;
        for row in rows {
            mean.left += row.left * share;
            for (mean, moves) in mean.moves.iter_mut().zip(row.moves) {
                *mean += moves * share;
            }
        }
        mean
    }

    fn without(&self, mean: &Self) -> Self {
        let moves = std::array::from_fn(|i| self.moves[i] - mean.moves[i]);
        Self { left: self.left - mean.left, moves }
    }
}

/// The equations of a least squares fit.
#[derive(Default)]
struct Normal {
    square: [[f64; UNKNOWNS]; UNKNOWNS],
    right: [f64; UNKNOWNS],
}

impl Normal {
    fn add(&mut self, row: &Row, told: &Spreads, weight: f64) {
        for (i, moves) in row.moves.iter().enumerate() {
            let weighed = told.times(*moves) * weight;
            self.right[i] += weighed.dot(row.left);
            for (j, other) in row.moves.iter().enumerate() {
                self.square[i][j] += weighed.dot(*other);
            }
        }
    }

    /// What solves them; `None` where they tell nothing.
    fn solved(&self) -> Option<[f64; UNKNOWNS]> {
        let ([[a, b], [c, d]], [p, q]) = (self.square, self.right);
        let whole = a * d - b * c;
        (a > 1e-9 && whole > 1e-9 * a).then(|| [(d * p - b * q) / whole, (a * q - c * p) / whole])
    }
}

/// Variances and covariances of a place in space, square metres: rows and columns right, up, away.
#[derive(Debug, Clone, Copy)]
struct Spreads([[f64; 3]; 3]);

impl Spreads {
    /// Of a point along whose direction from the lens another spread holds than across it.
    fn of(direction: Camera, Spread { across, along }: Spread) -> Self {
        let direction = direction.unit().unwrap_or_default();
        let axis = [direction.right, direction.up, direction.away];
        let (plane, more) = (across * across, along * along - across * across);
        Self(std::array::from_fn(|i| {
            std::array::from_fn(|j| more * axis[i] * axis[j] + if i == j { plane } else { 0.0 })
        }))
    }

    fn plus(&self, other: &Self) -> Self {
        Self(std::array::from_fn(|i| std::array::from_fn(|j| self.0[i][j] + other.0[i][j])))
    }

    fn times(&self, at: Camera) -> Camera {
        let of_row = |row: &[f64; 3]| row[0] * at.right + row[1] * at.up + row[2] * at.away;
        Camera::new(of_row(&self.0[0]), of_row(&self.0[1]), of_row(&self.0[2]))
    }

    fn square(&self, a: Camera, b: Camera) -> f64 {
        self.times(a).dot(b)
    }

    /// `None` where a direction has no spread.
    fn inverse(&self) -> Option<Self> {
        let m = &self.0;
        let minor = |i: usize, j: usize| {
            let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
            m[a][c] * m[b][d] - m[a][d] * m[b][c]
        };
        let whole = (0..3).map(|j| m[0][j] * minor(0, j)).sum::<f64>();
        let is_sound = whole.is_finite() && whole.abs() > 1e-30;
        is_sound.then(|| Self(std::array::from_fn(|i| std::array::from_fn(|j| minor(j, i) / whole))))
    }
}

#[cfg(test)]
#[path = "joined_tests.rs"]
mod tests;
