//! Where results lie.

use std::path::{Path, PathBuf};

use super::ReadError;
use crate::table::folder::MARKER;

/// Folders below this are not looked into: results lie beside their clips, not at the bottom of a file system.
const DEEPEST: usize = 8;

/// Whether the tables of strokes and measures lie in a folder.
pub fn has_tables(folder: &Path) -> bool {
    folder.join("strokes.csv").is_file() && folder.join("measures.csv").is_file()
}

/// Whether a folder holds a clip's results.
pub fn is_result(folder: &Path) -> bool {
    has_tables(folder) && folder.join(MARKER).is_file()
}

/// All folders of results in a folder and below, in order of their names. Links are not followed, hidden folders are left out.
///
/// # Errors
/// [`ReadError::Open`] where the folder itself can't be read.
pub fn results_in(folder: &Path) -> Result<Vec<PathBuf>, ReadError> {
    let mut found = Vec::new();
    look(folder, DEEPEST, &mut found)
        .map_err(|source| ReadError::Open { path: folder.to_owned(), source })?;
    found.sort();
    Ok(found)
}

fn look(folder: &Path, deeper: usize, found: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        if hidden || !entry.file_type()?.is_dir() {
            continue;
        }
        let path = entry.path();
        if is_result(&path) {
            found.push(path);
        } else if deeper > 0 {
            // A folder that may not be looked into holds nothing of ours that could be read.
            let _ = look(&path, deeper - 1, found);
        }
    }
    Ok(())
}
