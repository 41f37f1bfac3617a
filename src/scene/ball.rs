//! The ball in space at contact: its place in the picture, at the depth at which the strings meet it.

use rand::Rng;
use rand_distr::StandardNormal;

use super::court::{Axes, CourtMotion};
use super::{CourtRacket, Recast, Space, Stand, Sway};
use crate::ball::Flight;
use crate::geometry::{Camera, Court, Point2};
use crate::pose::Joint;
use crate::racket::MIDDLE;
use crate::units::Seconds;

/// Where no racket tells it, the ball is met so much farther from the body's side than the hand, metres, with that spread.
const OUTSIDE: f64 = 0.35;
const OUTSIDE_SPREAD: f64 = 0.2;

/// The ball meets the strings within this of their middle, metres; what it seems to be farther off, one of both was seen wrongly: so
/// much of that is the ball's share (1 standard deviation), from rendered players.
const OFF_CENTRE: f64 = 0.05;
const SHARE_OF_GAP: f64 = 0.5;

/// The ball of one stroke.
#[derive(Debug, Clone, PartialEq)]
pub struct CourtBall {
    flight: Flight,
    stand: Stand,
    sway: Sway,
    axes: Axes,
    /// Height of the motion's ground in the camera's frame, metres.
    ground: f64,
    /// Which side of the body it is met on: 1 the hitting arm's, −1 the other, 0 above.
    side: f64,
    /// What it may be off by where it was not seen on the strings (1 standard deviation), metres.
    doubt: f64,
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
    /// The ball that was seen to fly around the contact of a stroke, whose `motion` was taken from `space`, and whose `racket` is at
    /// the ball at `time`. `side` is that of the body on which the ball is met: 1 the hitting arm's, −1 the other, 0 neither.
    pub fn new(
        flight: &Flight,
        space: &Space,
        motion: &CourtMotion,
        side: f64,
        (racket, time): (Option<&CourtRacket>, Seconds),
    ) -> Self {
        let axes = Axes::new(motion.direction.angle, motion.hand);
        let mut ball = Self {
            flight: flight.clone(),
            stand: space.stand,
            sway: space.sway.clone(),
            axes,
            ground: motion.ground,
            side,
            doubt: 0.0,
        };
        let gap = racket.and_then(|racket| {
            let strings = racket.point(motion, MIDDLE, time)? - motion.hand_at(time)?;
            Some((ball.from_hand(motion, Some(racket), time)? - strings).norm())
        });
        ball.doubt = SHARE_OF_GAP * (gap.unwrap_or(0.0) - OFF_CENTRE).max(0.0);
        ball
    }

    /// The ball from the hitting hand at contact, metres, in the court's frame: as far from the lens as the middle of the strings
    /// of `racket`, or as a usual one. `motion` is the motion as it was seen.
    pub fn from_hand(
        &self,
        motion: &CourtMotion,
        racket: Option<&CourtRacket>,
        time: Seconds,
    ) -> Option<Court> {
        let hand = self.in_camera(motion.hand_at(time)?);
        self.met(motion, racket, time, BallError::default(), self.axes, &self.stand, hand)
    }

    /// The same as it would be with errors: `recast` has the camera as it was drawn, `drawn` the player's motion with it, with which
    /// `racket` was seen, `hand_off` what the hand was drawn to be off by at that time.
    pub fn drawn(
        &self,
        (motion, drawn): (&CourtMotion, &CourtMotion),
        recast: &Recast,
        racket: Option<&CourtRacket>,
        (time, hand_off): (Seconds, Camera),
        error: BallError,
    ) -> Option<Court> {
        let hips = self.in_camera(motion.middle(Joint::Hip, time)?);
        let seen = recast.from().body(hips)?;
        let hand = recast.body(&seen).point(&seen.point(self.in_camera(motion.hand_at(time)?))) + hand_off;
        let axes = Axes::new(drawn.direction.angle, drawn.hand);
        self.met(drawn, racket, time, error, axes, recast.to().stand(), hand)
    }

    fn in_camera(&self, point: Court) -> Camera {
        let level = self.axes.to_camera(point);
        Camera { up: level.up + self.ground, ..level }
    }

    #[expect(clippy::too_many_arguments, reason = "a camera, a player and what they are off by")]
    fn met(
        &self,
        motion: &CourtMotion,
        racket: Option<&CourtRacket>,
        time: Seconds,
        BallError([right, down, depth]): BallError,
        axes: Axes,
        stand: &Stand,
        hand: Camera,
    ) -> Option<Court> {
        let (pixel, spread) = self.flight.at(time)?;
        let told =
            racket.and_then(|racket| Some(racket.point(motion, MIDDLE, time)? - motion.hand_at(time)?));
        let usual = Court::new(0.0, OUTSIDE * self.side + OUTSIDE_SPREAD * depth, 0.0);
        let strings = hand + axes.to_camera(told.unwrap_or(usual));
        let spread = spread.hypot(self.doubt * stand.lens.focal / strings.norm());
        let moved = self.sway.at(time);
        let pixel = Point2::new(pixel.x - moved.x + spread * right, pixel.y - moved.y + spread * down);
        let ray = stand.ray(pixel);
        // The plane through the strings' middle, square to the line of sight to it.
        let ball = ray * (strings.dot(strings) / strings.dot(ray));
        Some(axes.to_court(ball - hand))
    }
}

#[cfg(test)]
mod tests {
    use super::super::racket::tests::{Arm, CONTACT, outward, sweeping};
    use super::*;

    #[test]
    fn a_ball_that_was_not_seen_on_the_strings_is_less_sure() {
        let shown = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
        let racket = shown.racket();
        let strings = shown.seen.rackets[36].unwrap().middle.at;
        let doubt = |off: f64| {
            let flight = Flight::hanging(Point2::new(strings.x + off, strings.y), CONTACT);
            let met = (Some(&racket), CONTACT);
            CourtBall::new(&flight, &shown.space, &shown.court, 1.0, met).doubt
        };
        // About 220 pixels are a metre there.
        assert_eq!(doubt(0.0), 0.0);
        assert!((0.02..0.08).contains(&doubt(30.0)), "{}", doubt(30.0));
        assert!(doubt(60.0) > doubt(30.0) + 0.04, "{}", doubt(60.0));
    }
}
