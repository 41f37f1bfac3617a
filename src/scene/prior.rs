//! What is assumed of cameras before anything is seen: lenses, crops, and how they are held.

use rand::Rng;
use rand_distr::StandardNormal;

use super::lens::{Lens, MAIN_LENS};
use super::stand::Stand;
use crate::court::is_cut;
use crate::units::Degrees;

/// A kind of lens: its focal length as a share of the picture's longer side (median and spread of its logarithm), how
/// common it is, and its distortion (mean, spread).
struct Kind {
    share: f64,
    spread: f64,
    weight: f64,
    k1: (f64, f64),
}

/// Phones' main lenses, twice that, ultra-wide, and anything else (zoomed, or a camera's).
const LENSES: [Kind; 4] = [
    Kind { share: MAIN_LENS, spread: 0.12, weight: 0.60, k1: (0.0, 0.02) },
    Kind { share: 1.7, spread: 0.18, weight: 0.12, k1: (0.0, 0.01) },
    Kind { share: 0.48, spread: 0.10, weight: 0.10, k1: (-0.06, 0.06) },
    Kind { share: 1.1, spread: 0.50, weight: 0.18, k1: (0.0, 0.02) },
];

/// A picture of another shape was cut out of one in which the lens is so much shorter by its longer side (spread of its
/// logarithm), and its axis may be anywhere (shares of the sides, 1 standard deviation).
const CUT_LENS: (f64, f64) = (1.4, 0.25);
const CUT_AXIS: f64 = 0.15;

/// The axis of an uncut picture: share of the longer side (1 standard deviation).
const UNCUT_AXIS: f64 = 0.008;

/// Spread of a focal length from a stated field of view, and of one that the file tells, relative.
const STATED_LENS: f64 = 0.02;
const FILE_LENS: f64 = 0.08;

/// How cameras are tilted, degrees: mean and spread of the pitch; the roll's spread, and that of a camera that was simply put
/// down or held in one hand, with its share.
const PITCH: (f64, f64) = (-3.5, 8.0);
const ROLL: f64 = 1.2;
const SLANTING: (f64, f64) = (4.0, 0.2);

/// Heights of the lens over the ground, metres: on a tripod, a bench or in a hand; on the ground or a bag; on a fence.
/// Mean, spread, share.
const HEIGHTS: [(f64, f64, f64); 3] = [(1.3, 0.35, 0.50), (0.4, 0.25, 0.20), (2.6, 0.90, 0.30)];

/// What is known of the lens beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensEvidence {
    /// Size of the upright picture, pixels.
    pub size: (u32, u32),
    /// Stated horizontal field of view.
    pub view: Option<Degrees>,
    /// The lens's 35 mm equivalent from the file, millimetres.
    pub equivalent_mm: Option<f64>,
}

impl LensEvidence {
    /// A lens drawn from what is known.
    fn draw(&self, rng: &mut impl Rng) -> Lens {
        let mut normal = || -> f64 { rng.sample(StandardNormal) };
        let longer = f64::from(self.size.0.max(self.size.1));
        let cut = is_cut(self.size);
        let (share, spread, k1) = match (self.view, self.equivalent_mm) {
            (Some(view), _) => (Lens::showing(self.size, view).focal / longer, STATED_LENS, (0.0, 0.02)),
            (None, Some(mm)) if mm > 0.0 => {
                (Lens::focal_of_film(self.size, mm) / longer, FILE_LENS, (0.0, 0.02))
            }
            _ => {
                let mut at = normal_share(normal());
                let kind = LENSES.iter().find(|kind| {
                    at -= kind.weight;
                    at < 0.0
                });
                let kind = kind.unwrap_or(&LENSES[0]);
                (kind.share, kind.spread, kind.k1)
            }
        };
        // A stated view is that of the picture as it is.
        let (cut_by, cut_spread) = if cut && self.view.is_none() { CUT_LENS } else { (1.0, 0.0) };
        let axis = |side: u32| if cut { CUT_AXIS * f64::from(side) } else { UNCUT_AXIS * longer };
        let centred =
            Lens::centred(self.size, longer * share * cut_by * (spread.hypot(cut_spread) * normal()).exp());
        Lens {
            middle: (
                centred.middle.0 + axis(self.size.0) * normal(),
                centred.middle.1 + axis(self.size.1) * normal(),
            ),
            k1: (k1.0 + k1.1 * normal()).clamp(-0.25, 0.1),
            ..centred
        }
    }

    /// A camera drawn from what is known of its lens and from how cameras are tilted.
    pub fn stand(&self, rng: &mut impl Rng) -> Stand {
        let lens = self.draw(rng);
        let mut normal = || -> f64 { rng.sample(StandardNormal) };
        let pitch = Degrees(PITCH.0 + PITCH.1 * normal());
        let slanting = normal_share(normal()) < SLANTING.1;
        let roll = Degrees(if slanting { SLANTING.0 } else { ROLL } * normal());
        Stand { lens, pitch, roll }
    }
}

/// Where a standard normal deviate stands among all, 0 to 1 (logistic approximation).
fn normal_share(deviate: f64) -> f64 {
    1.0 / (1.0 + (-1.702 * deviate).exp())
}

/// How likely a lens is to be so high over the ground, metres, up to a factor.
pub fn height(metres: f64) -> f64 {
    if metres <= 0.02 {
        return 0.0;
    }
    HEIGHTS.iter().map(|(mean, spread, share)| share * bell(metres, *mean, *spread)).sum()
}

/// A normal density.
pub fn bell(value: f64, mean: f64, spread: f64) -> f64 {
    let off = (value - mean) / spread;
    (-0.5 * off * off).exp() / spread
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_pcg::Pcg64Mcg;

    use super::*;

    #[test]
    fn a_square_picture_was_cut_and_its_axis_is_open() {
        let spread_of = |size| {
            let evidence = LensEvidence { size, view: None, equivalent_mm: None };
            let mut rng = Pcg64Mcg::seed_from_u64(1);
            let off: f64 = (0..500)
                .map(|_| (evidence.stand(&mut rng).lens.middle.0 - 0.5 * (f64::from(size.0) - 1.0)).powi(2))
                .sum();
            (off / 500.0).sqrt() / f64::from(size.0)
        };
        assert!(spread_of((1280, 720)) < 0.012 && spread_of((800, 800)) > 0.12);
    }

    #[test]
    fn a_stated_view_leaves_one_lens() {
        let evidence =
            LensEvidence { size: (1280, 720), view: Some(Degrees(60.0)), equivalent_mm: Some(13.0) };
        let mut rng = Pcg64Mcg::seed_from_u64(1);
        for _ in 0..200 {
            let lens = evidence.stand(&mut rng).lens;
            assert!((lens.focal / 1108.5 - 1.0).abs() < 0.09, "{lens:?}");
        }
    }
}
