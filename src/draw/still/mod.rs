//! Stills: a picture of the clip with the lines that a coach would draw and the numbers beside them.
//!
//! Lines are the measures' own geometry, projected back into the picture ([`crate::scene::Projection`]).

mod choose;
mod compose;
mod files;
pub mod index;

#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::io;

use super::moment::{self, Instant, Lines, Moment, body};
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::pose::Motion;
use crate::stroke::Stroke;
use crate::video::Picture;

pub use choose::{Chosen, Role, chosen};
pub use files::{pictures_of, png};

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
pub const WIDTH: u32 = moment::crop::WIDTH;

/// The folder of the stills within that of a clip's results.
pub const FOLDER: &str = "stills";

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
    wanted: impl IntoIterator<Item = (&'s Stroke, Instant)>,
) -> BTreeSet<usize> {
    let shown = |(stroke, instant): (&Stroke, Instant)| {
        let (_, place) = instant.picture(stroke, motion)?;
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
        instant: Instant,
        lines: Lines<'_>,
    ) -> io::Result<Option<Still>> {
        self.of_chosen(stroke, instant, lines, &[])
    }

    /// The same with what the stroke is shown for in its heading.
    ///
    /// # Errors
    /// As [`Stills::one`].
    pub fn of_chosen(
        &self,
        stroke: &MeasuredStroke,
        instant: Instant,
        lines: Lines<'_>,
        roles: &[Role],
    ) -> io::Result<Option<Still>> {
        let Some((time, place)) = instant.picture(&stroke.stroke, self.motion) else { return Ok(None) };
        let Some(picture) = self.motion.indices.get(place).and_then(|index| self.pictures.get(&index.0))
        else {
            return Ok(None);
        };
        let moment = Moment::new(self.clip, stroke, instant, time, self.motion.times[place]);
        let height = body::height(self.motion, self.clip, place);
        compose::still(self.motion, place, height, picture, &moment, lines, roles).map(Some)
    }
}
