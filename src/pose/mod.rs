//! Following one player through a clip: detector, region, landmarks, gaps, smoothing. Ends at the motion that all
//! later rooms work on.

pub mod detector;
pub mod heads;
pub mod landmark;
pub mod landmarker;
pub mod objects;
pub mod region;
pub mod track;

pub use detector::PersonDetector;
pub use landmark::{Joint, Landmark, Side};
pub use landmarker::Landmarker;
pub use objects::ObjectDetector;
pub use track::{Pose, Track, TrackFrame};
