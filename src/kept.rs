//! Keeps what following a clip has given on disk, so that the clip need not be looked at again.
//!
//! The file: 8 bytes `TOELINE\0`, format version (u32, little endian), SHA-256 of what follows (32 bytes), then the
//! settings it was made with and what was kept, both in postcard's encoding.

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::ball::Balls;
use crate::court::{Reading, Shrink, Uprights};
use crate::error::ErrorKind;
use crate::pose::background::Course;
use crate::pose::{Depths, Motion, People, Pose, Track};
use crate::racket::Sightings;
use crate::recogniser::Chances;
use crate::video::ClipReport;

const MAGIC: &[u8; 8] = b"TOELINE\0";
/// Goes up with every change of [`Followed`] or of what following means.
const VERSION: u32 = 17;
/// Such a file ends where [`Followed::closely`] begins: every picture was looked at.
const WITHOUT_CLOSELY: u32 = 5;
/// Such a file ends where [`Followed::background`] begins.
const WITHOUT_BACKGROUND: u32 = 6;
/// Such a file ends where [`Followed::chances`] begins.
const WITHOUT_CHANCES: u32 = 7;
/// Such a file ends where [`Followed::uprights`] begins.
const WITHOUT_UPRIGHTS: u32 = 10;
/// Such a file holds the same; in a long clip what single frames had shown was looked at once more with those around it.
const LOOKED_AGAIN: u32 = 11;
/// Such a file holds the same; around a vague contact balls were looked for too shortly, so that they are looked for again.
const LOOKED_TOO_LITTLE: u32 = 12;
/// Such a file holds the same; in a long clip every frame of a stroke was looked at, those in which the player moves slowly too.
const LOOKED_AT_ALL: u32 = 13;
/// Such a file holds the same; the court's lines were read in another way, so that they are read again.
const READ_OTHERWISE: u32 = 14;
/// Such a file holds the same; in a long clip single frames were looked at as often while nobody moved.
const LOOKED_EVENLY: u32 = 15;
/// Such a file holds the same; what lines and upright things say was read from large pictures as they are, mostly in vain.
const READ_LARGE: u32 = 16;
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
    /// Where the clip was looked at in single pictures only: by person the pictures (from, to) that were looked at
    /// besides.
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
    use std::fmt;
    use std::sync::Arc;

    use serde::de::{SeqAccess, Visitor};
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use crate::pose::landmark::COUNT;
    use crate::pose::{Depth, DepthTable, Depths};

    struct Frames<'a>(&'a DepthTable);

    impl Serialize for Frames<'_> {
        fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
            // As lists whose length is told, as the file has always had them.
            serializer.collect_seq((0..self.0.len()).map(|frame| self.0.at(frame).to_vec()))
        }
    }

    pub(super) fn serialize<S: Serializer>(depths: &[Depths], serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(depths.iter().map(|person| Frames(person)))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Depths>, D::Error> {
        let people = Vec::<Table>::deserialize(deserializer)?;
        Ok(people.into_iter().map(|table| Arc::new(table.0)).collect())
    }

    /// A table that is filled frame by frame: all lists of a long clip at once would fill much memory.
    struct Table(DepthTable);

    impl<'de> Deserialize<'de> for Table {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            deserializer.deserialize_seq(Filler)
        }
    }

    struct Filler;

    impl<'de> Visitor<'de> for Filler {
        type Value = Table;

        fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
            formatter.write_str("depths of frames")
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut frames: A) -> Result<Table, A::Error> {
            let mut table = DepthTable::default();
            while let Some(read) = frames.next_element::<Vec<Option<Depth>>>()? {
                let mut frame = [None; COUNT];
                frame.iter_mut().zip(read).for_each(|(depth, read)| *depth = read);
                table.push(frame);
            }
            Ok(Table(table))
        }
    }
}

/// A file can't be written.
enum Written {
    File(std::io::Error),
    Encoding(postcard::Error),
}

impl From<std::io::Error> for Written {
    fn from(error: std::io::Error) -> Self {
        Self::File(error)
    }
}

/// A file of which all that is written counts for a digest.
struct Digesting {
    file: BufWriter<fs::File>,
    digest: Sha256,
    /// Why it could not be written on: the encoder doesn't hand that on.
    failed: Option<std::io::Error>,
}

impl Write for Digesting {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let written = self.file.write(bytes).map_err(|error| {
            let kind = error.kind();
            self.failed = Some(error);
            kind
        })?;
        self.digest.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
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
        let file_error = |source| CacheError::File { path: path.to_owned(), source };
        let mut part = path.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let written =
            self.write(&part, settings).and_then(|()| fs::rename(&part, path).map_err(Written::File));
        written.map_err(|error| {
            // The half-written file is of no use; that it can't be removed is less important than why.
            let _ = fs::remove_file(&part);
            match error {
                Written::File(source) => file_error(source),
                Written::Encoding(source) => CacheError::Encoding { path: path.to_owned(), source },
            }
        })
    }

    /// Writes a file piece by piece: what a long clip has given need not stand in memory a second time.
    fn write(&self, path: &Path, settings: &str) -> Result<(), Written> {
        let mut file = BufWriter::new(fs::File::create(path)?);
        file.write_all(MAGIC)?;
        file.write_all(&VERSION.to_le_bytes())?;
        // The digest's place, until all is known.
        let place = (MAGIC.len() + 4) as u64;
        file.write_all(&[0; 32])?;
        let mut body = Digesting { file, digest: Sha256::new(), failed: None };
        if let Err(error) = postcard::to_io(&Kept { settings, followed: self }, &mut body) {
            return Err(body.failed.map_or(Written::Encoding(error), Written::File));
        }
        let Digesting { mut file, digest, .. } = body;
        file.seek(SeekFrom::Start(place))?;
        file.write_all(&digest.finalize())?;
        file.flush()?;
        Ok(())
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
    let version = u32::from_le_bytes(version);
    let left_out: &[u8] = match version {
        VERSION | READ_LARGE | LOOKED_EVENLY | READ_OTHERWISE | LOOKED_AT_ALL | LOOKED_TOO_LITTLE
        | LOOKED_AGAIN => &[],
        WITHOUT_UPRIGHTS => &[0; 1],
        WITHOUT_CHANCES => &[0; 3],
        WITHOUT_BACKGROUND => &[0; 5],
        WITHOUT_CLOSELY => &[0; 6],
        _ => return Err(CacheError::OtherVersion(path.to_owned())),
    };
    if head[MAGIC.len() + 4..] != Sha256::digest(body)[..] {
        return Err(damaged());
    }
    let found: Result<Found, _> = match left_out {
        [] => postcard::from_bytes(body),
        _ => postcard::from_bytes(&[body, left_out].concat()),
    };
    let mut found = found.map_err(|_| damaged())?;
    if version <= LOOKED_TOO_LITTLE {
        found.followed.balls.clear();
    }
    if version <= READ_OTHERWISE {
        found.followed.lines.clear();
    }
    let is_large = |track: &Track| Shrink::of(track.size).is_any();
    if version <= READ_LARGE && found.followed.tracks.iter().any(is_large) {
        found.followed.lines.clear();
        found.followed.uprights.clear();
    }
    let mut poses =
        found.followed.tracks.iter().flat_map(|track| &track.frames).filter_map(|f| f.pose.as_ref());
    let whole = poses.all(Pose::is_well_formed);
    if whole { Ok(found) } else { Err(damaged()) }
}
