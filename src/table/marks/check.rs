//! Whether marks can be meant as they have worked.

use super::super::by_hand::ByHandError;
use super::{ClipMarks, Event, Mark, SIDES};
use crate::measure::clip::{ClipMeasures, SAME_STROKE};
use crate::scene::AgainstPoints;
use crate::stroke::Boundary;
use crate::stroke::correction::Corrections;
use crate::units::Seconds;

/// A contact farther than this from the one that was found is more likely meant for another stroke.
const FARTHEST: Seconds = Seconds(1.5);

/// So many points of the court and fewer are not believed against the court's lines.
const FEW_POINTS: usize = 2;

impl ClipMarks<'_> {
    /// Compares the marks with what they have led to.
    ///
    /// # Errors
    /// [`ByHandError::Line`] for strokes that there are not, and times that can't be.
    pub fn check(&self, said: &Corrections, measures: &ClipMeasures) -> Result<(), ByHandError> {
        let added = self.marks.iter().filter(|mark| mark.is_added()).count();
        for mark in &self.marks {
            let wrong = |problem: String| Err(self.table.wrong(mark.row, problem));
            if let Some(number) = mark.stroke
                && number > measures.found + added
            {
                return wrong(format!("there is no stroke {number}; {} were found", measures.found));
            }
            let Event::Boundary(boundary, _) = mark.event else { continue };
            match mark.stroke {
                Some(number) => {
                    let Some(stroke) = measures.strokes.iter().find(|stroke| stroke.number == number) else {
                        continue;
                    };
                    let phases = &stroke.stroke.phases;
                    let Some(time) = phases.get(boundary).map(|mark| mark.time) else { continue };
                    let contact = phases.contact.time;
                    let before = boundary != Boundary::Contact && boundary != Boundary::FinishEnd;
                    if before && time >= contact || boundary == Boundary::FinishEnd && time <= contact {
                        let side = if before { "before" } else { "after" };
                        return wrong(format!(
                            "{} at {:.3} s must be {side} the contact of stroke {number} at {:.3} s",
                            boundary.name(),
                            time.0,
                            contact.0
                        ));
                    }
                    let (first, last) = stroke.stroke.motion.span().unwrap_or_default();
                    if time < first || time > last || (time - contact).abs() > FARTHEST + FARTHEST {
                        return wrong(format!(
                            "{} at {:.3} s is too far from stroke {number}, which lasts from {:.3} to {:.3} s; check \
                             the stroke's number",
                            boundary.name(),
                            time.0,
                            first.0,
                            last.0
                        ));
                    }
                }
                None => self.check_added(mark, said, measures)?,
            }
        }
        self.check_court(said, measures)?;
        self.check_contacts(measures)
    }

    /// Points of the court must not be at odds with all else: few of them can't check one another.
    fn check_court(&self, said: &Corrections, measures: &ClipMeasures) -> Result<(), ByHandError> {
        let (Some(against), Some(row)) = (measures.filmed.against_points, self.court_rows().next()) else {
            return Ok(());
        };
        let problem = match against {
            AgainstPoints::Lines if said.court_points.len() > FEW_POINTS => return Ok(()),
            AgainstPoints::Lines => format!(
                "the court points contradict the lines that were read in the clip, which inspect.png shows; check the names, or give more than \
                 {FEW_POINTS} points"
            ),
            AgainstPoints::Known => {
                "the court points contradict what is stated or how tall players are; check their names, and --height, --camera-height, \
                 --camera-distance and --fov where you have given them"
                    .to_owned()
            }
            AgainstPoints::Strokes => {
                format!("the strokes don't go toward the net as the court points have it; check the names: {SIDES}")
            }
        };
        Err(self.table.wrong(row, problem))
    }

    /// A stroke that was added must be there, and not twice.
    fn check_added(
        &self,
        mark: &Mark<'_>,
        said: &Corrections,
        measures: &ClipMeasures,
    ) -> Result<(), ByHandError> {
        let place =
            self.marks.iter().filter(|m| m.is_added()).position(|m| m.row.line == mark.row.line).unwrap_or(0);
        let number = measures.found + 1 + place;
        let near =
            |time: Seconds| said.added.get(place).is_some_and(|added| (time - *added).abs() < SAME_STROKE);
        let twin = measures.strokes.iter().find(|s| s.number != number && near(s.stroke.phases.contact.time));
        let problem = match twin {
            Some(twin) => format!(
                "stroke {} is there already; to correct its contact give its number in `stroke`",
                twin.number
            ),
            None if measures.strokes.iter().any(|stroke| stroke.number == number) => return Ok(()),
            None => "no stroke can be measured there: the player is not seen then, or no stroke at all was found in the \
                     clip (see --hand, --view and --net)"
                .to_owned(),
        };
        Err(self.table.wrong(mark.row, problem))
    }

    /// A contact far from the one that was found is meant for another stroke.
    fn check_contacts(&self, measures: &ClipMeasures) -> Result<(), ByHandError> {
        for corrected in measures.corrected.iter().filter(|c| c.event == Boundary::Contact.name()) {
            let far = corrected.shift.filter(|shift| shift.abs() > FARTHEST);
            let mark = self.marks.iter().find(|mark| {
                mark.stroke == corrected.stroke && matches!(mark.event, Event::Boundary(Boundary::Contact, _))
            });
            if let (Some(shift), Some(mark)) = (far, mark) {
                let problem = format!(
                    "this is {:.1} s from the contact that was found; check the stroke's number",
                    shift.abs().0
                );
                return Err(self.table.wrong(mark.row, problem));
            }
        }
        Ok(())
    }
}
