//! Stills: a picture of the clip with the lines that a coach would draw and the numbers beside them.
//!
//! Lines are the measures' own geometry, projected back into the picture ([`crate::scene::Projection`]).

pub(super) mod body;
mod choose;
mod compose;
mod files;
pub(super) mod frame;
pub mod index;
pub(super) mod layout;
pub(super) mod lines;

#[cfg(test)]
#[path = "../../../tests/draw_support/mod.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod draw_support;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::io;

use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::pose::Motion;
use crate::stroke::{Boundary, Stroke};
use crate::units::Seconds;
use crate::video::Picture;

pub use choose::{Chosen, Role, chosen};
pub use files::{pictures_of, png};
pub use lines::boundary_of;

/// Which lines a still shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lines<'a> {
    /// All that belong to the moment.
    All,
    /// Only those of these measures, by their ids.
    Of(&'a [&'a str]),
}

/// A still in memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Still {
    /// The picture, [`WIDTH`] pixels wide.
    pub image: Picture,
    /// What it shows, with its numbers, for those who don't see it.
    pub alt: String,
    /// How high the player stands in it, pixels.
    pub body_height: f64,
}

/// Width of every still, pixels: text is legible where it is shown 390 pixels wide.
pub const WIDTH: u32 = frame::WIDTH;

/// The folder of the stills within that of a clip's results.
pub const FOLDER: &str = "stills";

/// The moments of which a stroke's stills are written, in order, with the names of their files.
pub const MOMENTS: [(Boundary, &str); 5] = [
    (Boundary::PrepStart, "ready"),
    (Boundary::BackswingEnd, "takeback"),
    (Boundary::LowPoint, "low_point"),
    (Boundary::Contact, "contact"),
    (Boundary::FinishEnd, "finish"),
];

/// A measured clip with the pictures that its stills are made from.
#[derive(Debug)]
pub struct Stills<'a> {
    motion: &'a Motion,
    clip: &'a ClipMeasures,
    pictures: &'a BTreeMap<usize, Picture>,
}

/// Numbers (from 0) of the clip's pictures that stills of these strokes and moments need.
pub fn pictures_needed<'s>(
    motion: &Motion,
    wanted: impl IntoIterator<Item = (&'s Stroke, Boundary)>,
) -> BTreeSet<usize> {
    let shown = |(stroke, boundary): (&Stroke, Boundary)| {
        let place = nearest(motion, stroke.phases.get(boundary)?.time)?;
        motion.indices.get(place).map(|index| index.0)
    };
    wanted.into_iter().filter_map(shown).collect()
}

impl<'a> Stills<'a> {
    /// Stills of a clip from its pictures, by their numbers from 0 ([`pictures_needed`] says which; faces are blurred in
    /// them already where they should be).
    pub fn new(motion: &'a Motion, clip: &'a ClipMeasures, pictures: &'a BTreeMap<usize, Picture>) -> Self {
        Self { motion, clip, pictures }
    }

    /// The still of a stroke at a moment. `None` where the stroke has no such moment, or its picture is not there.
    ///
    /// # Errors
    /// Where the drawing can't be made.
    pub fn one(
        &self,
        stroke: &MeasuredStroke,
        boundary: Boundary,
        lines: Lines<'_>,
    ) -> io::Result<Option<Still>> {
        self.of_chosen(stroke, boundary, lines, &[])
    }

    /// The same with what the stroke is shown for in its heading.
    ///
    /// # Errors
    /// As [`Stills::one`].
    pub fn of_chosen(
        &self,
        stroke: &MeasuredStroke,
        boundary: Boundary,
        lines: Lines<'_>,
        roles: &[Role],
    ) -> io::Result<Option<Still>> {
        let Some(mark) = stroke.stroke.phases.get(boundary) else { return Ok(None) };
        let Some(place) = nearest(self.motion, mark.time) else { return Ok(None) };
        let Some(picture) = self.motion.indices.get(place).and_then(|index| self.pictures.get(&index.0))
        else {
            return Ok(None);
        };
        let moment = lines::Moment::new(self.clip, stroke, boundary, mark.time, self.motion.times[place]);
        let Some(moment) = moment else { return Ok(None) };
        let height = body::height(self.motion, self.clip, place);
        compose::still(self.motion, place, height, picture, &moment, lines, roles).map(Some)
    }
}

/// The place of the picture nearest to a time.
pub(super) fn nearest(motion: &Motion, time: Seconds) -> Option<usize> {
    let apart = |place: &usize| (motion.times[*place] - time).abs().0;
    (0..motion.len()).min_by(|a, b| apart(a).total_cmp(&apart(b)))
}

/// A moment's name for a coach.
pub const fn name(boundary: Boundary) -> &'static str {
    match boundary {
        Boundary::PrepStart => "ready",
        Boundary::DropStart => "top of the loop",
        Boundary::BackswingEnd => "end of takeback",
        Boundary::LowPoint => "low point",
        Boundary::ForwardStart => "start of the forward swing",
        Boundary::Contact => "contact",
        Boundary::FinishEnd => "finish",
    }
}
