//! `--marks`: what a coach corrects, and the template for it.

use std::path::Path;

use super::by_hand::{ByHand, ByHandError, Row};
use super::cell::Cell;
use super::sheet::{Column, Kind as Type, Sheet};
use super::{Results, strokes};
use crate::geometry::Point2;
use crate::measure::clip::{ClipMeasures, SAME_STROKE};
use crate::pose::{Choice, Motion, Side};
use crate::racket::Tip;
use crate::stroke::correction::{Correction, Corrections};
use crate::stroke::{Boundary, Kind};
use crate::units::{FrameIndex, Metres, Seconds};

/// Columns of a file of marks.
pub const COLUMNS: [&str; 8] = ["clip", "stroke", "event", "time_s", "frame", "x", "y", "value"];

/// A column of the template that is for the eye only.
const FOUND: &str = "found";

/// Events besides the boundaries' names.
const EVENTS: [&str; 6] = ["hand", "kind", "subject", "racket_tip", "scale", "no_stroke"];

/// Statures that are taken for a player's, centimetres.
const STATURES: std::ops::RangeInclusive<f64> = 80.0..=250.0;

/// A contact farther than this from the one that was found is more likely meant for another stroke.
const FARTHEST: Seconds = Seconds(1.5);

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

#[derive(Debug, Clone)]
struct Mark<'a> {
    row: &'a Row,
    stroke: Option<usize>,
    event: Event,
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
        let known: Vec<&str> = COLUMNS.into_iter().chain([FOUND]).collect();
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

    /// A row's mark; none where nothing is filled in.
    fn mark<'a>(&self, row: &'a Row) -> Result<Option<Mark<'a>>, ByHandError> {
        let table = &self.table;
        let wrong = |problem: String| table.wrong(row, problem);
        let names =
            || Boundary::ALL.map(Boundary::name).into_iter().chain(EVENTS).collect::<Vec<_>>().join(", ");
        let event = table
            .cell(row, "event")
            .ok_or_else(|| wrong(format!("names no event; use one of {}", names())))?;
        let (x, y) = (table.number(row, "x")?, table.number(row, "y")?);
        let value = table.cell(row, "value");
        let when = match (table.number(row, "time_s")?, table.number(row, "frame")?) {
            (Some(_), Some(_)) => {
                return Err(wrong("has both a time and a frame; give one of them".to_owned()));
            }
            (Some(time), None) if time >= 0.0 => Some(When::At(Seconds(time))),
            (None, Some(frame)) if frame >= 0.0 && frame.fract() == 0.0 => {
                Some(When::In(FrameIndex(frame as usize)))
            }
            (None, None) => None,
            _ => return Err(wrong("time_s and frame count from 0; a frame is a whole number".to_owned())),
        };
        let place = match (x, y) {
            (Some(x), Some(y)) => Some(Point2::new(x, y)),
            (None, None) => None,
            _ => {
                return Err(wrong(
                    "has only one of x and y; give both, pixels from the upper left".to_owned(),
                ));
            }
        };
        let stroke = match table.number(row, "stroke")? {
            None => None,
            Some(number) if number >= 1.0 && number.fract() == 0.0 => Some(number as usize),
            Some(_) => return Err(wrong("stroke is a number from 1, as in strokes.csv".to_owned())),
        };
        let boundary = Boundary::ALL.into_iter().find(|boundary| boundary.name() == event);
        if boundary.is_none() && !EVENTS.contains(&event) {
            return Err(wrong(format!("there is no event `{event}`; use one of {}", names())));
        }
        if (when, place, value) == (None, None, None) {
            return Ok(None);
        }
        let whole_clip = |event: Event| match stroke {
            None => Ok(event),
            Some(_) => Err(wrong("concerns the whole clip; leave `stroke` empty".to_owned())),
        };
        let event = match (event, boundary) {
            (_, Some(boundary)) => {
                let when =
                    when.ok_or_else(|| wrong(format!("{} needs a time_s or a frame", boundary.name())))?;
                if stroke.is_none() && boundary != Boundary::Contact {
                    return Err(wrong(format!("{} needs the number of a stroke", boundary.name())));
                }
                Event::Boundary(boundary, when)
            }
            ("hand", _) => Event::Hand(match value {
                Some("right") => Side::Right,
                Some("left") => Side::Left,
                _ => return Err(wrong("hand needs `right` or `left` as value".to_owned())),
            }),
            ("kind", _) => Event::Kind(match value {
                Some("forehand") => Kind::Forehand,
                Some("backhand") => Kind::Backhand,
                Some("overhead") => Kind::Overhead,
                _ => {
                    return Err(wrong("kind needs `forehand`, `backhand` or `overhead` as value".to_owned()));
                }
            }),
            ("subject", _) => whole_clip(Event::Subject(
                place.ok_or_else(|| wrong("subject needs x and y of a pixel on the player".to_owned()))?,
                when,
            ))?,
            ("racket_tip", _) => {
                let need = || wrong("racket_tip needs x and y, and a frame or time_s".to_owned());
                Event::RacketTip(place.ok_or_else(need)?, when.ok_or_else(need)?)
            }
            ("scale", _) => {
                let height = table.number(row, "value")?.filter(|height| STATURES.contains(height));
                let height = height.ok_or_else(|| {
                    wrong("scale needs the player's height in cm as value, 80 to 250".to_owned())
                })?;
                whole_clip(Event::Scale(Metres(height / 100.0)))?
            }
            _ => {
                if value != Some("yes") {
                    return Err(wrong("no_stroke needs `yes` as value".to_owned()));
                }
                if stroke.is_none() {
                    return Err(wrong("no_stroke needs the number of a stroke".to_owned()));
                }
                Event::NoStroke
            }
        };
        Ok(Some(Mark { row, stroke, event }))
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

    /// Compares the marks with what they have led to.
    ///
    /// # Errors
    /// [`ByHandError::Line`] for strokes that there are not, and times that can't be.
    pub fn check(&self, said: &Corrections, measures: &ClipMeasures) -> Result<(), ByHandError> {
        let added = self.marks.iter().filter(|mark| is_added(mark)).count();
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
        self.check_contacts(measures)
    }

    /// A stroke that was added must be there, and not twice.
    fn check_added(
        &self,
        mark: &Mark<'_>,
        said: &Corrections,
        measures: &ClipMeasures,
    ) -> Result<(), ByHandError> {
        let place =
            self.marks.iter().filter(|m| is_added(m)).position(|m| m.row.line == mark.row.line).unwrap_or(0);
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

fn of_stroke(said: &mut Corrections, number: usize) -> &mut Correction {
    said.strokes.entry(number).or_default()
}

fn is_added(mark: &Mark<'_>) -> bool {
    mark.stroke.is_none() && matches!(mark.event, Event::Boundary(..))
}

/// A line of the template.
#[derive(Debug, Clone)]
pub struct Line<'a> {
    clip: &'a str,
    stroke: Option<usize>,
    event: &'static str,
    found: String,
}

