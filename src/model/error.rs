//! What can go wrong between a model's file and its first answer.

use std::path::PathBuf;

use crate::error::ErrorKind;

/// A model, its card or the inference library can't be used. Commands end with exit code 4 on it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ModelError {
    /// `ORT_DYLIB_PATH` names a file that isn't there.
    #[error("{path}: no such file, though ORT_DYLIB_PATH names it; correct or unset ORT_DYLIB_PATH", path = .0.display())]
    RuntimeSettingWrong(PathBuf),

    /// The inference library is in none of the places where it is looked for.
    #[error(
        "the ONNX Runtime library ({name}) was not found; put it into a `runtime` folder in one of the places below, or \
         set ORT_DYLIB_PATH to the file. Looked in: {looked}"
    )]
    RuntimeMissing {
        /// The library's usual file name on this system.
        name: &'static str,
        /// The folders that were searched, separated by commas.
        looked: String,
    },

    /// The inference library was found but can't be loaded.
    #[error(
        "{path}: the ONNX Runtime library doesn't load ({reason}); replace it by version 1.24 or newer for this system",
        path = .path.display()
    )]
    RuntimeUnusable {
        /// The library's file.
        path: PathBuf,
        /// What the loader said.
        reason: String,
    },

    /// CUDA was asked for and can't be had.
    #[error(
        "{library}: CUDA can't be used ({reason}); use the library inside PyPI's onnxruntime-gpu on a computer with an NVIDIA \
         card, or --device cpu",
        library = .library.as_deref().unwrap_or(std::path::Path::new("ONNX Runtime")).display()
    )]
    NoCuda {
        /// The inference library's file, where it is known.
        library: Option<PathBuf>,
        /// What the library said.
        reason: String,
    },

    /// A card is in none of the places where models are looked for.
    #[error(
        "there is no model `{name}`: no {name}.toml in {looked}; give the path of a card, or set TOELINE_DATA to the \
         folder that holds `models`"
    )]
    CardMissing {
        /// The name that was asked for.
        name: String,
        /// The folders that were searched, separated by commas.
        looked: String,
    },

    /// A file can't be read.
    #[error("{path}: {source}; check that the file is there and may be read", path = .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },

    /// A card isn't what a card should be.
    #[error("{path}: not a usable model card: {reason}", path = .path.display())]
    Card {
        /// The card.
        path: PathBuf,
        /// The place in the card and what is wrong there.
        reason: String,
    },

    /// A model's file isn't the one its card was written for.
    #[error(
        "{path}: the checksum is {found}, but the card says {expected}; fetch the file again, or correct `sha256` in the \
         card if you changed the model",
        path = .path.display()
    )]
    Checksum {
        /// The model's file.
        path: PathBuf,
        /// SHA-256 by the card.
        expected: String,
        /// SHA-256 of the file.
        found: String,
    },

    /// The inference library refuses the model, or the model doesn't have what the card names.
    #[error("{path}: the model can't be used: {reason}", path = .path.display())]
    Session {
        /// The model's file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },

    /// A picture's bytes don't fit its size.
    #[error("a frame of {width}x{height} needs {expected} bytes, but has {found}")]
    Picture {
        /// Width, pixels.
        width: u32,
        /// Height, pixels.
        height: u32,
        /// Bytes that the size asks for.
        expected: usize,
        /// Bytes that came.
        found: usize,
    },
}

impl ModelError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::RuntimeSettingWrong(_)
            | Self::RuntimeMissing { .. }
            | Self::RuntimeUnusable { .. }
            | Self::NoCuda { .. }
            | Self::CardMissing { .. }
            | Self::Unreadable { .. }
            | Self::Card { .. }
            | Self::Checksum { .. }
            | Self::Session { .. }
            | Self::Picture { .. } => ErrorKind::Model,
        }
    }
}
