//! Exit codes, and which error ends with which.

use std::process::ExitCode;

use super::review::NoteError;
use crate::draw::DrawError;
use crate::draw::annotated::AnnotateError;
use crate::kept::CacheError;
use crate::model::ModelError;
use crate::page::PageError;
use crate::pose::{FollowError, NoSubject};
use crate::scene::body::OffsetsError;
use crate::season::gather::GatherError;
use crate::season::list::ListError;
use crate::table::by_hand::ByHandError;
use crate::table::{ReadError, TableError};
use crate::targets::TargetError;
use crate::video::VideoError;

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Done, but there is no player or no stroke.
    NothingFound = 1,
    /// The arguments are wrong.
    Usage = 2,
    /// A clip can't be read.
    Input = 3,
    /// A network or the inference library is missing or damaged.
    Model = 4,
    /// Results can't be written.
    Output = 5,
    /// Some of several clips failed.
    SomeFailed = 6,
    /// Interrupted by the user.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit as u8)
    }
}

/// The arguments can't be carried out.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct UsageError(pub String);

/// The user interrupted the run.
#[derive(Debug, thiserror::Error)]
#[error("interrupted; nothing was written for this clip")]
pub struct Interrupted;

/// Standard output can't be written to.
#[derive(Debug, thiserror::Error)]
#[error("standard output cannot be written ({0})")]
pub struct PrintError(pub std::io::Error);

impl Exit {
    /// The exit code of an error.
    pub fn of(error: &anyhow::Error) -> Self {
        error.chain().find_map(Self::of_cause).unwrap_or(Self::Output)
    }

    fn of_cause(cause: &(dyn std::error::Error + 'static)) -> Option<Self> {
        if let Some(error) = cause.downcast_ref::<VideoError>() {
            return Some(match error {
                VideoError::CaptureRate { .. } => Self::Usage,
                _ => Self::Input,
            });
        }
        if let Some(error) = cause.downcast_ref::<FollowError>() {
            return Some(match error {
                FollowError::Model(_) => Self::Model,
                FollowError::Video(_) => Self::Input,
            });
        }
        if let Some(error) = cause.downcast_ref::<TableError>() {
            return Some(match error {
                TableError::Read { .. } => Self::Input,
                _ => Self::Output,
            });
        }
        let by_hand = match cause.downcast_ref::<ListError>() {
            Some(ListError::Table(error)) => Some(error),
            Some(_) => return Some(Self::Input),
            None => cause.downcast_ref::<ByHandError>(),
        };
        if let Some(error) = by_hand {
            return Some(match error {
                ByHandError::Read { .. } => Self::Input,
                _ => Self::Usage,
            });
        }
        if let Some(error) = cause.downcast_ref::<AnnotateError>() {
            return Some(match error {
                AnnotateError::Video(_) => Self::Input,
                _ => Self::Output,
            });
        }
        match () {
            () if cause.is::<ReadError>() || cause.is::<TargetError>() || cause.is::<NoteError>() => {
                Some(Self::Input)
            }
            () if cause.is::<ModelError>() || cause.is::<OffsetsError>() => Some(Self::Model),
            () if cause.is::<CacheError>() || cause.is::<PrintError>() => Some(Self::Output),
            () if cause.is::<DrawError>() || cause.is::<PageError>() => Some(Self::Output),
            () if cause.is::<GatherError>() => Some(Self::Input),
            () if cause.is::<UsageError>() || cause.is::<NoSubject>() => Some(Self::Usage),
            () if cause.is::<Interrupted>() => Some(Self::Interrupted),
            () => None,
        }
    }
}
