//! The camera's focal length and the player's stature: the two numbers that turn pixels into metres.

use crate::units::{Degrees, Metres};

/// Focal length of a phone's main lens while filming, as a share of the picture's longer side: 24–28 mm equivalents
/// cropped a little for stabilisation.
const TYPICAL_FOCAL_SHARE: f64 = 0.80;

/// Spread of that share over phones and zoom settings (1 standard deviation, relative).
const TYPICAL_FOCAL_SPREAD: f64 = 0.15;

/// Width of the film frame to which "35 mm equivalent" focal lengths refer, millimetres.
const FILM_WIDTH_MM: f64 = 36.0;

/// Stature assumed where none is given.
pub const ASSUMED_STATURE: Metres = Metres(1.75);

/// Spread of an assumed stature over club players, relative (1 standard deviation).
pub const ASSUMED_STATURE_SPREAD: f64 = 0.055;

/// Spread of a stated stature, shoes and slouching, relative (1 standard deviation).
pub const STATED_STATURE_SPREAD: f64 = 0.012;

/// A camera's distance is paced out to this share (1 standard deviation).
pub const STATED_DISTANCE_SPREAD: f64 = 0.05;

/// Pinhole camera without distortion whose axis passes through the picture's middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// Focal length, pixels.
    pub focal: f64,
    /// Relative uncertainty of the focal length (1 standard deviation).
    pub focal_spread: f64,
    /// The picture's middle, pixels.
    pub middle: (f64, f64),
    /// Where the focal length comes from, for `clip.json`.
    pub source: &'static str,
}

impl Lens {
    /// A lens from the best thing known: the stated horizontal field of view, the file's 35 mm equivalent, or what
    /// phones usually have. `size` is the upright picture's, pixels.
    pub fn new(size: (u32, u32), field_of_view: Option<Degrees>, equivalent_mm: Option<f64>) -> Self {
        let (width, height) = (f64::from(size.0), f64::from(size.1));
        let longer = width.max(height);
        let (focal, focal_spread, source) = match (field_of_view, equivalent_mm) {
            (Some(fov), _) => (0.5 * width / (0.5 * fov.radians()).tan(), 0.02, "given"),
            (None, Some(mm)) if mm > 0.0 => (longer * mm / FILM_WIDTH_MM, 0.08, "file"),
            _ => (longer * TYPICAL_FOCAL_SHARE, TYPICAL_FOCAL_SPREAD, "assumed"),
        };
        Self { focal, focal_spread, middle: (0.5 * (width - 1.0), 0.5 * (height - 1.0)), source }
    }

    /// The lens through which the player, seen by this one at `seen`, stands at the `stated` distance: at a given size in the
    /// picture both go together. `None` where this lens is known better than a stature (relative spread
    /// `stature_spread`) and a distance tell it.
    pub fn at_distance(&self, stated: Metres, seen: Metres, stature_spread: f64) -> Option<Self> {
        let focal_spread = STATED_DISTANCE_SPREAD.hypot(stature_spread);
        (focal_spread < self.focal_spread && seen.0 > 0.0 && stated.0 > 0.0).then(|| Self {
            focal: self.focal * stated.0 / seen.0,
            focal_spread,
            source: "camera distance",
            ..*self
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stated_distance_tells_an_assumed_lens_but_no_given_one() {
        let assumed = Lens::new((1920, 1080), None, None);
        let told = assumed.at_distance(Metres(6.0), Metres(5.0), STATED_STATURE_SPREAD).unwrap();
        assert!((told.focal - 1.2 * assumed.focal).abs() < 1e-9);
        assert!(told.focal_spread < 0.06, "{told:?}");
        let given = Lens::new((1920, 1080), Some(Degrees(60.0)), None);
        assert_eq!(given.at_distance(Metres(6.0), Metres(5.0), STATED_STATURE_SPREAD), None);
    }
}
