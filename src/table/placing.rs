//! Files that take their places in a folder together with others: the season's and a comparison's. They are written into a
//! hidden folder within it, synced, and renamed.
//!
//! The hidden folder's name tells how far that is: `part` while the files are written, `placing` from when all of them are
//! there and synced. What is killed before that leaves the earlier files as they were, what is killed later is completed by the
//! next run.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process;

use super::TableError;
use super::files::{Writer, files_of};
use super::store::{Disk, Store, is_gone, sync_all};

/// How the hidden folders' names begin.
const PREFIX: &str = ".toeline-";

/// The file among those to be placed that names them, a line each.
const LIST: &str = ".files";

/// Files that are being written for a folder. Unless they are placed, nothing of them remains.
#[derive(Debug)]
pub struct Placing {
    store: Box<dyn Store>,
    writer: Writer,
    target: PathBuf,
    id: u32,
    /// Whether the folder has been made for them.
    is_new: bool,
}

impl Placing {
    /// Begins to write the files of a folder, which is made where there is none, and sees to it that it can be written to.
    ///
    /// # Errors
    /// [`TableError::Write`]; [`TableError::NotAFolder`].
    pub fn begin(target: &Path, writer: Writer) -> Result<Self, TableError> {
        Self::begin_in(Box::new(Disk), target, writer, process::id())
    }

    fn begin_in(store: Box<dyn Store>, target: &Path, writer: Writer, id: u32) -> Result<Self, TableError> {
        let fail = |source| TableError::Write { path: target.to_owned(), source };
        if target.exists() && !target.is_dir() {
            return Err(TableError::NotAFolder(target.to_owned()));
        }
        let is_new = !target.exists();
        store.make_folder(target).map_err(fail)?;
        recover(&*store, target, writer).map_err(fail)?;
        let placing = Self { store, writer, target: target.to_owned(), id, is_new };
        placing.store.make_folder(&placing.part()).map_err(fail)?;
        Ok(placing)
    }

    /// Where to write for now.
    pub fn part(&self) -> PathBuf {
        hidden(&self.target, "part", self.id)
    }

    /// Puts the files in their places, instead of those of an earlier run.
    ///
    /// # Errors
    /// [`TableError::Write`]; the earlier files are then still there.
    pub fn finish(self) -> Result<(), TableError> {
        self.put().map_err(|source| TableError::Write { path: self.target.clone(), source })
    }

    fn put(&self) -> io::Result<()> {
        let store = &*self.store;
        let set = Set { store, writer: self.writer, target: &self.target, id: self.id };
        let part = self.part();
        let mut names: Vec<String> =
            set.replaced_names().filter(|name| part.join(name).exists()).map(str::to_owned).collect();
        names.push(String::new());
        fs::write(part.join(LIST), names.join("\n"))?;
        sync_all(store, &part)?;
        store.rename(&part, &set.placing())?;
        if let Err(error) = store.sync(&self.target).and_then(|()| set.place()) {
            set.undo()?;
            return Err(error);
        }
        set.clear()
    }
}

impl Drop for Placing {
    fn drop(&mut self) {
        // There is nobody left to tell if this fails. A folder made for nothing goes too, one with anything in it stays.
        let _ = self.store.remove(&self.part());
        if self.is_new {
            let _ = fs::remove_dir(&self.target);
        }
    }
}

/// Files on their way to their places.
struct Set<'a> {
    store: &'a dyn Store,
    writer: Writer,
    target: &'a Path,
    id: u32,
}

impl Set<'_> {
    fn placing(&self) -> PathBuf {
        hidden(self.target, "placing", self.id)
    }

    /// Where earlier files are as long as they may have to come back.
    fn old(&self) -> PathBuf {
        hidden(self.target, "old", self.id)
    }

    /// What may be there of an earlier run and is replaced or, where it is not written any more, removed.
    fn replaced_names(&self) -> impl Iterator<Item = &'static str> + use<> {
        files_of(self.writer).filter(|file| file.is_replaced).map(|file| file.name)
    }

    /// Takes the earlier files away and puts the new ones in their places. Where it was broken off it can be done again.
    fn place(&self) -> io::Result<()> {
        let (placing, old) = (self.placing(), self.old());
        let list = fs::read_to_string(placing.join(LIST))?;
        self.store.make_folder(&old)?;
        for name in self.replaced_names() {
            let (new, place) = (placing.join(name), self.target.join(name));
            let is_wanted = list.lines().any(|line| line == name);
            if place.exists() && (new.exists() || !is_wanted) {
                self.store.rename(&place, &old.join(name))?;
            }
            if new.exists() {
                self.store.rename(&new, &place)?;
            }
        }
        self.store.sync(self.target)
    }

    /// Brings back the earlier files.
    fn undo(&self) -> io::Result<()> {
        let (placing, old) = (self.placing(), self.old());
        let list = fs::read_to_string(placing.join(LIST))?;
        for name in self.replaced_names() {
            let (new, place, earlier) = (placing.join(name), self.target.join(name), old.join(name));
            let is_placed = list.lines().any(|line| line == name) && !new.exists() && place.exists();
            if is_placed {
                self.store.rename(&place, &new)?;
            }
            if earlier.exists() {
                self.store.rename(&earlier, &place)?;
            }
        }
        self.clear()
    }

    /// Removes what is not needed any more; first what says that there is something to be completed.
    fn clear(&self) -> io::Result<()> {
        self.store.remove(&self.placing())?;
        self.store.remove(&self.old())
    }
}

