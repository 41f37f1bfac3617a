//! `--marks`: what a coach corrects, and the template for it.

mod check;
mod correct;
mod row;
mod template;

use std::path::Path;

use super::by_hand::{ByHand, ByHandError, ByHandRow};
use crate::court::Spot;
use crate::geometry::Point2;
use crate::pose::{Choice, Side};
use crate::stroke::{Boundary, Kind};
use crate::units::{FrameIndex, Metres, Seconds};

pub use template::{Line, lines, template};

/// Columns of a file of marks.
pub const COLUMNS: [&str; 8] = ["clip", "stroke", "event", "time_s", "frame", "x", "y", "value"];

/// What the names of the court's points mean.
pub const SIDES: &str = "left, right and far are meant as the player has them who faces the net";

/// A correction that a table of marks can hold.
#[derive(Debug, Clone, Copy)]
pub struct Correction {
    /// The word in the column `event`.
    pub event: &'static str,
    /// What the other columns of its line have to hold.
    pub needs: &'static str,
    /// A whole line.
    pub example: &'static str,
}

/// The corrections besides those of the boundaries between phases, each of which is an event with a `time_s` or a `frame`.
pub const OTHERS: [Correction; 7] = [
    Correction {
        event: "no_stroke",
        needs: "`value` yes: this is not a stroke. The other strokes keep their numbers.",
        example: "practice.mp4,3,no_stroke,,,,,yes",
    },
    Correction {
        event: "kind",
        needs: "`value` forehand, backhand or overhead; without a number in `stroke`, for all strokes.",
        example: "practice.mp4,4,kind,,,,,backhand",
    },
    Correction {
        event: "hand",
        needs: "`value` right or left; without a number in `stroke`, for all strokes.",
        example: "practice.mp4,,hand,,,,,left",
    },
    Correction {
        event: "subject",
        needs: "`x` and `y` of a pixel on the player, and the `frame` in which the player is there.",
        example: "practice.mp4,,subject,,0,640,360,",
    },
    Correction {
        event: "scale",
        needs: "`value` the player's height in cm, 80 to 250.",
        example: "practice.mp4,,scale,,,,,181",
    },
    Correction {
        event: "racket_tip",
        needs: "`x`, `y` and `frame`: where the tip of the racket is in that frame.",
        example: "practice.mp4,2,racket_tip,,151,702,388,",
    },
    Correction {
        event: "court_point",
        needs: "`value` a point of the court (below), `x`, `y` and `frame`: where it is in that frame. At least two; three or more are much \
                surer and check one another.",
        example: "practice.mp4,,court_point,,0,412,603,baseline_centre",
    },
];

/// A file of marks.
#[derive(Debug, Clone)]
pub struct Marks {
    table: ByHand,
}

/// The marks of one clip.
#[derive(Debug, Clone)]
pub struct ClipMarks<'a> {
    table: &'a ByHand,
    marks: Vec<Mark<'a>>,
}

/// What a row says.
#[derive(Debug, Clone)]
struct Mark<'a> {
    row: &'a ByHandRow,
    stroke: Option<usize>,
    event: Event,
}

impl Mark<'_> {
    /// Whether it adds a stroke.
    fn is_added(&self) -> bool {
        self.stroke.is_none() && matches!(self.event, Event::Boundary(..))
    }
}

/// When something is: as a time or as a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
enum When {
    At(Seconds),
    In(FrameIndex),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    Boundary(Boundary, When),
    Hand(Side),
    Kind(Kind),
    Subject(Point2, Option<When>),
    RacketTip(Point2, When),
    CourtPoint(&'static Spot, Point2, When),
    Scale(Metres),
    NoStroke,
}

impl Marks {
    /// Reads a file of marks and checks everything that can be checked without the clip.
    ///
    /// # Errors
    /// [`ByHandError`].
    pub fn read(path: &Path) -> Result<Self, ByHandError> {
        let known: Vec<&str> = COLUMNS.into_iter().chain([template::FOUND]).collect();
        let marks = Self { table: ByHand::read(path, &COLUMNS[1..3], &known)? };
        for row in &marks.table.rows {
            marks.mark(row)?;
        }
        Ok(marks)
    }

    /// The marks of the clip that goes by one of these names.
    ///
    /// # Errors
    /// [`ByHandError`].
    pub fn of_clip(&self, names: &[&str]) -> Result<ClipMarks<'_>, ByHandError> {
        let mut marks = Vec::new();
        for row in &self.table.rows {
            let meant = self.table.cell(row, "clip").is_none_or(|clip| names.contains(&clip));
            if meant && let Some(mark) = self.mark(row)? {
                marks.push(mark);
            }
        }
        Ok(ClipMarks { table: &self.table, marks })
    }
}

impl ClipMarks<'_> {
    /// The file.
    pub fn path(&self) -> &Path {
        &self.table.path
    }

    /// Whether nothing is to be corrected.
    pub fn is_empty(&self) -> bool {
        self.marks.is_empty()
    }

    /// The marks as one text, the same for the same marks.
    pub fn text(&self) -> String {
        self.marks.iter().map(|mark| format!("{:?} {:?}\n", mark.stroke, mark.event)).collect()
    }

    /// Where the player stands, if that was said. A time counts in pictures of `rate` a second.
    pub fn subject(&self, rate: f64) -> Option<Choice> {
        self.marks.iter().rev().find_map(|mark| match mark.event {
            Event::Subject(place, None) => Some(Choice::At(place)),
            Event::Subject(place, Some(When::In(frame))) => Some(Choice::AtPicture(place, frame)),
            Event::Subject(place, Some(When::At(time))) => {
                Some(Choice::AtPicture(place, FrameIndex((time.0 * rate).round() as usize)))
            }
            _ => None,
        })
    }

    /// The place of the player, if that was said.
    pub fn subject_place(&self) -> Option<Point2> {
        match self.subject(1.0)? {
            Choice::At(place) | Choice::AtPicture(place, _) => Some(place),
            Choice::Swinging => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_correction_is_read_as_its_example_has_it_and_with_nothing_else() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("marks.csv");
        let read = |line: &str| {
            std::fs::write(&path, format!("{}\n{line}\n", COLUMNS.join(","))).unwrap();
            Marks::read(&path).map(|marks| marks.of_clip(&["practice.mp4"]).unwrap().marks.len())
        };
        for correction in OTHERS {
            assert_eq!(read(correction.example).unwrap(), 1, "{correction:?}");
            let nonsense = format!("practice.mp4,,{},,,,,nonsense", correction.event);
            assert!(read(&nonsense).is_err(), "{correction:?}");
            let empty = format!("practice.mp4,,{},,,,,", correction.event);
            assert_eq!(read(&empty).unwrap(), 0, "{correction:?}");
        }
        for boundary in Boundary::ALL {
            assert_eq!(read(&format!("practice.mp4,2,{},1.5,,,,", boundary.name())).unwrap(), 1);
        }
    }
}
