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
}
