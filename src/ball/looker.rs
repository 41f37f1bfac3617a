//! Looks for balls around contacts in the pictures of a clip as they pass by.

use super::map::Grid;
use super::sight::{BallLook, Balls, Watch};
use super::spots::spots;
use super::trace::latest;
use crate::geometry::Point2;
use crate::order;
use crate::pose::{Joint, Motion, Side};
use crate::racket::{USUAL_LENGTH, racket_length};
use crate::units::{FrameIndex, Metres, Reading, Seconds};
use crate::video::{Frame, Map, align, seen_first};

/// A ball's diameter (6.54 to 6.86 cm by the rules of tennis).
pub(super) const DIAMETER: Metres = Metres(0.067);

/// Balls are looked for this long before and after the earliest and the latest moment at which contact may be.
const REACH: Seconds = Seconds(0.15);

/// A picture is compared with those so much earlier and later; they may be off by half of the shortest.
const COMPARED: [Seconds; 4] = [Seconds(-0.13), Seconds(-0.07), Seconds(0.07), Seconds(0.13)];
const COMPARED_OFF: Seconds = Seconds(0.035);

/// How far from the hand balls are looked for, racket lengths.
const FAR: f64 = 2.3;

/// A panned camera moves the picture at most this far between two, racket lengths.
const PANNED: f64 = 0.7;

/// Fewer pictures a second show a ball too rarely on its way.
const LEAST_RATE: f64 = 20.0;

/// Where balls are to be looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Around {
    /// The hand that hits.
    pub hand: Side,
    /// When, and how surely that is known.
    pub contact: Reading,
}

impl Around {
    /// Balls are looked for this long before and after the expected contact.
    fn reach(&self) -> Seconds {
        REACH + latest(self.contact)
    }

    /// From when to when pictures are needed for it.
    pub fn watched(&self) -> (Seconds, Seconds) {
        let reach = self.reach() + COMPARED[3] + COMPARED_OFF;
        (self.contact.time - reach, self.contact.time + reach)
    }
}

/// Looks for balls in the pictures that it is shown.
#[derive(Debug)]
pub struct Looker {
    windows: Vec<Window>,
    found: Balls,
}

/// What is gathered around one contact.
#[derive(Debug)]
struct Window {
    around: Around,
    grid: Grid,
    diameter: f64,
    shots: Vec<Shot>,
}

#[derive(Debug)]
struct Shot {
    frame: FrameIndex,
    time: Seconds,
    map: Map,
}

impl Looker {
    /// Balls around the contacts of the player who moves as `motion` says.
    pub fn new(motion: &Motion, wanted: &[Around]) -> Self {
        let fast_enough = motion.rate >= LEAST_RATE;
        let windows = wanted.iter().filter(|_| fast_enough).filter_map(|around| Window::new(motion, *around));
        Self { windows: windows.collect(), found: Balls::default() }
    }

    /// Takes what it needs from the next picture.
    fn see(&mut self, frame: &Frame) {
        for window in &mut self.windows {
            let (from, to) = window.around.watched();
            if (from..=to).contains(&frame.time) && !frame.duplicate {
                let map = window.grid.means(&frame.picture);
                window.shots.push(Shot { frame: frame.index, time: frame.time, map });
            }
        }
        let (past, coming): (Vec<Window>, Vec<Window>) = std::mem::take(&mut self.windows)
            .into_iter()
            .partition(|window| frame.time > window.around.watched().1);
        self.windows = coming;
        past.into_iter().for_each(|window| self.found.keep(window.settle()));
    }

    /// Whether pictures are still to come in which it has to look.
    pub fn is_waiting(&self) -> bool {
        !self.windows.is_empty()
    }

    /// The same pictures for somebody else to look at, each seen by this first.
    pub fn beside<'l, E>(
        &'l mut self,
        frames: &'l mut impl Iterator<Item = Result<Frame, E>>,
    ) -> impl Iterator<Item = Result<Frame, E>> {
        seen_first(frames, |frame| self.see(frame))
    }

    /// Looks at what is left of the pictures as far as needed; answers with all that was found.
    ///
    /// # Errors
    /// The error of a picture that can't be read.
    pub fn look_on<E>(mut self, frames: &mut impl Iterator<Item = Result<Frame, E>>) -> Result<Balls, E> {
        while self.is_waiting() {
            match frames.next() {
                Some(frame) => self.see(&frame?),
                None => break,
            }
        }
        self.windows.into_iter().for_each(|window| self.found.keep(window.settle()));
        Ok(self.found)
    }
}

impl Window {
    fn new(motion: &Motion, around: Around) -> Option<Self> {
        let after = motion.times.partition_point(|t| *t < around.contact.time);
        let near = [after, after.checked_sub(1)?];
        let place = near.into_iter().find(|i| motion.point(*i, Joint::Wrist.on(around.hand)).is_some())?;
        let hand = motion.point(place, Joint::Wrist.on(around.hand))?.at;
        let length = racket_length(motion, place)?;
        let diameter = DIAMETER.0 / USUAL_LENGTH.0 * length;
        let grid = Grid::new(motion.size, hand, FAR * length, diameter)?;
        Some(Self { around, grid, diameter, shots: Vec::new() })
    }

    /// Looks through what was gathered.
    fn settle(self) -> Watch {
        let step = self.grid.step as f64;
        let reach = (PANNED * USUAL_LENGTH.0 / DIAMETER.0 * self.grid.diameter) as i32;
        let mut shifts = vec![(0.0, 0.0)];
        for pair in self.shots.windows(2) {
            let last = shifts[shifts.len() - 1];
            let by = align::shift(&pair[0].map, &pair[1].map, reach);
            shifts.push((last.0 + by.0, last.1 + by.1));
        }
        let look = |(i, shot): (usize, &Shot)| {
            let off = |j: usize| {
                let whole = |a: f64, b: f64| (b - a).round() as i32;
                (whole(shifts[i].0, shifts[j].0), whole(shifts[i].1, shifts[j].1))
            };
            let others: Vec<(&Map, (i32, i32))> = COMPARED
                .iter()
                .filter_map(|apart| self.nearest(shot.time + *apart))
                .filter(|j| *j != i)
                .map(|j| (&self.shots[j].map, off(j)))
                .collect();
            let shift = Point2::new(shifts[i].0 * step, shifts[i].1 * step);
            BallLook { frame: shot.frame, shift, spots: spots(&self.grid, &shot.map, &others) }
        };
        let reach = self.around.reach();
        let looked_at = |shot: &Shot| (shot.time - self.around.contact.time).abs() <= reach;
        let looks = self.shots.iter().enumerate().filter(|(_, shot)| looked_at(shot)).map(look).collect();
        Watch {
            hand: self.around.hand,
            contact: self.around.contact.time,
            diameter: self.diameter,
            region: self.grid.corners(),
            looks,
        }
    }

    /// The picture nearest to a time, if one is near.
    fn nearest(&self, time: Seconds) -> Option<usize> {
        let nearest = order::nearest(&self.shots, |shot| shot.time.0, time.0)?;
        ((self.shots[nearest].time - time).abs() <= COMPARED_OFF).then_some(nearest)
    }
}
