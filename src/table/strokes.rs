//! `strokes.csv`: one row per stroke, one column per measure.

use super::cell::Cell;
use super::results::{Drill, Results};
use super::sheet::{Column, Kind, Sheet};
use crate::measure::CATALOGUE;
use crate::measure::clip::MeasuredStroke;
use crate::scene::StatureSource;
use crate::stroke::Boundary;

/// A stroke of a clip, counted from 1.
#[derive(Debug, Clone, Copy)]
pub struct StrokeRow<'a> {
    /// The clip.
    pub results: &'a Results<'a>,
    /// The stroke's number.
    pub number: usize,
    /// The stroke.
    pub found: &'a MeasuredStroke,
}

/// A clip's strokes in order.
pub fn rows<'a>(results: &'a Results<'a>) -> impl Iterator<Item = StrokeRow<'a>> {
    results.measures.strokes.iter().map(move |stroke| StrokeRow {
        results,
        number: stroke.number,
        found: stroke,
    })
}

/// A table's row that belongs to a stroke.
pub trait OfStroke {
    /// The stroke.
    fn stroke(&self) -> StrokeRow<'_>;
}

impl OfStroke for StrokeRow<'_> {
    fn stroke(&self) -> StrokeRow<'_> {
        *self
    }
}

/// The first columns of every table of strokes: which clip and stroke a row is of.
pub fn which<R: OfStroke>() -> Vec<Column<R>> {
    vec![
        Column::new("clip", Kind::String, "File name of the clip.", |row: &R| {
            Cell::text(row.stroke().results.clip)
        })
        .required(),
        Column::new("stroke", Kind::Integer, "Number of the stroke in the clip.", |row: &R| {
            Cell::whole(row.stroke().number)
        })
        .at_least(1.0)
        .required(),
    ]
}

/// The table.
pub fn sheet<'a>() -> Sheet<StrokeRow<'a>> {
    let mut columns = about();
    columns.extend(times());
    columns.push(
        Column::new(
            "height_cm",
            Kind::Number,
            "The player's stature that sets the scale.",
            |row: &StrokeRow| Cell::number(100.0 * row.results.measures.filmed.stature.metres.0, 0),
        )
        .in_unit("cm")
        .required(),
    );
    columns.push(
        Column::new(
            "scale_source",
            Kind::String,
            "Whether that stature was given, measured with the court in the clip or in other clips of the player's season, or assumed.",
            |row: &StrokeRow| Cell::text(row.results.measures.filmed.stature.source.name()),
        )
        .one_of(
            StatureSource::ALL.map(StatureSource::name),
        )
        .required(),
    );
    for (i, measure) in CATALOGUE.iter().enumerate() {
        let description = format!("{} {}.", measure.definition, measure.sign);
        columns.push(
            Column::new(measure.id, Kind::Number, description, move |row: &StrokeRow| {
                match row.found.measured.outcomes[i] {
                    Ok(found) => Cell::Number(measure.format(found.value)),
                    Err(_) => Cell::Empty,
                }
            })
            .titled(measure.title)
            .in_unit(measure.unit.ucum()),
        );
    }
    Sheet {
        name: "strokes",
        title: "Strokes",
        description: "One row per stroke. Values without their uncertainty; see measures.csv for that and for the \
                      reasons of missing values.",
        key: &["clip", "stroke"],
        of_strokes: false,
        columns,
    }
}

fn about<'a>() -> Vec<Column<StrokeRow<'a>>> {
    use Kind::String;
    let mut columns = which();
    columns.extend([
        Column::new("player", String, "The player's code, as given.", |row: &StrokeRow| {
            Cell::maybe(row.results.labels.player.as_deref())
        }),
        Column::new("date", Kind::Date, "The day of the clip, as given.", |row: &StrokeRow| {
            Cell::maybe(row.results.labels.date.as_deref())
        }),
        Column::new("drill", String, "How the ball came, as given.", |row: &StrokeRow| {
            Cell::maybe(row.results.labels.drill.map(Drill::name))
        })
        .one_of(Drill::ALL.map(Drill::name)),
        Column::new("kind", String, "Kind of the stroke.", |row: &StrokeRow| {
            Cell::text(row.found.stroke.kind.name())
        })
        .one_of(["forehand", "backhand", "overhead", "unknown"])
        .required(),
        Column::new("hand", String, "The hitting hand.", |row: &StrokeRow| {
            Cell::text(row.found.stroke.motion.hand.name())
        })
        .one_of(["left", "right"])
        .required(),
        Column::new("hands", Kind::Integer, "How many hands held the racket through the forward swing.", |row: &StrokeRow| {
            Cell::whole(row.found.stroke.hands.count())
        })
        .at_least(1.0)
        .required(),
        Column::new(
            "volley",
            String,
            "Whether the ball was taken out of the air; empty in ground strokes and overheads.",
            |row: &StrokeRow| Cell::maybe(row.found.stroke.volley.then_some("yes")),
        )
        .one_of(["yes"]),
        Column::new("view", String, "From where the camera looks.", |row: &StrokeRow| {
            Cell::text(row.found.stroke.motion.direction.view.name())
        })
        .one_of(["side", "back", "front", "diagonal"])
        .required(),
        Column::new(
            "ball",
            String,
            "Whether a ball was hit, by the sound of the hit or because it was seen; empty = nothing tells. In a shadow swing: no.",
            |row: &StrokeRow| Cell::maybe(row.found.stroke.ball.map(|ball| if ball { "yes" } else { "no" })),
        )
        .one_of(["yes", "no"]),
        Column::new(
            "stance_kind",
            String,
            "How the line between the feet stands to the direction of the net at contact.",
            |row: &StrokeRow| Cell::maybe(row.found.stroke.stance.map(crate::stroke::Stance::name)),
        )
        .one_of(["open", "semi-open", "neutral", "closed"]),
    ]);
    columns
}

fn times<'a>() -> Vec<Column<StrokeRow<'a>>> {
    let mut columns = Vec::new();
    for (i, boundary) in Boundary::ALL.into_iter().enumerate() {
        let name = format!("{}_s", boundary.name());
        let description =
            format!("{} Seconds since the clip's first frame.", super::boundary::definition(boundary));
        columns.push(
            Column::new(name, Kind::Number, description, move |row: &StrokeRow| {
                Cell::maybe_number(row.found.stroke.phases.get(boundary).map(|mark| mark.time.0), 3)
            })
            .in_unit("s"),
        );
        if boundary == Boundary::Contact {
            columns.push(
                Column::new(
                    "contact_plus_minus_ms",
                    Kind::Number,
                    "Half width of the 95 % interval of contact's time.",
                    move |row: &StrokeRow| {
                        Cell::maybe_number(
                            row.found.measured.boundaries[i].map(|time| time.milliseconds()),
                            0,
                        )
                    },
                )
                .in_unit("ms"),
            );
            columns.push(Column::new(
                "contact_method",
                Kind::String,
                "What contact's time was read from.",
                |row: &StrokeRow| Cell::text(row.found.stroke.phases.contact.method.name()),
            ));
        }
    }
    columns
}
