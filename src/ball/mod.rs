//! The ball near contact in the picture: small yellow things that are where nothing is a moment earlier and later, and the
//! path among them that comes to the strings and leaves them. Ends at [`Flight`].

mod body;
mod colour;
mod flight;
mod looker;
mod map;
mod meeting;
mod player;
mod sight;
mod spots;
mod trace;
mod way;

pub use flight::{Flight, Meeting, still_seen};
pub use looker::{Around, Looker};
pub use sight::{BallLook, Balls, Spot, Watch};
pub use trace::trace;
pub use way::{Sighted, Way};

#[cfg(test)]
mod tests;
