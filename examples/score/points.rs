//! How far the camera is off where a person places points of the court, with no line read: as they were meant, and with one named for
//! another point.

use rand::seq::{IndexedRandom, SliceRandom};
use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;
use serde_json::Value;
use toeline::analyse::Analysis;
use toeline::court::Spot;
use toeline::geometry::Point2;
use toeline::measure::clip::{self, Seen};
use toeline::scene::Placed;
use toeline::stroke::CourtPoint;
use toeline::units::FrameIndex;

use crate::camera::Cameras;

/// How many points are placed.
const COUNTS: [usize; 3] = [2, 3, 4];

/// How far off a hand's click is, pixels (1 standard deviation).
const CLICK: f64 = 2.5;

/// Points nearer to the camera's plane than this are not in the picture, metres.
const NEAREST: f64 = 0.3;

/// The clips with points placed in their first frame.
pub struct PlacedByHand {
    cameras: Vec<Cameras>,
    /// Of the clips with one point named wrongly: refused, and given with the direction inside and outside its ±.
    wrong: [[usize; 3]; COUNTS.len()],
}

impl PlacedByHand {
    pub fn new() -> Self {
        let cameras = ["two court points", "three court points", "four court points"].map(Cameras::new);
        Self { cameras: cameras.into(), wrong: Default::default() }
    }

    pub fn add(&mut self, name: &str, truth: &Value, height: f64, analysis: &Analysis) {
        let mut rng = Pcg64Mcg::seed_from_u64(name.bytes().map(u64::from).sum());
        let mut spots = in_sight(truth);
        spots.shuffle(&mut rng);
        for (place, count) in COUNTS.into_iter().enumerate().filter(|(_, count)| *count <= spots.len()) {
            let mut noise = || CLICK * rng.sample::<f64, _>(StandardNormal);
            let points: Vec<(&'static Spot, FrameIndex, Point2)> = spots[..count]
                .iter()
                .map(|(spot, at)| (*spot, FrameIndex(0), *at + Point2::new(noise(), noise())))
                .collect();
            match measured(&points, analysis) {
                Some(measured) => self.cameras[place].add(name, truth, height, &measured),
                None => println!("{name}: {count} points that are right were refused"),
            }
            let other = Spot::ALL.iter().filter(|other| points.iter().all(|point| point.0 != *other));
            let Some(other) = other.collect::<Vec<_>>().choose(&mut rng).copied() else { continue };
            let mut wrong = points.clone();
            wrong[0].0 = other;
            let outcome = match measured(&wrong, analysis) {
                None => 0,
                Some(measured) => {
                    let mut alone = Cameras::new("");
                    alone.add(name, truth, height, &measured);
                    if alone.directions_inside() { 1 } else { 2 }
                }
            };
            self.wrong[place][outcome] += 1;
        }
    }

    pub fn print(&self) {
        self.cameras.iter().for_each(Cameras::print);
        for (count, [refused, inside, outside]) in COUNTS.iter().zip(self.wrong) {
            println!(
                "{count} court points, one named for another: refused {refused}, direction inside its ± {inside}, outside {outside}"
            );
        }
    }
}

/// The clip measured with points of the court and no lines; `None` where they are refused.
fn measured(
    points: &[(&'static Spot, FrameIndex, Point2)],
    analysis: &Analysis,
) -> Option<clip::ClipMeasures> {
    let seen = Seen { lines: None, ..analysis.seen.clone() };
    let mut stated = analysis.stated.clone();
    stated.corrections.placed = Some(Placed::read(points, &analysis.motion).ok()?);
    stated.corrections.court_points =
        points.iter().map(|(spot, frame, at)| CourtPoint { spot, frame: *frame, at: *at }).collect();
    let measured = clip::measure(&analysis.motion, &stated, &seen);
    measured.filmed.against_points.is_none().then_some(measured)
}

/// The court's points that are in the first picture, with their pixels there.
fn in_sight(truth: &Value) -> Vec<(&'static Spot, Point2)> {
    let (camera, frame) = (&truth["camera"], &truth["frames"][0]);
    let turn = if frame["R"].is_array() { &frame["R"] } else { &camera["R"] };
    let shift = if frame["tvec"].is_array() { &frame["tvec"] } else { &camera["t"] };
    let number = |value: &Value| value.as_f64().unwrap_or_default();
    let baseline = number(&truth["court"]["baseline_y"][0]);
    let pixel = |spot: &'static Spot| {
        let (x, y) = spot.place();
        let [right, down, away] = [0, 1, 2]
            .map(|i| number(&turn[i][0]) * x + number(&turn[i][1]) * (y + baseline) + number(&shift[i]));
        let (u, v) = (right / away, down / away);
        let stretch = number(&camera["fx"]) * (1.0 + number(&camera["k1"]) * (u * u + v * v));
        let at =
            Point2::new(stretch * u + number(&camera["cx"]) - 0.5, stretch * v + number(&camera["cy"]) - 0.5);
        let inside =
            (0.0..number(&truth["width"])).contains(&at.x) && (0.0..number(&truth["height"])).contains(&at.y);
        (away > NEAREST && inside && u.abs() < 1.2).then_some((spot, at))
    };
    Spot::ALL.iter().filter_map(pixel).collect()
}
