//! Measures tennis strokes in practice clips.
//!
//! Data flows one way through the rooms of this crate: [`video`] decodes a clip, [`pose`] follows the player with the
//! networks of [`model`], [`scene`] finds view, direction to the net and scale and lifts the motion into the court's
//! frame, [`stroke`] finds strokes and their phases, [`measure`] computes the catalogue's numbers, [`table`] and [`draw`]
//! write them down, [`season`] joins many clips, described by [`stats`], [`page`] makes what is sent to a player,
//! [`analyse`] is the way from a clip to its numbers, and [`command`] is what a person types.
//!
//! An [`Analyser`] measures clips; what comes out is an [`Analysis`]:
//!
//! ```no_run
//! use std::path::Path;
//! use toeline::units::Metres;
//! use toeline::{Analyser, Method, Stated, Unobserved};
//!
//! let mut analyser = Analyser::new(&Method::default())?;
//! let stated = Stated { height: Some(Metres(1.80)), ..Stated::default() };
//! let analysis = analyser.measure(Path::new("practice.mp4"), &stated, &mut Unobserved)?;
//! for stroke in analysis.strokes() {
//!     println!("{} at {:.2} s", stroke.stroke.kind.name(), stroke.stroke.phases.contact.time.0);
//! }
//! # Ok::<(), toeline::AnalyseError>(())
//! ```

#[cfg(test)]
extern crate self as toeline;

pub mod analyse;
pub mod ball;
#[cfg(feature = "cli")]
pub mod command;
pub mod compare;
pub mod court;
pub mod draw;
pub mod error;
pub mod filter;
pub mod geometry;
pub mod inspect;
pub mod kept;
pub mod measure;
pub mod memory;
pub mod model;
pub mod order;
pub mod page;
pub mod pose;
pub mod racket;
pub mod recogniser;
pub mod scene;
pub mod season;
pub mod sound;
pub mod stats;
pub mod stroke;
pub mod table;
pub mod targets;
pub mod units;
pub mod video;

pub use analyse::{AnalyseError, Analyser, Analysis, Method, Observer, Unobserved};
pub use error::ErrorKind;
pub use measure::clip::Stated;
