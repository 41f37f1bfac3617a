//! Where in the picture a landmark model looks.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::landmark::{Landmark, Side};
use super::{Joint, Pose};
use crate::geometry::Point2;
use crate::model::Region;
use crate::model::card::{Card, RegionKind};

/// A body's place in the picture as the models tell it: the middle of its circle, and the circle's top.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Middle of the circle, between the hips, pixels.
    pub centre: Point2,
    /// The point of the circle straight above the centre in an upright person, pixels.
    pub top: Point2,
}

impl Circle {
    /// Radius, pixels; about half a standing person's height.
    pub fn radius(&self) -> f64 {
        self.centre.distance(self.top)
    }

    /// The circle of an upright person around a box (left, top, right, bottom; pixels).
    pub fn around(corners: [f64; 4]) -> Self {
        let [left, top, right, bottom] = corners;
        let centre = Point2::new(0.5 * (left + right), 0.5 * (top + bottom));
        let radius = 0.5 * (right - left).max(bottom - top);
        Self { centre, top: Point2::new(centre.x, centre.y - radius) }
    }

    /// How far the body is turned from upright, radians from −π to π; positive leans to the picture's right.
    pub fn lean(&self) -> f64 {
        let (dx, dy) = (self.top.x - self.centre.x, self.top.y - self.centre.y);
        let turn = FRAC_PI_2 - (-dy).atan2(dx);
        turn - TAU * ((turn + PI) / TAU).floor()
    }

    /// The square region of this body, turned so that the circle's top is up; `scale` is its side in diameters.
    pub fn region(&self, scale: f64) -> Region {
        let side = 2.0 * self.radius() * scale;
        Region { centre: self.centre, width: side, height: side, rotation: self.lean() }
    }
}

/// The region that a card asks for: the circle's square, or an upright box around the body with the input's proportions.
pub fn of_body(card: &Card, circle: &Circle, corners: Option<[f64; 4]>) -> Region {
    if card.region.kind != RegionKind::UprightBox {
        return circle.region(card.region.scale);
    }
    let radius = circle.radius();
    let [left, top, right, bottom] = corners.unwrap_or([
        circle.centre.x - 0.5 * radius,
        circle.centre.y - radius,
        circle.centre.x + 0.5 * radius,
        circle.centre.y + radius,
    ]);
    let proportion = card.input.width as f64 / card.input.height as f64;
    let (width, height) = (right - left, bottom - top);
    let width = width.max(height * proportion) * card.region.scale;
    Region {
        centre: Point2::new(0.5 * (left + right), 0.5 * (top + bottom)),
        width,
        height: width / proportion,
        rotation: 0.0,
    }
}

/// The box (left, top, right, bottom) around a pose's points that are seen with at least this visibility, pixels.
pub fn bounds(pose: &Pose, visibility: f32) -> Option<[f64; 4]> {
    pose.points.iter().zip(&pose.visibility).filter(|(_, seen)| **seen >= visibility).fold(
        None,
        |so_far: Option<[f64; 4]>, (point, _)| {
            let [left, top, right, bottom] = so_far.unwrap_or([point.x, point.y, point.x, point.y]);
            Some([left.min(point.x), top.min(point.y), right.max(point.x), bottom.max(point.y)])
        },
    )
}

/// The circle of a pose from a model without points for it: centre between the hips, radius by trunk and visible extent.
pub fn circle_of(pose: &Pose) -> Option<Circle> {
    let middle = |joint: Joint| {
        let (left, right) = (joint.on(Side::Left), joint.on(Side::Right));
        let seen = pose.visibility(left).min(pose.visibility(right)) > 0.05;
        seen.then(|| pose.point(left).lerp(pose.point(right), 0.5))
    };
    let hips = middle(Joint::Hip)?;
    let shoulders = middle(Joint::Shoulder)?;
    let trunk = hips.distance(shoulders);
    let reach = Landmark::ALL
        .into_iter()
        .filter(|l| pose.visibility(*l) >= 0.2)
        .map(|l| pose.point(l).distance(hips))
        .fold(0.0, f64::max);
    // The circle of an upright person has a radius of about two trunks.
    let radius = reach.clamp(1.6 * trunk, 2.4 * trunk);
    if trunk < 1e-6 {
        return None;
    }
    Some(Circle { centre: hips, top: hips.lerp(shoulders, radius / trunk) })
}

/// Intersection over union of two boxes (left, top, right, bottom).
pub fn overlap(a: [f64; 4], b: [f64; 4]) -> f64 {
    let width = (a[2].min(b[2]) - a[0].max(b[0])).max(0.0);
    let height = (a[3].min(b[3]) - a[1].max(b[1])).max(0.0);
    let area = |q: [f64; 4]| (q[2] - q[0]) * (q[3] - q[1]);
    let shared = width * height;
    shared / (area(a) + area(b) - shared).max(1e-12)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upright_body_gives_an_upright_square() {
        let circle = Circle { centre: Point2::new(100.0, 200.0), top: Point2::new(100.0, 120.0) };
        let region = circle.region(1.25);
        assert_eq!(region.centre, circle.centre);
        assert!((region.width - 200.0).abs() < 1e-9 && region.rotation.abs() < 1e-9, "{region:?}");
    }

    #[test]
    fn a_body_that_leans_right_turns_its_square_clockwise() {
        let circle = Circle { centre: Point2::new(0.0, 0.0), top: Point2::new(1.0, -1.0) };
        let region = circle.region(1.0);
        assert!((region.rotation - PI / 4.0).abs() < 1e-9, "{region:?}");
    }

    #[test]
    fn overlap_of_equal_boxes_is_one() {
        assert_eq!(overlap([0.0, 0.0, 2.0, 2.0], [0.0, 0.0, 2.0, 2.0]), 1.0);
        assert_eq!(overlap([0.0, 0.0, 2.0, 2.0], [3.0, 0.0, 4.0, 2.0]), 0.0);
    }
}
