//! What is assumed about cameras and players before any line is seen.

use crate::geometry::Point2;
use crate::units::Metres;

/// One hump of the prior of a focal length: mean as a share of the picture's longer side, relative spread, weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// Focal length as a share of the picture's longer side.
    pub share: f64,
    /// Standard deviation of its logarithm.
    pub spread: f64,
    /// How common it is.
    pub weight: f64,
    /// Spread of the radial distortion that goes with it.
    pub bend: f64,
}

impl Lens {
    /// What a fit through this lens is worth before anything is seen, as a logarithm: how common the lens is, over how widely its focal
    /// length and its distortion are spread. Spreads that all lenses share are left out.
    pub(super) fn log_share(&self) -> f64 {
        (self.weight / (self.spread * self.bend)).ln()
    }
}

/// The lenses of phones and cameras: ultra-wide, main, between, twice as long, and anything.
pub const LENSES: [Lens; 5] = [
    Lens { share: 0.48, spread: 0.12, weight: 0.12, bend: 0.08 },
    Lens { share: 0.80, spread: 0.14, weight: 0.42, bend: 0.02 },
    Lens { share: 1.2, spread: 0.22, weight: 0.16, bend: 0.02 },
    Lens { share: 2.0, spread: 0.25, weight: 0.16, bend: 0.01 },
    Lens { share: 1.2, spread: 0.65, weight: 0.14, bend: 0.02 },
];

/// Shapes in which cameras film, longer side by shorter.
const SHAPES: [f64; 4] = [16.0 / 9.0, 4.0 / 3.0, 3.0 / 2.0, 1.896];

/// Whether a picture of this size was cut out of a larger one, as its shape tells.
pub fn is_cut(size: (u32, u32)) -> bool {
    let (longer, shorter) = (f64::from(size.0.max(size.1)), f64::from(size.0.min(size.1)).max(1.0));
    !SHAPES.iter().any(|shape| (longer / shorter / shape - 1.0).abs() < 0.02)
}

/// How somebody stands in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// The middle between both heels, pixels.
    pub foot: Point2,
    /// The nose, pixels.
    pub head: Point2,
    /// Height of the nose over the ground, and its standard deviation.
    pub head_height: (Metres, Metres),
}

impl Standing {
    /// Somebody of whom nothing is known: an adult or a child, upright or ready to play.
    pub fn unknown(foot: Point2, head: Point2) -> Self {
        Self { foot, head, head_height: (Metres(1.48), Metres(0.14)) }
    }

    /// The same of somebody whose feet are out of sight, guessed from the rest of the body.
    pub fn guessed(foot: Point2, head: Point2) -> Self {
        Self { foot, head, head_height: (Metres(1.48), Metres(0.25)) }
    }
}

/// What is known about the camera apart from the lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumptions {
    /// The humps of the focal length's prior.
    pub lenses: Vec<Lens>,
    /// Whether the picture may be cut out of a larger one: then the optical axis need not meet its middle.
    pub crop: bool,
}

impl Assumptions {
    /// Nothing is known but the picture's size: any lens; a cut is likely where the shape is no camera's.
    pub fn of_size(size: (u32, u32)) -> Self {
        Self { lenses: LENSES.to_vec(), crop: is_cut(size) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_picture_is_cut_out_of_another() {
        let crop = |w, h| Assumptions::of_size((w, h)).crop;
        assert_eq!([crop(1920, 1080), crop(720, 1280), crop(852, 480), crop(640, 480)], [false; 4]);
        assert!(crop(800, 800) && crop(1280, 600));
        assert!((LENSES.iter().map(|lens| lens.weight).sum::<f64>() - 1.0).abs() < 1e-9);
    }
}
