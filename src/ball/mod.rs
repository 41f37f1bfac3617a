//! The ball near contact in the picture: small yellow things that are where nothing is a moment earlier and later, and the
//! path among them that comes to the strings and leaves them. Ends at [`Flight`].

mod align;
mod body;
mod colour;
mod flight;
mod looker;
mod map;
mod sight;
mod spots;
mod way;

pub use flight::{Flight, Meeting, trace};
pub use looker::{Around, Looker};
pub use sight::{Balls, Look, Spot, Watch};
pub use way::Way;
