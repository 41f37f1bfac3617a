//! Chooses the ball's ways among what was seen around a contact.

use super::body::{is_on_body, is_on_racket};
use super::flight::Flight;
use super::looker::DIAMETER;
use super::sight::{BallLook, Balls, Spot, Watch};
use super::way::{Expected, Sighted, Way};
use crate::pose::{Motion, Side};
use crate::racket::Sightings;
use crate::units::{FrameIndex, Reading, Seconds};

/// A sight belongs to a way when it is this near, diameters.
const NEAR: f64 = 0.6;

/// Error of a sight, diameters per axis (1 standard deviation).
const PLACE: f64 = 0.15;

/// A ball's speed across the picture lies between these, metres per second.
pub(super) const SLOWEST: f64 = 0.8;
const FASTEST: f64 = 75.0;

/// Free fall, metres per second squared; and how far a ball's acceleration across the picture differs from it by spin, as a
/// share of free fall, and by coming nearer to the lens or going away, as a share of its speed and second.
const FALL: f64 = 9.81;
const SPIN: f64 = 0.6;
const NEARING: f64 = 4.0;

/// What is seen again so near, diameters, so much earlier or later, rests.
const RESTING: f64 = 0.3;
const RESTS: (Seconds, Seconds) = (Seconds(0.03), Seconds(0.075));

/// Two sights that a way may start from are at most this far apart.
const SEED: Seconds = Seconds(0.11);

/// Least number of sights of a way to the strings by itself, and of one that meets another.
const ALONE: usize = 4;
pub(super) const JOINED: usize = 3;

/// Least yellowness of a way's spots, in the mean and of each.
const YELLOW: f64 = 0.5;
const YELLOW_AT_LEAST: f64 = 0.2;

/// A spot on the player may be of the clothes or the racket; it counts this much of one beside, and a way needs so many
/// beside and a third of all.
const ON_BODY: f64 = 0.3;
const BESIDE: usize = 2;

/// A racket is told from a ball only so far from contact.
const AT_RACKET: Seconds = Seconds(0.04);

/// A ball that was seen on one side of contact only is at least so fast across the picture, metres per second: clothes are not.
const FAST_ALONE: f64 = 4.0;

/// What it costs a way not to be seen in a picture in which it should be.
const UNSEEN: f64 = 0.6;

/// Ways are looked for about moments this sharp (1 standard deviation), over so many of contact's own and so far at most.
const SHARP: Seconds = Seconds(0.02);
const WITHIN: f64 = 2.0;
const FARTHEST_OFF: Seconds = Seconds(0.24);

/// How much earlier or later than expected contact may be.
pub(super) fn latest(contact: Reading) -> Seconds {
    (contact.spread.max(SHARP) * WITHIN).min(FARTHEST_OFF)
}

/// Ways that are kept to be put together.
const KEPT: usize = 5;

/// A spot with its picture's place among the looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    look: usize,
    sighted: Sighted,
    yellow: f64,
    on_body: bool,
    on_racket: bool,
}

/// Looks for the ways of one flight.
pub(super) struct Tracer<'a> {
    pub(super) motion: &'a Motion,
    pub(super) racket: Option<&'a Sightings>,
    pub(super) watch: &'a Watch,
    pub(super) contact: Reading,
    pub(super) times: Vec<Seconds>,
    /// Of each look.
    spots: Vec<Vec<Candidate>>,
}

/// A way with what speaks for it.
#[derive(Debug, Clone)]
struct Scored {
    way: Way,
    score: f64,
}

/// The ball's flight around a contact, `None` where none was seen for sure.
pub fn trace(
    balls: &Balls,
    motion: &Motion,
    hand: Side,
    contact: Reading,
    racket: Option<&Sightings>,
) -> Option<Flight> {
    let watch = balls.around(hand, contact.time)?;
    let mut tracer = Tracer::new(watch, motion, contact, racket)?;
    let found = |moment: Reading| {
        tracer.contact = moment;
        let (score, flight) = tracer.flight()?;
        let met = flight.meeting.as_ref().map(|meeting| meeting.time);
        Some((score - contradicted(met.unwrap_or(moment), contact), flight))
    };
    moments(contact).filter_map(found).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, flight)| flight)
}

