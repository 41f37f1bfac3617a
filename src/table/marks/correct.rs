//! What marks correct in a motion.

use super::super::by_hand::ByHandError;
use super::{ClipMarks, Event, Mark, When};
use crate::pose::Motion;
use crate::racket::Tip;
use crate::stroke::correction::{Correction, Corrections};
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
                    let time = self.time(mark, when, motion)?;
                    let frame = motion.times.partition_point(|t| *t < time - Seconds(0.5 / motion.rate));
                    let frame = motion.indices.get(frame).copied().unwrap_or(FrameIndex(frame));
                    said.racket_tips.push(Tip { frame, at });
                }
                (Event::Scale(height), _) => once(said.height.replace(height).is_some())?,
                (Event::NoStroke, Some(number)) => of_stroke(&mut said, number).no_stroke = true,
                (Event::NoStroke | Event::Subject(..), _) => {}
            }
        }
        Ok(said)
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
