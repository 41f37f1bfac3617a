//! Exit codes, and which error ends with which.

use std::process::ExitCode;

use super::review::NoteError;
use crate::analyse::AnalyseError;
use crate::draw::DrawError;
use crate::draw::annotated::AnnotateError;
use crate::error::ErrorKind;
use crate::kept::CacheError;
use crate::model::ModelError;
use crate::page::PageError;
use crate::pose::FollowError;
use crate::season::gather::GatherError;
use crate::season::list::ListError;
use crate::season::settings::SettingsError;
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
    /// What was asked for can't be done.
    Usage = 2,
    /// A clip, a table or another file that was given can't be read or used.
    Input = 3,
    /// A model or the inference library is missing or damaged.
    Model = 4,
    /// Results can't be written.
    Output = 5,
    /// Some of several clips failed.
    SomeFailed = 6,
    /// Interrupted by the user.
    Interrupted = 130,
}

impl Exit {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Done,
        Self::NothingFound,
        Self::Usage,
        Self::Input,
        Self::Model,
        Self::Output,
        Self::SomeFailed,
        Self::Interrupted,
    ];

    /// What it tells whoever has run the program: in a few words, and in full.
    pub const fn meaning(self) -> (&'static str, &'static str) {
        match self {
            Self::Done => ("done", ""),
            Self::NothingFound => (
                "done, but no player or no stroke was found",
                "The tables have headers only, and clip.json says why. From compare: nothing could be compared, and \
                 compare.txt says why.",
            ),
            Self::Usage => {
                ("wrong usage", "The command can't run as given; the message says what to change.")
            }
            Self::Input => (
                "a clip or another input can't be read or used",
                "The clip, or a table or text that you wrote: season.csv, marks, targets, a note.",
            ),
            Self::Model => ("a model or ONNX Runtime's library is missing or damaged", ""),
            Self::Output => (
                "the results can't be written",
                "The disk is full, the folder can't be written to, or something else already has its name.",
            ),
            Self::SomeFailed => (
                "some of several clips failed",
                "Each is named; the others are done. From season --gather also: some are not measured yet.",
            ),
            Self::Interrupted => ("interrupted", "Nothing was written for the clip being measured."),
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit as u8)
    }
}

impl From<ErrorKind> for Exit {
    fn from(kind: ErrorKind) -> Self {
        match kind {
            ErrorKind::Usage => Self::Usage,
            ErrorKind::Input => Self::Input,
            ErrorKind::Model => Self::Model,
            ErrorKind::Output => Self::Output,
            ErrorKind::Cancelled => Self::Interrupted,
        }
    }
}

/// The command can't run as given.
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

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
#[allow(missing_docs, reason = "each is the error of the room it is named after")]
pub enum Failure {
    Usage(#[from] UsageError),
    Interrupted(#[from] Interrupted),
    /// A season was interrupted, whose clips so far stay.
    #[error("interrupted; finished clips are kept, and the same command continues with the rest")]
    SeasonInterrupted,
    Print(#[from] PrintError),
    Analyse(#[from] AnalyseError),
    Video(#[from] VideoError),
    Model(#[from] ModelError),
    Follow(#[from] FollowError),
    Kept(#[from] CacheError),
    Table(#[from] TableError),
    Read(#[from] ReadError),
    ByHand(#[from] ByHandError),
    Target(#[from] TargetError),
    Note(#[from] NoteError),
    Draw(#[from] DrawError),
    Annotate(#[from] AnnotateError),
    Page(#[from] PageError),
    List(#[from] ListError),
    Settings(#[from] SettingsError),
    Gather(#[from] GatherError),
    Json(#[from] serde_json::Error),
}

/// What a command gives.
pub type Result<T, E = Failure> = std::result::Result<T, E>;

impl Failure {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Usage(_) => ErrorKind::Usage,
            Self::Interrupted(_) | Self::SeasonInterrupted => ErrorKind::Cancelled,
            Self::Print(_) | Self::Json(_) => ErrorKind::Output,
            Self::Analyse(error) => error.kind(),
            Self::Video(error) => error.kind(),
            Self::Model(error) => error.kind(),
            Self::Follow(error) => error.kind(),
            Self::Kept(error) => error.kind(),
            Self::Table(error) => error.kind(),
            Self::Read(error) => error.kind(),
            Self::ByHand(error) => error.kind(),
            Self::Target(error) => error.kind(),
            Self::Note(_) => ErrorKind::Input,
            Self::Draw(error) => error.kind(),
            Self::Annotate(error) => error.kind(),
            Self::Page(error) => error.kind(),
            Self::List(error) => error.kind(),
            Self::Settings(error) => error.kind(),
            Self::Gather(error) => error.kind(),
        }
    }

    /// The exit code of a command that ends with it.
    pub fn exit(&self) -> Exit {
        self.kind().into()
    }
}