/// The moments about which a ball's ways are looked for: a contact that is only vaguely known is tried at several, each as
/// sharp as ways on its two sides are told apart at.
fn moments(contact: Reading) -> impl Iterator<Item = Reading> {
    let spread = contact.spread.min(SHARP);
    let reach = latest(contact).0 - WITHIN * SHARP.0;
    let steps = (reach / spread.0.max(1e-6)).ceil() as i32;
    (-steps..=steps).map(move |step| Reading { time: contact.time + spread * f64::from(step), spread })
}

/// What speaks against a flight whose contact was expected elsewhere (log likelihood).
fn contradicted(found: Reading, expected: Reading) -> f64 {
    let spread = found.spread.0.hypot(expected.spread.0).max(1e-6);
    0.5 * ((found.time - expected.time).0 / spread).powi(2)
}

/// The numbers below `count`, those nearest to `middle` first and the lower of two that are as near.
fn outward(middle: usize, count: usize) -> impl Iterator<Item = usize> {
    let beside = (1..count).flat_map(move |off| [middle.checked_sub(off), Some(middle + off)]);
    std::iter::once(Some(middle)).chain(beside).flatten().filter(move |number| *number < count)
}

/// Whether a way has a sight in the same picture.
fn in_way(sight: &Sighted, way: &Way) -> bool {
    way.sights.iter().any(|other| other.frame == sight.frame)
}

impl<'a> Tracer<'a> {
    fn new(
        watch: &'a Watch,
        motion: &'a Motion,
        contact: Reading,
        racket: Option<&'a Sightings>,
    ) -> Option<Self> {
        let place_of = |frame: FrameIndex| motion.indices.binary_search(&frame).ok();
        let places: Vec<usize> = watch.looks.iter().map(|l| place_of(l.frame)).collect::<Option<_>>()?;
        let times: Vec<Seconds> = places.iter().map(|place| motion.times[*place]).collect();
        let per_metre = watch.diameter / DIAMETER.0;
        let spots_of = |(look, (seen, place)): (usize, (&BallLook, &usize))| {
            let time = motion.times[*place];
            let sights = racket.and_then(|racket| racket.at(watch.hand, seen.frame)).unwrap_or_default();
            let candidate = |spot: &Spot| Candidate {
                look,
                sighted: Sighted { frame: seen.frame, time, at: spot.at - seen.shift },
                yellow: spot.yellow,
                on_body: is_on_body(motion, *place, spot.at, per_metre),
                on_racket: is_on_racket(sights, spot.at, per_metre),
            };
            seen.spots.iter().map(candidate).collect()
        };
        let spots = watch.looks.iter().zip(&places).enumerate().map(spots_of).collect();
        let mut tracer = Self { motion, racket, watch, contact, times, spots };
        tracer.spots = tracer.without_resting();
        Some(tracer)
    }

    /// The spots but for those that rest: what is behind the player shows for a while where the player has left it.
    fn without_resting(&self) -> Vec<Vec<Candidate>> {
        let near = RESTING * self.watch.diameter;
        let rests = |c: &Candidate| {
            let apart = |other: &Candidate| (other.sighted.time - c.sighted.time).abs();
            let others = self.spots.iter().flatten().filter(|o| (RESTS.0..=RESTS.1).contains(&apart(o)));
            let beside = |o: &&Candidate| (o.sighted.at.x - c.sighted.at.x).abs() <= near;
            others.filter(beside).any(|o| o.sighted.at.distance(c.sighted.at) <= near)
        };
        self.spots.iter().map(|spots| spots.iter().filter(|c| !rests(c)).copied().collect()).collect()
    }

    /// Whether a spot may be of the body or the racket; so near contact the ball may be where the racket is.
    fn is_on_player(&self, c: &Candidate) -> bool {
        c.on_body || c.on_racket && (c.sighted.time - self.contact.time).abs() > AT_RACKET
    }

