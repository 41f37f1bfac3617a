//! `compare.csv`: one row per measure.

use super::{ComparedMeasure, Note, Verdict};
use crate::measure::{CATALOGUE, Measurement};
use crate::stats::Summary;
use crate::table::Cell;
use crate::table::sheet::{Column, Kind, Sheet};

/// One more digit than a single value has: means and spreads are finer.
fn digits(row: &ComparedMeasure) -> usize {
    row.measure.decimals + 1
}

fn about(side: &[Measurement]) -> Option<Summary> {
    Summary::of(&ComparedMeasure::values(side))
}

/// The table.
pub fn sheet<'a>() -> Sheet<&'a ComparedMeasure> {
    type R<'a> = &'a ComparedMeasure;
    let number = |name: &'static str, what: &'static str, of: fn(&ComparedMeasure) -> Option<f64>| {
        Column::new(name, Kind::Number, what, move |row: &R<'a>| Cell::maybe_number(of(row), digits(row)))
    };
    let share = |name: &'static str, what: &'static str, of: fn(&ComparedMeasure) -> Option<f64>| {
        Column::new(name, Kind::Number, what, move |row: &R<'a>| Cell::maybe_number(of(row), 4))
            .at_least(0.0)
            .at_most(1.0)
    };
    let count = |name: &'static str, what: &'static str, of: fn(&ComparedMeasure) -> usize| {
        Column::new(name, Kind::Integer, what, move |row: &R<'a>| Cell::whole(of(row))).required()
    };
    let columns = vec![
        Column::new("measure", Kind::String, "Name of the measure.", |row: &R<'a>| {
            Cell::text(row.measure.id)
        })
        .one_of(CATALOGUE.iter().map(|measure| measure.id))
        .required(),
        Column::new(
            "unit",
            Kind::String,
            "Unit of means, spreads and difference (UCUM code).",
            |row: &R<'a>| Cell::text(row.measure.unit.ucum()),
        )
        .required(),
        count("before_n", "Strokes with a value before.", |row| row.before.len()),
        number("before_mean", "Their mean.", |row| Some(about(&row.before)?.mean)),
        number("before_sd", "Their standard deviation.", |row| about(&row.before)?.sd),
        count("after_n", "Strokes with a value after.", |row| row.after.len()),
        number("after_mean", "Their mean.", |row| Some(about(&row.after)?.mean)),
        number("after_sd", "Their standard deviation.", |row| about(&row.after)?.sd),
        number("difference", "Mean after minus mean before.", |row| {
            if row.verdict == Verdict::Refused { None } else { row.difference() }
        }),
        number("low", "Lower end of the 95 % interval of the difference.", |row| {
            Some(row.tested?.difference.interval.low)
        }),
        number("high", "Upper end of the 95 % interval of the difference.", |row| {
            Some(row.tested?.difference.interval.high)
        }),
        Column::new("hedges_g", Kind::Number, "Hedges' g.", |row: &R<'a>| {
            Cell::maybe_number(row.tested.and_then(|tested| tested.hedges_g), 2)
        }),
        share("p", "Permutation p of independent strokes.", |row| Some(row.tested?.p)),
        share(
            "q",
            "The p that goes with the interval and with ordinary change between sessions, corrected: for the primary \
             measures together by Holm, for the others as Benjamini and Hochberg's q.",
            |row| row.tested?.q,
        ),
        Column::new("verdict", Kind::String, "What it comes to.", |row: &R<'a>| {
            Cell::text(row.verdict.name())
        })
        .one_of(Verdict::ALL.map(Verdict::name))
        .required(),
        Column::new("note", Kind::String, "What else is to be known.", |row: &R<'a>| {
            Cell::text(row.notes.iter().map(Note::to_string).collect::<Vec<_>>().join("; "))
        }),
    ];
    Sheet {
        name: "compare",
        title: "Comparison",
        description: "One row per measure with a value in both sessions, the most telling first.",
        key: &["measure"],
        of_strokes: false,
        columns,
    }
}
