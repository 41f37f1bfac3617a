//! The table of strokes.

use std::collections::BTreeSet;

use super::words::capitalised;
use crate::measure::clip::MeasuredStroke;
use crate::measure::pair::Second;
use crate::measure::{Grade, Measure};
use crate::stroke::Sort;
use crate::table::{fixed, headlines};
use crate::targets::reference::reference;

/// The table: headings and a row for each stroke.
pub struct Strokes {
    pub headings: Vec<String>,
    pub rows: Vec<ShownStroke>,
    /// Where recorded players of this kind are, column by column; empty where nothing is known.
    pub usual: Vec<String>,
    pub has_low: bool,
    pub has_gaps: bool,
    /// What comes from which camera, where there are two.
    pub cameras: Option<String>,
}

/// A stroke.
pub struct ShownStroke {
    pub number: usize,
    pub kind: &'static str,
    pub time: String,
    pub cells: Vec<Cell>,
}

/// A value, or why there is none.
pub enum Cell {
    Value { text: String, low: bool },
    Missing(&'static str),
}

impl Strokes {
    /// `height_cm` is the player's; `second` says what comes from another camera.
    pub fn of(strokes: &[&MeasuredStroke], height_cm: f64, second: Option<&Second>) -> Self {
        let shown = headlines(strokes, second);
        let cell = |stroke: &MeasuredStroke, index: usize, measure: &Measure| match stroke.measured.outcomes
            [index]
        {
            Ok(found) if measure.is_dwarfed(found.value, found.plus_minus) => Cell::Missing("not measurable"),
            Ok(found) => Cell::Value {
                // The heading has the unit.
                text: measure.number_within(found.value, found.plus_minus),
                low: found.grade == Grade::Low,
            },
            Err(reason) => Cell::Missing(reason.name()),
        };
        let rows: Vec<ShownStroke> = strokes
            .iter()
            .map(|stroke| ShownStroke {
                number: stroke.number,
                kind: stroke.stroke.sort().spoken(),
                time: fixed(stroke.stroke.phases.contact.time.0, 2),
                cells: shown.iter().map(|column| cell(stroke, column.index, column.measure)).collect(),
            })
            .collect();
        let kinds: BTreeSet<Sort> = strokes.iter().map(|stroke| stroke.stroke.sort()).collect();
        let of_players = |measure: &Measure| {
            let kind = kinds.first().filter(|_| kinds.len() == 1)?;
            let found = reference(measure, kind.name(), height_cm)?;
            Some(format!("{} to {}", measure.number(found.low), measure.number(found.high)))
        };
        let mut usual: Vec<String> =
            shown.iter().map(|column| of_players(column.measure).unwrap_or_else(|| "–".to_owned())).collect();
        if usual.iter().all(|cell| cell == "–") {
            usual.clear();
        }
        let has = |wanted: fn(&Cell) -> bool| rows.iter().any(|row| row.cells.iter().any(wanted));
        Self {
            headings: shown.iter().map(|column| capitalised(&column.heading.join(" "))).collect(),
            has_low: has(|cell| matches!(cell, Cell::Value { low: true, .. })),
            has_gaps: has(|cell| matches!(cell, Cell::Missing(_))),
            rows,
            usual,
            cameras: second.map(|second| format!("Two cameras: {}.", second.legend())),
        }
    }
}
