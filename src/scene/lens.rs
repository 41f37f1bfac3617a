//! The camera's lens: how directions become pixels.

use crate::geometry::{Point2, undistorted};
use crate::units::Degrees;

/// Focal length of a phone's main lens while filming, as a share of the picture's longer side: 24–28 mm equivalents
/// cropped a little for stabilisation.
pub(super) const MAIN_LENS: f64 = 0.80;

/// Width of the film frame to which "35 mm equivalent" focal lengths refer, millimetres.
const FILM_WIDTH_MM: f64 = 36.0;

/// A lens with one term of radial distortion: pixel = focal · s · (1 + k1 |s|²) + middle, with s = (right, down) per
/// length along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// Focal length, pixels.
    pub focal: f64,
    /// Where the axis meets the picture, pixels.
    pub middle: (f64, f64),
    /// Radial distortion; negative where straight lines bulge outward (barrel).
    pub k1: f64,
}

impl Lens {
    /// A lens without distortion whose axis meets the middle of a picture of `size` pixels.
    pub fn centred(size: (u32, u32), focal: f64) -> Self {
        let (width, height) = (f64::from(size.0), f64::from(size.1));
        Self { focal, middle: (0.5 * (width - 1.0), 0.5 * (height - 1.0)), k1: 0.0 }
    }

    /// The lens of most clips: a phone's main one.
    pub fn usual(size: (u32, u32)) -> Self {
        Self::centred(size, MAIN_LENS * f64::from(size.0.max(size.1)))
    }

    /// The lens that shows `view` from the left to the right edge.
    pub fn showing(size: (u32, u32), view: Degrees) -> Self {
        Self::centred(size, 0.5 * f64::from(size.0) / (0.5 * view.radians()).tan())
    }

    /// Focal length in pixels of a lens of `millimetres` on 35 mm film whose picture is `size` pixels.
    pub fn focal_of_film(size: (u32, u32), millimetres: f64) -> f64 {
        f64::from(size.0.max(size.1)) * millimetres / FILM_WIDTH_MM
    }

    /// How much a picture `width` pixels wide shows from the left to the right edge.
    pub fn view(&self, width: u32) -> Degrees {
        let half = 0.5 * f64::from(width);
        let side = |x: f64| self.sight(Point2::new(x, self.middle.1)).0.atan();
        let middle = 0.5 * (f64::from(width) - 1.0);
        Degrees((side(middle + half) - side(middle - half)).to_degrees())
    }

    /// The direction in which a pixel looks: right and down per length along the axis, without distortion.
    pub fn sight(&self, pixel: Point2) -> (f64, f64) {
        undistorted(self.k1, (pixel.x - self.middle.0) / self.focal, (pixel.y - self.middle.1) / self.focal)
    }

    /// The pixel that looks in a direction (right and down per length along the axis); `None` so far off the axis that the
    /// distortion has no meaning.
    pub fn pixel(&self, (u, v): (f64, f64)) -> Option<Point2> {
        let square = u * u + v * v;
        let stretch = self.focal * (1.0 + self.k1 * square);
        // Past its turning point the formula folds what lies outside back into the picture.
        (1.0 + 3.0 * self.k1 * square > 0.0)
            .then(|| Point2::new(self.middle.0 + stretch * u, self.middle.1 + stretch * v))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_and_directions_undo_each_other() {
        let lens = Lens { focal: 640.0, middle: (700.0, 300.0), k1: -0.12 };
        let pixel = Point2::new(120.0, 650.0);
        let back = lens.pixel(lens.sight(pixel)).unwrap();
        assert!(back.distance(pixel) < 0.01, "{back:?}");
        assert_eq!(lens.pixel((3.0, 0.0)), None);
    }

    #[test]
    fn a_view_is_that_from_edge_to_edge() {
        let lens = Lens::showing((1920, 1080), Degrees(60.0));
        assert!((lens.view(1920).0 - 60.0).abs() < 1e-9, "{lens:?}");
        // Barrel distortion shows more.
        assert!(Lens { k1: -0.1, ..lens }.view(1920).0 > 61.0);
        assert!((Lens::focal_of_film((1080, 1920), 36.0) - 1920.0).abs() < 1e-9);
    }
}
