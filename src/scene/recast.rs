//! What was lifted through one camera, as another would have it.

use super::depth::{self, Axis};
use super::stand::Stand;
use crate::geometry::Camera;

/// Two cameras that may have taken the same pictures: points that were put into space through the first are put there through
/// the second, from the same pixels and the same told depths.
#[derive(Debug, Clone, Copy)]
pub struct Recast {
    from: Stand,
    to: Stand,
    size: (u32, u32),
    /// Size of the second camera's player as a share of the first's.
    scale: f64,
    has_depth: bool,
}

impl Recast {
    /// From a camera to another one in which the player is `scale` times as tall; `size` is the pictures', `has_depth` whether
    /// landmarks had depths of their own.
    pub fn new(from: Stand, to: Stand, size: (u32, u32), scale: f64, has_depth: bool) -> Self {
        Self { from, to, size, scale, has_depth }
    }

    /// The camera whose points come out.
    pub fn to(&self) -> &Stand {
        &self.to
    }

    /// Size of the second camera's player as a share of the first's.
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// The body whose hips are at `hips`; `None` where the lens doesn't show them.
    pub fn body(&self, hips: Camera) -> Option<RecastBody> {
        let pixel = self.from.pixel(hips)?;
        let axis = |stand: &Stand| match self.has_depth {
            true => Axis::told(stand, pixel, self.size),
            false => Axis::level(),
        };
        let (from, to) = (axis(&self.from), axis(&self.to));
        let ray = self.to.ray(pixel);
        // At the same size in the picture distance goes with the focal length; a line of sight that meets the body aslant sees
        // it shortened.
        let shortened = depth::shortening(self.to.ray(pixel)) / depth::shortening(self.from.ray(pixel));
        let [_, _, along] = self.from.axes();
        let away = hips.dot(along) * self.to.lens.focal / self.from.lens.focal * self.scale * shortened;
        Some(RecastBody { recast: *self, hips, new_hips: ray * away, from, to })
    }
}

/// One body at one moment.
#[derive(Debug, Clone, Copy)]
pub struct RecastBody {
    recast: Recast,
    hips: Camera,
    new_hips: Camera,
    from: Axis,
    to: Axis,
}

impl RecastBody {
    /// A point of the body; where its pixel can't be told it moves with the hips.
    pub fn point(&self, point: Camera) -> Camera {
        let Some(pixel) = self.recast.from.pixel(point) else { return point - self.hips + self.new_hips };
        let told = self.from.along(point - self.hips) * self.recast.scale;
        self.to.meet(self.recast.to.ray(pixel), self.new_hips, told)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Lens;
    use crate::units::Degrees;

    const SIZE: (u32, u32) = (1280, 720);

    fn near(a: Camera, b: Camera, within: f64) {
        assert!((a - b).norm() < within, "{a:?} {b:?}");
    }

    #[test]
    fn the_same_camera_changes_nothing() {
        let stand = Stand { pitch: Degrees(-5.0), roll: Degrees(2.0), ..Stand::level(Lens::usual(SIZE)) };
        let hips = Camera::new(0.4, -0.3, 5.0);
        let body = Recast::new(stand, stand, SIZE, 1.0, true).body(hips).unwrap();
        let hand = Camera::new(0.9, 0.2, 4.4);
        near(body.point(hand), hand, 1e-3);
    }

    #[test]
    fn through_a_longer_lens_all_is_farther_away() {
        let (near_lens, far_lens) = (Lens::centred(SIZE, 1000.0), Lens::centred(SIZE, 1500.0));
        let recast = Recast::new(Stand::level(near_lens), Stand::level(far_lens), SIZE, 1.0, false);
        let hips = Camera::new(0.0, 0.1, 5.0);
        let body = recast.body(hips).unwrap();
        let moved = body.point(hips);
        near(moved, Camera::new(0.0, 0.1, 7.5), 0.01);
        // In the hips' own plane nothing changes its size.
        near(body.point(hips + Camera::new(0.5, 0.0, 0.0)) - moved, Camera::new(0.5, 0.0, 0.0), 0.01);
    }

    #[test]
    fn what_is_nearer_is_higher_where_the_camera_looks_down() {
        let level = Stand::level(Lens::centred(SIZE, 1000.0));
        let down = Stand { pitch: Degrees(-10.0), ..level };
        let hips = Camera::new(0.0, 0.0, 5.0);
        let body = Recast::new(level, down, SIZE, 1.0, true).body(hips).unwrap();
        let lift = body.point(hips - Camera::new(0.0, 0.0, 0.7)) - body.point(hips);
        assert!((lift.up - 0.7 * 10_f64.to_radians().tan()).abs() < 0.03, "{lift:?}");
    }
}
