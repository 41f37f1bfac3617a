//! From the court's frame back into the picture.

use super::court::Axes;
use super::stand::Stand;
use super::{CourtMotion, Space};
use crate::geometry::{Camera, Court, Point2};
use crate::units::Seconds;

/// The way back from a stroke's motion to the pixels it was read from: what [`Space::lift`] and [`CourtMotion::new`] do,
/// undone. A joint that was moved by the card's offsets comes back where the measures take it to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projection {
    axes: Axes,
    stand: Stand,
    /// How far the background has moved in the picture, pixels.
    moved: Point2,
    /// Height of the motion's ground in the camera's frame, metres.
    ground: f64,
}

impl Projection {
    /// The way back from `motion`, which was taken from `space`, into the picture of a time.
    pub fn new(space: &Space, motion: &CourtMotion, time: Seconds) -> Self {
        let axes = Axes::new(motion.direction.angle, motion.hand);
        Self { axes, stand: space.stand, moved: space.sway.at(time), ground: motion.ground }
    }

    /// A point of the court in pixels of the upright picture; `None` where it lies behind the lens or next to it.
    pub fn pixel(&self, point: Court) -> Option<Point2> {
        let level = self.axes.to_camera(point);
        let still = self.stand.pixel(Camera { up: level.up + self.ground, ..level })?;
        Some(Point2::new(still.x + self.moved.x, still.y + self.moved.y))
    }
}
