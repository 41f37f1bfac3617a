//! Cards of networks that read series of numbers over time in place of pictures.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::ModelError;
use super::card::{Source, verify};

/// What the card of such a network says.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeriesCard {
    /// Name of the network, the card's file name without its ending.
    pub name: String,
    /// The network's file, relative to the card.
    pub file: PathBuf,
    /// SHA-256 of the network's file, hexadecimal.
    pub sha256: String,
    /// SPDX identifier of the weights' licence.
    pub licence: String,
    /// Where the weights come from.
    #[serde(default)]
    pub source: Option<Source>,
    /// Name of the input, `[1, channels, time]`.
    pub input: String,
    /// Name of the output, `[1, …, time]`.
    pub output: String,
    /// Values per moment of the input.
    pub channels: usize,
    /// Moments per second of input and output.
    pub rate: f64,
    /// The card's own file; filled in when it is read.
    #[serde(skip)]
    pub path: PathBuf,
}

impl SeriesCard {
    /// Reads a card.
    ///
    /// # Errors
    /// [`ModelError::Unreadable`] and [`ModelError::Card`].
    pub fn read(path: &Path) -> Result<Self, ModelError> {
        let text = std::fs::read_to_string(path)
            .map_err(|source| ModelError::Unreadable { path: path.to_owned(), source })?;
        let fail = |reason: String| ModelError::Card { path: path.to_owned(), reason };
        let mut card: Self = toml::from_str(&text).map_err(|error| fail(error.to_string()))?;
        if card.channels == 0 || card.rate <= 0.0 || !card.rate.is_finite() {
            return Err(fail("channels and rate must be above 0".into()));
        }
        card.path = path.to_owned();
        Ok(card)
    }

    /// The network's file.
    pub fn model_path(&self) -> PathBuf {
        self.path.parent().unwrap_or(Path::new("")).join(&self.file)
    }

    /// Compares the network's file with the card's checksum.
    ///
    /// # Errors
    /// [`ModelError::Unreadable`] and [`ModelError::Checksum`].
    pub fn verify(&self) -> Result<(), ModelError> {
        verify(&self.model_path(), &self.sha256)
    }
}
