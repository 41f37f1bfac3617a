//! A coach's ranges for measures, and what a player's strokes show against them.
//!
//! A set of targets is a TOML file; one is shipped ([`SHIPPED`]). [`Set::findings`] says in which measures the strokes lie
//! outside, at most [`MOST_FINDINGS`], the most telling first, and never from values of a low grade; [`Set::met`] in which
//! they surely lie inside.

mod error;
mod file;
mod finding;
mod set;
mod standing;

pub use error::TargetError;
pub use finding::{Finding, MOST_FINDINGS, Middle, Observed, Side};
pub use set::{Circumstances, Conditions, DRILLS, Exercise, GRIPS, Set, Target};

/// The shipped set as it is written, to start one's own from.
pub const SHIPPED: &str = include_str!("targets.toml");
