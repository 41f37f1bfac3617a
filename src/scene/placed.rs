//! Points of the court that the user has placed in frames of the clip, and what they say of the camera.

use super::sway::Sway;
use crate::court::{self, Assumptions, Misplaced, PlacedSpot, Reading, Spot, Standing};
use crate::geometry::Point2;
use crate::pose::{Motion, feet_and_nose};
use crate::units::FrameIndex;

/// So many frames of the clip show how the player stands.
const FRAMES: usize = 11;

/// Points of the court with what they say, in the pixels of a camera that stood still.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The points.
    pub spots: Vec<PlacedSpot>,
    /// What they say of the camera.
    pub reading: Reading,
}

impl Placed {
    /// Points of the court that a user has placed in frames of this motion: each with its frame and its pixel there.
    ///
    /// # Errors
    /// [`Misplaced`] where they can't be meant so.
    pub fn read(spots: &[(&'static Spot, FrameIndex, Point2)], motion: &Motion) -> Result<Self, Misplaced> {
        let sway = Sway::of(motion);
        let steady = sway.steadied(motion);
        let spots: Vec<PlacedSpot> = spots
            .iter()
            .map(|(spot, frame, at)| {
                let place = motion.indices.partition_point(|index| index < frame);
                PlacedSpot::new(spot, sway.steady(place, *at), motion.size, sway.left())
            })
            .collect();
        let standing = standing(&steady);
        let frame = motion.indices.first().copied().unwrap_or(FrameIndex(0));
        let assumptions = Assumptions::of_size(motion.size);
        let reading = court::read_placed(&spots, motion.size, frame, standing, &assumptions)?;
        Ok(Self { spots, reading })
    }

    /// How far a camera has the points from where they were placed: the sum of squares in standard deviations.
    pub(super) fn misplaced(&self, camera: &court::Camera) -> f64 {
        self.spots.iter().map(|spot| spot.off(camera).map_or(f64::INFINITY, |off| off * off)).sum()
    }
}

/// How the player stands when they stand most upright.
fn standing(motion: &Motion) -> Option<Standing> {
    let n = motion.len();
    let count = FRAMES.min(n);
    let seen = (0..count).map(|i| (2 * i + 1) * n / (2 * count)).filter_map(|frame| {
        feet_and_nose(|landmark| motion.point(frame, landmark).map(|point| (point.at, point.visibility)))
    });
    let [foot, head] = seen.max_by(|a, b| (a[0].y - a[1].y).total_cmp(&(b[0].y - b[1].y)))?;
    Some(Standing::unknown(foot, head))
}
