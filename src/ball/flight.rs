//! The ball's way to the strings and from them.

use super::trace::JOINED;
use super::way::Way;
use crate::geometry::Point2;
use crate::units::{FrameIndex, Reading, Seconds};

/// What all sights of a ball are off by together, being lit from above, diameters per axis (1 standard deviation).
const LIT: f64 = 0.12;

/// A turning point that is less sure than this is not given (1 standard deviation).
const LEAST_SURE: Seconds = Seconds(0.006);

/// The ball's ways around one contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Flight {
    /// To the strings.
    pub before: Way,
    /// From the strings.
    pub after: Option<Way>,
    /// Where and when both meet, where both were seen.
    pub meeting: Option<Meeting>,
    /// A ball's diameter there, pixels.
    pub diameter: f64,
    /// How far the background has moved in each picture that was looked at, with its time.
    pub(super) shifts: Vec<(Seconds, Point2)>,
}

/// Where a ball's ways before and after contact meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// When, as the two ways alone tell it; the spread says how well they do.
    pub time: Reading,
    /// Where, against the background, pixels.
    pub(super) at: Point2,
    /// Error of that, pixels per axis (1 standard deviation).
    pub(super) spread: f64,
    /// What speaks against it: how far the ways pass each other by (log likelihood).
    pub(super) against: f64,
}

/// The flights that are seen about contacts as they are settled now; where none is, what was seen before: a ball that has moved contact
/// stays seen, though less may be seen of it from there.
pub fn still_seen(now: Vec<Option<Flight>>, before: Vec<Option<Flight>>) -> Vec<Option<Flight>> {
    now.into_iter().zip(before).map(|(now, before)| now.or(before)).collect()
}

#[cfg(test)]
impl Flight {
    /// A ball that hangs at a place of the picture around a time.
    pub(crate) fn hanging(at: Point2, time: Seconds) -> Self {
        let sight = |k: usize| super::way::Sighted {
            frame: FrameIndex(k),
            time: time + Seconds(0.01 * (k as f64 - 2.0)),
            at,
        };
        let expected = super::way::Expected { place: 0.5, fall: 0.0, bend: 1.0 };
        let before = Way::through((0..4).map(sight).collect(), time, expected).unwrap();
        let shifts = vec![(time, Point2::default())];
        Self { before, after: None, meeting: None, diameter: 10.0, shifts }
    }
}

impl Flight {
    /// When the ball's direction changed, where its ways tell that well.
    pub fn turning_point(&self) -> Option<Reading> {
        let meeting = self.meeting.as_ref()?;
        let after = self.after.as_ref().map_or(0, |way| way.sights.len());
        let enough = self.before.sights.len() >= JOINED && after > 1;
        (enough && meeting.time.spread <= LEAST_SURE).then_some(meeting.time)
    }

    /// Where the ball is at contact in the picture, and the error of that per axis (1 standard deviation), pixels: where
    /// both ways meet, or where the first leads at `time`.
    pub fn at(&self, time: Seconds) -> Option<(Point2, f64)> {
        let (at, spread) = match &self.meeting {
            Some(meeting) => (meeting.at, meeting.spread),
            None => (self.before.at(time), self.before.spread(time)),
        };
        let spread = spread.hypot(LIT * self.diameter);
        Some((at + self.shift(time)?, spread))
    }

    /// The sights of both ways, in the pictures.
    pub fn sights(&self) -> impl Iterator<Item = (FrameIndex, Point2)> {
        let ways = std::iter::once(&self.before).chain(&self.after);
        ways.flat_map(|way| &way.sights)
            .filter_map(|sight| Some((sight.frame, sight.at + self.shift(sight.time)?)))
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
