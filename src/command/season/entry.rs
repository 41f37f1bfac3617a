//! A clip of the season: what is known of it, where its results lie, and whether they are still good.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::super::exit::Result;
use super::super::plan::{ClipDetails, Job};
use crate::analyse::Networks;
use crate::scene::Stature;
use crate::season::gather::About;
use crate::season::names::whole_date;
use crate::season::stature::Height;
use crate::season::{Known, Listed};
use crate::table::marks::Marks;
use crate::table::{SaidBy, TableError, hex, notes, sha256};
use crate::video::Clip;

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
    pub details: ClipDetails,
    /// The clip of a second camera on the same strokes.
    pub and: Option<String>,
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
pub enum Freshness {
    /// They are.
    UpToDate {
        /// The clip's checksum.
        sha256: String,
    },
    /// The clip has to be measured.
    Outdated {
        /// The clip's checksum.
        sha256: String,
        /// Its size in bytes.
        size: u64,
        /// The stamp for its results.
        stamp: String,
    },
}

impl Freshness {
    /// The clip's checksum.
    pub fn sha256(&self) -> &str {
        match self {
            Self::UpToDate { sha256 } | Self::Outdated { sha256, .. } => sha256,
        }
    }
}

impl Entry {
    /// Options count most, then what `season.csv` says of a clip, then settings, then names.
    pub fn new(
        clip: Listed,
        options: &ClipDetails,
        results: &Path,
        networks: &Networks,
        marks: Option<&Marks>,
        blur_faces: bool,
    ) -> Result<Self> {
        let details = details(&clip, options);
        let name = clip.file.rsplit('/').next().unwrap_or(&clip.file);
        let marks = match marks {
            Some(marks) => marks.of_clip(&[&clip.file, name])?.text(),
            None => String::new(),
        };
        let settings = format!(
            "{} {} {:?} {}\n{:?}\n{blur_faces}\n{marks}",
            env!("CARGO_PKG_VERSION"),
            notes::FORMAT,
            details,
            networks.fingerprint(),
            networks.body
        );
        let folder = results.join("clips").join(format!("{}-toeline", clip.file));
        Ok(Self {
            settings: hex(&Sha256::digest(settings)),
            folder,
            details,
            and: clip.by_table.and,
            clip: clip.path,
            file: clip.file,
        })
    }

    /// Looks whether the results are there and good.
    ///
    /// # Errors
    /// [`TableError::Read`] where the clip can't be read.
    pub fn freshness(&self) -> Result<Freshness, TableError> {
        let fail = |source| TableError::Read { path: self.clip.clone(), source };
        let about = fs::metadata(&self.clip).map_err(fail)?;
        let modified = about.modified().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        let (size, modified) = (about.len(), modified.map_or_else(String::new, |t| t.as_nanos().to_string()));
        let kept = self.stamp().filter(|stamp| stamp.settings == self.settings);
        let same_file = kept.as_ref().is_some_and(|stamp| stamp.size == size && stamp.modified == modified);
        if let Some(stamp) = kept.as_ref().filter(|_| same_file && !modified.is_empty()) {
            return Ok(Freshness::UpToDate { sha256: stamp.sha256.clone() });
        }
        let sha256 = sha256(&self.clip)?;
        if kept.is_some_and(|stamp| stamp.sha256 == sha256) {
            return Ok(Freshness::UpToDate { sha256 });
        }
        let stamp = Stamp { sha256: sha256.clone(), settings: self.settings.clone(), size, modified };
        let stamp = serde_json::to_string(&stamp).unwrap_or_default();
        Ok(Freshness::Outdated { sha256, size, stamp })
    }

    fn stamp(&self) -> Option<Stamp> {
        serde_json::from_slice(&fs::read(self.folder.join(STAMP)).ok()?).ok()
    }

    /// The checksum of the clip that the results which lie in a folder were made from.
    pub fn sha256_of(folder: &Path) -> Option<String> {
        serde_json::from_slice::<Stamp>(&fs::read(folder.join(STAMP)).ok()?).ok().map(|stamp| stamp.sha256)
    }

    /// What its results say of its player's stature; `None` where there are none of these settings. Results that can't be read are told
    /// of when they are joined.
    pub fn height(&self) -> Option<Height> {
        self.stamp().filter(|stamp| stamp.settings == self.settings)?;
        About::read(&self.folder).ok()?.height
    }

    /// The work of measuring it once more, where its results are good but for the player's stature, and the clip's size.
    pub fn again(&self, stature: Option<Stature>) -> Option<(Job, u64)> {
        let stamp = self.stamp()?;
        let text = serde_json::to_string(&stamp).ok()?;
        Some((Job { stature, ..self.job(&stamp.sha256, &text, Vec::new()) }, stamp.size))
    }

