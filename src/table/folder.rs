//! The folder of a clip's results: written under a temporary name, synced, and renamed when whole.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process;

use super::TableError;
use super::checksum::of_bytes;
use super::files::{File, Writer, files_of};
use super::notes::PROGRAM;
use super::store::{Disk, Store, is_gone, sync_all};

/// The file by which a folder is known as a result of this program.
pub const MARKER: &str = "clip.json";

/// Names of folders that are longer (bytes) leave no room for what stands around them under the temporary name.
const LONGEST_NAME: usize = 200;

/// A folder that is being filled. Unless it is finished, nothing of it remains.
#[derive(Debug)]
pub struct Staging {
    store: Box<dyn Store>,
    target: PathBuf,
    part: PathBuf,
    old: PathBuf,
    finished: bool,
}

impl Staging {
    /// Begins a folder that is to stand at `target`, and sees to it that it can be written there. What a run that was killed
    /// has left beside it is removed, and what that had taken away is put back.
    ///
    /// # Errors
    /// [`TableError`] where the place can't be written to, or something stands there that isn't to be replaced.
    pub fn begin(target: &Path) -> Result<Self, TableError> {
        Self::begin_in(Box::new(Disk), target, process::id())
    }

    /// The same in some store, under the number of some process.
    fn begin_in(store: Box<dyn Store>, target: &Path, id: u32) -> Result<Self, TableError> {
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
        store.make_folder(parent).map_err(fail)?;
        Self::sweep(&target);
        let [part, old] = ["part", "old"].map(|ending| parent.join(hidden(name, ending, id)));
        // Left behind by an earlier process that had this number and was killed.
        store.remove(&part).map_err(fail)?;
        store.make_folder(&part).map_err(fail)?;
        Ok(Self { store, part, old, finished: false, target })
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
        sync_all(&*self.store, &self.part).map_err(fail)?;
        let parent = target.parent().unwrap_or(&target);
        if !target.exists() {
            self.store.rename(&self.part, &target).map_err(fail)?;
            self.finished = true;
            self.store.sync(parent).map_err(fail)?;
            return Ok(target);
        }
        self.store.rename(&target, &self.old).map_err(fail)?;
        if let Err(error) = self.store.rename(&self.part, &target) {
            self.store.rename(&self.old, &target).map_err(fail)?;
            return Err(fail(error));
        }
        self.finished = true;
        // The new folder is in its place for good before anything of the earlier one goes.
        self.store.sync(parent).map_err(fail)?;
        let leave = |source| TableError::Write { path: self.old.clone(), source };
        keep_foreign(&*self.store, &self.old, &target).map_err(leave)?;
        self.store.sync(&target).map_err(leave)?;
        self.store.remove(&self.old).map_err(leave)?;
        Ok(target)
    }

    /// Removes what killed processes have left beside `target`, and puts back what one of them had taken away: an earlier
    /// result that it had not yet replaced, and the user's files in one that it had. What belongs to a process that still
    /// runs is left alone.
    pub fn sweep(target: &Path) {
        let (Some(parent), Some(name)) = (target.parent(), target.file_name()) else { return };
        let prefix = |ending: &str| hidden_prefix(name, ending).to_string_lossy().into_owned();
        // A folder that can't be read has nothing to be swept; the work itself will say what is wrong with it.
        for entry in fs::read_dir(parent).into_iter().flatten().flatten() {
            let left = entry.file_name().to_string_lossy().into_owned();
            let process =
                |ending: &str| left.strip_prefix(&prefix(ending)).and_then(|id| id.parse::<u32>().ok());
            if process("old").is_some_and(is_gone) {
                let is_back = !target.exists() && fs::rename(entry.path(), target).is_ok();
                if !is_back && keep_foreign(&Disk, &entry.path(), target).is_ok() {
                    let _ = Disk.remove(&entry.path());
                }
            } else if process("part").is_some_and(is_gone) {
                // What can't be removed only takes up room.
                let _ = Disk.remove(&entry.path());
            }
        }
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        if !self.finished {
            // There is nobody left to tell if this fails; the reason for giving up matters more.
            let _ = self.store.remove(&self.part);
        }
    }
}

