//! The path through a stroke that a racket can take, among all places where it may be in each picture.
//!
//! Every place has the network's chance, every picture the chance that the racket wasn't seen. A path is the likelier the
//! nearer the grip is to the hand, the less the racket is longer than it can be, and the more evenly it turns. The likeliest
//! path is found by dynamic programming over pairs of neighbouring pictures; how sure it is in each picture follows from
//! all paths together (forward and backward sums).

use super::motion::{MIDDLE, Racket, RacketMotion, RacketPoint, Tip, racket_length};
use super::sight::{Sight, Sightings};
use crate::geometry::Point2;
use crate::pose::{Joint, Motion, Side};
use crate::units::Seconds;

/// Speaks against a picture without the racket, in logarithms of chance: about one picture in ten.
const UNSEEN: f64 = 2.3;

/// Speaks against its vanishing or coming back from one picture to the next.
const VANISHING: f64 = 0.7;

/// No evidence of one kind speaks more against a place than this: each may be misled.
const MOST: f64 = 8.0;

/// Distance from wrist to grip (1 standard deviation), in racket lengths: a fist, and the wrist's own error.
const GRIP: f64 = 0.2;

/// A racket looks no longer than this, in lengths expected by the body's size: the arm reaches toward the camera; and the
/// spread of that.
const LONGEST: f64 = 1.15;
const LONGER: f64 = 0.1;

/// The racket's axis changes by so much between pictures (1 standard deviation): by what places are off, in lengths, and by
/// its turning, lengths a second.
const SLIP: f64 = 0.15;
const TURNING: f64 = 30.0;

/// And its change changes by so much: in lengths, and lengths a second squared.
const SHAKE: f64 = 0.07;
const SPEEDING_UP: f64 = 500.0;

/// Below this chance the racket counts as not seen.
const LEAST: f64 = 0.2;

/// So many pictures in a row are bridged where it was not seen.
const BRIDGED: usize = 2;

/// Over a bridge the racket turns by less than this, radians; what lies between is anybody's guess otherwise.
const BRIDGED_TURN: f64 = 1.4;

/// A bridged place is this much less sure than its neighbours.
const BRIDGED_SHARE: f64 = 0.5;

/// A picture with the places where the racket may be.
#[derive(Debug, Clone)]
struct Choice {
    time: Seconds,
    wrist: Option<Point2>,
    /// Length of a racket there, pixels.
    length: f64,
    sights: Vec<Sight>,
    /// A person has said where the tip is, and there is one place.
    marked: bool,
}

/// The racket's path from `span.0` to `span.1` around a hand, among what was seen. What a person said of the tip stands
/// against everything else. Nothing is bridged over more than two pictures or across `contact`.
pub fn trace(
    motion: &Motion,
    sightings: &Sightings,
    hand: Side,
    span: (Seconds, Seconds),
    contact: Seconds,
    tips: &[Tip],
) -> RacketMotion {
    let from = motion.times.partition_point(|t| *t < span.0);
    let to = motion.times.partition_point(|t| *t <= span.1);
    let mut found = RacketMotion::default();
    let mut choices = Vec::new();
    for place in from..to.max(from) {
        let frame = motion.indices[place];
        let marked = tips.iter().rev().find(|tip| tip.frame == frame);
        let seen = sightings.at(hand, frame);
        if seen.is_none() && marked.is_none() {
            continue;
        }
        let Some(length) = racket_length(motion, place) else { continue };
        let wrist = motion.point(place, Joint::Wrist.on(hand)).map(|p| p.at);
        let mut sights = seen.unwrap_or_default().to_vec();
        if let Some(tip) = marked {
            sights = with_tip(&sights, tip.at, wrist).into_iter().collect();
        }
        let marked = marked.is_some() && !sights.is_empty();
        choices.push(Choice { time: motion.times[place], wrist, length, sights, marked });
        found.indices.push(frame);
        found.times.push(motion.times[place]);
    }
    found.rackets = best(&choices, contact)
        .into_iter()
        .zip(&choices)
        .map(|(chosen, choice)| {
            let (i, chance) = chosen?;
            Some(racket(choice.sights.get(i)?, if choice.marked { 1.0 } else { chance }, choice.marked))
        })
        .collect();
    bridge(&mut found, contact);
    with_those_between(found, motion, contact)
}

