//! `measures.csv`: one row per stroke and measure, with its uncertainty or the reason why it is missing.

use super::cell::Cell;
use super::sheet::{Column, Kind, Sheet};
use super::strokes::OfStroke;
use super::{Results, strokes};
use crate::measure::pair::Origin;
use crate::measure::{CATALOGUE, Grade, Measure, Outcome, Unit};
use crate::scene::{Teller, View};
use crate::stroke::{Boundary, Method};

/// A measure of a stroke.
#[derive(Debug, Clone, Copy)]
pub struct MeasureRow<'a> {
    of: strokes::StrokeRow<'a>,
    /// The catalogue's entry.
    pub measure: &'static Measure,
    /// Its value, or the reason why there is none.
    pub outcome: Outcome,
}

impl<'a> MeasureRow<'a> {
    /// A stroke's measures in the catalogue's order.
    pub fn of(of: strokes::StrokeRow<'a>) -> impl Iterator<Item = MeasureRow<'a>> {
        CATALOGUE.iter().zip(&of.found.measured.outcomes).map(move |(measure, outcome)| MeasureRow {
            of,
            measure,
            outcome: *outcome,
        })
    }

    /// Half width of the 95 % interval, written with the measure's digits but never as nothing.
    pub fn plus_minus(&self) -> Option<String> {
        Some(self.measure.format_plus_minus(self.outcome.ok()?.plus_minus))
    }

    /// A length as a share of the player's stature.
    pub fn body_heights(&self) -> Option<f64> {
        let found = self.outcome.ok().filter(|_| self.measure.is_length())?;
        Some(found.value / (100.0 * self.of.results.measures.filmed.stature.metres.0))
    }

    /// How the value was read: how the picture was turned into metres, and the boundary's method where the value hangs on
    /// a preparation whose start is only the hand's retreat.
    pub fn method(&self) -> Option<String> {
        self.outcome.ok()?;
        let results = self.of.results;
        match self.origin() {
            Some((Origin::Other, view)) => return Some(format!("{} view", view.name())),
            Some((Origin::Both, _)) => return Some("both views".to_owned()),
            Some((Origin::Own, _)) | None => {}
        }
        // Without depth from the model everything lies in one plane, whatever was asked for.
        let lift = if results.measures.space.teller == Teller::Nothing { "planar" } else { "perspective" };
        let start =
            self.of.found.stroke.phases.prep_start.filter(|_| self.measure.hangs_on(Boundary::PrepStart));
        let retreat = start.filter(|mark| mark.method == Method::HandRetreat);
        Some(match retreat {
            Some(mark) => format!("{lift}+{}", mark.method.name()),
            None => lift.to_owned(),
        })
    }

    /// Whose the value is where a second camera saw the stroke, and from where that looks.
    fn origin(&self) -> Option<(Origin, View)> {
        let second = self.of.results.second?;
        let strokes = &self.of.results.measures.strokes;
        let stroke = strokes.iter().position(|stroke| stroke.number == self.of.found.number)?;
        let place = Measure::place(self.measure.id)?;
        Some((*second.origins.get(stroke)?.get(place)?, second.view))
    }

    /// Why there is no value.
    pub fn reason(&self) -> Option<&'static str> {
        self.outcome.err().map(crate::measure::Missing::name)
    }
}

impl OfStroke for MeasureRow<'_> {
    fn stroke(&self) -> strokes::StrokeRow<'_> {
        self.of
    }
}

/// A clip's measures, stroke by stroke in the catalogue's order.
pub fn rows<'a>(results: &'a Results<'a>) -> impl Iterator<Item = MeasureRow<'a>> {
    strokes::rows(results).flat_map(MeasureRow::of)
}

/// The table.
pub fn sheet<'a>() -> Sheet<MeasureRow<'a>> {
    let mut columns = strokes::which();
    columns.extend([
        Column::new(
            "measure",
            Kind::String,
            "Name of the measure; its definition is that of the column of this name in strokes.csv.",
            |row: &MeasureRow| Cell::text(row.measure.id),
        )
        .one_of(CATALOGUE.iter().map(|measure| measure.id))
        .required(),
        Column::new("value", Kind::Number, "The value, in the unit given beside it.", |row: &MeasureRow| match row
            .outcome
        {
            Ok(found) => Cell::Number(row.measure.format(found.value)),
            Err(_) => Cell::Empty,
        }),
        Column::new(
            "unit",
            Kind::String,
            "Unit of value and plus_minus (UCUM code; 1 = a plain number).",
            |row: &MeasureRow| Cell::text(row.measure.unit.ucum()),
        )
        .one_of(UNITS.map(Unit::ucum))
        .required(),
        Column::new("value_bh", Kind::Number, "Lengths as a share of the player's stature.", |row: &MeasureRow| {
            Cell::maybe_number(row.body_heights(), 4)
        })
        .in_unit("1"),
        Column::new(
            "plus_minus",
            Kind::Number,
            "Half width of the 95 % interval of the value.",
            |row: &MeasureRow| row.plus_minus().map_or(Cell::Empty, Cell::Number),
        )
        .at_least(0.0),
        Column::new("grade", Kind::String, "How far the value can be trusted.", |row: &MeasureRow| {
            Cell::maybe(row.outcome.ok().map(|found| found.grade.name()))
        })
        .one_of([Grade::Good, Grade::Fair, Grade::Low].map(Grade::name)),
        Column::new(
            "method",
            Kind::String,
            "How pixels were turned into metres: perspective or planar; with +hand-retreat where the value depends on a \
             preparation whose start is only the hand's first retreat. Of values of a second camera its view, of values that two cameras give together: both views.",
            |row: &MeasureRow| Cell::maybe(row.method()),
        ),
        Column::new("reason", Kind::String, "Why there is no value.", |row: &MeasureRow| Cell::maybe(row.reason())),
    ]);
    Sheet {
        name: "measures",
        title: "Measures",
        description: "One row per stroke and measure: the value with its uncertainty and grade, or the reason why it is \
                      missing.",
        key: &["clip", "stroke", "measure"],
        of_strokes: true,
        columns,
    }
}

const UNITS: [Unit; 5] = [Unit::Centimetre, Unit::Degree, Unit::Millisecond, Unit::MetrePerSecond, Unit::One];
