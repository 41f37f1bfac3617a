//! What the lines say about the camera.

use serde::{Deserialize, Serialize};

use super::camera::Camera;
use super::paint::Line;
use crate::geometry::{Point2, wrapped};
use crate::units::{Degrees, FrameIndex, Metres};

/// Number of unknowns of a camera over a court.
pub const UNKNOWNS: usize = 10;

/// The unknowns in the order of [`Fit::mean`] and [`Fit::covariance`]; angles are in radians, lengths in metres, places in the
/// picture in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Natural logarithm of the focal length in pixels.
    LogFocal,
    /// Radial distortion ([`Camera::k1`]).
    K1,
    /// Where the optical axis meets the picture, to the right.
    CentreX,
    /// Where the optical axis meets the picture, down.
    CentreY,
    /// The optical axis against the horizontal; negative looks down.
    Pitch,
    /// Turn of the picture's content, positive is clockwise.
    Roll,
    /// Natural logarithm of the height over the ground in metres.
    LogHeight,
    /// Where the net is against the line of sight to the player's feet ([`Reading::foot`]), seen from above: 0 = to the right of
    /// it, π/2 = away along it. Where a picture may be cut out of a larger one, this is known far better than the net's
    /// direction in the camera's own axes.
    Bearing,
    /// The camera to the right of the centre line.
    X,
    /// The camera from the player's baseline toward the net.
    Y,
}

/// One reading of which line is which, with the camera that fits it best.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// How likely this reading is among all, 0 to 1; the weights of a [`Reading`] add up to 1.
    pub weight: f64,
    /// The unknowns, in the order of [`Unknown`].
    pub mean: [f64; UNKNOWNS],
    /// Their covariance (Laplace's approximation).
    pub covariance: [[f64; UNKNOWNS]; UNKNOWNS],
    /// The lines that were seen, each once.
    pub lines: Vec<Line>,
}

impl Fit {
    /// The camera with these unknowns, where the player's feet are at the pixel `foot`.
    pub fn camera(&self, foot: Point2) -> Camera {
        camera(&self.mean, foot)
    }

    /// Mean of one unknown.
    pub fn mean(&self, unknown: Unknown) -> f64 {
        self.mean[unknown as usize]
    }

    /// Standard deviation of one unknown.
    pub fn spread(&self, unknown: Unknown) -> f64 {
        self.covariance[unknown as usize][unknown as usize].max(0.0).sqrt()
    }
}

/// The camera with such unknowns (in the order of [`Unknown`]), where the player's feet are at the pixel `foot`. Serves for
/// draws around a [`Fit::mean`], too.
pub fn camera(unknowns: &[f64; UNKNOWNS], foot: Point2) -> Camera {
    let [log_focal, k1, cx, cy, pitch, roll, log_height, bearing, x, y] = *unknowns;
    let mut camera = Camera {
        focal: log_focal.exp(),
        k1,
        centre: Point2::new(cx, cy),
        pitch: Degrees::from_radians(pitch),
        roll: Degrees::from_radians(roll),
        net: Degrees(0.0),
        height: Metres(log_height.exp()),
        x: Metres(x),
        y: Metres(y),
    };
    // How far the line of sight to the feet lies from the optical axis, seen from above, doesn't depend on where the net is.
    camera.net = Degrees(wrapped((Degrees::from_radians(bearing) - camera.bearing(foot)).0));
    camera
}

/// How much the lines say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Evidence {
    /// At least three lines in both directions: the lines carry all of the camera.
    Camera,
    /// Nothing can be told from lines.
    Nothing(Silence),
}

/// Why nothing is told from lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Silence {
    /// No painted line was found on the ground.
    NoLines,
    /// Lines were found that don't fit a court well enough.
    NoCourt,
    /// Several readings of which line is which fit about as well and differ in the direction.
    Ambiguous,
    /// The picture is no use: too small, or nobody stands in it to tell the size of things.
    NoPicture,
}

/// What the court's lines say about the camera. Assumptions about lenses and how cameras are held, and the player's place and
/// size, are in the fits already: what uses them must not count those twice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// How much the lines say; the fits are empty where that is nothing.
    pub evidence: Evidence,
    /// Size of the picture, pixels.
    pub size: (u32, u32),
    /// The picture of the clip for which this holds: of a moving camera the others are aligned to it.
    pub frame: FrameIndex,
    /// Where the player's feet are in that picture: the line of sight to this pixel is what [`Unknown::Bearing`] refers to.
    pub foot: Point2,
    /// The readings, likeliest first.
    pub fits: Vec<Fit>,
}

impl Reading {
    /// A reading that tells nothing.
    pub fn nothing(why: Silence, size: (u32, u32), frame: FrameIndex, foot: Point2) -> Self {
        Self { evidence: Evidence::Nothing(why), size, frame, foot, fits: Vec::new() }
    }

