//! Keeps what following a clip has given on disk, so that the clip need not be looked at again.
//!
//! The file: 8 bytes `TOELINE\0`, format version (u32, little endian), SHA-256 of what follows (32 bytes), then the
//! settings it was made with and what was kept, both in postcard's encoding.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::ball::Balls;
use crate::court::{Reading, Uprights};
use crate::error::ErrorKind;
use crate::pose::background::Course;
use crate::pose::{Depths, Motion, People, Pose, Track};
use crate::racket::Sightings;
use crate::recogniser::Chances;
use crate::video::ClipReport;

const MAGIC: &[u8; 8] = b"TOELINE\0";
/// Goes up with every change of [`Followed`] or of what following means.
const VERSION: u32 = 11;
/// Such a file ends where [`Followed::closely`] begins: every picture was looked at.
const WITHOUT_CLOSELY: u32 = 5;
/// Such a file ends where [`Followed::background`] begins.
const WITHOUT_BACKGROUND: u32 = 6;
/// Such a file ends where [`Followed::chances`] begins.
const WITHOUT_CHANCES: u32 = 7;
/// Such a file ends where [`Followed::uprights`] begins.
const WITHOUT_UPRIGHTS: u32 = 10;
const HEAD: usize = MAGIC.len() + 4 + 32;

/// A kept motion can't be written or used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CacheError {
    /// The file can't be read or written.
    #[error("{path}: {source}", path = .path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The file isn't a kept motion, or was cut or changed.
    #[error("{path}: not an intact motion file; delete it and analyse the clip again", path = .0.display())]
    Damaged(PathBuf),
    /// The file comes from another version of the program.
    #[error("{path}: a motion file of another version; analyse the clip again", path = .0.display())]
    OtherVersion(PathBuf),
    /// The file was made from another clip or with other settings.
    #[error("{path}: made from another clip or with other settings; analyse the clip again", path = .0.display())]
    OtherSettings(PathBuf),
    /// It can't be encoded.
    #[error("{path}: the motion can't be encoded ({source})", path = .path.display())]
    Encoding {
        /// The file.
        path: PathBuf,
        /// The encoder's answer.
        source: postcard::Error,
    },
}

impl CacheError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::File { .. }
            | Self::Damaged(_)
            | Self::OtherVersion(_)
            | Self::OtherSettings(_)
            | Self::Encoding { .. } => ErrorKind::Output,
        }
    }
}

/// What following a clip has given. Everybody is kept, so that the subject can be chosen again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Followed {
    /// The people, in order of appearance; each track has every picture of the clip.
    pub tracks: Vec<Track>,
    /// Depth of each of them, as [`Motion::depth`] has it: by person, picture and landmark.
    #[serde(with = "as_lists")]
    pub depths: Vec<Depths>,
    /// What was seen of their rackets, by person, where somebody has looked.
    pub rackets: BTreeMap<usize, Sightings>,
    /// What reading the clip has shown.
    pub report: ClipReport,
    /// What the inference library that ran the networks says of its making.
    pub runtime: String,
    /// What was seen of balls at their strokes, by person, where somebody has looked.
    pub balls: BTreeMap<usize, Balls>,
    /// Where the clip was looked at in single pictures only: by person the pictures (from, to) that were all looked at.
    pub closely: BTreeMap<usize, Vec<(usize, usize)>>,
    /// How the background moved, and where the clip is cut; empty where nobody has looked.
    pub background: Course,
    /// What the recogniser says of each of them.
    pub chances: Vec<Chances>,
    /// What the court's lines say of the camera, by person on whose size it rests, where somebody has looked.
    pub lines: BTreeMap<usize, Reading>,
    /// What stands upright around the court, by person by whose feet it was told from the ground, where somebody has looked.
    pub uprights: BTreeMap<usize, Uprights>,
}

/// Depths as the file has them: a list of lists for each person.
mod as_lists {
    use std::sync::Arc;

    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use crate::pose::landmark::COUNT;
    use crate::pose::{Depth, Depths};

    struct Frames<'a>(&'a [[Option<Depth>; COUNT]]);

    impl Serialize for Frames<'_> {
        fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
            serializer.collect_seq(self.0.iter().map(<[_; COUNT]>::as_slice))
        }
    }

    pub(super) fn serialize<S: Serializer>(depths: &[Depths], serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(depths.iter().map(|person| Frames(person)))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Depths>, D::Error> {
        let frame = |read: &Vec<Option<Depth>>| {
            let mut frame = [None; COUNT];
            frame.iter_mut().zip(read).for_each(|(depth, read)| *depth = *read);
            frame
        };
        let people = Vec::<Vec<Vec<Option<Depth>>>>::deserialize(deserializer)?;
        Ok(people.into_iter().map(|frames| Arc::new(frames.iter().map(frame).collect())).collect())
    }
}

