//! Things that stand upright around a court: posts, walls, masts. Their edges run against gravity.

use serde::{Deserialize, Serialize};

use super::empty::Empty;
use super::plane::Plane;
use super::segment::segments;
use crate::geometry::Point2;
use crate::units::FrameIndex;

/// An edge this far from the picture's columns is no upright of a camera that was held like one, degrees.
const SLANTED: f64 = 22.0;

/// Shortest edge, share of the picture's longer side.
const SHORTEST: f64 = 0.035;

/// Both edges of a post say the same: of the edges in a strip so wide only the longest is kept, share of the picture's width.
const STRIP: f64 = 0.03;

/// Fewer edges, or edges that are all within this share of the picture's width, might be anything.
const FEWEST: usize = 4;
const SPREAD: f64 = 0.3;

/// An edge that may be upright, pixels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Upright {
    /// Its upper end.
    pub top: Point2,
    /// Its lower end.
    pub foot: Point2,
}

impl Upright {
    /// How long it is, pixels.
    pub fn length(&self) -> f64 {
        self.top.distance(self.foot)
    }

    /// How far its upper end leans to the right, degrees.
    pub fn lean(&self) -> f64 {
        (self.top.x - self.foot.x).atan2(self.foot.y - self.top.y).to_degrees()
    }

    /// The point halfway up.
    pub fn middle(&self) -> Point2 {
        self.top.lerp(self.foot, 0.5)
    }
}

/// The edges of one picture that may be upright.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Uprights {
    /// The picture that they were read from.
    pub frame: FrameIndex,
    /// The edges, longest first.
    pub edges: Vec<Upright>,
}

impl Uprights {
    /// The edges in the picture of an empty court that may be upright; none where they are too few or too close together to tell.
    /// What ends below the player's feet lies on the ground before the player: a line that runs toward the camera.
    pub fn of(empty: &Empty) -> Self {
        let plane = Plane::darkest(&empty.picture);
        let (width, height) = (plane.width as f64, plane.height as f64);
        let ground = empty.player.map_or(height, |[feet, _]| feet.y);
        let mut edges: Vec<Upright> = Vec::new();
        for segment in segments(&plane) {
            let (a, b) = (segment.from, segment.to);
            let edge = if a.y < b.y { Upright { top: a, foot: b } } else { Upright { top: b, foot: a } };
            let middle = edge.middle();
            let stands = edge.length() >= SHORTEST * width.max(height)
                && edge.lean().abs() < SLANTED
                && edge.foot.y < ground
                && ![edge.top, middle, edge.foot].into_iter().any(|p| empty.hides(p));
            if stands && edges.iter().all(|other| (other.middle().x - middle.x).abs() > STRIP * width) {
                edges.push(edge);
            }
        }
        let places = || edges.iter().map(|edge| edge.middle().x);
        let spread = places().fold(f64::MIN, f64::max) - places().fold(f64::MAX, f64::min);
        if edges.len() < FEWEST || spread < SPREAD * width {
            edges.clear();
        }
        Self { frame: empty.frame, edges }
    }

    /// The same edges in pictures whose pixels lie `by` farther to the right and down than in the one they were read from.
    pub fn moved(&self, by: Point2) -> Self {
        let moved = |edge: &Upright| Upright { top: edge.top + by, foot: edge.foot + by };
        Self { frame: self.frame, edges: self.edges.iter().map(moved).collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::Picture;

    /// Grey posts before a light sky, leaning by `lean` pixels per pixel of height, and a dark ground below them.
    fn posts(places: &[f64], lean: f64) -> Empty {
        let (width, height) = (640_u32, 360_u32);
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let post = places.iter().any(|place| {
                    let middle = place + lean * (250.0 - f64::from(y));
                    (f64::from(x) - middle).abs() < 3.0
                });
                let grey = match y {
                    0..=99 => 220,
                    100..=250 if post => 90,
                    100..=250 => 200,
                    _ => 60,
                };
                rgb.extend([grey; 3]);
            }
        }
        let player = Some([Point2::new(320.0, 300.0), Point2::new(320.0, 150.0)]);
        let hidden = vec![false; (width * height) as usize];
        Empty { frame: FrameIndex(3), picture: Picture { width, height, rgb }, hidden, player }
    }

    #[test]
    fn posts_are_read_once_each_with_their_lean() {
        let found = Uprights::of(&posts(&[60.0, 200.0, 330.0, 450.0, 590.0], 0.05));
        assert_eq!(found.edges.len(), 5, "{found:?}");
        for edge in &found.edges {
            assert!((edge.lean() - 2.86).abs() < 0.4, "{edge:?}");
            assert!(edge.length() > 140.0);
        }
    }

    #[test]
    fn few_posts_or_a_row_in_one_place_tell_nothing() {
        assert!(Uprights::of(&posts(&[60.0, 330.0, 590.0], 0.0)).edges.is_empty());
        assert!(Uprights::of(&posts(&[60.0, 100.0, 140.0, 180.0], 0.0)).edges.is_empty());
    }
}
