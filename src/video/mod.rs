//! From a file to upright RGB pictures and sound with times: opening, decoding, rotation, colour, timestamps;
//! and pictures back into a file.
//!
//! ```no_run
//! use std::path::Path;
//! use toeline::video::Clip;
//!
//! # fn main() -> Result<(), toeline::video::VideoError> {
//! let clip = Clip::open(Path::new("practice.mp4"), None)?;
//! println!("{} x {}", clip.info().width, clip.info().height);
//! let mut frames = clip.frames()?;
//! for frame in &mut frames {
//!     let frame = frame?;
//!     println!("{} at {:.3} s", frame.index, frame.time.0);
//! }
//! println!("{:?}", frames.report());
//! # Ok(())
//! # }
//! ```

mod ahead;
pub mod align;
mod clip;
mod colour;
mod error;
mod frames;
mod index;
mod map;
mod names;
mod parts;
mod picture;
mod raw;
mod reader;
mod repeats;
mod report;
mod rotation;
mod sound;
mod timeline;
mod writer;

pub use ahead::ahead;
pub use clip::{Clip, ClipInfo};
pub use error::VideoError;
pub use frames::{Frame, Frames, seen_first};
pub use index::Index;
pub use map::Map;
pub use names::is_clip;
pub use parts::{Parts, Thinned};
pub use picture::Picture;
pub use report::ClipReport;
pub use sound::{NoSound, SOUND_RATE, Sound, Stretch};
pub use writer::{ENCODERS, WriteError, Writer, stored_size};

/// Version of FFmpeg's libavformat in use, such as `59.27.100`.
pub fn library_version() -> String {
    let version = ffmpeg_next::format::version();
    format!("{}.{}.{}", version >> 16, (version >> 8) & 0xff, version & 0xff)
}
