//! A moment of a stroke over a frame of the clip: the lines and marks of its measures, and the numbers beside them. Stills and the
//! annotated clip show it.
//!
//! Lines are the measures' own geometry, projected back into the frame ([`crate::scene::Projection`]).

pub(super) mod body;
pub(super) mod crop;
mod instant;
pub(super) mod label;
mod layout;
pub(super) mod lines;
pub(super) mod pens;

#[cfg(test)]
#[path = "../../../tests/draw_support/mod.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod draw_support;
#[cfg(test)]
pub(super) mod made_up;
#[cfg(test)]
mod racket_tests;

pub(super) use crop::Crop;
pub use instant::{Instant, MOMENTS};
pub(super) use layout::{Layout, View};
pub(super) use lines::Moment;

/// Which lines are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lines<'a> {
    /// All that belong to the moment.
    All,
    /// Only those of these measures, by their ids.
    Of(&'a [&'a str]),
}
