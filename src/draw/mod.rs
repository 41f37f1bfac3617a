//! Charts as SVG files: of a clip speed and path of the hand, lag, posture at contact, weight, and a strip for each measure; of
//! two sessions what changed.
//!
//! The same input gives the same bytes. Every chart can be read in black and white, has a title and a description for
//! those who don't see it, and leaves a gap where nothing was seen.

pub mod annotated;
mod axis;
mod backend;
pub mod blur;
mod canvas;
mod compare;
mod contact;
mod curve;
mod figure;
mod gauge;
pub mod ground;
mod hand_path;
mod hand_speed;
mod label;
mod lag;
pub mod moment;
mod page;
mod racket;
mod raster;
pub mod still;
mod strip;
mod style;
pub(crate) mod svg;
mod text;
pub mod trend;
mod weight;
mod words;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::error::ErrorKind;
use crate::measure::clip::ClipMeasures;
use crate::measure::{Grade, Measure};
use crate::pose::Motion;
use crate::targets::Target;

pub(crate) use text::capitalised;

/// A chart can't be drawn or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DrawError {
    /// The folder for the charts can't be made.
    #[error("{path}: the folder for the charts can't be made: {source}", path = .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// A chart's file can't be written.
    #[error("{path}: the chart can't be written: {source}", path = .path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// The stills' table can't be written.
    #[error(transparent)]
    Table(#[from] crate::table::TableError),
    /// A chart can't be drawn.
    #[error("{file}: the chart can't be drawn: {source}")]
    Chart {
        /// The chart's file name.
        file: String,
        /// What went wrong.
        source: io::Error,
    },
}

impl DrawError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Folder { .. } | Self::File { .. } | Self::Chart { .. } => ErrorKind::Output,
            Self::Table(error) => error.kind(),
        }
    }
}

/// A chart in memory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chart {
    /// The name of its file.
    pub file: String,
    /// The whole SVG document.
    pub svg: String,
}

/// Draws all charts of a clip, in the order in which they should be read; none for a clip without strokes.
///
/// # Errors
/// [`DrawError::Chart`].
pub fn charts(motion: &Motion, clip: &ClipMeasures) -> Result<Vec<Chart>, DrawError> {
    if clip.strokes.is_empty() {
        return Ok(Vec::new());
    }
    let wholes = [
        ("hand_speed.svg", hand_speed::draw(clip)),
        ("hand_path.svg", hand_path::draw(motion, clip)),
        ("contact.svg", contact::draw(motion, clip)),
        ("lag.svg", lag::draw(clip)),
        ("weight.svg", weight::draw(clip)),
    ];
    wholes
        .into_iter()
        .map(|(file, svg)| (file.to_owned(), svg))
        .chain(strip::draw_all(clip))
        .map(|(file, svg)| match svg {
            Ok(svg) => Ok(Chart { file, svg }),
            Err(source) => Err(DrawError::Chart { file, source }),
        })
        .collect()
}

/// Draws two compared sessions.
///
/// # Errors
/// [`DrawError::Chart`].
pub fn comparison(comparison: &crate::compare::Comparison) -> Result<Chart, DrawError> {
    let file = "compare.svg".to_owned();
    match compare::draw(comparison) {
        Ok(svg) => Ok(Chart { file, svg }),
        Err(source) => Err(DrawError::Chart { file, source }),
    }
}

/// Draws a value (in the measure's unit, with half its 95 % interval) against the range of its target.
///
/// # Errors
/// [`DrawError::Chart`].
pub fn gauge(target: &Target, value: f64, plus_minus: f64, grade: Grade) -> Result<Chart, DrawError> {
    let file = format!("gauge_{}.svg", target.measure.id);
    match gauge::draw(target, value, plus_minus, grade) {
        Ok(svg) => Ok(Chart { file, svg }),
        Err(source) => Err(DrawError::Chart { file, source }),
    }
}

/// The file of the chart that shows one measure over all strokes.
pub fn strip_file(measure: &Measure) -> String {
    format!("{STRIP}{}.svg", measure.id)
}

/// Whether a chart shows one measure over all strokes.
pub fn is_strip(file: &str) -> bool {
    file.starts_with(STRIP)
}

/// The charts of one measure over all strokes are narrow up to so many strokes: two stand side by side on a page.
pub use strip::MOST_IN_NARROW as MOST_IN_NARROW_STRIP;

/// How the names of such charts begin.
const STRIP: &str = "strip_";

/// Writes charts into a folder, which is made if need be, and returns their files. Where there are none, no folder is made.
///
/// # Errors
/// [`DrawError`]: the folder can't be made, a file can't be written.
pub fn write_all(dir: &Path, charts: &[Chart]) -> Result<Vec<PathBuf>, DrawError> {
    if charts.is_empty() {
        return Ok(Vec::new());
    }
    fs::create_dir_all(dir).map_err(|source| DrawError::Folder { path: dir.to_owned(), source })?;
    charts
        .iter()
        .map(|chart| {
            let path = dir.join(&chart.file);
            fs::write(&path, &chart.svg).map_err(|source| DrawError::File { path: path.clone(), source })?;
            Ok(path)
        })
        .collect()
}