/// The racket whose tip a person has seen at `tip`: its other end is where it was seen with a tip nearby, or the hand.
fn with_tip(sights: &[Sight], tip: Point2, wrist: Option<Point2>) -> Option<Sight> {
    let near = sights.iter().min_by(|a, b| a.tip.distance(tip).total_cmp(&b.tip.distance(tip)));
    let near = near.filter(|sight| sight.tip.distance(tip) < 0.5 * sight.length());
    let butt = near.map(|sight| sight.butt).or(wrist)?;
    const THROAT: f64 = 0.45;
    let between = |share: f64| butt.lerp(tip, share);
    Some(Sight {
        butt,
        throat: between(THROAT),
        middle: between(MIDDLE),
        tip,
        score: 0.0,
        confidence: 1.0,
        seen: [1.0; 4],
    })
}

fn racket(sight: &Sight, chance: f64, marked: bool) -> Racket {
    let point = |at: Point2, seen: f64| RacketPoint { at, confidence: (chance * seen).clamp(0.0, 1.0) };
    Racket {
        butt: point(sight.butt, sight.seen[0]),
        throat: point(sight.throat, sight.seen[1]),
        middle: point(sight.middle, sight.seen[2]),
        tip: point(sight.tip, sight.seen[3]),
        bridged: false,
        marked,
    }
}

impl Choice {
    /// What speaks against each place, and last against that the racket was not seen.
    fn against(&self) -> Vec<f64> {
        let mut against: Vec<f64> = self
            .sights
            .iter()
            .map(|sight| {
                let unsure = -sight.confidence.clamp(0.01, 0.99).ln();
                let grip = self.wrist.map_or(0.0, |wrist| sight.butt.distance(wrist) / (GRIP * self.length));
                let long = (sight.length() / self.length - LONGEST).max(0.0) / LONGER;
                unsure + capped(0.5 * grip * grip) * 0.5 + capped(0.5 * long * long)
            })
            .collect();
        against.push(if self.marked { 100.0 } else { UNSEEN });
        against
    }

    /// The racket's axis in lengths.
    fn axis(&self, place: usize) -> Option<[f64; 2]> {
        let sight = self.sights.get(place)?;
        Some([(sight.tip.x - sight.butt.x) / self.length, (sight.tip.y - sight.butt.y) / self.length])
    }
}

fn capped(value: f64) -> f64 {
    value.min(MOST)
}

/// What speaks against two places following each other.
fn step(a: &Choice, i: usize, b: &Choice, j: usize) -> f64 {
    match (a.axis(i), b.axis(j)) {
        (Some(p), Some(q)) => {
            let spread = SLIP + TURNING * (b.time - a.time).0;
            let off = (q[0] - p[0]).hypot(q[1] - p[1]) / spread;
            capped(0.5 * off * off)
        }
        (None, None) => 0.0,
        _ => VANISHING,
    }
}

/// What speaks against three places following each other, beyond that.
fn bend([a, b, c]: [&Choice; 3], [i, j, k]: [usize; 3], contact: Seconds) -> f64 {
    // Impact stops and turns it.
    if a.time < contact && c.time > contact {
        return 0.0;
    }
    let (Some(p), Some(q), Some(r)) = (a.axis(i), b.axis(j), c.axis(k)) else { return 0.0 };
    let (first, second) = ((b.time - a.time).0, (c.time - b.time).0);
    let ahead = |axis: usize| q[axis] + (q[axis] - p[axis]) * second / first.max(1e-6);
    let spread = SHAKE + SPEEDING_UP * first * second;
    let off = (r[0] - ahead(0)).hypot(r[1] - ahead(1)) / spread;
    capped(0.5 * off * off)
}

