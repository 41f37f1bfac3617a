//! From the court's frame back into the picture.

use super::court::Axes;
use super::{CourtMotion, Lens, Space};
use crate::geometry::{Camera, Court, Point2};

/// The way back from a stroke's motion to the pixels it was read from: what [`Space::lift`] and [`CourtMotion::new`] do,
/// undone. A joint that was moved by the card's offsets comes back where the measures take it to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projection {
    axes: Axes,
    lens: Lens,
    /// Height of the motion's ground in the camera's frame, metres.
    ground: f64,
}

/// What lies nearer to the lens than this can't be drawn, metres.
const NEAREST: f64 = 0.2;

impl Projection {
    /// The way back from `motion`, which was taken from `space`; `None` where they have no joint in common.
    pub fn new(space: &Space, lens: &Lens, motion: &CourtMotion) -> Option<Self> {
        let ground = motion.ground_in(space)?;
        Some(Self { axes: Axes::new(motion.direction.angle, motion.hand), lens: *lens, ground })
    }

    /// A point of the court in pixels of the upright picture; `None` where it lies behind the lens or next to it.
    pub fn pixel(&self, point: Court) -> Option<Point2> {
        let Camera { right, up, away } = self.axes.to_camera(point);
        let pixels = self.lens.focal / away;
        (away > NEAREST).then(|| {
            Point2::new(self.lens.middle.0 + right * pixels, self.lens.middle.1 - (up + self.ground) * pixels)
        })
    }
}
