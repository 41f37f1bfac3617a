//! The camera read from the court: from its painted lines, and from points of it that a person has placed in a picture.
//!
//! From a picture of the empty court to where the camera stood and how it looked: [`Reading`] is a mixture of readings,
//! each with the lines that it rests on, or says that the lines tell nothing. Pure functions over a picture.
//!
//! The court's frame here: `x` metres to the right of the centre line for somebody who faces the net, `y` metres from the
//! outer edge of the player's own baseline toward the net, `z` metres over the ground.

mod align;
mod answer;
mod assume;
mod band;
mod camera;
mod dual;
mod empty;
mod explain;
mod fit;
mod ground;
mod guess;
mod judge;
mod line_fit;
mod paint;
mod pair;
mod placed;
mod plane;
mod pose;
mod read;
#[cfg(test)]
mod read_tests;
mod reading;
mod register;
mod segment;
mod shrink;
mod spot;
mod upright;

pub use assume::{Assumptions, LENSES, Lens, Standing, is_cut};
pub use camera::Camera;
pub use empty::{Empty, Hidden, Shot};
pub use paint::{Line, NET};
pub use placed::{Misplaced, read_placed};
pub use read::read;
pub use reading::{Evidence, Fit, Reading, Silence, UNKNOWNS, Unknown, camera, unknowns};
pub use shrink::Shrink;
pub use spot::{PlacedSpot, Spot};
pub use upright::{Upright, Uprights};
