//! Finding the swings of a clip, the hand that makes them and the way to the net; each of the three says something about
//! the others.

use crate::geometry::{Camera, wrapped};
use crate::order::median;
use crate::pose::{Joint, Side};
use crate::recogniser::Event;
use crate::scene::direction::{self, Signs, Stated, Swing};
use crate::scene::{Bearings, BodyPrior, Direction, Space};
use crate::units::{Degrees, Seconds};

/// Slowest peak of the hitting hand's speed toward the net that counts as a swing, metres per second relative to the
/// hips. Recorded club players' slowest ground strokes peak at 4 m/s; arms swing at 2 m/s in running.
const SLOWEST_SWING: f64 = 2.6;

/// A swing's peak is at least this share of the clip's usual peak: what is slower is a recovery or a bounce of the ball.
const SHARE_OF_USUAL: f64 = 0.55;

/// Two strokes of one player are at least this far apart, peak to peak.
const CLOSEST_STROKES: Seconds = Seconds(0.95);

/// A stroke carries the hand at least this far toward the net, relative to the hips, within `AROUND` of its peak,
/// metres; what moves the hand any other way is no stroke.
const LEAST_TRAVEL: f64 = 0.35;
const AROUND: Seconds = Seconds(0.25);

/// Hands travel this far toward the net in any movement, metres.
const INCIDENTAL_TRAVEL: f64 = 0.35;

/// What a metre of the hand's travel toward the net is worth against the evidence for a direction (log likelihood).
const WORTH: f64 = 3.0;

/// In a rally nobody waits facing the net; the hand's travel alone tells its direction no better than this, degrees (its
/// depth is the model's guess, which draws it toward the picture's plane).
const TRAVEL_ALONE: f64 = 18.0;

/// Two readings that see the net within this angle mean the same camera, degrees.
const SAME_WAY: f64 = 45.0;

/// Both hands' peaks in one swing are no farther apart than this.
const SAME_SWING: Seconds = Seconds(0.12);

/// How long before the speed's peak the backswing ends, about.
const BACKSWING: Seconds = Seconds(0.3);

/// How often direction and swings are worked out from each other.
const ROUNDS: usize = 3;

/// The hitting hand and how it was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hitting {
    /// The hand.
    pub hand: Side,
    /// Whether both hands swing alike, as in two-handed strokes, so that the hand is an assumption.
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
    /// What was recognised in each swing, in their order; empty where nobody has looked.
    pub events: Vec<Event>,
    /// Logarithm of what everything but the court's lines says of each whole degree from −180 as the direction to the net.
    pub player: Vec<f64>,
}

/// Finds the swings of a clip; `None` where there are none.
///
/// Strokes are where they were recognised. All are of the hand (or the given one) that most speaks for, and the net is where, of
/// eight directions at first, the swings carry that hand farthest, as well as that can be seen. Where nobody has looked for
/// strokes (`events` is `None`), the hand's way to the net alone tells them and the hand.
/// `lines` are the directions to the net that the court's lines allow.
pub fn find(
    space: &Space,
    body: &BodyPrior,
    hand: Option<Side>,
    stated: Stated,
    lines: Option<&Bearings>,
    events: Option<&[Event]>,
) -> Option<Found> {
    let signs = Signs { waiting: direction::facing_while_waiting(space, body), stated, lines };
    match events {
        Some(events) => recognised(space, &signs, hand, events),
        None => by_travel(space, &signs, hand),
    }
}

/// The directions in which the net is looked for at first.
fn starts() -> impl Iterator<Item = Degrees> {
    (0..8).map(|eighth| Degrees(45.0 * f64::from(eighth) - 135.0))
}

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

