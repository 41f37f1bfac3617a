//! Joins the tables of many clips. Cells are passed on as they were written; only the clip's name becomes its path within
//! the season's folder.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::Deserialize;

use super::cameras;
use super::stature::{Height, Statures, Told};
use crate::error::ErrorKind;
use crate::measure::{CATALOGUE, Grade, Measurement};
use crate::stroke::Sort;
use crate::table::read::Table;
use crate::table::sheet::{Kind, Sheet};
use crate::table::{Cell, folder, measures, strokes};

/// What has become of a clip.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum State {
    /// Its results are in the tables.
    Measured,
    /// It could not be measured, and why.
    Failed(String),
    /// It holds the same as another clip, whose results are in the tables.
    SameAs(String),
    /// It was not measured yet, or something that its numbers depend on has changed since.
    NotMeasured,
}

impl State {
    /// The word used in columns.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Failed(_) => "failed",
            Self::SameAs(_) => "same",
            Self::NotMeasured => "not-measured",
        }
    }

    /// What there is to say about it.
    pub fn note(&self) -> Option<String> {
        match self {
            Self::Failed(why) => Some(why.clone()),
            Self::SameAs(other) => Some(format!("the same as {other}, counted once")),
            Self::Measured | Self::NotMeasured => None,
        }
    }
}

/// A clip of the season and where its results are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClipLine {
    /// Its path within the season's folder.
    pub file: String,
    /// The player's code.
    pub player: Option<String>,
    /// The day.
    pub date: Option<String>,
    /// The drill.
    pub drill: Option<&'static str>,
    /// What has become of it.
    pub state: State,
    /// The folder of its results.
    pub folder: PathBuf,
    /// The clip of a second camera on the same strokes, as `season.csv` names it.
    pub and: Option<String>,
}

/// A clip's line with what was read of its results.
#[derive(Debug, Clone, PartialEq)]
pub struct GatheredClip {
    /// The line.
    pub line: ClipLine,
    /// How many strokes were found.
    pub strokes: usize,
    /// How it was measured.
    pub about: Option<About>,
    /// What is to be said of a second camera.
    pub cameras: Option<String>,
    /// What is to be said of the player's height.
    pub stature: Option<StatureNote>,
}

/// What a clip's notes say that sessions are compared by.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct About {
    /// SHA-256 of the clip.
    pub sha256: String,
    /// The pose network.
    pub model: String,
    /// SHA-256 of its file.
    pub model_sha256: String,
    /// Pictures a second that the camera took.
    pub capture_rate: Option<f64>,
    /// How the picture was turned into metres.
    pub method: String,
    /// The player's height; none where it is not written.
    pub height: Option<Height>,
    /// How the racket was held.
    pub grip: Option<String>,
    /// The coach's name.
    pub coach: Option<String>,
    /// What a person should know before believing the numbers.
    pub warnings: Vec<String>,
}

/// A stroke as sessions need it.
#[derive(Debug, Clone, PartialEq)]
pub struct GatheredStroke {
    /// The player's code, or nothing.
    pub player: String,
    /// The day, or nothing.
    pub date: String,
    /// The drill, or nothing.
    pub drill: String,
    /// The view.
    pub view: String,
    /// The kind, volleys apart from ground strokes.
    pub kind: String,
    /// A value per entry of the catalogue, where there is one.
    pub values: Vec<Option<Measurement>>,
}

/// The joined results.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Gathered {
    /// Rows of `strokes.csv`.
    pub strokes: Vec<Vec<Cell>>,
    /// Rows of `measures.csv`.
    pub measures: Vec<Vec<Cell>>,
    /// The strokes, as numbers.
    pub values: Vec<GatheredStroke>,
    /// The clips.
    pub clips: Vec<GatheredClip>,
}

/// A clip's results can't be joined.
#[derive(Debug, thiserror::Error)]
#[error("{path}: {why}; delete the folder it is in, so that the clip is measured again", path = .path.display())]
pub struct GatherError {
    path: PathBuf,
    why: String,
}

impl GatherError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        ErrorKind::Input
    }
}

impl Gathered {
    /// Joins the results of clips in the order in which they are given.
    ///
    /// # Errors
    /// [`GatherError`] where a clip's results can't be read.
    pub fn of(clips: Vec<ClipLine>) -> Result<Self, GatherError> {
        let mut read: Vec<Clip> = clips.into_par_iter().map(Clip::read).collect::<Result<_, _>>()?;
        cameras::join(&mut read);
        tell_of_statures(&mut read);
        let mut all = Self::default();
        for clip in read {
            all.strokes.extend(clip.strokes);
            all.measures.extend(clip.measures);
            all.values.extend(clip.values);
            all.clips.push(clip.about);
        }
        Ok(all)
    }
}

