//! Following one player through a clip: detector, region, landmarks, gaps, smoothing. Ends at the motion that all
//! later rooms work on.

pub mod landmark;
pub mod motion;
pub mod smooth;
pub mod swap;
pub mod track;

pub use landmark::{Joint, Landmark, Side};
pub use motion::{Motion, MotionPoint};
pub use track::{Pose, Track, TrackFrame};
