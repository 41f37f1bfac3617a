//! What can be wrong with a file of targets.

use std::path::PathBuf;

use crate::error::ErrorKind;

/// A set of targets can't be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TargetError {
    /// The file can't be read.
    #[error("{path}: cannot be read ({source}); check the name given with --targets", path = .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The file is no TOML, or has a part that isn't known.
    #[error("{name}: {why}; `toeline explain targets` prints a set to start from")]
    Form {
        /// The file's name.
        name: String,
        /// What is wrong, with its line.
        why: String,
    },
    /// An entry makes no sense.
    #[error("{name}: {entry}: {why}")]
    Entry {
        /// The file's name.
        name: String,
        /// The measure of the entry.
        entry: String,
        /// What is wrong and what would be right.
        why: String,
    },
}

impl TargetError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Read { .. } | Self::Form { .. } | Self::Entry { .. } => ErrorKind::Input,
        }
    }
}