/// The likeliest path: for each picture the place that was chosen and the chance of it; `None` where the racket was not seen.
fn best(choices: &[Choice], contact: Seconds) -> Vec<Option<(usize, f64)>> {
    let against: Vec<Vec<f64>> = choices.iter().map(Choice::against).collect();
    let n = choices.len();
    if n < 2 {
        return against
            .iter()
            .map(|costs| {
                let total = sum_of(costs.iter().copied());
                let place = smallest(costs)?;
                (place + 1 < costs.len()).then(|| (place, (total - costs[place]).exp()))
            })
            .collect();
    }
    // Pairs of places in pictures t − 1 and t, at [i · places + j].
    let places = |t: usize| against[t].len();
    let step_at = |t: usize, i: usize, j: usize| step(&choices[t - 1], i, &choices[t], j) + against[t][j];
    let bend_at = |t: usize, i: usize, j: usize, k: usize| {
        bend([&choices[t - 2], &choices[t - 1], &choices[t]], [i, j, k], contact)
    };
    let first = |sum: fn(&[f64]) -> f64, pairs: &mut Vec<Vec<f64>>| {
        let start = (0..places(0)).flat_map(|i| (0..places(1)).map(move |j| (i, j)));
        pairs.push(start.map(|(i, j)| against[0][i] + step_at(1, i, j)).collect());
        for t in 2..n {
            let last = &pairs[t - 2];
            let mut next = Vec::with_capacity(places(t - 1) * places(t));
            for j in 0..places(t - 1) {
                for k in 0..places(t) {
                    let ways: Vec<f64> = (0..places(t - 2))
                        .map(|i| last[i * places(t - 1) + j] + bend_at(t, i, j, k))
                        .collect();
                    next.push(sum(&ways) + step_at(t, j, k));
                }
            }
            pairs.push(next);
        }
    };
    let (mut likeliest, mut forward) = (Vec::new(), Vec::new());
    first(|ways| ways.iter().copied().fold(f64::INFINITY, f64::min), &mut likeliest);
    first(|ways| sum_of(ways.iter().copied()), &mut forward);
    let mut backward = vec![vec![0.0; places(n - 2) * places(n - 1)]; n - 1];
    for t in (2..n).rev() {
        let mut before = Vec::with_capacity(places(t - 2) * places(t - 1));
        for i in 0..places(t - 2) {
            for j in 0..places(t - 1) {
                before
                    .push(sum_of((0..places(t)).map(|k| {
                        backward[t - 1][j * places(t) + k] + bend_at(t, i, j, k) + step_at(t, j, k)
                    })));
            }
        }
        backward[t - 2] = before;
    }
    // Backward along the likeliest path.
    let mut chosen = vec![0; n];
    let end = smallest(&likeliest[n - 2]).unwrap_or(0);
    (chosen[n - 2], chosen[n - 1]) = (end / places(n - 1), end % places(n - 1));
    for t in (2..n).rev() {
        let (j, k) = (chosen[t - 1], chosen[t]);
        let ways: Vec<f64> = (0..places(t - 2))
            .map(|i| likeliest[t - 2][i * places(t - 1) + j] + bend_at(t, i, j, k))
            .collect();
        chosen[t - 2] = smallest(&ways).unwrap_or(0);
    }
    let all = sum_of(forward[n - 2].iter().copied());
    (0..n)
        .map(|t| {
            let place = chosen[t];
            if place + 1 == places(t) {
                return None;
            }
            let pair = t.max(1) - 1;
            let through = (0..forward[pair].len()).filter(|at| {
                let (i, j) = (at / places(pair + 1), at % places(pair + 1));
                if t == 0 { i == place } else { j == place }
            });
            let cost = sum_of(through.map(|at| forward[pair][at] + backward[pair][at]));
            let chance = (all - cost).exp().clamp(0.0, 1.0);
            (chance >= LEAST).then_some((place, chance))
        })
        .collect()
}

