//! The camera read from the court's painted lines.
//!
//! From a picture of the empty court to where the camera stood and how it looked: [`Reading`] is a mixture of readings,
//! each with the lines that it rests on, or says that the lines tell nothing. Pure functions over a picture.
//!
//! The court's frame here: `x` metres to the right of the centre line for somebody who faces the net, `y` metres from the
//! outer edge of the player's own baseline toward the net, `z` metres over the ground.

mod camera;
mod paint;
mod reading;

pub use camera::Camera;
pub use paint::{Corner, Line};
pub use reading::{Evidence, Fit, Reading, Silence, UNKNOWNS, Unknown, camera, unknowns};