fn hidden_prefix(name: &OsStr, ending: &str) -> OsString {
    let mut hidden = OsString::from(".");
    if name.len() > LONGEST_NAME {
        hidden.push(&of_bytes(name.as_encoded_bytes())[..16]);
    } else {
        hidden.push(name);
    }
    hidden.push(format!(".{ending}-"));
    hidden
}

fn hidden(name: &OsStr, ending: &str, id: u32) -> OsString {
    let mut hidden = hidden_prefix(name, ending);
    hidden.push(id.to_string());
    hidden
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
fn keep_foreign(store: &dyn Store, old: &Path, new: &Path) -> std::io::Result<()> {
    for entry in fs::read_dir(old)? {
        let entry = entry?;
        let is_ours = |file: &File| file.is_replaced && entry.file_name() == file.name;
        if !files_of(Writer::Clip).any(is_ours) {
            store.rename(&entry.path(), &new.join(entry.file_name()))?;
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

    use super::super::store::failing::{Failing, How};

    /// A result with a file of the user's, and a new one that is to replace it; answers with what has come of `finish`.
    fn replaced_in(place: &Path, store: Failing) -> Result<PathBuf, TableError> {
        let target = place.join("a-toeline");
        let staging = Staging::begin_in(Box::new(store), &target, GONE)?;
        ours(staging.path());
        fs::write(staging.path().join("strokes.csv"), "new").unwrap();
        staging.finish()
    }

    /// The number of no process.
    const GONE: u32 = u32::MAX;

    fn earlier(place: &Path) -> PathBuf {
        let target = place.join("a-toeline");
        ours(&target);
        fs::write(target.join("strokes.csv"), "old").unwrap();
        fs::write(target.join("my notes.txt"), "mine").unwrap();
        target
    }

    #[test]
    fn whatever_step_fails_a_whole_result_stands_and_nothing_of_the_users_is_lost() {
        for how in [How::Once, How::Killed] {
            for at in 0.. {
                let place = tempfile::tempdir().unwrap();
                let target = earlier(place.path());
                let store = Failing::at(at, how);
                let answer = replaced_in(place.path(), store.clone());
                if at >= store.steps() {
                    answer.unwrap();
                    assert!(at > 8, "{at} steps");
                    break;
                }
                if how == How::Once && names(place.path()) == ["a-toeline"] {
                    assert_eq!(fs::read_to_string(target.join("my notes.txt")).unwrap(), "mine", "step {at}");
                }
                // The next run puts right what a killed one has left.
                Staging::begin(&target).unwrap();
                let found = fs::read_to_string(target.join("strokes.csv")).unwrap();
                assert!(found == "old" || found == "new", "step {at}: {found}");
                assert!(is_ours(&target), "step {at}");
                assert_eq!(
                    fs::read_to_string(target.join("my notes.txt")).unwrap(),
                    "mine",
                    "step {at} {how:?}"
                );
                assert_eq!(names(place.path()), ["a-toeline"], "step {at} {how:?}");
            }
        }
    }

    #[test]
    fn a_place_that_was_empty_holds_a_whole_result_or_none() {
        for at in 0.. {
            let place = tempfile::tempdir().unwrap();
            let store = Failing::at(at, How::Killed);
            let answer = replaced_in(place.path(), store.clone());
            let target = place.path().join("a-toeline");
            Staging::sweep(&target);
            assert!(!target.exists() || names(&target) == [MARKER, "strokes.csv"], "step {at}");
            assert!(names(place.path()).iter().all(|name| name == "a-toeline"), "step {at}");
            if at >= store.steps() {
                answer.unwrap();
                break;
            }
        }
    }

    #[test]
    fn the_longest_name_leaves_room_for_the_temporary_one() {
        let place = tempfile::tempdir().unwrap();
        let target = place.path().join("a".repeat(255));
        let staging = Staging::begin(&target).unwrap();
        fs::write(staging.path().join(MARKER), "x").unwrap();
        staging.finish().unwrap();
        assert_eq!(names(&target), [MARKER]);
    }
}
