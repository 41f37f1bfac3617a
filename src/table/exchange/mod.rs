//! Files for other programs: the motion as OpenSim TRC or COCO keypoints, the phases as WebVTT captions.

mod coco;
mod trc;
mod vtt;

use std::path::Path;

use super::{Results, TableError};

/// A form in which a clip's motion or phases are handed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum Exchange {
    /// Body points in metres, as OpenSim reads them.
    Trc,
    /// Body points in pixels, as COCO keypoints.
    Coco,
    /// Phases as captions for a video player.
    Vtt,
}

impl Exchange {
    /// The name of the file.
    pub const fn file(self) -> &'static str {
        match self {
            Self::Trc => "motion.trc",
            Self::Coco => "motion.coco.json",
            Self::Vtt => "phases.vtt",
        }
    }

    /// Writes the file into a folder.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn write(self, folder: &Path, results: &Results<'_>) -> Result<(), TableError> {
        let path = folder.join(self.file());
        let text = match self {
            Self::Trc => trc::text(results),
            Self::Coco => return super::write_json(&path, &coco::Document::of(results)),
            Self::Vtt => vtt::text(results),
        };
        std::fs::write(&path, text).map_err(|source| TableError::Write { path, source })
    }
}
