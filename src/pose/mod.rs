//! Following one player through a clip: detector, region, landmarks, gaps, smoothing. Ends at the motion that all
//! later rooms work on.

pub mod apparent;
pub mod background;
pub mod body;
pub mod closely;
pub mod compact;
pub mod curve;
pub mod detector;
pub mod encounter;
pub mod finder;
pub mod follow;
pub mod heads;
pub mod landmark;
pub mod landmarker;
pub mod lifter;
pub mod motion;
pub mod objects;
pub mod one_euro;
pub mod person;
pub mod region;
pub mod smooth;
pub mod subject;
pub mod swap;
pub mod track;

pub use apparent::{feet_and_nose, guessed_feet_and_nose};
pub use closely::{Care, Guide, SeenClosely, follow_closely, slow_step};
pub use compact::{Compact, DepthTable};
pub use detector::PersonDetector;
pub use finder::Models;
pub use follow::{FollowError, Follower, Seed, Settings, Shot, follow_clip};
pub use landmark::{Joint, Landmark, Side};
pub use landmarker::Landmarker;
pub use lifter::Lifter;
pub use motion::{Depth, Depths, Motion, MotionPoint, Seen};
pub use objects::ObjectDetector;
pub use subject::{Candidate, Choice, NoSubject, People};
pub use track::{Pose, Track, TrackFrame};