/// Lines to fill in: what concerns the clip, then every stroke.
pub fn lines<'a>(results: &'a Results<'a>) -> impl Iterator<Item = Line<'a>> {
    let whole = |event: &'static str, found: String| Line { clip: results.clip, stroke: None, event, found };
    let measures = results.measures;
    let clip = [
        whole("hand", measures.hitting.map_or_else(String::new, |h| h.hand.name().to_owned())),
        whole("subject", String::new()),
        whole("scale", format!("{:.0} cm", 100.0 * measures.stature.0.0)),
    ];
    clip.into_iter().chain(strokes::rows(results).flat_map(move |row| {
        let stroke = &row.stroke.stroke;
        let line = move |event, found| Line { clip: results.clip, stroke: Some(row.number), event, found };
        let times = Boundary::ALL.into_iter().map(move |boundary| {
            let found = stroke.phases.get(boundary).map_or_else(String::new, |mark| {
                let motion = results.motion;
                let place = motion.times.partition_point(|t| *t < mark.time - Seconds(0.5 / motion.rate));
                let frame = motion.indices.get(place).map_or_else(String::new, |frame| format!(", {frame}"));
                format!("{:.3} s{frame}", mark.time.0)
            });
            line(boundary.name(), found)
        });
        [line("kind", stroke.kind.name().to_owned()), line("no_stroke", String::new())]
            .into_iter()
            .chain(times)
    }))
}

/// The template.
pub fn template<'a>() -> Sheet<Line<'a>> {
    let empty = |name: &str, what: &str| Column::new(name, Type::String, what, |_: &Line| Cell::Empty);
    Sheet {
        name: "marks",
        title: "Marks",
        description: "Corrections to fill in.",
        key: &[],
        of_strokes: false,
        columns: vec![
            Column::new("clip", Type::String, "File name of the clip.", |line: &Line| Cell::text(line.clip)),
            Column::new("stroke", Type::Integer, "Number of the stroke.", |line: &Line| {
                line.stroke.map_or(Cell::Empty, Cell::whole)
            }),
            Column::new("event", Type::String, "What is corrected.", |line: &Line| Cell::text(line.event)),
            empty("time_s", "When, in seconds."),
            empty("frame", "Or in which picture."),
            empty("x", "Where, pixels to the right."),
            empty("y", "And down."),
            empty("value", "What it is."),
            Column::new(FOUND, Type::String, "What was found.", |line: &Line| {
                Cell::text(line.found.as_str())
            }),
        ],
    }
}
