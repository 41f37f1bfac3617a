//! The swings of a clip's strokes, the hand that makes them and the way to the net; each of the three says something about
//! the others.

use crate::geometry::{Camera, wrapped};
use crate::pose::{Joint, Side};
use crate::recogniser::Event;
use crate::scene::direction::{self, Signs, Stated, Swing};
use crate::scene::{Bearings, BodyPrior, Direction, Space};
use crate::units::{Degrees, Seconds};

/// The hand's travel toward the net is read within this time of its fastest moment, seconds of life.
const AROUND: f64 = 0.25;

/// Hands travel this far toward the net in any movement, metres.
const INCIDENTAL_TRAVEL: f64 = 0.35;

/// What a metre of the hand's travel toward the net is worth against the evidence for a direction (log likelihood).
const WORTH: f64 = 3.0;

/// In a rally nobody waits facing the net; the hand's travel alone tells its direction no better than this, degrees (its
/// depth is the model's guess, which draws it toward the picture's plane).
const TRAVEL_ALONE: f64 = 18.0;

/// Two readings that see the net within this angle mean the same camera, degrees.
const SAME_WAY: f64 = 45.0;

/// Logarithm of how many right-handers there are to a left-hander.
const RIGHT_HANDERS: f64 = 1.73;

/// Strokes of one clip are misread alike: together they say of the hand no more than so many.
const WORTH_OF_STROKES: f64 = 3.0;

/// The hand is an assumption where it is surer than the other by less than this (logarithm of odds).
const CLEAR_HAND: f64 = 1.0;

/// The least chance that a stroke gives a hand: single ones are misread.
const LEAST_CHANCE: f64 = 0.03;

/// How much later than the hand's fastest moment contact is, and how far from that the moment is looked for, seconds of life.
const AFTER_FASTEST: f64 = 0.03;
const FASTEST_REACH: f64 = 0.09;

/// The hitting hand and how it was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hitting {
    /// The hand.
    pub hand: Side,
    /// Whether the strokes speak for the other hand nearly as much, so that the hand is an assumption.
    pub assumed: bool,
}

/// The swings of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The hitting hand.
    pub hitting: Hitting,
    /// Where the net is.
    pub direction: Direction,
    /// The swings in order of time.
    pub swings: Vec<Swing>,
    /// Logarithm of what everything but the court's lines says of each whole degree from −180 as the direction to the net.
    pub player: Vec<f64>,
}

/// Finds the swings of a clip's recognised strokes, in their order; `None` where there are no strokes.
///
/// All are of the hand (or the given one) that most speaks for, and the net is where, of eight directions at first, the swings carry
/// that hand farthest, as well as that can be seen. `lines` are the directions to the net that the court's lines allow.
pub fn find(
    space: &Space,
    body: &BodyPrior,
    hand: Option<Side>,
    stated: Stated,
    lines: Option<&Bearings>,
    events: &[Event],
) -> Option<Found> {
    if events.is_empty() {
        return None;
    }
    let signs = Signs { waiting: direction::facing_while_waiting(space, body), stated, lines };
    let hitting = hitting(hand, events);
    let hand = hitting.hand;
    let swing = |event: &Event| Swing { peak: fastest_moment(space, hand, event), hand, pace: event.pace };
    let swings: Vec<Swing> = events.iter().map(swing).collect();
    let readings: Vec<Reading> = starts().map(|start| Reading::of(space, &signs, &swings, start)).collect();
    let best = readings.iter().max_by(|a, b| a.score.total_cmp(&b.score))?;
    Some(Found { hitting, direction: best.direction(&signs, &readings), swings, player: best.player.clone() })
}

/// The directions in which the net is looked for at first.
fn starts() -> impl Iterator<Item = Degrees> {
    (0..8).map(|eighth| Degrees(45.0 * f64::from(eighth) - 135.0))
}

/// The hand that most speaks for, or the stated one.
fn hitting(stated: Option<Side>, events: &[Event]) -> Hitting {
    let says =
        |hand: Side| events.iter().map(|event| event.chance_of(hand).max(LEAST_CHANCE).ln()).sum::<f64>();
    let share = WORTH_OF_STROKES.min(events.len() as f64) / events.len() as f64;
    let for_right = share * (says(Side::Right) - says(Side::Left)) + RIGHT_HANDERS;
    let hand = stated.unwrap_or(if for_right >= 0.0 { Side::Right } else { Side::Left });
    Hitting { hand, assumed: stated.is_none() && for_right.abs() < CLEAR_HAND }
}

/// When the hand is fastest right before a recognised contact.
fn fastest_moment(space: &Space, hand: Side, event: &Event) -> Seconds {
    let middle = event.contact.time - Seconds(AFTER_FASTEST * event.pace);
    let reach = Seconds(FASTEST_REACH * event.pace);
    let speed = |i: usize| {
        let (a, b) = (i.checked_sub(1)?, i + 1);
        let step = (*space.times.get(b)? - space.times[a]).0;
        Some((i, (space.hand(b, hand)? - space.hand(a, hand)?).norm() / step))
    };
    let fastest = (frame_at(space, middle - reach)..=frame_at(space, middle + reach))
        .filter_map(speed)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    fastest.map_or(middle, |(i, _)| space.times[i])
}

/// What the likeliest other reading, which sees the net elsewhere, adds to the direction's spread, degrees.
fn doubt(chosen: &Reading, all: &[Reading]) -> f64 {
    all.iter()
        .filter_map(|other| {
            let turn = wrapped(other.direction.angle.0 - chosen.direction.angle.0).abs();
            let odds = (other.score - chosen.score).min(0.0).exp();
            (turn > SAME_WAY).then(|| turn.min(90.0) * (odds / (1.0 + odds)).sqrt())
        })
        .fold(0.0, f64::max)
}

