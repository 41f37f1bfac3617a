//! What the pose model saw, frame by frame, before any smoothing.

use serde::{Deserialize, Serialize};

use super::landmark::{COUNT, Landmark};
use crate::geometry::Point2;
use crate::units::{FrameIndex, Seconds};

/// The pose model's answer for one person in one picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pose {
    /// Landmarks in pixels of the upright picture, in the order of [`Landmark::ALL`].
    pub points: Vec<Point2>,
    /// The chance that a landmark is in the picture and not hidden, 0 to 1; 0 for points that the model doesn't have.
    pub visibility: Vec<f32>,
    /// The model's own guess of the body in space, metres, origin between the hips, x right, y down, z away from the
    /// camera; empty when the model has none.
    pub world: Vec<[f32; 3]>,
    /// How sure the model is that a person is in its region, 0 to 1; 0 where it wasn't asked ([`Self::half_way`]).
    pub presence: f32,
}

impl Pose {
    /// A landmark's place in the picture.
    pub fn point(&self, landmark: Landmark) -> Point2 {
        self.points[landmark as usize]
    }

    /// A landmark's visibility, 0 to 1.
    pub fn visibility(&self, landmark: Landmark) -> f32 {
        self.visibility[landmark as usize]
    }

    /// The pose half way to another, which no model has seen.
    pub fn half_way(&self, to: &Self) -> Self {
        let middle = |a: f32, b: f32| 0.5 * (a + b);
        let middle_of = |a: &[f32; 3], b: &[f32; 3]| std::array::from_fn(|axis| middle(a[axis], b[axis]));
        Self {
            points: self.points.iter().zip(&to.points).map(|(a, b)| a.lerp(*b, 0.5)).collect(),
            visibility: self.visibility.iter().zip(&to.visibility).map(|(a, b)| middle(*a, *b)).collect(),
            world: self.world.iter().zip(&to.world).map(|(a, b)| middle_of(a, b)).collect(),
            presence: 0.0,
        }
    }

    /// Whether a model has seen it.
    pub fn is_seen(&self) -> bool {
        self.presence > 0.0
    }

    /// Whether the arrays have the lengths that the rest of the crate relies on.
    pub fn is_well_formed(&self) -> bool {
        self.points.len() == COUNT
            && self.visibility.len() == COUNT
            && (self.world.is_empty() || self.world.len() == COUNT)
    }
}

/// One picture of a clip with what was seen of the followed player.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrackFrame {
    /// Number of the picture in the clip.
    pub index: FrameIndex,
    /// When it was taken, seconds since the first picture, in real time (slow motion already undone).
    pub time: Seconds,
    /// Whether the picture repeats the one before it.
    pub duplicate: bool,
    /// The player's pose, where one was found.
    pub pose: Option<Pose>,
}

/// One player followed through a clip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Track {
    /// Width and height of the upright picture, pixels.
    pub size: (u32, u32),
    /// Every picture of the clip, in order.
    pub frames: Vec<TrackFrame>,
}

/// The player's median height in the picture, pixels, from the highest to the lowest landmark.
pub fn typical_height(track: &Track) -> f64 {
    let mut heights: Vec<f64> = track
        .frames
        .iter()
        .filter_map(|f| f.pose.as_ref())
        .map(|p| {
            let ys = || p.points.iter().map(|q| q.y);
            ys().fold(f64::MIN, f64::max) - ys().fold(f64::MAX, f64::min)
        })
        .collect();
    heights.sort_by(f64::total_cmp);
    heights.get(heights.len() / 2).copied().unwrap_or(1.0)
}
