//! The racket in the picture: a network looks for it around the hitting hand, and of what it sees in each picture the path
//! through the stroke that a racket can take is kept. Ends at [`RacketMotion`].

pub mod decode;
mod finder;
mod length;
mod motion;
mod path;
mod sight;

pub use finder::{Finder, LookError, NETWORK, can_look};
pub use length::Length;
pub use motion::{MIDDLE, Racket, RacketMotion, RacketPoint, Tip, USUAL_LENGTH, racket_length};
pub use path::trace;
pub use sight::{Sight, Sightings};
