//! Where the camera stands: scale, view, direction to the net; and the player's motion lifted from the picture into the
//! court's frame with it.

pub mod ball;
pub mod body;
pub mod court;
pub mod depth;
pub mod direction;
mod distance;
pub mod lens;
mod projection;
pub mod racket;
pub mod space;

pub use ball::{BallError, CourtBall};
pub use body::BodyPrior;
pub use court::CourtMotion;
pub use direction::{Direction, NetSide, View};
pub use lens::Lens;
pub use projection::Projection;
pub use racket::CourtRacket;
pub use space::Space;
