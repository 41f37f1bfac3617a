//! Networks on disk: cards that describe them, the inference library that runs them, and the crops they are fed.

pub mod card;
mod checksum;
pub mod crop;
pub mod error;
pub mod image;
pub mod places;
pub mod processor;
pub mod runtime;
pub mod series;
pub mod session;
mod together;

pub use card::Card;
pub use checksum::{checksum, hex};
pub use crop::Region;
pub use error::ModelError;
pub use image::Image;
pub use places::Places;
pub use processor::{Device, Processor};
pub use series::SeriesCard;
pub use session::Session;
