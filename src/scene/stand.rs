//! The camera as it stood: its lens, and how it was tilted.

use super::lens::Lens;
use crate::geometry::{Camera, Point2};
use crate::units::Degrees;

/// What lies nearer to the lens than this along its axis is not in the picture, metres.
const NEAREST: f64 = 0.2;

/// A lens and its tilt. Directions and points are in the camera's frame held level ([`Camera`]): `up` against gravity, `away`
/// the horizontal part of the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// The lens.
    pub lens: Lens,
    /// The axis against the horizontal; negative looks down.
    pub pitch: Degrees,
    /// Turn of the picture's content; positive is clockwise (the horizon's right end lies lower).
    pub roll: Degrees,
}

impl Stand {
    /// A camera that was held level.
    pub fn level(lens: Lens) -> Self {
        Self { lens, pitch: Degrees(0.0), roll: Degrees(0.0) }
    }

    /// The camera's own directions, unit vectors: to the right and down in the picture, and along the axis.
    pub fn axes(&self) -> [Camera; 3] {
        let (sin_p, cos_p) = self.pitch.radians().sin_cos();
        let (sin_r, cos_r) = self.roll.radians().sin_cos();
        let down = Camera::new(0.0, -cos_p, sin_p);
        let level = Camera::new(1.0, 0.0, 0.0);
        let axis = Camera::new(0.0, sin_p, cos_p);
        [level * cos_r - down * sin_r, level * sin_r + down * cos_r, axis]
    }

    /// The same camera with its directions worked out, for many pixels.
    pub fn sights(&self) -> Sights {
        Sights { stand: *self, axes: self.axes() }
    }

    /// The direction in which a pixel looks, of length 1 along the axis.
    pub fn ray(&self, pixel: Point2) -> Camera {
        self.sights().ray(pixel)
    }

    /// Where a point is in the picture; `None` where it lies behind the lens or next to it.
    pub fn pixel(&self, point: Camera) -> Option<Point2> {
        self.sights().pixel(point)
    }

    /// How far to the right of the axis a pixel looks, seen from above.
    pub fn azimuth(&self, pixel: Point2) -> Degrees {
        self.sights().azimuth(pixel)
    }
}

/// A camera whose own directions are worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sights {
    stand: Stand,
    axes: [Camera; 3],
}

impl Sights {
    /// The camera.
    pub fn stand(&self) -> &Stand {
        &self.stand
    }

    /// The camera's own directions, as [`Stand::axes`] has them.
    pub fn axes(&self) -> [Camera; 3] {
        self.axes
    }

    /// The direction in which a pixel looks, of length 1 along the axis.
    pub fn ray(&self, pixel: Point2) -> Camera {
        let (u, v) = self.stand.lens.sight(pixel);
        let [right, down, axis] = self.axes;
        right * u + down * v + axis
    }

    /// Where a point is in the picture; `None` where it lies behind the lens or next to it.
    pub fn pixel(&self, point: Camera) -> Option<Point2> {
        let [right, down, axis] = self.axes;
        let along = point.dot(axis);
        (along > NEAREST)
            .then(|| self.stand.lens.pixel((point.dot(right) / along, point.dot(down) / along)))?
    }

    /// How far to the right of the axis a pixel looks, seen from above.
    pub fn azimuth(&self, pixel: Point2) -> Degrees {
        let ray = self.ray(pixel);
        Degrees::from_radians(ray.right.atan2(ray.away))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stand() -> Stand {
        let lens = Lens { focal: 900.0, middle: (600.0, 380.0), k1: -0.05 };
        Stand { lens, pitch: Degrees(-9.0), roll: Degrees(4.0) }
    }

    #[test]
    fn rays_and_pixels_undo_each_other() {
        let pixel = Point2::new(300.0, 650.0);
        let back = stand().pixel(stand().ray(pixel) * 6.0).unwrap();
        assert!(back.distance(pixel) < 0.01, "{back:?}");
        assert_eq!(stand().pixel(Camera::new(0.0, 0.0, -3.0)), None);
    }

    #[test]
    fn a_camera_that_looks_down_sees_the_horizon_above_its_middle() {
        let level = Stand { roll: Degrees(0.0), ..stand() };
        let horizon = level.pixel(Camera::new(0.0, 0.0, 1.0)).unwrap();
        assert!(horizon.y < 300.0 && (horizon.x - 600.0).abs() < 1e-9, "{horizon:?}");
        // Content turned clockwise: the horizon's right end lies lower.
        let at = |x: f64| stand().pixel(Camera::new(x, 0.0, 1.0)).unwrap();
        assert!(at(0.4).y > at(-0.4).y + 20.0);
    }
}
