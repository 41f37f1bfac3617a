//! Tells the ball's ways from those of the player's body and racket.

use super::trace::{SLOWEST, Tracer};
use super::way::{Sighted, Way};
use crate::geometry::Point2;
use crate::pose::{Joint, Landmark};
use crate::units::{FrameIndex, Seconds};

/// Something that most of the time stays beside a part of body or racket, within a circle so wide, is a part of it, diameters;
/// what is never nearer than the second is not.
const ATTACHED: f64 = 1.6;
const APART: f64 = 7.0;

/// Where hand and ball both cross the picture so fast, metres per second, the ball comes against the hand and leaves with
/// it: at most this cosine between them before contact, and the negative of it at least after.
const CROSSING: f64 = 2.0;
const WITH_HAND: f64 = 0.5;

impl Tracer<'_> {
    /// Whether a way is inside of what was looked at in a picture.
    pub(super) fn is_looked_at(&self, look: usize, way: &Way) -> bool {
        let at = way.at(self.times[look]) + self.watch.looks[look].shift;
        let ([from, to], edge) = (self.watch.region, self.watch.diameter);
        at.x > from.x + edge && at.x < to.x - edge && at.y > from.y + edge && at.y < to.y - edge
    }

    /// Whether what moves along a way moves as the player or the racket does, or hardly.
    pub(super) fn is_of_player(&self, way: &Way, before: bool) -> bool {
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
    pub(super) fn hand(&self, look: usize) -> Option<Point2> {
        let seen = self.watch.looks.get(look)?;
        let place = self.motion.indices.binary_search(&seen.frame).ok()?;
        let hand = self.motion.point(place, Joint::Wrist.on(self.watch.hand))?.at;
        Some(hand - seen.shift)
    }

    /// Whether what moves along a way keeps its distance to a part of the body or the racket.
    fn is_attached(&self, way: &Way) -> bool {
        let diameter = self.watch.diameter;
        let follows = |part: &dyn Fn(&Sighted) -> Option<Point2>| {
            let places: Vec<Option<Point2>> = way
                .sights
                .iter()
                .map(|sight| Some(sight.at + self.shift(sight.frame)? - part(sight)?))
                .collect();
            let seen: Vec<Point2> = places.into_iter().flatten().collect();
            let origin = Point2::default();
            let near = 0.5 * ATTACHED * diameter;
            let beside = |place: &Point2| seen.iter().filter(|p| p.distance(*place) <= near).count();
            let together = seen.iter().map(beside).max().unwrap_or(0);
            let ever_near = seen.iter().any(|p| p.distance(origin) <= APART * diameter);
            2 * seen.len() > way.sights.len() && ever_near && together > 1 && 3 * together >= 2 * seen.len()
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
}