/// Swings that were recognised, by the hand that they speak for, with the net where they carry that hand.
fn recognised(space: &Space, signs: &Signs<'_>, stated: Option<Side>, events: &[Event]) -> Option<Found> {
    if events.is_empty() {
        return None;
    }
    let says =
        |hand: Side| events.iter().map(|event| event.chance_of(hand).max(LEAST_CHANCE).ln()).sum::<f64>();
    let share = WORTH_OF_STROKES.min(events.len() as f64) / events.len() as f64;
    let for_right = share * (says(Side::Right) - says(Side::Left)) + RIGHT_HANDERS;
    let hand = stated.unwrap_or(if for_right >= 0.0 { Side::Right } else { Side::Left });
    let swings: Vec<Swing> =
        events.iter().map(|event| Swing { peak: fastest_moment(space, hand, event), hand }).collect();
    let readings: Vec<Reading> =
        starts().filter_map(|start| Reading::of(space, signs, hand, &swings, start)).collect();
    let best = readings.iter().max_by(|a, b| a.score.total_cmp(&b.score))?.clone();
    let assumed = stated.is_none() && for_right.abs() < CLEAR_HAND;
    Some(Found { events: events.to_vec(), ..best.found(signs, readings.iter(), assumed) })
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

/// Each hand (or the given one) is tried with the net in each direction; the reading whose swings carry the hand farthest toward the
/// net, as well as that can be seen, is the true one.
fn by_travel(space: &Space, signs: &Signs<'_>, hand: Option<Side>) -> Option<Found> {
    let hands = hand.map_or(vec![Side::Right, Side::Left], |hand| vec![hand]);
    let tried: Vec<Vec<Reading>> = hands
        .into_iter()
        .map(|hand| {
            let velocity = velocities(space, hand);
            starts().filter_map(|start| Reading::new(space, signs, hand, &velocity, start)).collect()
        })
        .collect();
    let best = |of_hand: &Vec<Reading>| of_hand.iter().max_by(|a, b| a.score.total_cmp(&b.score)).cloned();
    let mut readings: Vec<Reading> = tried.iter().filter_map(best).collect();
    // With both hands on the racket the speeds can't tell; but then it is a backhand, and the shoulder of the hitting hand
    // is the one nearer the net in the backswing.
    let together = match readings.as_slice() {
        [right, left] => {
            wrapped(right.direction.angle.0 - left.direction.angle.0).abs() < SAME_WAY
                && [right, left].iter().all(|r| wrists_together(space, &r.swings))
                && alike(right, left)
        }
        _ => false,
    };
    if let [right, left] = readings.as_slice() {
        let swap = if together { right_shoulder_lead(space, right) < 0.0 } else { left.score > right.score };
        if swap {
            readings.swap(0, 1);
        }
    }
    let chosen = readings.into_iter().next()?;
    Some(chosen.found(signs, tried.iter().flatten(), together))
}

/// What the likeliest other reading, which sees the net elsewhere, adds to the direction's spread, degrees.
fn doubt<'a>(chosen: &Reading, all: impl Iterator<Item = &'a Reading>) -> f64 {
    all.filter_map(|other| {
        let turn = wrapped(other.direction.angle.0 - chosen.direction.angle.0).abs();
        let odds = (other.score - chosen.score).min(0.0).exp();
        (turn > SAME_WAY).then(|| turn.min(90.0) * (odds / (1.0 + odds)).sqrt())
    })
    .fold(0.0, f64::max)
}

/// Direction and swings on the assumption that one hand hits.
#[derive(Debug, Clone)]
struct Reading {
    hand: Side,
    direction: Direction,
    swings: Vec<Swing>,
    player: Vec<f64>,
    score: f64,
}

impl Reading {
    /// Works out direction and swings from each other, beginning with the net at `start`.
    fn new(
        space: &Space,
        signs: &Signs<'_>,
        hand: Side,
        velocity: &[Option<Camera>],
        start: Degrees,
    ) -> Option<Self> {
        let mut direction = Direction::at(start);
        let mut swings = Vec::new();
        let mut evidence = 0.0;
        let mut player = Vec::new();
        for _ in 0..ROUNDS {
            let net = toward_net(&direction);
            let forward: Vec<Option<f64>> = velocity.iter().map(|v| v.map(|v| v.dot(net))).collect();
            let real = |i: usize| travel(space, hand, net, space.times[i]).is_some_and(|d| d > LEAST_TRAVEL);
            let found = self::swings(space, hand, &forward, real);
            if found.is_empty() {
                return None;
            }
            let settled = found == swings;
            swings = found;
            let weighed = direction::estimate(space, signs, &swings, start)?;
            (direction, evidence, player) = (weighed.direction, weighed.evidence, weighed.player);
            if settled {
                break;
            }
        }
        let score = WORTH * swings.iter().map(|s| worth(space, &direction, s)).sum::<f64>() + evidence;
        Some(Self { hand, direction, swings, player, score })
    }
}

impl Reading {
    /// Works out the direction from known swings, beginning with the net at `start`.
    fn of(space: &Space, signs: &Signs<'_>, hand: Side, swings: &[Swing], start: Degrees) -> Option<Self> {
        let direction::Weighed { direction, evidence, player } =
            direction::estimate(space, signs, swings, start)?;
        let worth: f64 = swings.iter().map(|swing| worth(space, &direction, swing)).sum();
        Some(Self { hand, direction, swings: swings.to_vec(), player, score: WORTH * worth + evidence })
    }

