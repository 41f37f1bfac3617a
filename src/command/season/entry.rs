//! A clip of the season: what is known of it, where its results lie, and whether they are still good.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::super::exit::Result;
use super::super::plan::{Job, Said};
use crate::analyse::Networks;
use crate::season::Known;
use crate::season::Listed;
use crate::table::marks::Marks;
use crate::table::{TableError, hex, notes, sha256};
use crate::units::Metres;

/// The file in a clip's folder that says what its results were made from.
const STAMP: &str = "season.json";

/// A clip of the season.
pub struct Entry {
    /// Its name in the tables: its path within the folder.
    pub file: String,
    /// The clip.
    pub clip: PathBuf,
    /// The folder of its results.
    pub folder: PathBuf,
    /// What is known of it.
    pub said: Said,
    /// A checksum over everything that its results depend on besides its own content.
    settings: String,
}

/// What a clip's results were made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Stamp {
    sha256: String,
    settings: String,
    /// Size and time of the file; while they stay, the content is taken to be the same.
    size: u64,
    modified: String,
}

/// Whether a clip's results are good.
pub enum Look {
    /// They are.
    Done {
        /// The clip's checksum.
        sha256: String,
    },
    /// The clip has to be measured.
    ToDo {
        /// The clip's checksum.
        sha256: String,
        /// Its size in bytes.
        size: u64,
        /// The stamp for its results.
        stamp: String,
    },
}

impl Look {
    /// The clip's checksum.
    pub fn sha256(&self) -> &str {
        match self {
            Self::Done { sha256 } | Self::ToDo { sha256, .. } => sha256,
        }
    }
}

impl Entry {
    /// What `season.csv` says of a clip counts most, then options, then names.
    pub fn new(
        clip: Listed,
        options: &Said,
        results: &Path,
        networks: &Networks,
        marks: Option<&Marks>,
    ) -> Result<Self> {
        let said = said(&clip, options);
        let name = clip.file.rsplit('/').next().unwrap_or(&clip.file);
        let marks = match marks {
            Some(marks) => marks.of_clip(&[&clip.file, name])?.text(),
            None => String::new(),
        };
        let settings = format!(
            "{} {} {:?} {}\n{:?}\n{marks}",
            env!("CARGO_PKG_VERSION"),
            notes::FORMAT,
            said,
            networks.fingerprint(),
            networks.body
        );
        let folder = results.join("clips").join(format!("{}-toeline", clip.file));
        Ok(Self { settings: hex(&Sha256::digest(settings)), folder, said, clip: clip.path, file: clip.file })
    }

    /// Looks whether the results are there and good.
    ///
    /// # Errors
    /// [`TableError::Read`] where the clip can't be read.
    pub fn look(&self) -> Result<Look, TableError> {
        let fail = |source| TableError::Read { path: self.clip.clone(), source };
        let about = fs::metadata(&self.clip).map_err(fail)?;
        let modified = about.modified().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        let (size, modified) = (about.len(), modified.map_or_else(String::new, |t| t.as_nanos().to_string()));
        let kept = self.stamp().filter(|stamp| stamp.settings == self.settings);
        let same_file = kept.as_ref().is_some_and(|stamp| stamp.size == size && stamp.modified == modified);
        if let Some(stamp) = kept.as_ref().filter(|_| same_file && !modified.is_empty()) {
            return Ok(Look::Done { sha256: stamp.sha256.clone() });
        }
        let sha256 = sha256(&self.clip)?;
        if kept.is_some_and(|stamp| stamp.sha256 == sha256) {
            return Ok(Look::Done { sha256 });
        }
        let stamp = Stamp { sha256: sha256.clone(), settings: self.settings.clone(), size, modified };
        let stamp = serde_json::to_string(&stamp).unwrap_or_default();
        Ok(Look::ToDo { sha256, size, stamp })
    }

    fn stamp(&self) -> Option<Stamp> {
        serde_json::from_slice(&fs::read(self.folder.join(STAMP)).ok()?).ok()
    }

    /// The checksum of the clip that the results which lie in a folder were made from.
    pub fn sha256_of(folder: &Path) -> Option<String> {
        serde_json::from_slice::<Stamp>(&fs::read(folder.join(STAMP)).ok()?).ok().map(|stamp| stamp.sha256)
    }

    /// The work of measuring it.
    pub fn job(&self, sha256: &str, stamp: &str, motions: Vec<PathBuf>) -> Job {
        Job {
            clip: self.clip.clone(),
            name: self.file.clone(),
            folder: self.folder.clone(),
            said: self.said.clone(),
            sha256: Some(sha256.to_owned()),
            motions,
            beside: vec![(STAMP, format!("{stamp}\n"))],
        }
    }
}

/// Everything that is said of a clip.
fn said(clip: &Listed, options: &Said) -> Said {
    let stated = &options.stated;
    let by_options = Known {
        player: options.labels.player.clone(),
        drill: options.labels.drill,
        grip: options.labels.grip,
        hand: stated.hand,
        view: stated.direction.view,
        height_cm: None,
        date: None,
        capture_fps: stated.capture_rate,
    };
    let known = clip.by_table.clone().or(by_options).or(clip.by_names.clone());
    let mut said = options.clone();
    said.labels.player = known.player;
    said.labels.date = known.date;
    said.labels.drill = known.drill;
    said.labels.grip = known.grip;
    said.stated.hand = known.hand;
    said.stated.direction.view = known.view;
    said.stated.height = clip.by_table.height_cm.map(|height| Metres(height / 100.0)).or(stated.height);
    said.stated.capture_rate = known.capture_fps;
    said
}