/// Says of clips whose height nothing tells why the player's other clips don't, and of clips that were measured before these told it.
fn tell_of_statures(clips: &mut [Clip]) {
    let told = clips.iter().filter_map(|clip| clip.about.told());
    let statures = Statures::of(told);
    for GatheredClip { line, about, stature, .. } in clips.iter_mut().map(|clip| &mut clip.about) {
        let Some(height) = about.as_ref().and_then(|about| about.height.as_ref()) else { continue };
        let player = line.player.as_deref();
        if height.is_behind(statures.on(player, line.date.as_deref())) {
            *stature = Some(StatureNote::Behind);
        } else if height.is_assumed() {
            *stature =
                statures.contradiction(player).map(|words| StatureNote::Contradicted(words.to_owned()));
        }
    }
}

/// What there is to say of the height that a clip was measured with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StatureNote {
    /// It was measured before the player's other clips told the height.
    Behind,
    /// The player's other clips contradict one another, in these words.
    Contradicted(String),
}

impl StatureNote {
    /// The note in words.
    pub fn words(&self) -> &str {
        match self {
            Self::Behind => "measured before other clips told the player's height",
            Self::Contradicted(words) => words,
        }
    }
}

impl GatheredClip {
    /// What the clip tells of its player's stature.
    fn told(&self) -> Option<Told<'_>> {
        let ClipLine { file, player, date, .. } = &self.line;
        let height = self.height()?;
        Some(Told { file, player: player.as_deref(), date: date.as_deref(), height })
    }

    /// The player's height.
    pub fn height(&self) -> Option<&Height> {
        self.about.as_ref()?.height.as_ref()
    }

    /// Whether it was measured before the player's other clips told the height.
    pub fn is_behind(&self) -> bool {
        self.stature == Some(StatureNote::Behind)
    }
}

/// A clip's rows and what they say.
pub(super) struct Clip {
    pub(super) strokes: Vec<Vec<Cell>>,
    pub(super) measures: Vec<Vec<Cell>>,
    pub(super) values: Vec<GatheredStroke>,
    pub(super) about: GatheredClip,
}

impl Clip {
    fn read(line: ClipLine) -> Result<Self, GatherError> {
        if line.state != State::Measured {
            let about = GatheredClip { line, strokes: 0, about: None, cameras: None, stature: None };
            return Ok(Self { strokes: Vec::new(), measures: Vec::new(), values: Vec::new(), about });
        }
        let (stroke_sheet, measure_sheet) = (strokes::sheet(), measures::sheet());
        let mut strokes = rows(&line.folder, &stroke_sheet)?;
        let mut measures = rows(&line.folder, &measure_sheet)?;
        let values = values(&Columns::of(&stroke_sheet), &strokes, &Columns::of(&measure_sheet), &measures);
        for row in strokes.iter_mut().chain(&mut measures) {
            row[0] = Cell::text(line.file.as_str());
        }
        let about = Some(About::read(&line.folder)?);
        let about = GatheredClip { strokes: strokes.len(), about, line, cameras: None, stature: None };
        Ok(Self { strokes, measures, values, about })
    }
}

/// Places of columns by name.
pub(super) struct Columns(HashMap<String, usize>);

impl Columns {
    pub(super) fn of<R>(sheet: &Sheet<R>) -> Self {
        Self(sheet.header().iter().enumerate().map(|(place, name)| ((*name).to_owned(), place)).collect())
    }

    /// A column's place in a row.
    pub(super) fn place(&self, column: &str) -> Option<usize> {
        self.0.get(column).copied()
    }

    /// What a row has in a column; nothing where it has none.
    pub(super) fn text<'a>(&self, row: &'a [Cell], column: &str) -> &'a str {
        match self.0.get(column).and_then(|place| row.get(*place)) {
            Some(Cell::Text(text) | Cell::Number(text)) => text,
            Some(Cell::Empty) | None => "",
        }
    }
}

