//! Where the ball's ways to the strings and from them meet.

use super::flight::Meeting;
use super::trace::{JOINED, Tracer};
use super::way::Way;
use crate::geometry::Point2;
use crate::racket::USUAL_LENGTH;
use crate::units::{Reading, Seconds};

/// The ball is met at this distance from the wrist, racket lengths.
const FARTHEST: f64 = 1.15;

/// A hit changes the ball's speed across the picture by at least this, metres per second: clothes go on as before.
const CHANGED: f64 = 2.5;

/// What the ways say of the time of contact and what is expected differ by at most so many standard deviations.
const CONTRADICTS: f64 = 2.5;

/// A time that is told by a ball's ways is off by this share of the interval between pictures, each being exposed for an unknown
/// part of it, and by this at least (1 standard deviation).
const EXPOSED: f64 = 0.05;
const EXPOSED_LEAST: Seconds = Seconds(0.001);

impl Tracer<'_> {
    /// Whether a way comes to where the hand can meet it, at the expected contact.
    pub(super) fn at_hand(&self, way: &Way) -> bool {
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
    pub(super) fn meeting(&self, before: &Way, after: &Way) -> Option<Meeting> {
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
        let sights = before.sights.len();
        let (p, q) = (s.powi(-2), t.powi(-2));
        let at = Point2::new((a.x * p + b.x * q) / (p + q), (a.y * p + b.y * q) / (p + q));
        let met = changed
            && agree
            && at_contact
            && in_order
            && sights >= JOINED
            && self.within_reach(at, time, 0.0);
        let spread_at = (p + q).powf(-0.5).hypot(0.5 * gap);
        let exposed = (interval * EXPOSED).max(EXPOSED_LEAST);
        by_ways.spread = Seconds(by_ways.spread.0.hypot(exposed.0));
        let against = 0.5 * (gap / s.hypot(t).max(0.5 * self.watch.diameter)).powi(2);
        met.then_some(Meeting { time: by_ways, at, spread: spread_at, against })
    }
}
