//! From a clip's file to the numbers of its strokes: everything that the commands, the examples and other programs share.
//!
//! An [`Analyser`] holds the networks and measures one clip after the other. An [`Observer`] hears how far it is and may
//! cancel. What comes out, an [`Analysis`], owns all that is known of the clip; the tables, charts and pages are made from
//! it.

mod analyser;
mod analysis;
mod coarse;
mod error;
mod lines;
mod look;
mod networks;
mod observer;
mod source;

pub use analyser::{Analyser, Known, Method, Way};
pub use analysis::Analysis;
pub use error::AnalyseError;
pub use networks::{MOST_THREADS, Networks, most_threads};
pub use observer::{Observer, Part, Unobserved, Watched};