/// Minus the logarithm of the sum of chances that are given as minus their logarithms.
fn sum_of(costs: impl Iterator<Item = f64> + Clone) -> f64 {
    let least = costs.clone().fold(f64::INFINITY, f64::min);
    if least.is_infinite() {
        return least;
    }
    least - costs.map(|cost| (least - cost).exp()).sum::<f64>().ln()
}

fn smallest(values: &[f64]) -> Option<usize> {
    (0..values.len()).min_by(|&a, &b| values[a].total_cmp(&values[b]))
}

/// The same path with the frames that were not looked at because those on both sides show where the racket is: where it moves slowly
/// not all are.
fn with_those_between(found: RacketMotion, motion: &Motion, contact: Seconds) -> RacketMotion {
    let mut whole = RacketMotion::default();
    for i in 0..found.indices.len() {
        if let Some(last) = i.checked_sub(1) {
            let (from, to) = (found.times[last], found.times[i]);
            let places =
                motion.times.partition_point(|t| *t <= from)..motion.times.partition_point(|t| *t < to);
            let across = from < contact && to > contact;
            let sides = found.rackets[last].as_ref().zip(found.rackets[i].as_ref());
            if let Some((a, b)) = sides.filter(|_| (1..=BRIDGED).contains(&places.len()) && !across) {
                for place in places {
                    let time = motion.times[place];
                    let racket = between(a, b, (time - from).0 / (to - from).0, 1.0);
                    whole.push(
                        motion.indices[place],
                        time,
                        racket.map(|racket| Racket { bridged: false, ..racket }),
                    );
                }
            }
        }
        whole.push(found.indices[i], found.times[i], found.rackets[i]);
    }
    whole
}

/// Fills short gaps between two rackets on one side of contact.
fn bridge(found: &mut RacketMotion, contact: Seconds) {
    let seen: Vec<usize> = (0..found.rackets.len()).filter(|&i| found.rackets[i].is_some()).collect();
    for pair in seen.windows(2) {
        let (left, right) = (pair[0], pair[1]);
        let frames = found.indices[right].0 - found.indices[left].0;
        let across = found.times[left] < contact && found.times[right] > contact;
        let (Some(a), Some(b)) = (found.rackets[left], found.rackets[right]) else { continue };
        if !(2..=BRIDGED + 1).contains(&frames) || across {
            continue;
        }
        for i in left + 1..right {
            let share = (found.times[i] - found.times[left]).0 / (found.times[right] - found.times[left]).0;
            found.rackets[i] = between(&a, &b, share, BRIDGED_SHARE);
        }
    }
}

/// The racket a share of the way from one to another: its butt moves straight, its axis turns evenly. It is `sure` times as sure as these.
fn between(a: &Racket, b: &Racket, share: f64, sure: f64) -> Option<Racket> {
    let polar = |racket: &Racket, point: &RacketPoint| {
        let (x, y) = (point.at.x - racket.butt.at.x, point.at.y - racket.butt.at.y);
        (x.hypot(y), y.atan2(x))
    };
    let turn = crate::geometry::wrapped((polar(b, &b.tip).1 - polar(a, &a.tip).1).to_degrees()).to_radians();
    if turn.abs() > BRIDGED_TURN {
        return None;
    }
    let angle = polar(a, &a.tip).1 + share * turn;
    let butt = a.butt.at.lerp(b.butt.at, share);
    let along = |of: fn(&Racket) -> RacketPoint| {
        let ((from, _), (to, _)) = (polar(a, &of(a)), polar(b, &of(b)));
        let length = from + (to - from) * share;
        let at = Point2::new(butt.x + length * angle.cos(), butt.y + length * angle.sin());
        let confidence = sure * of(a).confidence.min(of(b).confidence);
        RacketPoint { at, confidence }
    };
    Some(Racket {
        butt: along(|r| r.butt),
        throat: along(|r| r.throat),
        middle: along(|r| r.middle),
        tip: along(|r| r.tip),
        bridged: true,
        marked: false,
    })
}

#[cfg(test)]
#[path = "path_tests.rs"]
mod tests;
