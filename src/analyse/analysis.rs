//! What was found out about a clip.

use std::path::Path;

use super::Networks;
use crate::kept::{CacheError, Followed};
use crate::measure::clip::{ClipMeasures, MeasuredStroke, Seen, Stated};
use crate::pose::Motion;
use crate::table::{Labels, ModelNote, Results};
use crate::video::ClipInfo;

/// Everything that is known of a measured clip.
#[derive(Debug, Clone)]
pub struct Analysis {
    /// What the file says of itself.
    pub info: ClipInfo,
    /// SHA-256 of the clip.
    pub sha256: String,
    /// What a person has stated, with all corrections.
    pub stated: Stated,
    /// What was seen besides the player's motion.
    pub seen: Seen,
    /// Why the clip's sound was not listened to, where it was not.
    pub no_sound: Option<String>,
    /// How many people were seen.
    pub people: usize,
    /// The player's motion; without any pictures where nobody was seen.
    pub motion: Motion,
    /// Its numbers.
    pub measures: ClipMeasures,
    /// What looking at the clip has given, of everybody.
    pub followed: Followed,
    /// What a person should know besides the warnings of the notes.
    pub warnings: Vec<String>,
    pub(super) model: ModelNote,
    pub(super) detectors: Vec<ModelNote>,
    pub(super) settings: String,
}

impl Analysis {
    /// The strokes in order of time.
    pub fn strokes(&self) -> &[MeasuredStroke] {
        &self.measures.strokes
    }

    /// Keeps what looking at the clip has given, so that measuring it again need not look.
    ///
    /// # Errors
    /// Those of [`Followed::save`].
    pub fn keep(&self, file: &Path) -> Result<(), CacheError> {
        self.followed.save(file, &self.settings)
    }

    /// The results for tables and pages, with the clip's name in them and what is noted of it.
    pub fn results<'a>(&'a self, clip: &'a str, labels: &'a Labels) -> Results<'a> {
        Results {
            clip,
            sha256: &self.sha256,
            info: &self.info,
            report: &self.followed.report,
            no_sound: self.no_sound.as_deref(),
            labels,
            stated: &self.stated,
            seen: &self.seen,
            people: self.people,
            model: &self.model,
            detectors: &self.detectors,
            runtime: &self.followed.runtime,
            motion: &self.motion,
            measures: &self.measures,
            second: None,
        }
    }
}

/// Everything that a kept motion depends on: measuring again uses it only where all of this is the same.
pub(super) fn settings(sha256: &str, info: &ClipInfo, networks: &Networks, coarse: bool) -> String {
    let pictures = if coarse { "single" } else { "all" };
    format!(
        "clip {sha256} capture {} pictures {pictures} networks {}",
        info.capture_rate,
        networks.fingerprint()
    )
}
