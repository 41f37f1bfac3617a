//! Why a clip can't be measured.

use crate::error::ErrorKind;
use crate::model::ModelError;
use crate::pose::{FollowError, NoSubject};
use crate::racket::LookError;
use crate::scene::body::OffsetsError;
use crate::table::TableError;
use crate::table::by_hand::ByHandError;
use crate::video::VideoError;

/// Why a clip can't be measured.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AnalyseError {
    /// The clip can't be read.
    #[error(transparent)]
    Video(#[from] VideoError),
    /// A network can't be used.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// The heavy network isn't part of the project's files, so it is often missing.
    #[error("the heavy model is not there; scripts/make-models.sh --heavy makes it, or use --model full")]
    NoHeavyModel {
        /// What is missing.
        source: ModelError,
    },
    /// The pose network's card can't be used.
    #[error(transparent)]
    Offsets(#[from] OffsetsError),
    /// Following the people failed.
    #[error("{clip}: the player could not be followed")]
    Follow {
        /// The clip.
        clip: String,
        /// Why.
        source: FollowError,
    },
    /// Looking for racket and ball failed.
    #[error("{clip}: racket and ball could not be looked for")]
    Look {
        /// The clip.
        clip: String,
        /// Why.
        source: LookError,
    },
    /// The player isn't where they were said to be.
    #[error("{clip}: {source}; correct --subject")]
    Subject {
        /// The clip.
        clip: String,
        /// Who was seen.
        source: NoSubject,
    },
    /// The corrections don't fit the clip.
    #[error(transparent)]
    Marks(#[from] ByHandError),
    /// The clip's checksum can't be taken.
    #[error(transparent)]
    Checksum(#[from] TableError),
}

impl AnalyseError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Video(error) => error.kind(),
            Self::Model(error) | Self::NoHeavyModel { source: error } => error.kind(),
            Self::Offsets(error) => error.kind(),
            Self::Follow { source, .. } => source.kind(),
            Self::Look { source, .. } => source.kind(),
            Self::Subject { source, .. } => source.kind(),
            Self::Marks(error) => error.kind(),
            Self::Checksum(error) => error.kind(),
        }
    }

    /// What following a clip has failed with; a clip that can't be read says so itself.
    pub(super) fn following(clip: &str, error: FollowError) -> Self {
        match error {
            FollowError::Video(error) => error.into(),
            FollowError::Model(_) => Self::Follow { clip: clip.to_owned(), source: error },
        }
    }

    /// What looking for racket and ball has failed with.
    pub(super) fn looking(clip: &str, error: LookError) -> Self {
        match error {
            LookError::Video(error) => error.into(),
            LookError::Model(_) => Self::Look { clip: clip.to_owned(), source: error },
        }
    }
}
