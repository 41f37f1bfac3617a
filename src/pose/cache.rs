//! Keeps a track on disk, so that a clip need not be followed again.
//!
//! The file: 8 bytes `TOELINE\0`, format version (u32, little endian), SHA-256 of what follows (32 bytes), then the
//! settings it was made with and the track, both in postcard's encoding.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::track::{Pose, Track};

const MAGIC: &[u8; 8] = b"TOELINE\0";
/// Goes up with every change of [`Track`] or of what following means.
const VERSION: u32 = 1;
const HEAD: usize = MAGIC.len() + 4 + 32;

/// A kept track can't be written or used.
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
    /// The file isn't a kept track, or was cut or changed.
    #[error("{path}: not an intact motion file; delete it and analyse the clip again", path = .0.display())]
    Damaged(PathBuf),
    /// The file comes from another version of the program.
    #[error("{path}: a motion file of another version; analyse the clip again", path = .0.display())]
    OtherVersion(PathBuf),
    /// The file was made from another clip or with other settings.
    #[error("{path}: made from another clip or with other settings; analyse the clip again", path = .0.display())]
    OtherSettings(PathBuf),
    /// The track can't be encoded.
    #[error("{path}: the track can't be encoded: {source}", path = .path.display())]
    Encoding {
        /// The file.
        path: PathBuf,
        /// The encoder's answer.
        source: postcard::Error,
    },
}

#[derive(Serialize)]
struct Kept<'a> {
    settings: &'a str,
    track: &'a Track,
}

#[derive(Deserialize)]
struct Found {
    settings: String,
    track: Track,
}

impl Track {
    /// Writes the track to a file; `settings` names the clip, the model and all that the track depends on.
    ///
    /// The file appears whole or not at all.
    ///
    /// # Errors
    /// [`CacheError::File`] and [`CacheError::Encoding`].
    pub fn save(&self, path: &Path, settings: &str) -> Result<(), CacheError> {
        let body = postcard::to_stdvec(&Kept { settings, track: self })
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

    /// Reads a track that was written with the same `settings`.
    ///
    /// # Errors
    /// [`CacheError`]: the file is missing, damaged, of another version, or made with other settings.
    pub fn load(path: &Path, settings: &str) -> Result<Self, CacheError> {
        let found = read(path)?;
        if found.settings == settings {
            Ok(found.track)
        } else {
            Err(CacheError::OtherSettings(path.to_owned()))
        }
    }

    /// Reads a track and the settings it was written with.
    ///
    /// # Errors
    /// [`CacheError`]: the file is missing, damaged, or of another version.
    pub fn load_any(path: &Path) -> Result<(Self, String), CacheError> {
        let found = read(path)?;
        Ok((found.track, found.settings))
    }
}

fn read(path: &Path) -> Result<Found, CacheError> {
    let bytes = fs::read(path).map_err(|source| CacheError::File { path: path.to_owned(), source })?;
    let damaged = || CacheError::Damaged(path.to_owned());
    let (head, body) = bytes.split_at_checked(HEAD).ok_or_else(damaged)?;
    if !head.starts_with(MAGIC) {
        return Err(damaged());
    }
    if head[MAGIC.len()..MAGIC.len() + 4] != VERSION.to_le_bytes() {
        return Err(CacheError::OtherVersion(path.to_owned()));
    }
    if head[MAGIC.len() + 4..] != Sha256::digest(body)[..] {
        return Err(damaged());
    }
    let found: Found = postcard::from_bytes(body).map_err(|_| damaged())?;
    let whole = found.track.frames.iter().filter_map(|frame| frame.pose.as_ref()).all(Pose::is_well_formed);
    if whole { Ok(found) } else { Err(damaged()) }
}
