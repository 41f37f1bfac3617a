//! A season: a folder of clips, what their names and a table say of them, and their results joined.

mod cameras;
pub mod gather;
pub mod group;
pub mod known;
pub mod list;
pub mod names;
pub mod settings;
pub mod stature;
pub mod tables;

pub use gather::{ClipLine, Gathered, GatheredClip, State};
pub use group::{Group, Session};
pub use known::Known;
pub use list::{Listed, Season};
pub use settings::Settings;
pub use stature::Statures;
