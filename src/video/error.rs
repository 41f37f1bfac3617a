//! What can go wrong with a clip, said in one line that names the file and the way out.

use std::path::Path;

use thiserror::Error;

use crate::error::ErrorKind;

/// Why a clip cannot be used. Every message names the file, the fault and what to do, on one line.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum VideoError {
    /// Nothing is at the path.
    #[error("{file}: no such file; check the name and the folder")]
    Missing {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// The path leads to a folder, a pipe or a device.
    #[error("{file}: this is not a regular file; give the video file itself, not a folder, pipe or device")]
    NotAFile {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// The system refuses to read the file.
    #[error("{file}: the file cannot be read ({reason}); check its permissions")]
    Unreadable {
        /// The file as named, control characters escaped.
        file: String,
        /// What the system said.
        reason: String,
    },
    /// The file has no bytes.
    #[error("{file}: the file is empty; copy it from the camera again")]
    Empty {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// No container format that can be read, or a damaged one.
    #[error(
        "{file}: not a video that can be read, or damaged or never finished ({reason}); \
         see whether it plays, then export it again as MP4"
    )]
    NotAVideo {
        /// The file as named, control characters escaped.
        file: String,
        /// What FFmpeg said.
        reason: String,
    },
    /// A readable file without moving pictures.
    #[error("{file}: there is no video track in this file, only sound or other data; give the clip itself")]
    NoVideoTrack {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// The codec has no decoder in the installed FFmpeg.
    #[error(
        "{file}: the installed FFmpeg cannot decode its video codec ({codec}); \
         export the clip again as H.264 in MP4"
    )]
    UnsupportedCodec {
        /// The file as named, control characters escaped.
        file: String,
        /// FFmpeg's name of the codec.
        codec: String,
    },
    /// A video track from which no picture can be had.
    #[error(
        "{file}: no frame of this clip could be decoded, it is empty or damaged throughout; \
         copy it from the camera again"
    )]
    NoPicture {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// Larger than any camera's picture: refused before memory is taken for it.
    #[error(
        "{file}: frames of {width} x {height} are too large (at most {limit} a side and 64 megapixels); \
         scale the clip down first"
    )]
    TooLarge {
        /// The file as named, control characters escaped.
        file: String,
        /// Width in pixels.
        width: u64,
        /// Height in pixels.
        height: u64,
        /// Most pixels a side.
        limit: u32,
    },
    /// A capture rate that no camera has.
    #[error(
        "{file}: a capture rate of {rate} frames per second makes no sense; give the rate of the camera, such as 120 or 240"
    )]
    CaptureRate {
        /// The file as named, control characters escaped.
        file: String,
        /// The rate that was given.
        rate: f64,
    },
    /// Whoever watches the reading has cancelled it.
    #[error("{file}: reading the clip was cancelled")]
    Cancelled {
        /// The file as named, control characters escaped.
        file: String,
    },
    /// A decoded picture could not be turned into RGB.
    #[error(
        "{file}: frame {frame} cannot be converted to RGB ({reason}); export the clip again as H.264 in MP4"
    )]
    Convert {
        /// The file as named, control characters escaped.
        file: String,
        /// Which picture.
        frame: usize,
        /// What FFmpeg said.
        reason: String,
    },
}

impl VideoError {
    /// Reading this file was cancelled.
    pub fn cancelled(path: &Path) -> Self {
        Self::Cancelled { file: printable(path) }
    }

    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::CaptureRate { .. } => ErrorKind::Usage,
            Self::Cancelled { .. } => ErrorKind::Cancelled,
            Self::Missing { .. }
            | Self::NotAFile { .. }
            | Self::Unreadable { .. }
            | Self::Empty { .. }
            | Self::NotAVideo { .. }
            | Self::NoVideoTrack { .. }
            | Self::UnsupportedCodec { .. }
            | Self::NoPicture { .. }
            | Self::TooLarge { .. }
            | Self::Convert { .. } => ErrorKind::Input,
        }
    }
}

/// A path for messages: control characters are escaped, so that no file name breaks the line or the terminal.
pub(super) fn printable(path: &Path) -> String {
    let mut text = String::new();
    for c in path.to_string_lossy().chars() {
        if c.is_control() {
            text.extend(c.escape_default());
        } else {
            text.push(c);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_stays_on_one_line() {
        assert_eq!(printable(Path::new("a\nb\u{1b}[31m.mp4")), "a\\nb\\u{1b}[31m.mp4");
    }
}
