//! The season's tables: strokes and measures of all clips, sessions, clips.

use std::path::Path;

use super::gather::{Gathered, GatheredClip};
use super::group::{Described, Group, Session};
use crate::measure::{CATALOGUE, Grade, Measure};
use crate::table::sheet::{Column, Kind, Sheet};
use crate::table::{
    Cell, Decimal, Drill, Package, TableError, WORKBOOK, Workbook, measures, strokes, write_json,
};

/// One session and measure.
#[derive(Debug, Clone, Copy)]
pub struct SessionRow<'a> {
    group: &'a Group,
    session: &'a Session,
    measure: &'static Measure,
    described: Described,
}

/// The rows of `sessions.csv`: sessions in the order of the groups, measures in the catalogue's.
pub fn session_rows(groups: &[Group]) -> impl Iterator<Item = SessionRow<'_>> {
    groups.iter().flat_map(|group| {
        group.sessions.iter().flat_map(move |session| {
            CATALOGUE.iter().enumerate().filter_map(move |(place, measure)| {
                let described = session.describe(place)?;
                Some(SessionRow { group, session, measure, described })
            })
        })
    })
}

/// `sessions.csv`.
pub fn sessions<'a>() -> Sheet<SessionRow<'a>> {
    let number = |name: &'static str, what: &str, value: fn(&Described) -> Option<f64>| {
        Column::new(name, Kind::Number, what, move |row: &SessionRow| {
            // One digit more than a single stroke has: a mean is known better.
            Cell::maybe_number(value(&row.described), row.measure.decimals + 1)
        })
    };
    let columns = vec![
        Column::new("player", Kind::String, "The player's code.", |row: &SessionRow| {
            Cell::text(row.group.player.as_str())
        }),
        Column::new("date", Kind::Date, "The day.", |row: &SessionRow| Cell::text(row.session.date.as_str())),
        Column::new("drill", Kind::String, "How the ball came.", |row: &SessionRow| {
            Cell::text(row.session.drill.as_str())
        })
        .one_of(Drill::ALL.map(Drill::name)),
        Column::new("view", Kind::String, "From where the camera looked.", |row: &SessionRow| {
            Cell::text(row.group.view.as_str())
        })
        .required(),
        Column::new("kind", Kind::String, "Kind of the strokes.", |row: &SessionRow| {
            Cell::text(row.group.kind.as_str())
        })
        .required(),
        Column::new(
            "measure",
            Kind::String,
            "Name of the measure, as in strokes.csv.",
            |row: &SessionRow| Cell::text(row.measure.id),
        )
        .required(),
        Column::new(
            "unit",
            Kind::String,
            "Unit of the values (UCUM code; 1 = a plain number).",
            |row: &SessionRow| Cell::text(row.measure.unit.ucum()),
        )
        .required(),
        Column::new("n", Kind::Integer, "How many strokes have a value.", |row: &SessionRow| {
            Cell::whole(row.described.summary.n)
        })
        .at_least(1.0)
        .required(),
        number("mean", "Their mean.", |d| Some(d.summary.mean)),
        number("median", "Their median.", |d| Some(d.summary.median)),
        number("sd", "Their standard deviation; empty for one stroke.", |d| d.summary.sd).at_least(0.0),
        number(
            "low",
            "Lower end of the mean's 95 % interval: how the strokes scatter, and what is uncertain in all strokes of a \
             session alike (scale, camera; plus_minus in measures.csv).",
            |d| d.interval.map(|i| i.low),
        ),
        number("high", "Its upper end.", |d| d.interval.map(|i| i.high)),
        Column::new("grade", Kind::String, "The grade that most of the values have.", |row: &SessionRow| {
            Cell::text(row.described.grade.name())
        })
        .one_of([Grade::Good, Grade::Fair, Grade::Low].map(Grade::name))
        .required(),
    ];
    Sheet {
        name: "sessions",
        title: "Sessions",
        description: "One row per player, day, drill, view, kind of stroke and measure.",
        key: &[],
        of_strokes: false,
        columns,
    }
}

