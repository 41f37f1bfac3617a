//! What is done to the disk when results are put in their places: each step in one function, so that tests can let any of
//! them fail.

use std::fmt::Debug;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::Path;

/// The steps. Each has happened when it returns, or has failed and changed nothing that matters.
pub trait Store: Debug {
    /// Makes a folder and those above it.
    ///
    /// # Errors
    /// The system's answer, as for the others.
    #[allow(clippy::missing_errors_doc, reason = "said once")]
    fn make_folder(&self, path: &Path) -> io::Result<()>;
    /// Gives a file or a folder another name, in place of a file of that name.
    #[allow(clippy::missing_errors_doc, reason = "said once")]
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file, or a folder with all that is in it; one that is not there is no failure.
    #[allow(clippy::missing_errors_doc, reason = "said once")]
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Sees to it that a file's content, or a folder's list of names, outlives a power cut.
    #[allow(clippy::missing_errors_doc, reason = "said once")]
    fn sync(&self, path: &Path) -> io::Result<()>;
}

/// The file system.
#[derive(Debug, Clone, Copy)]
pub struct Disk;

impl Store for Disk {
    fn make_folder(&self, path: &Path) -> io::Result<()> {
        fs::create_dir_all(path)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        let removed = match fs::symlink_metadata(path) {
            Ok(about) if about.is_dir() => fs::remove_dir_all(path),
            Ok(_) => fs::remove_file(path),
            Err(error) => Err(error),
        };
        match removed {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    fn sync(&self, path: &Path) -> io::Result<()> {
        if cfg!(unix) || path.is_file() {
            return match File::open(path)?.sync_all() {
                // Some file systems have nothing to do here and say so.
                Err(error) if error.kind() == ErrorKind::InvalidInput => Ok(()),
                answer => answer,
            };
        }
        // Elsewhere a folder can't be opened; its names are written with the files.
        Ok(())
    }
}

/// Syncs a folder with everything in it, what is inside before what holds it.
///
/// # Errors
/// The system's answer.
pub fn sync_all(store: &dyn Store, path: &Path) -> io::Result<()> {
    if path.is_dir() {
        for entry in fs::read_dir(path)? {
            sync_all(store, &entry?.path())?;
        }
    }
    store.sync(path)
}

/// Whether a process has ended; where that can't be told, it is taken to run.
pub fn is_gone(process: u32) -> bool {
    let processes = Path::new("/proc");
    processes.join("self").exists() && !processes.join(process.to_string()).exists()
}

#[cfg(test)]
pub mod failing {
    //! A disk on which the n-th step fails.

    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    /// What happens at the step that fails.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum How {
        /// It fails alone: the disk is full, or may not be written to.
        Once,
        /// It and all that follow do nothing: the program was killed, or the power has gone.
        Killed,
    }

    /// Such a disk.
    #[derive(Debug, Clone)]
    pub struct Failing {
        at: usize,
        how: How,
        steps: Arc<AtomicUsize>,
    }

    impl Failing {
        /// Fails at the step of this number, from 0.
        pub fn at(at: usize, how: How) -> Self {
            Self { at, how, steps: Arc::default() }
        }

        /// How many steps there have been.
        pub fn steps(&self) -> usize {
            self.steps.load(Ordering::SeqCst)
        }

        fn step(&self, action: impl FnOnce() -> io::Result<()>) -> io::Result<()> {
            let number = self.steps.fetch_add(1, Ordering::SeqCst);
            let fails = match self.how {
                How::Once => number == self.at,
                How::Killed => number >= self.at,
            };
            if fails { Err(io::Error::from(ErrorKind::StorageFull)) } else { action() }
        }
    }

    impl Store for Failing {
        fn make_folder(&self, path: &Path) -> io::Result<()> {
            self.step(|| Disk.make_folder(path))
        }
        fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
            self.step(|| Disk.rename(from, to))
        }
        fn remove(&self, path: &Path) -> io::Result<()> {
            self.step(|| Disk.remove(path))
        }
        fn sync(&self, path: &Path) -> io::Result<()> {
            self.step(|| Disk.sync(path))
        }
    }
}