/// The file's body when written and when read.
#[derive(Serialize)]
struct Kept<'a> {
    settings: &'a str,
    followed: &'a Followed,
}

#[derive(Deserialize)]
struct Found {
    settings: String,
    followed: Followed,
}

impl Followed {
    /// The people, for choosing the subject among them.
    pub fn people(&self) -> People<'_> {
        People::of(&self.tracks, &self.background)
    }

    /// The motion of one of the people.
    pub fn motion(&self, person: usize) -> Option<Motion> {
        let mut motion = Motion::from_track(self.tracks.get(person)?);
        self.complete(person, &mut motion);
        Some(motion)
    }

    /// Adds what is known beside the track that a motion was made of.
    pub fn complete(&self, person: usize, motion: &mut Motion) {
        if let Some(depths) = self.depths.get(person).filter(|depths| depths.len() == motion.len()) {
            motion.depth = depths.clone();
        }
        motion.background.clone_from(&self.background.shift);
        motion.cuts =
            self.background.cuts().into_iter().filter_map(|i| motion.times.get(i).copied()).collect();
    }

    /// Writes everything to a file; `settings` names the clip, the models and all that it depends on.
    ///
    /// The file appears whole or not at all.
    ///
    /// # Errors
    /// [`CacheError::File`] and [`CacheError::Encoding`].
    pub fn save(&self, path: &Path, settings: &str) -> Result<(), CacheError> {
        let body = postcard::to_stdvec(&Kept { settings, followed: self })
            .map_err(|source| CacheError::Encoding { path: path.to_owned(), source })?;
        let file_error = |source| CacheError::File { path: path.to_owned(), source };
        let mut part = path.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let mut file = fs::File::create(&part).map_err(file_error)?;
        let written = file
            .write_all(MAGIC)
            .and_then(|()| file.write_all(&VERSION.to_le_bytes()))
            .and_then(|()| file.write_all(&Sha256::digest(&body)))
            .and_then(|()| file.write_all(&body))
            .and_then(|()| fs::rename(&part, path));
        written.map_err(|source| {
            // The half-written file is of no use; that it can't be removed is less important than why.
            let _ = fs::remove_file(&part);
            file_error(source)
        })
    }

    /// Reads what was written with the same `settings`.
    ///
    /// # Errors
    /// [`CacheError`]: the file is missing, damaged, of another version, or made with other settings.
    pub fn load(path: &Path, settings: &str) -> Result<Self, CacheError> {
        let found = read(path)?;
        if found.settings == settings {
            Ok(found.followed)
        } else {
            Err(CacheError::OtherSettings(path.to_owned()))
        }
    }

    /// Reads what was kept and the settings it was written with.
    ///
    /// # Errors
    /// [`CacheError`]: the file is missing, damaged, or of another version.
    pub fn load_any(path: &Path) -> Result<(Self, String), CacheError> {
        let found = read(path)?;
        Ok((found.followed, found.settings))
    }
}

fn read(path: &Path) -> Result<Found, CacheError> {
    let bytes = fs::read(path).map_err(|source| CacheError::File { path: path.to_owned(), source })?;
    let damaged = || CacheError::Damaged(path.to_owned());
    let (head, body) = bytes.split_at_checked(HEAD).ok_or_else(damaged)?;
    if !head.starts_with(MAGIC) {
        return Err(damaged());
    }
    let version: [u8; 4] = std::array::from_fn(|i| head[MAGIC.len() + i]);
    // What older files end before is empty: a map, the two lists of a course, a list, two maps.
    let left_out: &[u8] = match u32::from_le_bytes(version) {
        VERSION => &[],
        WITHOUT_UPRIGHTS => &[0; 1],
        WITHOUT_CHANCES => &[0; 3],
        WITHOUT_BACKGROUND => &[0; 5],
        WITHOUT_CLOSELY => &[0; 6],
        _ => return Err(CacheError::OtherVersion(path.to_owned())),
    };
    if head[MAGIC.len() + 4..] != Sha256::digest(body)[..] {
        return Err(damaged());
    }
    let found: Found = postcard::from_bytes(&[body, left_out].concat()).map_err(|_| damaged())?;
    let mut poses =
        found.followed.tracks.iter().flat_map(|track| &track.frames).filter_map(|f| f.pose.as_ref());
    let whole = poses.all(Pose::is_well_formed);
    if whole { Ok(found) } else { Err(damaged()) }
}