/// A direction worked out from the swings.
#[derive(Debug, Clone)]
struct Reading {
    direction: Direction,
    player: Vec<f64>,
    score: f64,
}

impl Reading {
    /// Works out the direction, beginning with the net at `start`.
    fn of(space: &Space, signs: &Signs<'_>, swings: &[Swing], start: Degrees) -> Self {
        let direction::Weighed { direction, evidence, player } =
            direction::estimate(space, signs, swings, start);
        let worth: f64 = swings.iter().map(|swing| worth(space, &direction, swing)).sum();
        Self { direction, player, score: WORTH * worth + evidence }
    }

    /// The direction if this reading is chosen among all.
    fn direction(&self, signs: &Signs<'_>, all: &[Self]) -> Direction {
        let unanchored = if signs.waiting.is_empty() && signs.lines.is_none() { TRAVEL_ALONE } else { 0.0 };
        let spread = self.direction.spread.0.hypot(unanchored).hypot(doubt(self, all));
        let stated = signs.stated.spread().map_or(f64::INFINITY, |spread| spread.0);
        Direction { spread: Degrees(spread.min(stated)), ..self.direction }
    }
}

/// The horizontal unit vector toward the net.
fn toward_net(direction: &Direction) -> Camera {
    let (sin, cos) = direction.angle.radians().sin_cos();
    Camera::new(cos, 0.0, sin)
}

/// How much a swing looks like a stroke of its hand: how far it carries the hand to the net, by how well that was seen and
/// how much faster it is than the other hand. Travel along the lens is the model's guess and counts half.
fn worth(space: &Space, direction: &Direction, swing: &Swing) -> f64 {
    let at = frame_at(space, swing.peak);
    let in_picture = 0.5 + 0.5 * direction.angle.radians().cos().abs();
    let seen = in_picture * f64::from(space.visibility[at][Joint::Wrist.on(swing.hand) as usize]);
    let (own, other) =
        (fastest(space, swing.hand, swing.peak), fastest(space, swing.hand.other(), swing.peak));
    let faster = 2.0 * own / (own + other).max(1e-6);
    let travel = travel(space, swing, toward_net(direction)).unwrap_or(0.0);
    (travel - INCIDENTAL_TRAVEL) * seen * faster
}

fn frame_at(space: &Space, time: Seconds) -> usize {
    space.times.partition_point(|t| *t < time).min(space.times.len().saturating_sub(1))
}

/// Fastest speed of a hand relative to the hips within a tenth of a second of a time, metres per second.
fn fastest(space: &Space, hand: Side, time: Seconds) -> f64 {
    const NEAR: Seconds = Seconds(0.1);
    (frame_at(space, time - NEAR)..frame_at(space, time + NEAR))
        .filter_map(|i| {
            let step = (*space.times.get(i + 1)? - space.times[i]).0;
            Some((space.hand(i + 1, hand)? - space.hand(i, hand)?).norm() / step)
        })
        .fold(0.0, f64::max)
}

/// How far a swing gets the hand toward the net, relative to the hips, metres.
fn travel(space: &Space, swing: &Swing, net: Camera) -> Option<f64> {
    let Swing { peak: time, hand, pace } = *swing;
    let around = Seconds(AROUND * pace);
    let middle = frame_at(space, time);
    let along = |i: usize| space.hand(i, hand).map(|p| p.dot(net));
    let back = (frame_at(space, time - around)..=middle).filter_map(along).min_by(f64::total_cmp)?;
    let ahead = (middle..=frame_at(space, time + around)).filter_map(along).max_by(f64::total_cmp)?;
    Some(ahead - back)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stroke::slow::tests::swing;
    use crate::units::Reading as Timed;

    fn forehand() -> Event {
        Event {
            odds: 3.0,
            chances: [[0.8, 0.1, 0.0], [0.05, 0.05, 0.0]],
            volley: 0.0,
            both: 0.0,
            contact: Timed { time: Seconds(1.53), spread: Seconds(0.02) },
            pace: 1.0,
        }
    }

    fn found(space: &Space) -> Found {
        find(space, &BodyPrior::default(), None, Stated::default(), None, &[forehand()]).unwrap()
    }

    #[test]
    fn the_net_is_where_the_swing_carries_the_hand() {
        let found = found(&swing(0.35));
        assert_eq!(found.hitting, Hitting { hand: Side::Right, assumed: false });
        assert!(found.direction.angle.0.abs() < 10.0, "{:?}", found.direction);
    }

    #[test]
    fn a_recognised_stroke_stays_one_where_nothing_tells_the_net() {
        let mut hidden = swing(0.35);
        for i in 0..hidden.points.len() {
            hidden.points.set(i, Joint::Wrist.on(Side::Right) as usize, None);
        }
        let found = found(&hidden);
        assert_eq!(found.swings.len(), 1);
        assert!(found.direction.spread.0 > 50.0, "{:?}", found.direction);
    }

    #[test]
    fn a_hand_that_is_hidden_as_the_swing_begins_still_points_to_the_net() {
        let mut hidden = swing(0.35);
        for i in 0..hidden.times.partition_point(|time| time.0 < 1.45) {
            hidden.points.set(i, Joint::Wrist.on(Side::Right) as usize, None);
        }
        assert!(found(&hidden).direction.angle.0.abs() < 15.0, "{:?}", found(&hidden).direction);
    }
}
