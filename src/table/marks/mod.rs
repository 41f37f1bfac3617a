//! `--marks`: what a coach corrects, and the template for it.

mod check;
mod correct;
mod row;
mod template;

use std::path::Path;

use super::by_hand::{ByHand, ByHandError, Row};
use crate::geometry::Point2;
use crate::pose::{Choice, Side};
use crate::stroke::{Boundary, Kind};
use crate::units::{FrameIndex, Metres, Seconds};

pub use template::{Line, lines, template};

/// Columns of a file of marks.
pub const COLUMNS: [&str; 8] = ["clip", "stroke", "event", "time_s", "frame", "x", "y", "value"];

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
    row: &'a Row,
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
