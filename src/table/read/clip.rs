//! What `clip.json` says of how a clip was measured.

use std::path::Path;

use serde::Deserialize;

use super::ReadError;
use crate::table::notes::PROGRAM;

/// How a clip was measured; `None` for what is not known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadClip {
    /// Its name in the tables.
    pub file: String,
    /// SHA-256 of the clip.
    pub sha256: Option<String>,
    /// The pose network.
    pub model: Option<String>,
    /// SHA-256 of the pose network.
    pub model_sha256: Option<String>,
    /// Pictures a second that the camera took.
    pub rate: Option<f64>,
    /// How the picture was turned into metres: `perspective` or `planar`.
    pub method: Option<String>,
    /// On which side of the picture the net is: `left` or `right`.
    pub net: Option<String>,
    /// The player's stature in cm and whether it was given.
    pub height_cm: Option<(f64, bool)>,
    /// How the racket is held, as the user says.
    pub grip: Option<String>,
}

#[derive(Deserialize)]
struct Note {
    program: String,
    clip: ClipPart,
    model: ModelPart,
    settings: Settings,
    #[serde(default)]
    labels: Labels,
}

#[derive(Deserialize)]
struct ClipPart {
    file: String,
    sha256: String,
}

#[derive(Deserialize)]
struct ModelPart {
    name: String,
    sha256: String,
}

#[derive(Deserialize)]
struct Settings {
    method: String,
    net: Setting<String>,
    height_cm: Setting<f64>,
    capture_rate: Setting<f64>,
}

#[derive(Deserialize)]
struct Setting<T> {
    value: Option<T>,
    source: Option<String>,
}

#[derive(Deserialize, Default)]
struct Labels {
    grip: Option<String>,
}

/// Reads a clip's note; `None` where there is no such file.
pub fn read(path: &Path) -> Result<Option<ReadClip>, ReadError> {
    let text = match std::fs::read(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(source) => return Err(ReadError::Open { path: path.to_owned(), source }),
    };
    let wrong = |why: String| ReadError::Form { path: path.to_owned(), why };
    let note: Note =
        serde_json::from_slice(&text).map_err(|error| wrong(format!("is not understood ({error})")))?;
    if note.program != PROGRAM {
        return Err(wrong("was not written by toeline".to_owned()));
    }
    let given = note.settings.height_cm.source.as_deref() == Some("given");
    Ok(Some(ReadClip {
        file: note.clip.file,
        sha256: Some(note.clip.sha256),
        model: Some(note.model.name),
        model_sha256: Some(note.model.sha256),
        rate: note.settings.capture_rate.value,
        method: Some(note.settings.method),
        net: note.settings.net.value,
        height_cm: note.settings.height_cm.value.map(|height| (height, given)),
        grip: note.labels.grip,
    }))
}
