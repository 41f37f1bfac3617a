//! The true camera and player of a rendered clip.

use std::error::Error;
use std::fs::File;
use std::path::Path;

use flate2::read::GzDecoder;
use serde_json::Value;
use toeline::court::{Camera, Hidden};
use toeline::geometry::Point2;
use toeline::pose::Landmark;
use toeline::pose::landmark::COUNT;
use toeline::units::{Degrees, FrameIndex, Metres};

/// People reach beyond their landmarks by this share of their height.
const BEYOND: f64 = 0.12;

pub struct Truth(Value);

impl Truth {
    /// The truth of a clip; `None` where there is none, or none of the court.
    pub fn read(path: &Path) -> Result<Option<Self>, Box<dyn Error>> {
        if !path.exists() {
            return Ok(None);
        }
        let json: Value = serde_json::from_reader(GzDecoder::new(File::open(path)?))?;
        Ok(json["court"]["baseline_y"][0].is_number().then_some(Self(json)))
    }

    /// The pictures that are looked at, spread over the clip.
    pub fn wanted(&self) -> Vec<usize> {
        let count = self.0["frames"].as_array().map_or(0, Vec::len);
        (0..super::PICTURES).map(|k| (2 * k + 1) * count / (2 * super::PICTURES)).collect()
    }

    /// Where people are in a picture, and the player's feet and nose.
    pub fn seen(&self, frame: usize) -> super::Seen {
        let frame = &self.0["frames"][frame];
        let landmark = |k: usize| {
            let at = |axis: usize| frame["lm2d"][k][axis].as_f64();
            // The truth counts from the corner of the first pixel.
            Some(Point2::new(at(0)? - 0.5, at(1)? - 0.5))
        };
        let people = Hidden::around((0..COUNT).filter_map(landmark), BEYOND).into_iter().collect();
        let player = || {
            let heels = [landmark(Landmark::LeftHeel as usize)?, landmark(Landmark::RightHeel as usize)?];
            Some([heels[0].lerp(heels[1], 0.5), landmark(Landmark::Nose as usize)?])
        };
        (people, player())
    }

    /// The camera at a picture.
    pub fn camera(&self, frame: FrameIndex) -> Camera {
        let (resting, frame) = (&self.0["camera"], &self.0["frames"][frame.0]);
        let moved = |own: &'static str, rest: &'static str| {
            if frame[own].is_array() { &frame[own] } else { &resting[rest] }
        };
        let (turn, shift) = (moved("R", "R"), moved("tvec", "t"));
        let r = |i: usize, j: usize| turn[i][j].as_f64().unwrap_or_default();
        let eye = |j: usize| -(0..3).map(|i| r(i, j) * shift[i].as_f64().unwrap_or_default()).sum::<f64>();
        let number = |name: &str| resting[name].as_f64().unwrap_or_default();
        let baseline = self.0["court"]["baseline_y"][0].as_f64().unwrap_or_default();
        Camera {
            focal: number("fx"),
            k1: number("k1"),
            centre: Point2::new(number("cx") - 0.5, number("cy") - 0.5),
            pitch: Degrees::from_radians(r(2, 2).asin()),
            roll: Degrees::from_radians(r(0, 2).atan2(-r(1, 2))),
            net: Degrees::from_radians(r(2, 0).atan2(r(2, 1))) + Degrees(90.0),
            height: Metres(eye(2)),
            x: Metres(eye(0)),
            y: Metres(eye(1) - baseline),
        }
    }
}
