//! The template for marks.

use super::super::cell::Cell;
use super::super::sheet::{Column, Kind as Type, Sheet};
use super::super::{Results, strokes};
use crate::stroke::Boundary;
use crate::units::Seconds;

/// A column of the template that is for the eye only.
pub(super) const FOUND: &str = "found";

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
        whole("scale", format!("{:.0} cm", 100.0 * measures.filmed.stature.metres.0)),
    ];
    clip.into_iter().chain(strokes::rows(results).flat_map(move |row| {
        let stroke = &row.found.stroke;
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
            empty("frame", "Or in which frame."),
            empty("x", "Where, pixels to the right."),
            empty("y", "And down."),
            empty("value", "What it is."),
            Column::new(FOUND, Type::String, "What was found.", |line: &Line| {
                Cell::text(line.found.as_str())
            }),
        ],
    }
}
