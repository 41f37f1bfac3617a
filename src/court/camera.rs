//! A camera that stands over a court.

use crate::geometry::{Point2, undistorted};
use crate::units::{Degrees, Metres};

/// Points nearer to the lens than this are not in the picture, metres.
const NEAREST: f64 = 0.05;

/// A camera over the court: pixel = focal · u · (1 + k1 |u|²) + centre, with u = (right, down) / away in the camera's own
/// axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Focal length, pixels.
    pub focal: f64,
    /// Radial distortion; negative where straight lines bulge outward (barrel).
    pub k1: f64,
    /// Where the optical axis meets the picture, pixels.
    pub centre: Point2,
    /// The optical axis against the horizontal; negative looks down.
    pub pitch: Degrees,
    /// Turn of the picture's content; positive is clockwise (the horizon's right end lies lower).
    pub roll: Degrees,
    /// Where the net is, as [`crate::scene::Direction`] has it: 0 = right in the picture, 90 = away along the optical axis.
    pub net: Degrees,
    /// Height over the ground.
    pub height: Metres,
    /// To the right of the centre line for somebody who faces the net.
    pub x: Metres,
    /// From the outer edge of the player's baseline toward the net.
    pub y: Metres,
}

impl Camera {
    /// The camera's axes (right, down, away) in the court's frame (x, y, z).
    pub fn axes(&self) -> [[f64; 3]; 3] {
        let ((sin_a, cos_a), (sin_p, cos_p), (sin_r, cos_r)) = (
            (self.net - Degrees(90.0)).radians().sin_cos(),
            self.pitch.radians().sin_cos(),
            self.roll.radians().sin_cos(),
        );
        let away = [sin_a * cos_p, cos_a * cos_p, sin_p];
        let level = [cos_a, -sin_a, 0.0];
        let down = [sin_a * sin_p, cos_a * sin_p, -cos_p];
        let mix = |a: f64, b: f64| [0, 1, 2].map(|i| a * level[i] + b * down[i]);
        [mix(cos_r, -sin_r), mix(sin_r, cos_r), away]
    }

    /// Where a point (x, y, z) of the court, metres, lies in the picture; `None` where it lies behind the lens or so far off
    /// the axis that the distortion has no meaning.
    pub fn project(&self, point: [f64; 3]) -> Option<Point2> {
        let from = [point[0] - self.x.0, point[1] - self.y.0, point[2] - self.height.0];
        let [right, down, away] = self.axes().map(|axis| dot(axis, from));
        if away < NEAREST {
            return None;
        }
        let (u, v) = (right / away, down / away);
        let r2 = u * u + v * v;
        // Past its turning point the formula folds what lies outside back into the picture.
        if 1.0 + 3.0 * self.k1 * r2 <= 0.0 {
            return None;
        }
        let stretch = self.focal * (1.0 + self.k1 * r2);
        Some(Point2::new(self.centre.x + stretch * u, self.centre.y + stretch * v))
    }

    /// The direction in which a pixel looks, in the court's frame, with length 1 along the optical axis.
    pub fn ray(&self, pixel: Point2) -> [f64; 3] {
        let (u, v) = undistorted(
            self.k1,
            (pixel.x - self.centre.x) / self.focal,
            (pixel.y - self.centre.y) / self.focal,
        );
        let [right, down, away] = self.axes();
        [0, 1, 2].map(|i| u * right[i] + v * down[i] + away[i])
    }

    /// The point (x, y) of the ground, metres, that a pixel shows; `None` above the horizon.
    pub fn ground(&self, pixel: Point2) -> Option<(f64, f64)> {
        let ray = self.ray(pixel);
        let far = self.height.0 / -ray[2];
        (ray[2] < -1e-6).then(|| (self.x.0 + far * ray[0], self.y.0 + far * ray[1]))
    }

    /// Where the net is against the line of sight through a pixel, seen from above: 0 = to the right of that line, 90 = away
    /// along it.
    pub fn bearing(&self, pixel: Point2) -> Degrees {
        let ray = self.ray(pixel);
        Degrees::from_radians(ray[0].atan2(ray[1])) + Degrees(90.0)
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Camera {
        Camera {
            focal: 1000.0,
            k1: -0.1,
            centre: Point2::new(640.0, 360.0),
            pitch: Degrees(-8.0),
            roll: Degrees(2.0),
            net: Degrees(10.0),
            height: Metres(1.4),
            x: Metres(5.0),
            y: Metres(0.5),
        }
    }

    #[test]
    fn ground_and_project_undo_each_other() {
        let (x, y) = camera().ground(Point2::new(300.0, 600.0)).unwrap();
        let back = camera().project([x, y, 0.0]).unwrap();
        assert!(back.distance(Point2::new(300.0, 600.0)) < 1e-3, "{back:?}");
        assert_eq!(camera().ground(Point2::new(640.0, 10.0)), None);
    }

    #[test]
    fn directions_are_those_of_the_scene() {
        // A camera to the right of the court that looks across it has the net on its right.
        let camera = Camera { k1: 0.0, roll: Degrees(0.0), net: Degrees(0.0), ..camera() };
        let toward_net = camera.project([0.0, 3.0, 0.0]).unwrap();
        let here = camera.project([0.0, 0.5, 0.0]).unwrap();
        assert!(toward_net.x > here.x + 100.0 && (here.x - 640.0).abs() < 1e-6, "{here:?} {toward_net:?}");
        assert!((camera.bearing(here).0).abs() < 1e-9);
        // What lies to the right of the axis has the net more away: the line of sight turns toward it.
        assert!(camera.bearing(toward_net).0 > 5.0);
        // Content turned clockwise: the right of the horizon lies lower.
        let rolled = Camera { roll: Degrees(3.0), pitch: Degrees(0.0), ..camera };
        let (near, far) = (rolled.project([-1e4, 0.0, 0.0]), rolled.project([-1e4, 5e3, 0.0]));
        assert!(far.unwrap().y > near.unwrap().y + 10.0);
    }
}
