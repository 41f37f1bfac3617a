//! `--review`: the page for the player, from a clip's results, its pictures, a coach's note and an earlier session.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use anyhow::Result;

use super::output;
use crate::compare::{self, Session};
use crate::draw::Chart;
use crate::page::{Before, Pictures, Review};
use crate::table::read::is_result;
use crate::table::{ReadError, Recorded, Results, TableError};
use crate::target;

/// The file of the page.
const FILE: &str = "review.html";

/// A note longer than this (bytes) is some other file.
const LONGEST_NOTE: u64 = 64 * 1024;

/// The coach's note can't be used. Commands end with exit code 3 on it.
#[derive(Debug, thiserror::Error)]
pub enum NoteError {
    /// It can't be read.
    #[error("{path}: cannot be read ({source}); check the name given with --note", path = .0.display(), source = .1)]
    Read(PathBuf, io::Error),
    /// It is no plain text.
    #[error("{path}: this is not plain text in UTF-8; save the note as a .txt file", path = .0.display())]
    NotText(PathBuf),
    /// It is too long.
    #[error("{path}: this is longer than 64 kB; a note for a player is a few paragraphs of plain text", path = .0.display())]
    TooLong(PathBuf),
}

/// What goes into the page besides the clip's results.
#[derive(Debug, Clone)]
pub struct Plan {
    note: Option<String>,
    before: Option<Earlier>,
    targets: target::Set,
}

/// An earlier session.
#[derive(Debug, Clone)]
struct Earlier {
    folder: PathBuf,
    session: Session,
}

impl Plan {
    /// Reads the note and the earlier session's tables: before the work, so that nobody waits for what can't be done.
    ///
    /// # Errors
    /// [`NoteError`], [`ReadError`].
    pub fn resolve(note: Option<&Path>, before: Option<&Path>, targets: &target::Set) -> Result<Self> {
        Ok(Self {
            note: note.map(read_note).transpose()?,
            before: before.map(Earlier::read).transpose()?,
            targets: targets.clone(),
        })
    }

    /// Writes the page into a clip's folder, in which the tables are already.
    ///
    /// # Errors
    /// Where the page can't be made or written.
    pub fn write(&self, folder: &Path, results: &Results<'_>, charts: &[Chart]) -> Result<()> {
        let observed = results.observed();
        let findings = self.targets.findings(&observed);
        let met = self.targets.met(&observed);
        let pictures = Pictures::default();
        let before = self.before.as_ref().map(|earlier| self.set_beside(earlier, folder, results)).transpose()?;
        let page = Review {
            results,
            findings: &findings,
            met: &met,
            note: self.note.as_deref(),
            pictures: &pictures,
            charts,
            before: before.as_ref(),
        }
        .page()?;
        let path = folder.join(FILE);
        fs::write(&path, page).map_err(|source| TableError::Write { path, source })?;
        Ok(())
    }

    /// The earlier session beside this one, whose tables lie in the folder.
    fn set_beside(&self, earlier: &Earlier, folder: &Path, results: &Results<'_>) -> Result<Before> {
        let after = Session { name: results.clip.to_owned(), recorded: Recorded::at(folder)? };
        let comparison = compare::compare(&earlier.session, &after, &Recorded::default(), &self.targets);
        Ok(Before { comparison, pairs: Vec::new() })
    }
}

impl Earlier {
    fn read(folder: &Path) -> Result<Self, ReadError> {
        let recorded = Recorded::at(folder)?;
        if !is_result(folder) {
            return Err(ReadError::NoResults(folder.to_owned()));
        }
        let clip = recorded.clips.first().map(|clip| clip.file.clone()).unwrap_or_default();
        let day = recorded.strokes.iter().find_map(|stroke| stroke.date.clone());
        let name = day.map_or_else(|| clip.clone(), |day| format!("{clip}, {day}"));
        Ok(Self { folder: folder.to_owned(), session: Session { name: output::one_line(&name), recorded } })
    }
}

fn read_note(path: &Path) -> Result<String, NoteError> {
    let fail = |source| NoteError::Read(path.to_owned(), source);
    let mut bytes = Vec::new();
    fs::File::open(path).map_err(fail)?.take(LONGEST_NOTE + 1).read_to_end(&mut bytes).map_err(fail)?;
    if bytes.len() as u64 > LONGEST_NOTE {
        return Err(NoteError::TooLong(path.to_owned()));
    }
    let text = String::from_utf8(bytes).map_err(|_| NoteError::NotText(path.to_owned()))?;
    if text.contains('\0') { Err(NoteError::NotText(path.to_owned())) } else { Ok(text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_is_plain_text_of_a_few_paragraphs() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("note.txt");
        let read = |bytes: &[u8]| {
            fs::write(&path, bytes).unwrap();
            read_note(&path).map_err(|error| error.to_string())
        };
        assert_eq!(read("Schön!\n".as_bytes()), Ok("Schön!\n".to_owned()));
        assert!(read(b"caf\xe9").unwrap_err().contains("UTF-8"));
        assert!(read(b"a\0b").unwrap_err().contains("plain text"));
        assert!(read(&vec![b'a'; 70_000]).unwrap_err().contains("64 kB"));
        let error = read_note(&place.path().join("none.txt")).unwrap_err().to_string();
        assert!(error.contains("none.txt") && error.contains("--note"), "{error}");
    }
}
