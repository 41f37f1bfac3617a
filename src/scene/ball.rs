//! The ball in space at contact: its place in the picture, at the depth at which the strings meet it.

use rand::Rng;
use rand_distr::StandardNormal;

use super::court::{Axes, CourtMotion};
use super::{CourtRacket, Lens, Space};
use crate::ball::Flight;
use crate::geometry::{Camera, Court};
use crate::racket::MIDDLE;
use crate::stroke::Kind;
use crate::units::Seconds;

/// Where no racket tells it, the ball is met so much farther from the body's side than the hand, metres, with that spread.
const OUTSIDE: f64 = 0.35;
const OUTSIDE_SPREAD: f64 = 0.2;

/// The ball of one stroke.
#[derive(Debug, Clone, PartialEq)]
pub struct CourtBall {
    flight: Flight,
    lens: Lens,
    axes: Axes,
    /// Height of the motion's ground in the camera's frame, metres.
    ground: f64,
    /// Which side of the body it is met on: 1 the hitting arm's, −1 the other, 0 above.
    side: f64,
}

/// What a ball's place at contact is off by: standard normal deviates of its place in the picture, right and up, and of its
/// depth where no racket tells that.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BallError([f64; 3]);

impl BallError {
    /// Drawn errors.
    pub fn drawn(rng: &mut impl Rng) -> Self {
        Self(std::array::from_fn(|_| rng.sample(StandardNormal)))
    }
}

impl CourtBall {
    /// The ball that was seen to fly around the contact of a stroke, whose `motion` was taken from `space`; `None` where they
    /// have no joint in common.
    pub fn new(
        flight: &Flight,
        space: &Space,
        lens: &Lens,
        motion: &CourtMotion,
        kind: Kind,
    ) -> Option<Self> {
        let side = match kind {
            Kind::Forehand => 1.0,
            Kind::Backhand => -1.0,
            Kind::Overhead | Kind::Unknown => 0.0,
        };
        let axes = Axes::new(motion.direction.angle, motion.hand);
        Some(Self { flight: flight.clone(), lens: *lens, axes, ground: motion.ground_in(space)?, side })
    }

    /// The ball from the hitting hand at contact, metres, in the court's frame of `drawn`: as far from the lens as the middle
    /// of the strings of `racket` (seen with `drawn`), or as a usual one. `motion` is the motion as it was seen.
    pub fn from_hand(
        &self,
        motion: &CourtMotion,
        drawn: &CourtMotion,
        racket: Option<&CourtRacket>,
        time: Seconds,
        error: BallError,
    ) -> Option<Court> {
        let (pixel, spread) = self.flight.at(time)?;
        let BallError([right, up, depth]) = error;
        let axes = Axes::new(drawn.direction.angle, drawn.hand);
        let told = racket.and_then(|racket| {
            let strings = racket.point(drawn, MIDDLE, time)? - drawn.hand_at(time)?;
            Some((strings, racket.raised(MIDDLE, time)?))
        });
        let usual = Court::new(0.0, OUTSIDE * self.side + OUTSIDE_SPREAD * depth, 0.0);
        let (strings, raised) = told.unwrap_or((usual, 0.0));
        let hand = self.axes.to_camera(motion.hand_at(time)?);
        let away = hand.away + axes.to_camera(strings).away;
        let ray = [
            (pixel.x + spread * right - self.lens.middle.0) / self.lens.focal,
            -(pixel.y + spread * up - self.lens.middle.1) / self.lens.focal,
        ];
        let off = Camera {
            right: ray[0] * away - hand.right,
            up: ray[1] * away - hand.up - self.ground + raised,
            away: away - hand.away,
        };
        Some(axes.to_court(off))
    }
}
