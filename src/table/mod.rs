//! Every file that is written of a clip, except charts: tables, data dictionary, notes, and the folder they stand in; and
//! reading them back.

mod boundary;
pub mod by_hand;
mod cell;
mod checksum;
mod error;
pub mod exchange;
mod files;
pub mod folder;
pub mod frames;
mod headline;
pub mod marks;
pub mod measures;
pub mod notes;
mod package;
pub mod phases;
mod placing;
pub mod read;
mod results;
pub mod sheet;
mod store;
pub mod strokes;
mod warnings;
mod workbook;

use std::path::Path;

use serde::Serialize;

pub use crate::model::hex;
pub use boundary::{PHASES, definition};
pub use cell::{Cell, Decimal, fixed, plain, rounded};
pub use checksum::sha256;
pub use error::TableError;
pub use files::{FILES, File, Writer, files_of};
pub use folder::Staging;
pub use headline::{Headline, counted, headlines};
pub use notes::Notes;
pub use package::Package;
pub use placing::Placing;
pub use read::{ReadClip, ReadError, ReadStroke, Recorded};
pub use results::{Drill, Grip, Labels, ModelNote, Results, SaidBy};
pub use workbook::Workbook;

/// The file of the workbook.
pub const WORKBOOK: &str = "tables.xlsx";

/// Writes a clip's tables, data dictionary and notes into a folder.
///
/// # Errors
/// [`TableError::Write`].
pub fn write_all(folder: &Path, results: &Results<'_>, decimal: Decimal) -> Result<(), TableError> {
    // A long clip has as much to write in its frames as in all else.
    let (frames, others) = rayon::join(
        || frames::sheet().write(folder, frames::rows(results), decimal),
        || {
            strokes::sheet().write(folder, strokes::rows(results), decimal)?;
            phases::sheet().write(folder, phases::rows(results), decimal)?;
            measures::sheet().write(folder, measures::rows(results), decimal)?;
            write_json(&folder.join("datapackage.json"), &Package::of_clip(decimal))?;
            write_json(&folder.join(folder::MARKER), &Notes::of(results))
        },
    );
    frames.and(others)
}

/// Writes a clip's strokes, measures and their definitions as one workbook.
///
/// # Errors
/// [`TableError::Write`].
pub fn write_workbook(folder: &Path, results: &Results<'_>) -> Result<(), TableError> {
    let mut book = Workbook::new();
    book.add(&strokes::sheet(), strokes::rows(results));
    book.add(&measures::sheet(), measures::rows(results));
    book.save(&folder.join(WORKBOOK))
}

/// Writes a value as JSON.
pub(crate) fn write_json(path: &Path, value: &impl Serialize) -> Result<(), TableError> {
    let fail = |source: std::io::Error| TableError::Write { path: path.to_owned(), source };
    let mut text = serde_json::to_string_pretty(value).map_err(|error| fail(error.into()))?;
    text.push('\n');
    std::fs::write(path, text).map_err(fail)
}
