//! The folder of a clip's results: written under a temporary name and renamed when whole.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::process;

use super::TableError;
use super::files::{File, Writer, files_of};
use super::notes::PROGRAM;

/// The file by which a folder is known as a result of this program.
pub const MARKER: &str = "clip.json";

/// A folder that is being filled. Unless it is finished, nothing of it remains.
#[derive(Debug)]
pub struct Staging {
    target: PathBuf,
    part: PathBuf,
    finished: bool,
}

impl Staging {
    /// Begins a folder that is to stand at `target`, and sees to it that it can be written there.
    ///
    /// # Errors
    /// [`TableError`] where the place can't be written to, or something stands there that isn't to be replaced.
    pub fn begin(target: &Path) -> Result<Self, TableError> {
        let fail = |source| TableError::Write { path: target.to_owned(), source };
        check_replaceable(target)?;
        // A link to a folder, or a name like `.`, stands for the folder itself.
        let target = match target.canonicalize() {
            Ok(real) => real,
            Err(error) if error.kind() == ErrorKind::NotFound => std::path::absolute(target).map_err(fail)?,
            Err(error) => return Err(fail(error)),
        };
        let (Some(parent), Some(name)) = (target.parent(), target.file_name()) else {
            return Err(TableError::NotOurs(target));
        };
        fs::create_dir_all(parent).map_err(fail)?;
        let part = parent.join(hidden(name, "part"));
        // Left behind by an earlier process that had this number and was killed.
        remove(&part).map_err(fail)?;
        fs::create_dir(&part).map_err(fail)?;
        Ok(Self { part, finished: false, target })
    }

    /// Where to write for now.
    pub fn path(&self) -> &Path {
        &self.part
    }

    /// Puts the folder in its place, instead of an earlier result. Files of the user's in that are kept.
    ///
    /// # Errors
    /// [`TableError::Write`]; the earlier result is then still there.
    pub fn finish(mut self) -> Result<PathBuf, TableError> {
        let target = self.target.clone();
        let fail = |source| TableError::Write { path: target.clone(), source };
        // The user may have put something there meanwhile.
        check_replaceable(&target)?;
        if !target.exists() {
            fs::rename(&self.part, &target).map_err(fail)?;
            self.finished = true;
            return Ok(target);
        }
        let name = target.file_name().unwrap_or_default();
        let old = target.with_file_name(hidden(name, "old"));
        fs::rename(&target, &old).map_err(fail)?;
        if let Err(error) = fs::rename(&self.part, &target) {
            fs::rename(&old, &target).map_err(fail)?;
            return Err(fail(error));
        }
        self.finished = true;
        keep_foreign(&old, &target).map_err(|source| TableError::Write { path: old.clone(), source })?;
        fs::remove_dir_all(&old).map_err(|source| TableError::Write { path: old.clone(), source })?;
        Ok(target)
    }
}

impl Staging {
    /// Removes what killed processes have left beside `target`, and puts an earlier result back that one of them had
    /// taken away and not yet replaced. What belongs to a process that still runs is left alone.
    pub fn sweep(target: &Path) {
        let (Some(parent), Some(name)) = (target.parent(), target.file_name()) else { return };
        let prefix = |ending: &str| format!(".{}.{ending}-", name.to_string_lossy());
        // A folder that can't be read has nothing to be swept; the work itself will say what is wrong with it.
        for entry in fs::read_dir(parent).into_iter().flatten().flatten() {
            let left = entry.file_name().to_string_lossy().into_owned();
            let process =
                |ending: &str| left.strip_prefix(&prefix(ending)).and_then(|id| id.parse::<u32>().ok());
            if process("old").is_some_and(is_gone) {
                let back = !target.exists() && fs::rename(entry.path(), target).is_ok();
                if !back {
                    let _ = fs::remove_dir_all(entry.path());
                }
            } else if process("part").is_some_and(is_gone) {
                // What can't be removed only takes up room.
                let _ = fs::remove_dir_all(entry.path());
            }
        }
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        if !self.finished {
            // There is nobody left to tell if this fails; the reason for giving up matters more.
            let _ = fs::remove_dir_all(&self.part);
        }
    }
}

