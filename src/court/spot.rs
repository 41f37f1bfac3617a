//! Points of the court that a person can tell in a picture, by name.

use serde::Serialize;

use super::camera::Camera;
use super::paint::{DOUBLES, Line, POST, SINGLES};
use crate::geometry::Point2;

/// A click is off by this in a picture of the usual width, pixels, and by more in a larger one that is shown as small (1 standard
/// deviation).
const CLICK: f64 = 3.0;
const USUAL_WIDTH: f64 = 1280.0;

/// Lines are 5 to 10 cm wide, and one person means their edge, another their middle; posts don't stand to the centimetre (1 standard
/// deviation, metres).
const MEANT: f64 = 0.03;

/// A named point on the ground: where two lines meet, where a line passes under the net, or the foot of a net post. Left, right and far
/// are meant as somebody sees them who stands at the player's baseline and faces the net.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spot {
    /// Its name in a table of marks.
    pub name: &'static str,
    /// Metres to the right of the centre line.
    pub x: f64,
    /// The line across the court on which it lies, the net among them.
    pub across: Line,
}

impl Spot {
    /// All of them, from the player's baseline to the far one and from left to right.
    pub const ALL: [Self; 23] = [
        Self::new("baseline_left_doubles", -DOUBLES, Line::Baseline),
        Self::new("baseline_left_singles", -SINGLES, Line::Baseline),
        Self::new("baseline_centre", 0.0, Line::Baseline),
        Self::new("baseline_right_singles", SINGLES, Line::Baseline),
        Self::new("baseline_right_doubles", DOUBLES, Line::Baseline),
        Self::new("service_left_singles", -SINGLES, Line::Service),
        Self::new("service_centre", 0.0, Line::Service),
        Self::new("service_right_singles", SINGLES, Line::Service),
        Self::new("net_left_post", -POST, Line::Net),
        Self::new("net_left_doubles", -DOUBLES, Line::Net),
        Self::new("net_left_singles", -SINGLES, Line::Net),
        Self::new("net_centre", 0.0, Line::Net),
        Self::new("net_right_singles", SINGLES, Line::Net),
        Self::new("net_right_doubles", DOUBLES, Line::Net),
        Self::new("net_right_post", POST, Line::Net),
        Self::new("far_service_left_singles", -SINGLES, Line::ServiceFar),
        Self::new("far_service_centre", 0.0, Line::ServiceFar),
        Self::new("far_service_right_singles", SINGLES, Line::ServiceFar),
        Self::new("far_baseline_left_doubles", -DOUBLES, Line::BaselineFar),
        Self::new("far_baseline_left_singles", -SINGLES, Line::BaselineFar),
        Self::new("far_baseline_centre", 0.0, Line::BaselineFar),
        Self::new("far_baseline_right_singles", SINGLES, Line::BaselineFar),
        Self::new("far_baseline_right_doubles", DOUBLES, Line::BaselineFar),
    ];

    const fn new(name: &'static str, x: f64, across: Line) -> Self {
        Self { name, x, across }
    }

    /// The names of all, for a person to choose from.
    pub fn names() -> String {
        Self::ALL.map(|spot| spot.name).join(", ")
    }

    /// The point that goes by a name.
    pub fn named(name: &str) -> Option<&'static Self> {
        Self::ALL.iter().find(|spot| spot.name == name)
    }

    /// The point on the other side of the centre line; itself on it.
    pub(super) fn mirrored(&self) -> Option<&'static Self> {
        Self::at(-self.x, self.across)
    }

    /// The point that lies so for somebody who faces the net from the far baseline.
    pub(super) fn turned(&self) -> Option<&'static Self> {
        let across = match self.across {
            Line::Baseline => Line::BaselineFar,
            Line::BaselineFar => Line::Baseline,
            Line::Service => Line::ServiceFar,
            Line::ServiceFar => Line::Service,
            other => other,
        };
        Self::at(-self.x, across)
    }

    fn at(x: f64, across: Line) -> Option<&'static Self> {
        Self::ALL.iter().find(|spot| spot.across == across && (spot.x - x).abs() < 1e-9)
    }

    /// Where it is on the ground, (x, y) metres in the court's frame.
    pub fn place(&self) -> (f64, f64) {
        (self.x, self.across.place())
    }
}

/// A point of the court and the pixel at which a person has seen it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedSpot {
    /// The point.
    pub spot: &'static Spot,
    /// Its pixel.
    pub at: Point2,
    /// How far off the click is, pixels (1 standard deviation).
    pub click: f64,
}

impl PlacedSpot {
    /// A click into a picture of `size` pixels; `moved` is what is left of the camera's own movement, pixels (1 standard deviation).
    pub fn new(spot: &'static Spot, at: Point2, size: (u32, u32), moved: f64) -> Self {
        let shown = (f64::from(size.0.max(size.1)) / USUAL_WIDTH).max(1.0);
        Self { spot, at, click: (CLICK * shown).hypot(moved) }
    }

    /// How far a camera has it from its pixel, in standard deviations; `None` where the camera doesn't see it.
    pub fn off(&self, camera: &Camera) -> Option<f64> {
        let (x, y) = self.spot.place();
        let seen = camera.project([x, y, 0.0])?;
        let far = ((x - camera.x.0).powi(2) + (y - camera.y.0).powi(2) + camera.height.0.powi(2)).sqrt();
        Some(seen.distance(self.at) / self.spread(camera.focal / far))
    }

    /// How far it may lie from its pixel, pixels (1 standard deviation), where a metre takes so many pixels.
    pub(super) fn spread(&self, pixels_per_metre: f64) -> f64 {
        self.click.hypot(MEANT * pixels_per_metre)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_point_has_a_name_and_lies_on_its_line() {
        for spot in &Spot::ALL {
            assert_eq!(Spot::named(spot.name), Some(spot));
            let (from, to) = spot.across.extent();
            assert!((from..=to).contains(&spot.x), "{}", spot.name);
        }
        let (x, y) = Spot::named("service_left_singles").unwrap().place();
        assert!(x == -4.115 && (y - 5.485).abs() < 1e-9);
        assert_eq!(Spot::named("baseline"), None);
    }
}
