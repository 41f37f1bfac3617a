//! Where the camera stands: scale, view, direction to the net; and the player's motion lifted from the picture into the
//! court's frame with it.

pub mod ball;
pub mod body;
pub mod court;
pub mod depth;
pub mod direction;
mod distance;
pub mod filmed;
mod footing;
mod ground;
pub mod joined;
pub mod lens;
mod placed;
mod prior;
mod projection;
pub mod racket;
mod recast;
pub mod space;
mod stand;
mod stature;
mod sway;
pub mod unsuitable;
mod upright;

pub use ball::{BallError, CourtBall};
pub use body::BodyPrior;
pub use court::CourtMotion;
pub use depth::Teller;
pub use direction::{Direction, NetSide, View};
pub use filmed::{AgainstPoints, Bearings, Estimate, Filmed, Known, Witness};
pub use ground::Ground;
pub use lens::Lens;
pub use placed::Placed;
pub use prior::LensEvidence;
pub use projection::Projection;
pub use racket::CourtRacket;
pub use recast::{Recast, Source, SourceBody, SourcePoint};
pub use space::Space;
pub use stand::{Sights, Stand};
pub use stature::{ASSUMED_STATURE, Stature, StatureSource};
pub use sway::Sway;
pub use unsuitable::Unsuitable;