fn values(
    of_stroke: &Columns,
    strokes: &[Vec<Cell>],
    of_measure: &Columns,
    measures: &[Vec<Cell>],
) -> Vec<GatheredStroke> {
    let mut found: Vec<GatheredStroke> = Vec::with_capacity(strokes.len());
    let mut places: HashMap<&str, usize> = HashMap::new();
    for row in strokes {
        let text = |column: &str| of_stroke.text(row, column).to_owned();
        places.insert(of_stroke.text(row, "stroke"), found.len());
        found.push(GatheredStroke {
            player: text("player"),
            date: text("date"),
            drill: text("drill"),
            view: text("view"),
            kind: Sort::named(&text("kind"), text("volley") == "yes").name().to_owned(),
            values: vec![None; CATALOGUE.len()],
        });
    }
    let catalogue: HashMap<&str, usize> = CATALOGUE.iter().enumerate().map(|(i, m)| (m.id, i)).collect();
    for row in measures {
        let place = places.get(of_measure.text(row, "stroke"));
        let measure = catalogue.get(of_measure.text(row, "measure"));
        let number = |column: &str| of_measure.text(row, column).parse::<f64>().ok();
        let grade = match of_measure.text(row, "grade") {
            "good" => Some(Grade::Good),
            "fair" => Some(Grade::Fair),
            "low" => Some(Grade::Low),
            _ => None,
        };
        let measured = number("value").zip(number("plus_minus")).zip(grade);
        if let (Some(place), Some(measure), Some(((value, plus_minus), grade))) = (place, measure, measured) {
            found[*place].values[*measure] = Some(Measurement { value, plus_minus, grade });
        }
    }
    found
}

/// The rows of a clip's table as cells.
fn rows<R>(folder: &Path, sheet: &Sheet<R>) -> Result<Vec<Vec<Cell>>, GatherError> {
    let path = folder.join(sheet.file());
    let wrong = |why: String| GatherError { path: path.clone(), why };
    let mut table = Table::open(path.clone()).map_err(|error| wrong(error.why()))?;
    if !table.is_of(sheet) {
        return Err(wrong("its columns are those of another version of toeline".to_owned()));
    }
    let mut rows = Vec::new();
    while let Some(row) = table.next_row().map_err(|error| wrong(error.why()))? {
        let cell = |(name, kind): (&str, Kind)| match kind {
            Kind::Number | Kind::Integer => row.digits(name).map(Cell::Number),
            Kind::String | Kind::Date => row.text(name).map(Cell::text),
        };
        let columns = sheet.header().into_iter().zip(sheet.columns.iter().map(|column| column.field.kind));
        rows.push(columns.map(|column| cell(column).unwrap_or(Cell::Empty)).collect());
    }
    Ok(rows)
}

impl About {
    /// Reads a clip's note.
    ///
    /// # Errors
    /// [`GatherError`] where it can't be read.
    pub fn read(folder: &Path) -> Result<Self, GatherError> {
        #[derive(Deserialize)]
        struct Notes {
            clip: Clip,
            model: Model,
            settings: Settings,
            labels: Labels,
            warnings: Vec<String>,
        }
        #[derive(Deserialize)]
        struct Clip {
            sha256: String,
        }
        #[derive(Deserialize)]
        struct Model {
            name: String,
            sha256: String,
        }
        #[derive(Deserialize)]
        struct Settings {
            method: String,
            capture_rate: Setting,
            height_cm: Setting,
        }
        #[derive(Deserialize)]
        struct Setting {
            value: Option<f64>,
            plus_minus: Option<f64>,
            source: Option<String>,
        }
        #[derive(Deserialize)]
        struct Labels {
            grip: Option<String>,
            coach: Option<String>,
        }
        let path = folder.join(folder::MARKER);
        let wrong = |why: String| GatherError { path: path.clone(), why };
        let text = std::fs::read(&path).map_err(|error| wrong(error.to_string()))?;
        let notes: Notes = serde_json::from_slice(&text).map_err(|error| wrong(error.to_string()))?;
        let Setting { value, plus_minus, source } = notes.settings.height_cm;
        let height = value.zip(plus_minus).zip(source);
        Ok(Self {
            height: height.map(|((cm, plus_minus_cm), source)| Height { cm, plus_minus_cm, source }),
            sha256: notes.clip.sha256,
            model: notes.model.name,
            model_sha256: notes.model.sha256,
            capture_rate: notes.settings.capture_rate.value,
            method: notes.settings.method,
            grip: notes.labels.grip,
            coach: notes.labels.coach,
            warnings: notes.warnings,
        })
    }
}
