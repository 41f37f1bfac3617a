//! What can go wrong while results are written.

use std::path::PathBuf;

use crate::error::ErrorKind;

/// Results can't be written. Commands end with exit code 5 on it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// A file or folder can't be written.
    #[error(
        "{path}: cannot be written ({source}); check that the folder is there, may be written to and has room, or choose \
         another with --out",
        path = .path.display()
    )]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// Something that is no folder stands where the results should go.
    #[error("{path}: this is not a folder; choose another with --out", path = .0.display())]
    NotAFolder(PathBuf),
    /// A folder with other things in it stands where the results should go.
    #[error(
        "{path}: this folder has files in it and is not a result of toeline, so it is not replaced; choose another \
         with --out",
        path = .0.display()
    )]
    NotOurs(PathBuf),
    /// The clip can't be read for its checksum.
    #[error("{path}: cannot be read ({source}); check that it is still there", path = .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
}

impl TableError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Read { .. } => ErrorKind::Input,
            Self::Write { .. } | Self::NotAFolder(_) | Self::NotOurs(_) => ErrorKind::Output,
        }
    }
}