    /// Pixels per metre at the ball.
    pub(super) fn per_metre(&self) -> f64 {
        self.watch.diameter / DIAMETER.0
    }

    /// Contact lies within this of where it is expected.
    pub(super) fn slack(&self) -> Seconds {
        (self.contact.spread * 2.0).max(Seconds(0.004))
    }

    /// The best flight with what speaks for it.
    fn flight(&self) -> Option<(f64, Flight)> {
        let before = self.ways(true);
        let after = self.ways(false);
        let pairs = before.iter().flat_map(|b| after.iter().map(move |a| (b, a)));
        let joined = pairs.filter_map(|(b, a)| {
            // What both lay claim to speaks once.
            let shared = b.way.sights.iter().filter(|s| in_way(s, &a.way)).count();
            let score = b.score + a.score - shared as f64;
            match self.apart(&b.way, &a.way) {
                Some((before, after)) => {
                    let meeting = self.meeting(&before, &after)?;
                    Some((score - meeting.against, before, Some(after), Some(meeting)))
                }
                // What leaves speaks for what came, but is too little to tell when.
                None => {
                    self.meeting(&b.way, &a.way)?;
                    Some((score, b.way.clone(), None, None))
                }
            }
        });
        let fast = |way: &Way| {
            let [right, down] = way.speed(self.contact.time);
            right.hypot(down) >= FAST_ALONE * self.per_metre()
        };
        let enough = |s: &Scored| s.way.sights.len() >= ALONE && fast(&s.way) && self.at_hand(&s.way);
        let coming = before.iter().filter(|b| enough(b));
        let coming = coming.map(|b| (b.score, b.way.clone(), None, None));
        let (score, before, after, meeting) = joined.chain(coming).max_by(|a, b| a.0.total_cmp(&b.0))?;
        let shifts = self.watch.looks.iter().zip(&self.times).map(|(look, time)| (*time, look.shift));
        let diameter = self.watch.diameter;
        Some((score, Flight { before, after, meeting, diameter, shifts: shifts.collect() }))
    }

    /// Two ways without the picture that both lay claim to: so near contact, it says nothing for sure. `None` where too little
    /// is left.
    fn apart(&self, before: &Way, after: &Way) -> Option<(Way, Way)> {
        let without = |way: &Way, other: &Way| {
            let sights: Vec<Sighted> = way.sights.iter().filter(|s| !in_way(s, other)).copied().collect();
            if sights.len() == way.sights.len() { Some(way.clone()) } else { self.fitted(sights) }
        };
        let (before, after) = (without(before, after)?, without(after, before)?);
        (before.sights.len() > 1 && after.sights.len() > 1).then_some((before, after))
    }

    /// The best ways on one side of contact.
    fn ways(&self, before: bool) -> Vec<Scored> {
        let slack = self.slack();
        let own = |c: &&Candidate| {
            let off = c.sighted.time - self.contact.time;
            if before { off <= slack } else { off >= -slack }
        };
        let is_yellow = |c: &&Candidate| c.yellow >= YELLOW;
        let seeds: Vec<&Candidate> = self.spots.iter().flatten().filter(own).filter(is_yellow).collect();
        let mut found: Vec<Scored> = Vec::new();
        for (i, first) in seeds.iter().enumerate() {
            for second in &seeds[i + 1..] {
                let apart = second.sighted.time - first.sighted.time;
                if apart > SEED {
                    break;
                }
                let (way, time) = (second.sighted.at - first.sighted.at, apart.0.max(1e-6));
                // Most pairs are too far apart along one direction already.
                let least = way.x.abs().max(way.y.abs()) / time / self.per_metre();
                if second.look == first.look || least >= FASTEST {
                    continue;
                }
                let speed = first.sighted.at.distance(second.sighted.at) / time / self.per_metre();
                if !(SLOWEST..FASTEST).contains(&speed) {
                    continue;
                }
                let known =
                    found.iter().any(|s| [first, second].iter().all(|c| s.way.sights.contains(&c.sighted)));
                if known {
                    continue;
                }
                if let Some(scored) = self.grown(vec![**first, **second], before) {
                    found.push(scored);
                }
            }
        }
        found.sort_by(|a, b| b.score.total_cmp(&a.score));
        found.truncate(KEPT);
        found
    }