/// `clips.csv`.
pub fn clips<'a>() -> Sheet<&'a GatheredClip> {
    let columns = vec![
        Column::new("clip", Kind::String, "The clip's path within the folder.", |row: &&GatheredClip| {
            Cell::text(row.line.file.as_str())
        })
        .required(),
        Column::new("player", Kind::String, "The player's code.", |row: &&GatheredClip| {
            Cell::maybe(row.line.player.as_deref())
        }),
        Column::new("date", Kind::Date, "The day.", |row: &&GatheredClip| {
            Cell::maybe(row.line.date.as_deref())
        }),
        Column::new("drill", Kind::String, "How the ball came.", |row: &&GatheredClip| {
            Cell::maybe(row.line.drill)
        }),
        Column::new(
            "state",
            Kind::String,
            "Whether its strokes are in the tables.",
            |row: &&GatheredClip| Cell::text(row.line.state.name()),
        )
        .one_of(["measured", "failed", "same", "not-measured"])
        .required(),
        Column::new("strokes", Kind::Integer, "How many strokes were found.", |row: &&GatheredClip| {
            Cell::whole(row.strokes)
        })
        .at_least(0.0),
        Column::new("model", Kind::String, "The pose model.", |row: &&GatheredClip| {
            Cell::maybe(row.about.as_ref().map(|about| about.model.as_str()))
        }),
        Column::new("model_sha256", Kind::String, "SHA-256 of the pose model.", |row: &&GatheredClip| {
            Cell::maybe(row.about.as_ref().map(|about| about.model_sha256.as_str()))
        }),
        Column::new(
            "capture_rate",
            Kind::Number,
            "Frames per second at which the camera filmed.",
            |row: &&GatheredClip| {
                Cell::maybe_number(row.about.as_ref().and_then(|about| about.capture_rate), 3)
            },
        )
        .in_unit("/s"),
        Column::new("method", Kind::String, "How pixels were turned into metres.", |row: &&GatheredClip| {
            Cell::maybe(row.about.as_ref().map(|about| about.method.as_str()))
        }),
        Column::new(
            "height_cm",
            Kind::Number,
            "The player's height that sets the scale.",
            |row: &&GatheredClip| Cell::maybe_number(row.height().map(|height| height.cm), 1),
        )
        .in_unit("cm"),
        Column::new(
            "height_plus_minus_cm",
            Kind::Number,
            "Half of the height's 95 % interval.",
            |row: &&GatheredClip| Cell::maybe_number(row.height().map(|height| height.plus_minus_cm), 1),
        )
        .in_unit("cm")
        .at_least(0.0),
        Column::new(
            "height_source",
            Kind::String,
            "What the height rests on: `season` is what the court has told in other clips of the player.",
            |row: &&GatheredClip| Cell::maybe(row.height().map(|height| height.source.as_str())),
        ),
        Column::new("grip", Kind::String, "How the racket was held.", |row: &&GatheredClip| {
            Cell::maybe(row.about.as_ref().and_then(|about| about.grip.as_deref()))
        }),
        Column::new("sha256", Kind::String, "SHA-256 of the clip.", |row: &&GatheredClip| {
            Cell::maybe(row.about.as_ref().map(|about| about.sha256.as_str()))
        }),
        Column::new("note", Kind::String, "What there is to know about the clip.", |row: &&GatheredClip| {
            let warnings = row.about.iter().flat_map(|about| about.warnings.iter().cloned());
            let stature = row.stature.as_ref().map(|note| note.words().to_owned());
            let said = row.line.state.note().into_iter().chain(row.cameras.clone()).chain(stature);
            Cell::text(said.chain(warnings).collect::<Vec<_>>().join("; "))
        }),
    ];
    Sheet {
        name: "clips",
        title: "Clips",
        description: "One row per clip of the season.",
        key: &["clip"],
        of_strokes: false,
        columns,
    }
}

/// Writes all tables and their dictionary into a folder.
///
/// # Errors
/// [`TableError::Write`].
pub fn write_all(
    folder: &Path,
    gathered: &Gathered,
    groups: &[Group],
    decimal: Decimal,
    workbook: bool,
) -> Result<(), TableError> {
    let (strokes, measures) = (strokes::sheet().as_cells(), measures::sheet().as_cells());
    let (sessions, clips) = (sessions(), clips());
    strokes.write(folder, &gathered.strokes, decimal)?;
    measures.write(folder, &gathered.measures, decimal)?;
    sessions.write(folder, session_rows(groups), decimal)?;
    clips.write(folder, &gathered.clips, decimal)?;
    let package = Package::of_season(&strokes, &measures, &sessions, &clips, decimal);
    write_json(&folder.join("datapackage.json"), &package)?;
    if workbook {
        let mut book = Workbook::new();
        book.add(&sessions, session_rows(groups));
        book.add(&strokes, &gathered.strokes);
        book.add(&measures, &gathered.measures);
        book.add(&clips, &gathered.clips);
        book.save(&folder.join(WORKBOOK))?;
    }
    Ok(())
}