/// Whether a process has ended; where that can't be told, it is taken to run.
fn is_gone(id: u32) -> bool {
    let processes = Path::new("/proc");
    processes.join("self").exists() && !processes.join(id.to_string()).exists()
}

fn hidden(name: &std::ffi::OsStr, ending: &str) -> std::ffi::OsString {
    let mut hidden = std::ffi::OsString::from(".");
    hidden.push(name);
    hidden.push(format!(".{ending}-{}", process::id()));
    hidden
}

fn remove(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// Whether results may be put at a place: nothing there, an empty folder, or an earlier result.
fn check_replaceable(target: &Path) -> Result<(), TableError> {
    let fail = |source| TableError::Write { path: target.to_owned(), source };
    match fs::metadata(target) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(fail(error)),
        Ok(metadata) if !metadata.is_dir() => return Err(TableError::NotAFolder(target.to_owned())),
        Ok(_) => {}
    }
    let is_empty = fs::read_dir(target).map_err(fail)?.next().is_none();
    if is_empty || is_ours(target) { Ok(()) } else { Err(TableError::NotOurs(target.to_owned())) }
}

/// Whether a folder's `clip.json` says that this program wrote it.
fn is_ours(folder: &Path) -> bool {
    let Ok(text) = fs::read(folder.join(MARKER)) else { return false };
    serde_json::from_slice::<serde_json::Value>(&text)
        .is_ok_and(|notes| notes.get("program").and_then(|name| name.as_str()) == Some(PROGRAM))
}

/// Moves what the program has not written, and what a person has filled in, into the new folder.
fn keep_foreign(old: &Path, new: &Path) -> io::Result<()> {
    for entry in fs::read_dir(old)? {
        let entry = entry?;
        let is_ours = |file: &File| file.is_replaced && entry.file_name() == file.name;
        if !files_of(Writer::Clip).any(is_ours) {
            fs::rename(entry.path(), new.join(entry.file_name()))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ours(folder: &Path) {
        fs::create_dir_all(folder).unwrap();
        fs::write(folder.join(MARKER), format!("{{\"program\": \"{PROGRAM}\"}}")).unwrap();
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn an_earlier_result_is_replaced_and_foreign_files_are_kept() {
        let place = tempfile::tempdir().unwrap();
        let target = place.path().join("a-toeline");
        ours(&target);
        for stale in ["review.html", "card.html"] {
            fs::write(target.join(stale), "old").unwrap();
        }
        fs::write(target.join("my notes.txt"), "mine").unwrap();
        let staging = Staging::begin(&target).unwrap();
        fs::write(staging.path().join("strokes.csv"), "new").unwrap();
        staging.finish().unwrap();
        assert_eq!(names(&target), ["my notes.txt", "strokes.csv"]);
        assert_eq!(names(place.path()), ["a-toeline"]);
    }

    #[test]
    fn what_is_not_finished_leaves_nothing_behind() {
        let place = tempfile::tempdir().unwrap();
        let target = place.path().join("a-toeline");
        ours(&target);
        let staging = Staging::begin(&target).unwrap();
        fs::write(staging.path().join("strokes.csv"), "half").unwrap();
        drop(staging);
        assert_eq!(names(place.path()), ["a-toeline"]);
        assert_eq!(names(&target), [MARKER]);
    }

    #[test]
    fn other_peoples_folders_and_files_are_left_alone() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("holiday.jpg"), "x").unwrap();
        assert!(matches!(Staging::begin(place.path()), Err(TableError::NotOurs(_))));
        let file = place.path().join("holiday.jpg");
        assert!(matches!(Staging::begin(&file), Err(TableError::NotAFolder(_))));
        assert!(matches!(Staging::begin(Path::new("/")), Err(TableError::NotOurs(_))));
        assert_eq!(names(place.path()), ["holiday.jpg"]);
    }

    #[test]
    fn an_empty_folder_is_taken() {
        let place = tempfile::tempdir().unwrap();
        let target = place.path().join("empty");
        fs::create_dir(&target).unwrap();
        let staging = Staging::begin(&target).unwrap();
        fs::write(staging.path().join(MARKER), "x").unwrap();
        staging.finish().unwrap();
        assert_eq!(names(&target), [MARKER]);
    }
}