    /// The work of measuring it.
    pub fn job(&self, sha256: &str, stamp: &str, motions: Vec<PathBuf>) -> Job {
        Job {
            clip: self.clip.clone(),
            name: self.file.clone(),
            folder: self.folder.clone(),
            details: self.details.clone(),
            sha256: Some(sha256.to_owned()),
            motions,
            stature: None,
            and: None,
            beside: vec![(STAMP, format!("{stamp}\n"))],
        }
    }
}

/// Everything that is said of a clip.
fn details(clip: &Listed, options: &ClipDetails) -> ClipDetails {
    let by_settings = |player: Option<&str>| {
        clip.settings.iter().fold(Known::default(), |known, settings| known.or(settings.of(player)))
    };
    // Whose clip it is decides what settings say of it, and may stand in them.
    let whose = options.labels.player.clone().or(clip.by_table.player.clone());
    let whose = whose.or_else(|| by_settings(None).player).or(clip.by_names.player.clone());
    let mut sources = vec![
        (SaidBy::Table, clip.by_table.clone()),
        (SaidBy::Settings, by_settings(whose.as_deref())),
        (SaidBy::Names, clip.by_names.clone()),
    ];
    if sources.iter().all(|(_, known)| known.date.is_none()) {
        sources.push((SaidBy::Clip, Known { date: recorded_on(&clip.path), ..Known::default() }));
    }
    options.clone().completed(&sources)
}

/// The day on which a clip was recorded, as it says itself. What can't be opened is told of when it is to be measured.
fn recorded_on(clip: &Path) -> Option<String> {
    let day = Clip::open(clip, None).ok()?.info().recorded_on.clone()?;
    whole_date(&day).then_some(day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::season::Settings;
    use crate::units::{Degrees, Metres};

    fn settings(text: &str) -> Settings {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("toeline.toml"), text).unwrap();
        Settings::of_folder(place.path()).unwrap().unwrap()
    }

    #[test]
    fn options_count_most_then_the_table_then_settings_then_names() {
        let known = |height_cm: f64, player: &str| Known {
            height_cm: Some(height_cm),
            player: Some(player.to_owned()),
            ..Known::default()
        };
        let mut clip = Listed {
            file: "P04/a.mp4".to_owned(),
            path: PathBuf::new(),
            by_table: known(172.0, "P02"),
            settings: vec![
                settings("fov = 60\nplayer = 'P03'\n[players.P02]\nheight_cm = 173"),
                settings("fov = 70\ngrip = 'eastern'"),
            ],
            by_names: known(174.0, "P04"),
        };
        let mut options = ClipDetails::default();
        options.labels.player = Some("P01".to_owned());
        options.stated.height = Some(Metres(1.71));
        let stated_and_labels = |clip: &Listed, options: &ClipDetails| {
            let ClipDetails { stated, labels } = details(clip, options);
            let by = |name: &str| labels.said_by.get(name).copied();
            let height = stated.height.map(|height| (100.0 * height.0).round());
            (labels.player.clone(), by("player"), height, by("height_cm"))
        };
        let player = |code: &str| Some(code.to_owned());
        let typed = Some(SaidBy::CommandLine);
        assert_eq!(stated_and_labels(&clip, &options), (player("P01"), typed, Some(171.0), typed));
        let nothing = ClipDetails::default();
        let table = Some(SaidBy::Table);
        assert_eq!(stated_and_labels(&clip, &nothing), (player("P02"), table, Some(172.0), table));
        clip.by_table.height_cm = None;
        let settings = Some(SaidBy::Settings);
        assert_eq!(stated_and_labels(&clip, &nothing), (player("P02"), table, Some(173.0), settings));
        clip.by_table = Known::default();
        // The settings say another player, of whom they know nothing more: so names tell the height.
        let names = Some(SaidBy::Names);
        assert_eq!(stated_and_labels(&clip, &nothing), (player("P03"), settings, Some(174.0), names));
        // The nearest folder's settings count most; what they leave open, the folder's above says.
        let ClipDetails { stated, labels } = details(&clip, &nothing);
        assert_eq!(stated.field_of_view, Some(Degrees(60.0)));
        assert_eq!(labels.grip.map(crate::table::Grip::name), Some("eastern"));
        clip.settings.clear();
        assert_eq!(stated_and_labels(&clip, &nothing), (player("P04"), names, Some(174.0), names));
    }

    #[test]
    fn no_hit_is_listened_for_in_shadow_swings_whatever_says_that_they_are() {
        let drill = Some(crate::table::Drill::Shadow);
        let by_names = Known { drill, ..Known::default() };
        let clip = Listed {
            file: "shadow.mp4".to_owned(),
            path: PathBuf::new(),
            by_table: Known::default(),
            settings: Vec::new(),
            by_names,
        };
        assert!(details(&clip, &ClipDetails::default()).stated.shadow);
    }
}