    /// The way through sights.
    fn fitted(&self, sights: Vec<Sighted>) -> Option<Way> {
        let (first, last) = (sights.first()?, sights.last()?);
        let speed = first.at.distance(last.at) / (last.time - first.time).0.max(1e-6);
        let fall = FALL * self.per_metre();
        let expected =
            Expected { place: PLACE * self.watch.diameter, fall, bend: (SPIN * fall).hypot(NEARING * speed) };
        Way::through(sights, self.contact.time, expected)
    }

    /// Adds to two sights what lies on their way, nearest pictures first, as long as it is seen.
    fn grown(&self, seed: Vec<Candidate>, before: bool) -> Option<Scored> {
        let slack = self.slack();
        let through = |taken: &[Candidate]| self.fitted(taken.iter().map(|c| c.sighted).collect());
        let mut way = through(&seed)?;
        let mut taken = seed;
        let near = NEAR * self.watch.diameter;
        let middle = taken.iter().map(|c| c.look).sum::<usize>() / taken.len();
        for look in outward(middle, self.spots.len()) {
            let off = self.times[look] - self.contact.time;
            if taken.iter().any(|c| c.look == look) || (if before { off > slack } else { off < -slack }) {
                continue;
            }
            let at = way.at(self.times[look]);
            let most = 2.0 * near;
            // Most spots are far off along one direction already.
            let beside = |c: &&Candidate| {
                let off = c.sighted.at - at;
                c.yellow >= YELLOW_AT_LEAST && off.x.abs() <= most && off.y.abs() <= most
            };
            if !self.spots[look].iter().any(|c| beside(&c)) {
                continue;
            }
            let reach = near.hypot(way.spread(self.times[look])).min(most);
            let distances = self.spots[look].iter().filter(beside).map(|c| (c.sighted.at.distance(at), c));
            let nearest = distances.min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((_, candidate)) = nearest.filter(|(distance, _)| *distance <= reach) {
                taken.push(*candidate);
                taken.sort_by_key(|c| c.look);
                way = through(&taken)?;
            }
        }
        // What does not fit what the others say is none of it.
        taken.retain(|c| way.at(c.sighted.time).distance(c.sighted.at) <= near);
        if taken.len() < 2 {
            return None;
        }
        let way = through(&taken)?;
        let score = self.score(&way, &taken, before)?;
        Some(Scored { way, score })
    }

    /// What speaks for a way; `None` where it can't be a ball's.
    fn score(&self, way: &Way, taken: &[Candidate], before: bool) -> Option<f64> {
        let yellow: f64 = taken.iter().map(|c| c.yellow).sum();
        let beside = taken.iter().filter(|c| !self.is_on_player(c)).count();
        let is_few = beside < BESIDE || 3 * beside < taken.len();
        if yellow < YELLOW * taken.len() as f64 || is_few || self.is_of_player(way, before) {
            return None;
        }
        let seen: f64 =
            taken.iter().map(|c| c.yellow * if self.is_on_player(c) { ON_BODY } else { 1.0 }).sum();
        let (first, last) = (taken[0].look, taken[taken.len() - 1].look);
        let slack = self.slack();
        let unseen = (0..self.times.len())
            .filter(|look| {
                let off = self.times[*look] - self.contact.time;
                let due = if before { *look > first && off < -slack } else { *look < last && off > slack };
                due && self.is_looked_at(*look, way) && taken.iter().all(|c| c.look != *look)
            })
            .count();
        let off = way.off() / (NEAR * self.watch.diameter);
        let score = seen - UNSEEN * unseen as f64 - off * off * taken.len() as f64;
        (score > 0.0).then_some(score)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_are_taken_from_the_middle_outward() {
        assert!(outward(2, 6).eq([2, 1, 3, 0, 4, 5]));
        assert!(outward(0, 3).eq([0, 1, 2]) && outward(2, 3).eq([2, 1, 0]) && outward(0, 1).eq([0]));
    }
}
