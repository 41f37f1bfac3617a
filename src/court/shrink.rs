//! Large pictures are made smaller before the court's lines are read: paint is then as wide, and its edges are as sharp, as in those
//! pictures in which lines are read best.

use super::reading::{Reading, UNKNOWNS, Unknown};
use super::upright::Uprights;
use crate::geometry::Point2;
use crate::video::{Map, Picture};

/// The longer side of a picture that is read as it is, pixels.
const LONGEST: u32 = 1920;

/// How much smaller the pictures of a clip are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shrink {
    /// Size of the clip's pictures, pixels.
    size: (u32, u32),
    /// So many pixels make one, both ways.
    step: u32,
}

impl Shrink {
    /// Of pictures of a size.
    pub fn of(size: (u32, u32)) -> Self {
        Self { size, step: size.0.max(size.1).div_ceil(LONGEST).max(1) }
    }

    /// Whether pictures are made smaller at all.
    pub fn is_any(self) -> bool {
        self.step > 1
    }

    /// A picture made smaller.
    pub fn picture(self, picture: &Picture) -> Picture {
        if !self.is_any() {
            return picture.clone();
        }
        let size = (picture.width as usize, picture.height as usize);
        let Map { columns, rows, values } = Map::shrunk(size, &picture.rgb, self.step as usize);
        Picture { width: columns as u32, height: rows as u32, rgb: values.into_flattened() }
    }

    /// So many pixels make one, and how far the middle of these is from the first one's; 1 and 0 where nothing is made smaller.
    fn step_and_middle(self) -> (f64, f64) {
        let step = f64::from(self.step);
        (step, 0.5 * (step - 1.0))
    }

    /// Where a place of the clip's pictures is in a smaller one.
    pub fn point(self, p: Point2) -> Point2 {
        let (step, middle) = self.step_and_middle();
        Point2::new((p.x - middle) / step, (p.y - middle) / step)
    }

    /// Where a place of a smaller picture is in the clip's.
    fn back(self, p: Point2) -> Point2 {
        let (step, middle) = self.step_and_middle();
        Point2::new(p.x * step + middle, p.y * step + middle)
    }

    /// What lines in a smaller picture say of the clip's.
    pub fn reading_back(self, mut reading: Reading) -> Reading {
        let (step, _) = self.step_and_middle();
        let [x, y] = [Unknown::CentreX, Unknown::CentreY].map(|unknown| unknown as usize);
        reading.size = self.size;
        reading.foot = self.back(reading.foot);
        for fit in &mut reading.fits {
            fit.mean[Unknown::LogFocal as usize] += step.ln();
            let centre = self.back(Point2::new(fit.mean[x], fit.mean[y]));
            (fit.mean[x], fit.mean[y]) = (centre.x, centre.y);
            for centre in [x, y] {
                (0..UNKNOWNS).for_each(|k| {
                    fit.covariance[centre][k] *= step;
                    fit.covariance[k][centre] *= step;
                });
            }
        }
        reading
    }

    /// What stands upright in a smaller picture, as it is in the clip's.
    pub fn uprights_back(self, mut uprights: Uprights) -> Uprights {
        for edge in &mut uprights.edges {
            (edge.top, edge.foot) = (self.back(edge.top), self.back(edge.foot));
        }
        uprights
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::court::{Camera, Upright};
    use crate::units::{Degrees, FrameIndex, Metres};

    #[test]
    fn only_large_pictures_are_made_smaller() {
        let steps = [(1280, 720), (1080, 1920), (2560, 1440), (2160, 3840), (5760, 2880)].map(Shrink::of);
        assert_eq!(steps.map(|shrink| shrink.step), [1, 1, 2, 2, 3]);
        let shrink = Shrink::of((2400, 20));
        let rgb = (0..2400 * 20).flat_map(|k| [(k % 2400 / 2 % 200) as u8, 7, 9]).collect();
        let small = shrink.picture(&Picture { width: 2400, height: 20, rgb });
        assert_eq!((small.width, small.height), (1200, 10));
        let at = shrink.point(Point2::new(300.5, 4.5));
        assert_eq!(at, Point2::new(150.0, 2.0));
        assert_eq!(small.pixel(150, 2), Some([150, 7, 9]));
        let (as_it_is, odd) = (Shrink::of((1280, 720)), Point2::new(0.1 + 0.2, 1e9 / 3.0));
        assert_eq!((as_it_is.point(odd), as_it_is.back(odd)), (odd, odd), "to the digit");
    }

    #[test]
    fn what_a_smaller_picture_says_holds_for_the_clips_own() {
        let camera = Camera {
            focal: 1500.0,
            k1: -0.05,
            centre: Point2::new(950.0, 545.0),
            pitch: Degrees(-9.0),
            roll: Degrees(1.5),
            net: Degrees(40.0),
            height: Metres(2.2),
            x: Metres(5.0),
            y: Metres(-5.0),
        };
        let mut spread = [0.01; UNKNOWNS];
        spread[Unknown::CentreX as usize] = 12.0;
        let foot = Point2::new(900.0, 800.0);
        let small = Reading::of(&camera, spread, (1920, 1080), foot, &[]);
        let shrink = Shrink::of((3840, 2160));
        let reading = shrink.reading_back(small.clone());
        assert_eq!(reading.size, (3840, 2160));
        assert!((reading.fits[0].spread(Unknown::CentreX) - 24.0).abs() < 1e-9);
        assert!((reading.fits[0].spread(Unknown::Pitch) - 0.01).abs() < 1e-12);
        let place = [-2.0, 6.0, 0.3];
        let [small, large] = [small, reading].map(|reading| reading.best().unwrap().project(place).unwrap());
        assert!(shrink.point(large).distance(small) < 1e-6, "{small:?} {large:?}");
        let edge = Upright { top: Point2::new(10.0, 20.0), foot: Point2::new(11.0, 200.0) };
        let uprights = shrink.uprights_back(Uprights { frame: FrameIndex(0), edges: vec![edge] });
        assert_eq!(shrink.point(uprights.edges[0].foot), edge.foot);
    }
}