    /// What follows if this reading is chosen among all.
    fn found<'a>(self, signs: &Signs<'_>, all: impl Iterator<Item = &'a Self>, assumed: bool) -> Found {
        let unanchored = if signs.waiting.is_empty() && signs.lines.is_none() { TRAVEL_ALONE } else { 0.0 };
        let spread = self.direction.spread.0.hypot(unanchored).hypot(doubt(&self, all));
        let stated = signs.stated.spread().map_or(f64::INFINITY, |spread| spread.0);
        let direction = Direction { spread: Degrees(spread.min(stated)), ..self.direction };
        let hitting = Hitting { hand: self.hand, assumed };
        Found { hitting, direction, swings: self.swings, events: Vec::new(), player: self.player }
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
    let seen = in_picture * space.visibility[at][Joint::Wrist.on(swing.hand) as usize];
    let (own, other) =
        (fastest(space, swing.hand, swing.peak), fastest(space, swing.hand.other(), swing.peak));
    let faster = 2.0 * own / (own + other).max(1e-6);
    let travel = travel(space, swing.hand, toward_net(direction), swing.peak).unwrap_or(0.0);
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

/// How far the hand gets toward the net around a time, relative to the hips, metres.
fn travel(space: &Space, hand: Side, net: Camera, time: Seconds) -> Option<f64> {
    let middle = frame_at(space, time);
    let along = |i: usize| space.hand(i, hand).map(|p| p.dot(net));
    let back = (frame_at(space, time - AROUND)..=middle).filter_map(along).min_by(f64::total_cmp)?;
    let ahead = (middle..=frame_at(space, time + AROUND)).filter_map(along).max_by(f64::total_cmp)?;
    Some(ahead - back)
}

/// Velocity of a hand relative to the hips in each picture, metres per second, by central differences.
fn velocities(space: &Space, hand: Side) -> Vec<Option<Camera>> {
    let places: Vec<_> = (0..space.times.len()).map(|i| space.hand(i, hand)).collect();
    (0..places.len())
        .map(|i| {
            let (a, b) = (i.checked_sub(1)?, i + 1);
            let step = (*space.times.get(b)? - space.times[a]).0;
            (step > 0.0 && step < 0.3).then_some((places[b]? - places[a]?) / step)
        })
        .collect()
}

/// Whether the wrists are close together at most peaks.
fn wrists_together(space: &Space, swings: &[Swing]) -> bool {
    let close = swings
        .iter()
        .filter(|swing| {
            let i = frame_at(space, swing.peak);
            let wrists =
                space.at(i, Joint::Wrist.on(Side::Left)).zip(space.at(i, Joint::Wrist.on(Side::Right)));
            wrists.is_some_and(|(l, r)| (l - r).norm() < 0.18 * space.stature.0)
        })
        .count();
    2 * close > swings.len()
}

/// Whether most swings of one reading have a twin in the other.
fn alike(a: &Reading, b: &Reading) -> bool {
    let twin = |s: &&Swing| b.swings.iter().any(|t| (t.peak - s.peak).abs() < SAME_SWING);
    2 * a.swings.iter().filter(twin).count() > a.swings.len().max(b.swings.len())
}

/// How much nearer the net the right shoulder is than the left one in the backswings of a reading, metres.
fn right_shoulder_lead(space: &Space, reading: &Reading) -> f64 {
    let net = toward_net(&reading.direction);
    let leads = reading.swings.iter().filter_map(|swing| {
        let i = frame_at(space, swing.peak - BACKSWING);
        let shoulder = |side| space.at(i, Joint::Shoulder.on(side));
        Some((shoulder(Side::Right)? - shoulder(Side::Left)?).dot(net))
    });
    median(leads).unwrap_or(0.0)
}

/// Peaks of a speed, in order of time: fast enough, `real`, far enough apart, the fastest first served.
fn swings(space: &Space, hand: Side, speed: &[Option<f64>], real: impl Fn(usize) -> bool) -> Vec<Swing> {
    let mut maxima: Vec<(usize, f64)> = (1..speed.len().saturating_sub(1))
        .filter_map(|i| {
            let value = speed[i]?;
            let before = speed[i - 1].unwrap_or(0.0);
            let after = speed[i + 1].unwrap_or(0.0);
            (value >= before && value > after && value >= SLOWEST_SWING).then_some((i, value))
        })
        .filter(|(i, _)| real(*i))
        .collect();
    maxima.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut chosen: Vec<(usize, f64)> = Vec::new();
    for (i, value) in maxima {
        if chosen.iter().all(|(j, _)| (space.times[i] - space.times[*j]).abs() >= CLOSEST_STROKES) {
            chosen.push((i, value));
        }
    }
    // The usual peak is the median of the upper half, which neither a slip of the model nor slow extras shift much.
    let usual = median(chosen.iter().take(chosen.len().div_ceil(2)).map(|c| c.1)).unwrap_or(0.0);
    chosen.retain(|(_, value)| *value >= SHARE_OF_USUAL * usual);
    chosen.sort_by_key(|c| c.0);
    chosen.into_iter().map(|(i, _)| Swing { peak: space.times[i], hand }).collect()
}
