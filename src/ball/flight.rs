//! The ball's way to the strings and from them, chosen among what was seen around a contact.

use super::body::{is_on_body, is_on_racket};
use super::looker::DIAMETER;
use super::sight::{Balls, Watch};
use super::way::{Expected, Sighted, Way};
use crate::geometry::Point2;
use crate::pose::{Joint, Landmark, Motion, Side};
use crate::racket::{Sightings, USUAL_LENGTH};
use crate::units::{FrameIndex, Reading, Seconds};

/// A sight belongs to a way when it is this near, diameters.
const NEAR: f64 = 0.6;

/// Error of a sight, diameters per axis (1 standard deviation); and what all sights of a ball are off by together, being lit
/// from above, and a time told by them, being exposed for a while.
const PLACE: f64 = 0.15;
const LIT: f64 = 0.12;
const EXPOSED: Seconds = Seconds(0.001);

/// A ball's speed across the picture lies between these, metres per second.
const SLOWEST: f64 = 0.8;
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

/// The ball is met at this distance from the wrist, racket lengths.
const FARTHEST: f64 = 1.15;

/// Something that stays within this distance of a part of body or racket while that moves is a part of it, diameters; what
/// is never nearer than the second is not.
const ATTACHED: f64 = 1.6;
const APART: f64 = 7.0;

/// Least number of sights of a way by itself, and of one that meets another.
const ALONE: usize = 4;
const JOINED: usize = 3;

/// Least mean yellowness of a way's spots.
const YELLOW: f64 = 0.5;

/// A spot on the player may be of the clothes or the racket; it counts this much of one beside, and a way needs so many
/// beside and a third of all.
const ON_BODY: f64 = 0.3;
const BESIDE: usize = 2;

/// So near contact the ball may be where the racket is.
const AT_RACKET: Seconds = Seconds(0.04);

/// Where hand and ball both cross the picture so fast, metres per second, the ball comes against the hand and leaves with
/// it: at most this cosine between them before contact, and the negative of it at least after.
const CROSSING: f64 = 2.0;
const WITH_HAND: f64 = 0.5;

/// A hit changes the ball's speed across the picture by at least this, and a ball that was seen on one side of contact only is
/// at least as fast as the second, metres per second: clothes go on as before.
const CHANGED: f64 = 2.5;
const FAST_ALONE: f64 = 4.0;

/// What it costs a way not to be seen in a picture in which it should be.
const UNSEEN: f64 = 0.6;

/// A turning point that is less sure than this is not given (1 standard deviation).
const LEAST_SURE: Seconds = Seconds(0.006);

/// What the ways say of the time of contact and what is expected differ by at most so many standard deviations.
const CONTRADICTS: f64 = 2.5;

/// Ways that are kept to be put together.
const KEPT: usize = 5;

/// The ball's ways around one contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Flight {
    /// To the strings.
    pub before: Option<Way>,
    /// From the strings.
    pub after: Option<Way>,
    /// Where and when both meet, where both were seen.
    pub meeting: Option<Meeting>,
    /// A ball's diameter there, pixels.
    pub diameter: f64,
    /// How far the background has moved in each picture that was looked at, with its time.
    shifts: Vec<(Seconds, Point2)>,
}

/// Where a ball's ways before and after contact meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// When, as the two ways alone tell it; the spread says how well they do.
    pub time: Reading,
    /// Where, against the background, pixels.
    at: Point2,
    /// Error of that, pixels per axis (1 standard deviation).
    spread: f64,
}

/// A spot with its picture's place among the looks.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    look: usize,
    sighted: Sighted,
    yellow: f64,
    on_body: bool,
}

struct Tracer<'a> {
    motion: &'a Motion,
    racket: Option<&'a Sightings>,
    watch: &'a Watch,
    contact: Reading,
    times: Vec<Seconds>,
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
    Tracer::new(watch, motion, contact, racket)?.flight()
}

