//! What marks correct in a motion.

use super::super::by_hand::{ByHandError, ByHandRow};
use super::{ClipMarks, Event, Mark, SIDES, When};
use crate::court::Misplaced;
use crate::pose::Motion;
use crate::racket::Tip;
use crate::scene::Placed;
use crate::stroke::correction::{Correction, Corrections, CourtPoint};
use crate::units::{FrameIndex, Seconds};

impl ClipMarks<'_> {
    /// What is to be corrected in this motion.
    ///
    /// # Errors
    /// [`ByHandError::Line`] for a time or picture outside the clip, or a stroke that is corrected twice in one way.
    pub fn corrections(&self, motion: &Motion) -> Result<Corrections, ByHandError> {
        let mut said = Corrections::default();
        for mark in &self.marks {
            let twice =
                || self.table.wrong(mark.row, "was said in an earlier line already; leave one of them out");
            let once = |known: bool| if known { Err(twice()) } else { Ok(()) };
            match (mark.event, mark.stroke) {
                (Event::Boundary(boundary, when), Some(number)) => {
                    let time = self.time(mark, when, motion)?;
                    let place = &mut of_stroke(&mut said, number).times[boundary as usize];
                    once(place.is_some())?;
                    *place = Some(time);
                }
                (Event::Boundary(_, when), None) => said.added.push(self.time(mark, when, motion)?),
                (Event::Hand(hand), Some(number)) => {
                    once(of_stroke(&mut said, number).hand.replace(hand).is_some())?;
                }
                (Event::Hand(hand), None) => once(said.hand.replace(hand).is_some())?,
                (Event::Kind(kind), Some(number)) => {
                    once(of_stroke(&mut said, number).kind.replace(kind).is_some())?;
                }
                (Event::Kind(kind), None) => once(said.kind.replace(kind).is_some())?,
                (Event::RacketTip(at, when), _) => {
                    let frame = self.frame(mark, when, motion)?;
                    said.racket_tips.push(Tip { frame, at });
                }
                (Event::CourtPoint(spot, at, when), _) => {
                    let (width, height) = (f64::from(motion.size.0), f64::from(motion.size.1));
                    if !(0.0..width).contains(&at.x) || !(0.0..height).contains(&at.y) {
                        return Err(self.table.wrong(
                            mark.row,
                            format!(
                                "{:.0},{:.0} is outside the frame, which is {width:.0} × {height:.0} pixels",
                                at.x, at.y
                            ),
                        ));
                    }
                    once(said.court_points.iter().any(|point| point.spot == spot))?;
                    let frame = self.frame(mark, when, motion)?;
                    said.court_points.push(CourtPoint { spot, frame, at });
                }
                (Event::Scale(height), _) => once(said.height.replace(height).is_some())?,
                (Event::NoStroke, Some(number)) => of_stroke(&mut said, number).no_stroke = true,
                (Event::NoStroke | Event::Subject(..), _) => {}
            }
        }
        said.placed = self.placed(&said.court_points, motion)?;
        Ok(said)
    }

    /// What the points of the court say of the camera.
    fn placed(&self, points: &[CourtPoint], motion: &Motion) -> Result<Option<Placed>, ByHandError> {
        let mut rows = self.court_rows();
        let Some(first) = rows.next() else { return Ok(None) };
        if points.len() < 2 {
            let problem = "one court_point says nothing of the camera; give at least two".to_owned();
            return Err(self.table.wrong(first, problem));
        }
        let row = |place: usize| self.court_rows().nth(place).unwrap_or(first);
        let spots: Vec<_> = points.iter().map(|point| (point.spot, point.frame, point.at)).collect();
        let name = |place: usize| points[place].spot.name;
        let wrong = |misplaced: Misplaced| {
            let (row, problem) = match misplaced {
                Misplaced::Together => (
                    first,
                    "the court points lie too near one another in the frame; give points that are far apart"
                        .to_owned(),
                ),
                Misplaced::Stray(place) => (
                    row(place),
                    format!(
                        "{} cannot lie there beside the other court points; check its name and pixel",
                        name(place)
                    ),
                ),
                Misplaced::Renamed(place, other) => (
                    row(place),
                    format!(
                        "{} cannot lie there beside the other court points; {} could: check the names",
                        name(place),
                        other.name
                    ),
                ),
                Misplaced::Mirrored => {
                    (first, format!("the court points fit only with left and right exchanged; {SIDES}"))
                }
                Misplaced::Turned => (
                    first,
                    format!("the court points fit only with the two halves of the court exchanged; {SIDES}"),
                ),
                Misplaced::Impossible => (
                    first,
                    "no camera shows the court points so, with the player where the player is; check their names and \
                     pixels"
                        .to_owned(),
                ),
            };
            self.table.wrong(row, problem)
        };
        Placed::read(&spots, motion).map(Some).map_err(wrong)
    }

    /// The rows of the points of the court.
    pub(super) fn court_rows(&self) -> impl Iterator<Item = &ByHandRow> {
        let points = self.marks.iter().filter(|mark| matches!(mark.event, Event::CourtPoint(..)));
        points.map(|mark| mark.row)
    }

    /// The frame that a mark names.
    fn frame(&self, mark: &Mark<'_>, when: When, motion: &Motion) -> Result<FrameIndex, ByHandError> {
        let time = self.time(mark, when, motion)?;
        let frame = motion.times.partition_point(|t| *t < time - Seconds(0.5 / motion.rate));
        Ok(motion.indices.get(frame).copied().unwrap_or(FrameIndex(frame)))
    }

    fn time(&self, mark: &Mark<'_>, when: When, motion: &Motion) -> Result<Seconds, ByHandError> {
        let (Some(first), Some(last)) = (motion.times.first(), motion.times.last()) else {
            return Err(self
                .table
                .wrong(mark.row, "nobody was seen in the clip, so nothing can be corrected in it"));
        };
        match when {
            When::At(time) if time >= *first && time <= *last => Ok(time),
            When::At(time) => Err(self.table.wrong(
                mark.row,
                format!("{:.3} s is outside the clip, which ends at {:.3} s", time.0, last.0),
            )),
            When::In(frame) => {
                let place = motion.indices.binary_search(&frame).ok();
                place.and_then(|place| motion.times.get(place)).copied().ok_or_else(|| {
                    let last = motion.indices.last().map_or(0, |frame| frame.0);
                    self.table
                        .wrong(mark.row, format!("there is no frame {}; the last one is {last}", frame.0))
                })
            }
        }
    }
}

fn of_stroke(said: &mut Corrections, number: usize) -> &mut Correction {
    said.strokes.entry(number).or_default()
}