/// Completes what a process that is gone had begun to place, and removes what it has left besides.
fn recover(store: &dyn Store, target: &Path, writer: Writer) -> io::Result<()> {
    let mut left = Vec::new();
    for entry in fs::read_dir(target)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        let Some((ending, id)) = name.strip_prefix(PREFIX).and_then(|rest| rest.split_once('-')) else {
            continue;
        };
        if let Some(id) = id.parse().ok().filter(|id| is_gone(*id)) {
            left.push((ending.to_owned(), id));
        }
    }
    for (_, id) in left.iter().filter(|(ending, _)| ending == "placing") {
        let set = Set { store, writer, target, id: *id };
        // Without its list nothing of it was placed, or all of it.
        if set.placing().join(LIST).exists() {
            set.place()?;
        }
        set.clear()?;
    }
    for (ending, id) in left.iter().filter(|(ending, _)| ending != "placing") {
        store.remove(&hidden(target, ending, *id))?;
    }
    Ok(())
}

fn hidden(target: &Path, ending: &str, id: u32) -> PathBuf {
    target.join(format!("{PREFIX}{ending}-{id}"))
}

#[cfg(test)]
mod tests {
    use super::super::store::failing::{Failing, How};
    use super::*;

    /// The number of no process.
    const GONE: u32 = u32::MAX;

    /// What stands in a folder, names and contents, hidden folders too.
    fn content(folder: &Path) -> Vec<(String, String)> {
        let mut found = Vec::new();
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            let content = if path.is_dir() {
                format!("{:?}", content(&path))
            } else {
                fs::read_to_string(&path).unwrap()
            };
            found.push((name, content));
        }
        found.sort();
        found
    }

    fn fill(folder: &Path, what: &str, also: &str) {
        fs::create_dir_all(folder.join("charts")).unwrap();
        for name in ["season.html", "strokes.csv", "charts/a.svg", also] {
            fs::write(folder.join(name), what).unwrap();
        }
    }

    /// A season of an earlier run with a clip's results and a file of the user's, to be replaced by a new one.
    fn replaced_in(folder: &Path, store: Failing) -> Result<(), TableError> {
        let placing = Placing::begin_in(Box::new(store), folder, Writer::Season, GONE)?;
        fill(&placing.part(), "new", "sessions.csv");
        placing.finish()
    }

    fn earlier() -> tempfile::TempDir {
        let place = tempfile::tempdir().unwrap();
        fill(place.path(), "old", "tables.xlsx");
        fs::create_dir(place.path().join("clips")).unwrap();
        fs::write(place.path().join("clips/results"), "of a clip").unwrap();
        fs::write(place.path().join("my notes.txt"), "mine").unwrap();
        place
    }

    #[test]
    fn whatever_step_fails_all_files_are_of_one_run() {
        let old = content(earlier().path());
        let new = {
            let place = earlier();
            replaced_in(place.path(), Failing::at(usize::MAX, How::Once)).unwrap();
            content(place.path())
        };
        let names = |of: &[(String, String)]| of.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
        let wanted = ["charts", "clips", "my notes.txt", "season.html", "sessions.csv", "strokes.csv"];
        assert_eq!(names(&new), wanted, "what is not written any more is gone");
        for how in [How::Once, How::Killed] {
            for at in 0.. {
                let place = earlier();
                let store = Failing::at(at, how);
                let answer = replaced_in(place.path(), store.clone());
                if at >= store.steps() {
                    answer.unwrap();
                    assert!(at > 15, "{at} steps");
                    break;
                }
                recover(&Disk, place.path(), Writer::Season).unwrap();
                let found = content(place.path());
                assert!(found == old || found == new, "{how:?}, step {at}: {found:?}");
            }
        }
    }

    #[test]
    fn one_failure_leaves_the_earlier_files_at_once() {
        let old = content(earlier().path());
        for at in 0.. {
            let place = earlier();
            let store = Failing::at(at, How::Once);
            let answer = replaced_in(place.path(), store.clone());
            if at >= store.steps() {
                break;
            }
            // After the last sync only what was there before is left to be removed.
            let found = content(place.path());
            let visible: Vec<_> =
                found.iter().filter(|(name, _)| !name.starts_with(PREFIX)).cloned().collect();
            let is_new = visible.iter().any(|(name, content)| name == "strokes.csv" && content == "new");
            assert!(
                visible == old || is_new && at + 3 >= store.steps(),
                "step {at} of {}: {found:?}",
                store.steps()
            );
            assert!(answer.is_err() || at + 1 >= store.steps(), "step {at}");
        }
    }

    #[test]
    fn what_another_process_is_writing_is_left_alone() {
        let place = tempfile::tempdir().unwrap();
        let first = Placing::begin(place.path(), Writer::Comparison).unwrap();
        fs::write(first.part().join("compare.txt"), "first").unwrap();
        recover(&Disk, place.path(), Writer::Comparison).unwrap();
        first.finish().unwrap();
        assert_eq!(content(place.path()), [("compare.txt".to_owned(), "first".to_owned())]);
    }
}
