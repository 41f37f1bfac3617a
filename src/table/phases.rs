//! `phases.csv`: one row per stroke and boundary.

use super::cell::Cell;
use super::sheet::{Column, Kind, Sheet};
use super::strokes::OfStroke;
use super::{Results, strokes};
use crate::measure::Missing;
use crate::stroke::{Boundary, Mark, Method};
use crate::units::Seconds;

/// A boundary of a stroke.
#[derive(Debug, Clone, Copy)]
pub struct PhaseRow<'a> {
    of: strokes::StrokeRow<'a>,
    boundary: Boundary,
    mark: Option<Mark>,
    plus_minus: Option<Seconds>,
}

impl OfStroke for PhaseRow<'_> {
    fn stroke(&self) -> strokes::StrokeRow<'_> {
        self.of
    }
}

/// A clip's boundaries, stroke by stroke in the usual order.
pub fn rows<'a>(results: &'a Results<'a>) -> impl Iterator<Item = PhaseRow<'a>> {
    strokes::rows(results).flat_map(|of| {
        Boundary::ALL.into_iter().enumerate().map(move |(i, boundary)| PhaseRow {
            of,
            boundary,
            mark: of.found.stroke.phases.get(boundary),
            plus_minus: of.found.measured.boundaries[i],
        })
    })
}

/// The table.
pub fn sheet<'a>() -> Sheet<PhaseRow<'a>> {
    let mut columns = strokes::which();
    columns.extend([
        Column::new("boundary", Kind::String, boundaries(), |row: &PhaseRow| Cell::text(row.boundary.name()))
            .one_of(Boundary::ALL.map(Boundary::name))
            .required(),
        Column::new("time_s", Kind::Number, "Seconds since the clip's first frame.", |row: &PhaseRow| {
            Cell::maybe_number(row.mark.map(|mark| mark.time.0), 3)
        })
        .in_unit("s"),
        Column::new("plus_minus_ms", Kind::Number, "Half width of the 95 % interval.", |row: &PhaseRow| {
            Cell::maybe_number(row.mark.and(row.plus_minus).map(Seconds::milliseconds), 0)
        })
        .in_unit("ms")
        .at_least(0.0),
        Column::new("method", Kind::String, "What the time was read from.", |row: &PhaseRow| {
            Cell::maybe(row.mark.map(|mark| mark.method.name()))
        })
        .one_of(METHODS.map(Method::name)),
        Column::new("reason", Kind::String, "Why there is no time.", |row: &PhaseRow| {
            Cell::maybe(row.mark.is_none().then(|| Missing::PhaseAbsent.name()))
        }),
    ]);
    Sheet {
        name: "phases",
        title: "Boundaries of phases",
        description: "One row per stroke and boundary between phases, with the uncertainty of its time.",
        key: &["clip", "stroke", "boundary"],
        of_strokes: true,
        columns,
    }
}

const METHODS: [Method; 13] = [
    Method::ShoulderTurn,
    Method::HandRetreat,
    Method::HandPosition,
    Method::HandSpeed,
    Method::HandSlowed,
    Method::BackswingEnd,
    Method::Kinematic,
    Method::Marked,
    Method::Sound,
    Method::SoundKinematic,
    Method::Ball,
    Method::BallSound,
    Method::BallKinematic,
];

fn boundaries() -> String {
    let lines = Boundary::ALL.map(|b| format!("{}: {}", b.name(), super::boundary::definition(b)));
    lines.join(" ")
}