impl<'a> Tracer<'a> {
    fn new(
        watch: &'a Watch,
        motion: &'a Motion,
        contact: Reading,
        racket: Option<&'a Sightings>,
    ) -> Option<Self> {
        let time_of = |frame: FrameIndex| motion.indices.binary_search(&frame).ok().map(|i| motion.times[i]);
        let times: Vec<Seconds> = watch.looks.iter().map(|l| time_of(l.frame)).collect::<Option<_>>()?;
        let spots = watch
            .looks
            .iter()
            .zip(&times)
            .enumerate()
            .map(|(look, (seen, time))| {
                let candidate = |spot: &super::Spot| {
                    let at = Point2::new(spot.at.x - seen.shift.x, spot.at.y - seen.shift.y);
                    let sighted = Sighted { frame: seen.frame, time: *time, at };
                    let place = motion.indices.binary_search(&seen.frame).ok();
                    let per_metre = watch.diameter / DIAMETER.0;
                    let sights = racket.and_then(|racket| racket.at(watch.hand, seen.frame)).unwrap_or_default();
                    let on_body = place.is_some_and(|place| is_on_body(motion, place, spot.at, per_metre))
                        || (*time - contact.time).abs() > AT_RACKET && is_on_racket(sights, spot.at, per_metre);
                    Candidate { look, sighted, yellow: spot.yellow, on_body }
                };
                seen.spots.iter().map(candidate).collect()
            })
            .collect();
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
            others.into_iter().any(|o| o.sighted.at.distance(c.sighted.at) <= near)
        };
        self.spots.iter().map(|spots| spots.iter().filter(|c| !rests(c)).copied().collect()).collect()
    }

    /// Pixels per metre at the ball.
    fn per_metre(&self) -> f64 {
        self.watch.diameter / DIAMETER.0
    }

    /// Contact lies within this of where it is expected.
    fn slack(&self) -> Seconds {
        (self.contact.spread * 2.0).min(Seconds(0.06)).max(Seconds(0.004))
    }

    fn flight(&self) -> Option<Flight> {
        let before = self.ways(true);
        let after = self.ways(false);
        let pairs = before.iter().flat_map(|b| after.iter().map(move |a| (b, a)));
        let joined = pairs.filter_map(|(b, a)| {
            let score = b.score + a.score;
            match self.apart(&b.way, &a.way) {
                Some((before, after)) => {
                    let meeting = self.meeting(&before, &after)?;
                    Some((score, Some(before), Some(after), Some(meeting)))
                }
                // What leaves speaks for what came, but is too little to tell when.
                None if b.way.sights.len() >= JOINED => {
                    self.meeting(&b.way, &a.way)?;
                    Some((score, Some(b.way.clone()), None, None))
                }
                None => None,
            }
        });
        let fast = |way: &Way| {
            let [right, down] = way.speed(self.contact.time);
            right.hypot(down) >= FAST_ALONE * self.per_metre()
        };
        let enough = |s: &Scored| s.way.sights.len() >= ALONE && fast(&s.way) && self.at_hand(&s.way);
        let coming = before.iter().filter(|b| enough(b));
        let coming = coming.map(|b| (b.score, Some(b.way.clone()), None, None));
        let (_, before, after, meeting) =
            joined.chain(coming).max_by(|a, b| a.0.total_cmp(&b.0))?;
        let shifts = self.watch.looks.iter().zip(&self.times).map(|(look, time)| (*time, look.shift));
        Some(Flight {
            before,
            after,
            meeting,
            diameter: self.watch.diameter,
            shifts: shifts.collect(),
        })
    }

    /// Two ways without the picture that both lay claim to: so near contact, it says nothing for sure. `None` where too little
    /// is left.
    fn apart(&self, before: &Way, after: &Way) -> Option<(Way, Way)> {
        let without = |way: &Way, other: &Way| {
            let in_both = |s: &Sighted| other.sights.iter().any(|o| o.frame == s.frame);
            let sights: Vec<Sighted> = way.sights.iter().filter(|s| !in_both(s)).copied().collect();
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
        let all: Vec<&Candidate> = self.spots.iter().flatten().filter(own).collect();
        let mut found: Vec<Scored> = Vec::new();
        for (i, first) in all.iter().enumerate().filter(|(_, c)| c.yellow >= YELLOW) {
            for second in all[i + 1..].iter().filter(|c| c.yellow >= YELLOW) {
                let apart = second.sighted.time - first.sighted.time;
                if apart > SEED {
                    break;
                }
                let speed =
                    first.sighted.at.distance(second.sighted.at) / apart.0.max(1e-6) / self.per_metre();
                if second.look == first.look || !(SLOWEST..FASTEST).contains(&speed) {
                    continue;
                }
                let known = found.iter().any(|s| {
                    [first, second].iter().all(|c| s.way.sights.iter().any(|sight| *sight == c.sighted))
                });
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
        let expected = Expected {
            place: PLACE * self.watch.diameter,
            fall,
            bend: (SPIN * fall).hypot(NEARING * speed),
        };
        Way::through(sights, self.contact.time, expected)
    }

    /// Adds to two sights what lies on their way, nearest pictures first, as long as it is seen.
    fn grown(&self, seed: Vec<Candidate>, before: bool) -> Option<Scored> {
        let slack = self.slack();
        let through = |taken: &[Candidate]| self.fitted(taken.iter().map(|c| c.sighted).collect());
        let mut way = through(&seed)?;
        let mut taken = seed;
        let near = NEAR * self.watch.diameter;
        let mut order: Vec<usize> = (0..self.spots.len()).collect();
        let middle = taken.iter().map(|c| c.look).sum::<usize>() / taken.len();
        order.sort_by_key(|look| look.abs_diff(middle));
        for look in order {
            let off = self.times[look] - self.contact.time;
            if taken.iter().any(|c| c.look == look) || (if before { off > slack } else { off < -slack }) {
                continue;
            }
            let at = way.at(self.times[look]);
            let reach = near.hypot(way.spread(self.times[look])).min(2.0 * near);
            let distance = |c: &&Candidate| c.sighted.at.distance(at);
            let nearest = self.spots[look].iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
            if let Some(candidate) = nearest.filter(|c| distance(c) <= reach) {
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
        let beside = taken.iter().filter(|c| !c.on_body).count();
        let is_few = beside < BESIDE || 3 * beside < taken.len();
        if yellow < YELLOW * taken.len() as f64 || is_few || self.is_of_player(way, before) {
            return None;
        }
        let seen: f64 = taken.iter().map(|c| c.yellow * if c.on_body { ON_BODY } else { 1.0 }).sum();
        let (first, last) = (taken[0].look, taken[taken.len() - 1].look);
        let slack = self.slack();
        let unseen = (0..self.times.len())
            .filter(|look| {
                let off = self.times[*look] - self.contact.time;
                let due = if before { *look > first && off < -slack } else { *look < last && off > slack };
                due && self.is_looked_at(*look, way) && taken.iter().all(|c| c.look != *look)
            })
            .count();
        let off = way.off / (NEAR * self.watch.diameter);
        let score = seen - UNSEEN * unseen as f64 - off * off * taken.len() as f64;
        (score > 0.0).then_some(score)
    }

    /// Whether a way is inside of what was looked at in a picture.
    fn is_looked_at(&self, look: usize, way: &Way) -> bool {
        let (at, shift) = (way.at(self.times[look]), self.watch.looks[look].shift);
        let [from, to] = self.watch.region;
        let (x, y, edge) = (at.x + shift.x, at.y + shift.y, self.watch.diameter);
        x > from.x + edge && x < to.x - edge && y > from.y + edge && y < to.y - edge
    }

    /// Whether what moves along a way moves as the player or the racket does, or hardly.
    fn is_of_player(&self, way: &Way, before: bool) -> bool {
        let (Some(first), Some(last)) = (way.sights.first(), way.sights.last()) else { return true };
        let metres = first.at.distance(last.at) / self.per_metre();
        let [right, down] = way.speed(self.contact.time);
        let speed = right.hypot(down);
        let crossing = CROSSING * self.per_metre();
        let against = self.hand_speed().is_some_and(|[x, y]| {
            let hand = x.hypot(y);
            let cosine = (x * right + y * down) / (hand * speed).max(1e-9);
            let wrong = if before { cosine > WITH_HAND } else { cosine < -WITH_HAND };
            hand.min(speed) >= crossing && wrong
        });
        metres < SLOWEST * (last.time - first.time).0 || against || self.is_attached(way)
    }

    /// The hand's speed across the picture around contact, against the background, pixels per second.
    fn hand_speed(&self) -> Option<[f64; 2]> {
        const AROUND: Seconds = Seconds(0.04);
        let from = self.times.partition_point(|t| *t < self.contact.time - AROUND).checked_sub(1)?;
        let to = self.times.partition_point(|t| *t < self.contact.time + AROUND);
        let (a, b) = (self.hand(from)?, self.hand(to)?);
        let time = (self.times[to] - self.times[from]).0;
        Some([(b.x - a.x) / time, (b.y - a.y) / time])
    }

    /// The hand in a picture, against the background.
    fn hand(&self, look: usize) -> Option<Point2> {
        let seen = self.watch.looks.get(look)?;
        let place = self.motion.indices.binary_search(&seen.frame).ok()?;
        let hand = self.motion.point(place, Joint::Wrist.on(self.watch.hand))?.at;
        Some(Point2::new(hand.x - seen.shift.x, hand.y - seen.shift.y))
    }

    /// Whether what moves along a way keeps its distance to a part of the body or the racket.
    fn is_attached(&self, way: &Way) -> bool {
        let diameter = self.watch.diameter;
        let follows = |part: &dyn Fn(&Sighted) -> Option<Point2>| {
            let places: Vec<Option<Point2>> = way
                .sights
                .iter()
                .map(|sight| {
                    let (at, shift) = (part(sight)?, self.shift(sight.frame)?);
                    Some(Point2::new(sight.at.x + shift.x - at.x, sight.at.y + shift.y - at.y))
                })
                .collect();
            let seen: Vec<Point2> = places.into_iter().flatten().collect();
            let origin = Point2::default();
            let ever_near = seen.iter().any(|p| p.distance(origin) <= APART * diameter);
            let widest = seen.iter().flat_map(|a| seen.iter().map(|b| a.distance(*b))).fold(0.0, f64::max);
            2 * seen.len() > way.sights.len() && seen.len() > 1 && ever_near && widest < ATTACHED * diameter
        };
        let of_body = |landmark: Landmark| {
            follows(&|sight: &Sighted| {
                let place = self.motion.indices.binary_search(&sight.frame).ok()?;
                Some(self.motion.point(place, landmark)?.at)
            })
        };
        let of_racket = |share: usize| {
            follows(&|sight: &Sighted| {
                let best = self.racket?.at(self.watch.hand, sight.frame)?.first()?;
                Some([best.butt, best.throat, best.middle, best.tip][share])
            })
        };
        Landmark::ALL.into_iter().any(of_body) || (0..4).any(of_racket)
    }

    fn shift(&self, frame: FrameIndex) -> Option<Point2> {
        self.watch.looks.iter().find(|look| look.frame == frame).map(|look| look.shift)
    }

    /// Whether a way comes to where the hand can meet it, at the expected contact.
    fn at_hand(&self, way: &Way) -> bool {
        let time = self.contact.time;
        let [right, down] = way.speed(time);
        let slack = right.hypot(down) * self.slack().0;
        self.within_reach(way.at(time), time, slack + 2.0 * way.spread(time))
    }

    /// Whether a place against the background is within a racket's reach of the wrist, give or take `slack` pixels.
    fn within_reach(&self, at: Point2, time: Seconds, slack: f64) -> bool {
        let length = USUAL_LENGTH.0 * self.per_metre();
        let next = self.times.partition_point(|t| *t < time);
        let (Some(before), Some(after)) =
            (next.checked_sub(1).and_then(|look| self.hand(look)), self.hand(next))
        else {
            return false;
        };
        let (from, to) = (self.times[next - 1], self.times[next]);
        let wrist = before.lerp(after, (time - from).0 / (to - from).0.max(1e-9));
        at.distance(wrist) <= FARTHEST * length + slack
    }

    /// Where a way to the strings and one from them meet; `None` where they don't, or not at contact, or not at the hand.
    fn meeting(&self, before: &Way, after: &Way) -> Option<Meeting> {
        let mut time = self.contact.time;
        let mut by_ways = Reading { time, spread: Seconds(f64::INFINITY) };
        let (prior, least) = (self.contact.spread.max(Seconds(0.004)), 1e-6);
        // Along the change of speed the ways tell the time; across it they must agree.
        for _ in 0..3 {
            let (a, b) = (before.at(time), after.at(time));
            let (u, v) = (before.speed(time), after.speed(time));
            let change = [v[0] - u[0], v[1] - u[1]];
            let square = change[0].powi(2) + change[1].powi(2) + least;
            let error = before.spread(time).hypot(after.spread(time));
            let until = ((b.x - a.x) * change[0] + (b.y - a.y) * change[1]) / square;
            by_ways = Reading { time: time - Seconds(until), spread: Seconds(error / square.sqrt()) };
            // What the ways leave open, the expected contact tells.
            let (own, known) = (by_ways.spread.0.powi(-2), prior.0.powi(-2));
            time = Seconds((by_ways.time.0 * own + self.contact.time.0 * known) / (own + known));
        }
        let (u, v) = (before.speed(time), after.speed(time));
        let changed = (v[0] - u[0]).hypot(v[1] - u[1]) >= CHANGED * self.per_metre();
        let (a, b) = (before.at(time), after.at(time));
        let (s, t) = (before.spread(time), after.spread(time));
        let gap = a.distance(b);
        let agree = gap <= (3.0 * s.hypot(t)).max(self.watch.diameter).min(3.0 * self.watch.diameter);
        let known = by_ways.spread.0.hypot(self.contact.spread.0);
        let at_contact = (by_ways.time - self.contact.time).abs().0 <= CONTRADICTS * known;
        let last_before = before.sights.last()?.time;
        let first_after = after.sights.first()?.time;
        let interval = Seconds(1.0 / self.motion.rate);
        let in_order = last_before <= time + interval * 0.5 && first_after >= time - interval * 0.5;
        let sights = before.sights.len().max(after.sights.len());
        let (p, q) = (s.powi(-2), t.powi(-2));
        let at = Point2::new((a.x * p + b.x * q) / (p + q), (a.y * p + b.y * q) / (p + q));
        let met = changed && agree && at_contact && in_order && sights >= JOINED && self.within_reach(at, time, 0.0);
        let spread_at = (p + q).powf(-0.5).hypot(0.5 * gap);
        by_ways.spread = Seconds(by_ways.spread.0.hypot(EXPOSED.0));
        met.then_some(Meeting { time: by_ways, at, spread: spread_at })
    }
}

impl Flight {
    /// When the ball's direction changed, where its ways tell that well.
    pub fn turning_point(&self) -> Option<Reading> {
        let meeting = self.meeting.as_ref()?;
        let seen = |way: &Option<Way>, least| way.as_ref().is_some_and(|way| way.sights.len() >= least);
        let enough = seen(&self.before, JOINED) && seen(&self.after, 2);
        (enough && meeting.time.spread <= LEAST_SURE).then_some(meeting.time)
    }

    /// Where the ball is at contact in the picture, and the error of that per axis (1 standard deviation), pixels: where
    /// both ways meet, or where the one that was seen leads at `time`.
    pub fn at(&self, time: Seconds) -> Option<(Point2, f64)> {
        let (at, spread) = match (&self.meeting, self.before.as_ref().or(self.after.as_ref())) {
            (Some(meeting), _) => (meeting.at, meeting.spread),
            (None, Some(way)) => (way.at(time), way.spread(time)),
            (None, None) => return None,
        };
        let spread = spread.hypot(LIT * self.diameter);
        let shift = self.shift(time)?;
        Some((Point2::new(at.x + shift.x, at.y + shift.y), spread))
    }

    /// The sights of both ways, in the pictures.
    pub fn sights(&self) -> impl Iterator<Item = (FrameIndex, Point2)> {
        let ways = self.before.iter().chain(&self.after);
        ways.flat_map(|way| &way.sights).filter_map(|sight| {
            let shift = self.shift(sight.time)?;
            Some((sight.frame, Point2::new(sight.at.x + shift.x, sight.at.y + shift.y)))
        })
    }

    /// How far the background has moved at a time.
    fn shift(&self, time: Seconds) -> Option<Point2> {
        let next = self.shifts.partition_point(|(t, _)| *t < time);
        let (after, before) = (self.shifts.get(next), next.checked_sub(1).and_then(|i| self.shifts.get(i)));
        match (before, after) {
            (Some(before), Some(after)) => {
                let share = (time - before.0).0 / (after.0 - before.0).0.max(1e-9);
                Some(before.1.lerp(after.1, share))
            }
            (Some(only), None) | (None, Some(only)) => Some(only.1),
            (None, None) => None,
        }
    }
}