    /// A reading of a known camera: one fit with its unknowns known to `spread` (standard deviations, in the order of
    /// [`Unknown`]) independently of each other. For tests, and for a camera that somebody has measured.
    pub fn of(
        camera: &Camera,
        spread: [f64; UNKNOWNS],
        size: (u32, u32),
        foot: Point2,
        lines: &[Line],
    ) -> Self {
        let mut covariance = [[0.0; UNKNOWNS]; UNKNOWNS];
        for (i, sd) in spread.iter().enumerate() {
            covariance[i][i] = sd * sd;
        }
        let fit = Fit { weight: 1.0, mean: unknowns(camera, foot), covariance, lines: lines.to_vec() };
        Self { evidence: Evidence::Camera, size, frame: FrameIndex(0), foot, fits: vec![fit] }
    }

    /// The same camera in pictures whose pixels lie `by` farther to the right and down than in the one it was read from.
    pub fn moved(&self, by: Point2) -> Self {
        let mut moved = Self { foot: self.foot + by, ..self.clone() };
        for fit in &mut moved.fits {
            fit.mean[Unknown::CentreX as usize] += by.x;
            fit.mean[Unknown::CentreY as usize] += by.y;
        }
        moved
    }

    /// Mean and standard deviation of one unknown over all fits; the bearing around the likeliest fit's. `None` where there
    /// is no fit.
    pub fn moments(&self, unknown: Unknown) -> Option<(f64, f64)> {
        let centre = self.fits.first()?.mean(unknown);
        let off = |fit: &Fit| match unknown {
            Unknown::Bearing => wrapped((fit.mean(unknown) - centre).to_degrees()).to_radians(),
            _ => fit.mean(unknown) - centre,
        };
        let total: f64 = self.fits.iter().map(|fit| fit.weight).sum();
        let mean = self.fits.iter().map(|fit| fit.weight * off(fit)).sum::<f64>() / total;
        let square = |fit: &Fit| fit.spread(unknown).powi(2) + (off(fit) - mean).powi(2);
        let variance = self.fits.iter().map(|fit| fit.weight * square(fit)).sum::<f64>() / total;
        Some((centre + mean, variance.sqrt()))
    }

    /// The likeliest camera; `None` where the lines tell nothing.
    pub fn best(&self) -> Option<Camera> {
        Some(self.fits.first()?.camera(self.foot))
    }
}

/// A camera's unknowns, in the order of [`Unknown`].
pub fn unknowns(camera: &Camera, foot: Point2) -> [f64; UNKNOWNS] {
    [
        camera.focal.ln(),
        camera.k1,
        camera.centre.x,
        camera.centre.y,
        camera.pitch.radians(),
        camera.roll.radians(),
        camera.height.0.ln(),
        Degrees(wrapped(camera.bearing(foot).0)).radians(),
        camera.x.0,
        camera.y.0,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_camera_comes_back_from_its_unknowns() {
        let truth = Camera {
            focal: 1020.0,
            k1: -0.12,
            centre: Point2::new(650.0, 350.0),
            pitch: Degrees(-6.0),
            roll: Degrees(-2.0),
            net: Degrees(-173.0),
            height: Metres(1.3),
            x: Metres(-5.6),
            y: Metres(0.4),
        };
        let foot = Point2::new(400.0, 610.0);
        let reading = Reading::of(&truth, [0.01; UNKNOWNS], (1280, 720), foot, &[Line::Baseline]);
        let back = reading.best().unwrap();
        assert!((back.net - truth.net).abs().0 < 1e-9 && (back.focal - truth.focal).abs() < 1e-9, "{back:?}");
        let (bearing, spread) = reading.moments(Unknown::Bearing).unwrap();
        assert!((bearing.to_degrees() - wrapped(truth.bearing(foot).0)).abs() < 1e-9);
        assert!((spread - 0.01).abs() < 1e-12);
    }

    #[test]
    fn two_readings_widen_the_direction() {
        let foot = Point2::new(400.0, 610.0);
        let mut reading = Reading::nothing(Silence::NoLines, (1280, 720), FrameIndex(0), foot);
        assert_eq!(reading.moments(Unknown::Bearing), None);
        let fit = |bearing: f64| {
            let mut fit = Fit {
                weight: 0.5,
                mean: [0.0; UNKNOWNS],
                covariance: [[0.0; UNKNOWNS]; UNKNOWNS],
                lines: vec![],
            };
            fit.mean[Unknown::Bearing as usize] = bearing;
            fit
        };
        // On either side of 180°.
        reading.fits = vec![fit(3.1), fit(-3.1)];
        let (mean, spread) = reading.moments(Unknown::Bearing).unwrap();
        assert!(
            (mean - std::f64::consts::PI).abs() < 1e-9 && (spread - 0.0416).abs() < 1e-3,
            "{mean} {spread}"
        );
    }
}
