//! What was lifted through one camera, as another would have it.

use super::depth::{self, Axis, Teller};
use super::stand::{Sights, Stand};
use crate::geometry::{Camera, Point2};

/// The camera through which points were put into space: what it has of them, whatever other camera may have taken the pictures.
#[derive(Debug, Clone, Copy)]
pub struct Source {
    sights: Sights,
    size: (u32, u32),
    teller: Teller,
}

impl Source {
    /// A camera whose pictures are of `size`; `teller` told how far landmarks are from it.
    pub fn new(stand: Stand, size: (u32, u32), teller: Teller) -> Self {
        Self { sights: stand.sights(), size, teller }
    }

    /// The body whose hips are at `hips`; `None` where the lens doesn't show them.
    pub fn body(&self, hips: Camera) -> Option<SourceBody> {
        let pixel = self.sights.pixel(hips)?;
        let [_, _, along] = self.sights.axes();
        Some(SourceBody {
            source: *self,
            hips,
            pixel,
            axis: self.axis(&self.sights, pixel),
            along: hips.dot(along),
            shortening: depth::shortening(self.sights.ray(pixel)),
        })
    }

    fn axis(&self, camera: &Sights, pixel: Point2) -> Axis {
        self.teller.axis(camera, pixel, self.size)
    }
}

/// One body at one moment, as the first camera has it.
#[derive(Debug, Clone, Copy)]
pub struct SourceBody {
    source: Source,
    hips: Camera,
    /// Where the hips are in the picture.
    pixel: Point2,
    /// The axis along which depths were told.
    axis: Axis,
    /// How far the hips are along the lens's axis, metres.
    along: f64,
    shortening: f64,
}

impl SourceBody {
    /// A point of the body.
    pub fn point(&self, at: Camera) -> SourcePoint {
        SourcePoint { at, pixel: self.source.sights.pixel(at), told: self.axis.along(at - self.hips) }
    }
}

/// A point of a body, as the first camera has it.
#[derive(Debug, Clone, Copy)]
pub struct SourcePoint {
    /// Where it is.
    pub at: Camera,
    /// Where it is in the picture.
    pixel: Option<Point2>,
    /// How much farther than the hips it was told to be, metres.
    told: f64,
}

impl SourcePoint {
    /// A point of a body of which the lens doesn't show the hips.
    pub fn alone(at: Camera) -> Self {
        Self { at, pixel: None, told: 0.0 }
    }
}

/// Another camera that may have taken the same pictures: points that were put into space through the first are put there through
/// this one, from the same pixels and the same told depths.
#[derive(Debug, Clone, Copy)]
pub struct Recast {
    from: Source,
    to: Sights,
    /// Size of the second camera's player as a share of the first's.
    scale: f64,
}

impl Recast {
    /// From a camera to another one in which the player is `scale` times as tall.
    pub fn new(from: Source, to: Stand, scale: f64) -> Self {
        Self { from, to: to.sights(), scale }
    }

    /// The camera through which the points were put into space.
    pub fn from(&self) -> &Source {
        &self.from
    }

    /// The camera whose points come out.
    pub fn to(&self) -> &Sights {
        &self.to
    }

    /// Size of the second camera's player as a share of the first's.
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// The same body as this camera has it.
    pub fn body(&self, seen: &SourceBody) -> RecastBody {
        let ray = self.to.ray(seen.pixel);
        // At the same size in the picture distance goes with the focal length; a line of sight that meets the body aslant sees
        // it shortened.
        let shortened = depth::shortening(ray) / seen.shortening;
        let focal = |sights: &Sights| sights.stand().lens.focal;
        let away = seen.along * focal(&self.to) / focal(&self.from.sights) * self.scale * shortened;
        RecastBody {
            to: self.to,
            scale: self.scale,
            hips: seen.hips,
            new_hips: ray * away,
            axis: self.from.axis(&self.to, seen.pixel),
        }
    }
}

/// One body at one moment, as the second camera has it.
#[derive(Debug, Clone, Copy)]
pub struct RecastBody {
    to: Sights,
    scale: f64,
    hips: Camera,
    new_hips: Camera,
    axis: Axis,
}

impl RecastBody {
    /// A point of the body; where its pixel can't be told it moves with the hips.
    pub fn point(&self, seen: &SourcePoint) -> Camera {
        let Some(pixel) = seen.pixel else { return seen.at - self.hips + self.new_hips };
        self.axis.meet(self.to.ray(pixel), self.new_hips, seen.told * self.scale)
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

    /// Where the second camera has the points of a body whose hips the first has at `hips`.
    fn recast(from: Stand, to: Stand, teller: Teller, hips: Camera) -> impl Fn(Camera) -> Camera {
        let source = Source::new(from, SIZE, teller);
        let seen = source.body(hips).unwrap();
        let body = Recast::new(source, to, 1.0).body(&seen);
        move |at| body.point(&seen.point(at))
    }

    #[test]
    fn the_same_camera_changes_nothing() {
        let stand = Stand { pitch: Degrees(-5.0), roll: Degrees(2.0), ..Stand::level(Lens::usual(SIZE)) };
        let hips = Camera::new(0.4, -0.3, 5.0);
        let hand = Camera::new(0.9, 0.2, 4.4);
        for teller in [Teller::Nothing, Teller::PoseNetwork, Teller::DepthNetwork] {
            near(recast(stand, stand, teller, hips)(hand), hand, 1e-3);
        }
    }

    #[test]
    fn through_a_longer_lens_all_is_farther_away() {
        let (near_lens, far_lens) = (Lens::centred(SIZE, 1000.0), Lens::centred(SIZE, 1500.0));
        let hips = Camera::new(0.0, 0.1, 5.0);
        let point = recast(Stand::level(near_lens), Stand::level(far_lens), Teller::Nothing, hips);
        let moved = point(hips);
        near(moved, Camera::new(0.0, 0.1, 7.5), 0.01);
        // In the hips' own plane nothing changes its size.
        near(point(hips + Camera::new(0.5, 0.0, 0.0)) - moved, Camera::new(0.5, 0.0, 0.0), 0.01);
    }

    #[test]
    fn what_is_nearer_is_higher_where_the_camera_looks_down() {
        let level = Stand::level(Lens::centred(SIZE, 1000.0));
        let down = Stand { pitch: Degrees(-10.0), ..level };
        let hips = Camera::new(0.0, 0.0, 5.0);
        let point = recast(level, down, Teller::DepthNetwork, hips);
        let lift = point(hips - Camera::new(0.0, 0.0, 0.7)) - point(hips);
        assert!((lift.up - 0.7 * 10_f64.to_radians().tan()).abs() < 0.03, "{lift:?}");
    }

    #[test]
    fn no_lens_or_tilt_changes_what_the_depth_network_tells() {
        // The hips are at the side of the picture, the hand 60 cm nearer along the way to them.
        for (focal, pitch) in [(900.0, 0.0), (1800.0, 0.0), (900.0, -14.0)] {
            let stand = Stand { pitch: Degrees(pitch), ..Stand::level(Lens::centred(SIZE, focal)) };
            let hips = Camera::new(1.2, -0.8, 6.0);
            let way = hips.horizontal().unit().unwrap();
            let source = Source::new(stand, SIZE, Teller::DepthNetwork);
            let body = source.body(hips).unwrap();
            let told = body.point(hips - way * 0.6 + Camera::new(0.0, 0.3, 0.0)).told;
            assert!((told + 0.6).abs() < 1e-9, "{told}");
        }
    }
}
