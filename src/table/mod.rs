//! Every file that is written of a clip, except charts: tables, data dictionary, notes, and the folder they stand in; and
//! reading them back.

mod boundary;
mod cell;
mod checksum;
mod error;
pub mod folder;
pub mod frames;
pub mod measures;
pub mod notes;
mod package;
pub mod phases;
pub mod read;
mod results;
pub mod sheet;
pub mod strokes;
mod warnings;

use std::path::Path;

use serde::Serialize;

pub use boundary::{PHASES, definition};
pub use cell::{Cell, fixed, rounded};
pub use checksum::sha256;
pub use error::TableError;
pub use folder::Staging;
pub use notes::Notes;
pub use package::Package;
pub use read::{ReadClip, ReadError, ReadStroke, Recorded};
pub use results::{Drill, Labels, ModelNote, Results, hand_name};

/// Writes a clip's tables, data dictionary and notes into a folder.
///
/// # Errors
/// [`TableError::Write`].
pub fn write_all(folder: &Path, results: &Results<'_>) -> Result<(), TableError> {
    strokes::sheet().write(folder, strokes::rows(results))?;
    phases::sheet().write(folder, phases::rows(results))?;
    measures::sheet().write(folder, measures::rows(results))?;
    frames::sheet().write(folder, frames::rows(results))?;
    write_json(&folder.join("datapackage.json"), &Package::of_clip())?;
    write_json(&folder.join(folder::MARKER), &Notes::of(results))
}

fn write_json(path: &Path, value: &impl Serialize) -> Result<(), TableError> {
    let fail = |source: std::io::Error| TableError::Write { path: path.to_owned(), source };
    let mut text = serde_json::to_string_pretty(value).map_err(|error| fail(error.into()))?;
    text.push('\n');
    std::fs::write(path, text).map_err(fail)
}
