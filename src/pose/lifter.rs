//! Depth of the joints: a network reads how 14 joints move in the picture and says how far each is from the lens.
//!
//! The picture shows two coordinates of a joint; its depth shows only in how the body moves. A small network of convolutions
//! over time (1.5 s to either side) was trained on made-up movements, rendered players and recorded ones, filmed from everywhere by
//! made-up cameras, to tell how much farther than the hips each joint is over the ground, along the way from the camera to the hips,
//! and how well that can be told (`scripts/lifter/`).

use std::sync::Arc;

use super::apparent;
use super::compact::{DEEP as JOINTS, DepthTable};
use super::curve::Place;
use super::landmark::{COUNT, Landmark};
use super::motion::{Depth, Depths, Motion};
use crate::geometry::Point2;
use crate::model::{ModelError, Places, SeriesCard, Session};
use crate::order::quantile;
use crate::units::Seconds;

/// Name of the network among the models.
pub const NETWORK: &str = "pose_lifter";

/// The joints that the network reads and lifts: [`JOINTS`], in its order.
const N: usize = JOINTS.len();

/// Places of joints in [`JOINTS`].
const SHOULDERS: [usize; 2] = [0, 1];
const HIPS: [usize; 2] = [6, 7];
const LEGS: [[usize; 3]; 2] = [[6, 8, 10], [7, 9, 11]];

/// The body's apparent size is that of its long readings within this time to either side.
const SIZE_REACH: Seconds = Seconds(1.0);

/// Bones whose lengths the network is told: pairs of points, each the middle of two joints (twice the same joint for one), on
/// either side of the body.
const BONES: [[[[usize; 2]; 2]; 2]; 8] = [
    [[[0, 0], [1, 1]]; 2],
    [[[6, 6], [7, 7]]; 2],
    [[SHOULDERS, HIPS]; 2],
    [[[0, 0], [2, 2]], [[1, 1], [3, 3]]],
    [[[2, 2], [4, 4]], [[3, 3], [5, 5]]],
    [[[6, 6], [8, 8]], [[7, 7], [9, 9]]],
    [[[8, 8], [10, 10]], [[9, 9], [11, 11]]],
    [[[10, 10], [12, 12]], [[11, 11], [13, 13]]],
];

/// A bone is as long as this quantile of its readings in the clip.
const LONG: f64 = 0.95;

/// A player in fewer pictures than this can't be lifted.
const LEAST_FRAMES: usize = 3;

/// The network's own spread is multiplied by this, and at least this (share of the body's size, added in squares) remains:
/// views and movements unlike those that it learnt from are lifted worse than it knows. On rendered players moved by recorded strokes,
/// of whom it had learnt from no picture, errors are 1.2 (wrists) to 1.6 times (shoulders) what it says, root mean square.
const UNSEEN_FACTOR: f64 = 1.7;
const LEAST_SPREAD: f64 = 0.01;

/// The depth network, ready to run.
#[derive(Debug)]
pub struct Lifter {
    session: Session,
    card: SeriesCard,
}

/// One view of the joints on the network's even grid of times.
struct Grid {
    /// Joints in the picture, pixels.
    joints: Vec<[Point2; N]>,
    /// The pose network's own depth relative to the hips, in sizes of its own body; `None` for networks without it.
    own: Option<Vec<[f64; N]>>,
    /// Apparent size of the body, pixels.
    size: Vec<f64>,
    /// Longest readings of the bones, mean of both sides, in sizes of the body.
    bones: [f64; BONES.len()],
}

impl Lifter {
    /// Loads the network that lies beside the pose networks.
    ///
    /// # Errors
    /// [`ModelError`] where the network, its card or the inference library is missing or damaged.
    pub fn load(places: &Places) -> Result<Self, ModelError> {
        let card = places.series_card(NETWORK)?;
        Ok(Self { session: Session::load_series(places, &card)?, card })
    }

    /// Fills [`Motion::depth`]. A motion in which the hips or a limb are never seen keeps none.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the inference library fails.
    pub fn lift(&mut self, motion: &mut Motion) -> Result<(), ModelError> {
        motion.depth = self.depths(motion)?;
        Ok(())
    }

    /// Depths of the joints of a motion, as [`Motion::depth`] has them: by picture and landmark.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the inference library fails.
    pub fn depths(&mut self, motion: &Motion) -> Result<Depths, ModelError> {
        let mut depths = DepthTable::nothing(motion.len());
        let Some((first, last)) = span(motion) else { return Ok(Arc::new(depths)) };
        let steps = ((last - first).0 * self.card.rate).floor() as usize + 1;
        let times: Vec<f64> = (0..steps).map(|s| first.0 + s as f64 / self.card.rate).collect();
        let Some(grid) = Grid::new(motion, &times) else { return Ok(Arc::new(depths)) };
        // With and without the pose network's own depth, as it is and seen in a mirror: where they agree the depth is sure.
        let mut readings = Vec::new();
        for told in [true, false] {
            for mirrored in [false, true] {
                if !told || grid.own.is_some() {
                    readings.push(self.read(&grid, motion.size, told, mirrored)?);
                }
            }
        }
        let (depth, spread) = combined(&readings, steps);
        let mut right = 0;
        for (i, time) in motion.times.iter().enumerate().filter(|(_, time)| (first..=last).contains(time)) {
            right += times[right..].iter().take_while(|t| **t < time.0).count();
            let Some(place) = Place::beside(&times, right, time.0) else { continue };
            for (k, landmark) in JOINTS.into_iter().enumerate() {
                if motion.point(i, landmark).is_some() {
                    let told = |values: &[[f64; N]]| place.value(|at| values[at][k] * grid.size[at]);
                    let (away, spread) = (told(&depth), told(&spread).max(0.0));
                    depths.set(i, k, Some(Depth { away, spread }));
                }
            }
        }
        Ok(Arc::new(depths))
    }

    /// One pass over a motion.
    fn read(
        &mut self,
        grid: &Grid,
        size: (u32, u32),
        told: bool,
        mirrored: bool,
    ) -> Result<DepthReading, ModelError> {
        let input = grid.input(size, told, mirrored);
        let values = self.session.run_series(&input, &self.card.output, (2 * N, 1))?;
        Ok(DepthReading { values, mirrored })
    }
}

/// What one pass has given, as the network has it: row by row a depth for each joint, then the logarithm of its spread.
struct DepthReading {
    values: Vec<f32>,
    mirrored: bool,
}

impl DepthReading {
    /// Depth and spread of a joint at a moment, in sizes of the body.
    fn at(&self, step: usize, joint: usize) -> (f64, f64) {
        let steps = self.values.len() / (2 * N);
        let row = if self.mirrored { twin(joint) } else { joint };
        let value = |row: usize| f64::from(self.values[row * steps + step]);
        (value(row), value(N + row).exp())
    }
}

/// Left and right stand beside each other in [`JOINTS`].
const fn twin(k: usize) -> usize {
    k ^ 1
}

/// First and last picture with both hips in sight.
fn span(motion: &Motion) -> Option<(Seconds, Seconds)> {
    let seen = |i: &usize| {
        motion.point(*i, Landmark::LeftHip).is_some() && motion.point(*i, Landmark::RightHip).is_some()
    };
    let frames: Vec<usize> = (0..motion.len()).filter(seen).collect();
    if frames.len() < LEAST_FRAMES {
        return None;
    }
    Some((motion.times[*frames.first()?], motion.times[*frames.last()?]))
}

/// Mean of several passes, and the spread that follows from theirs and from how far they differ.
fn combined(readings: &[DepthReading], steps: usize) -> (Vec<[f64; N]>, Vec<[f64; N]>) {
    let n = readings.len() as f64;
    let mean = |s: usize, k: usize| readings.iter().map(|r| r.at(s, k).0).sum::<f64>() / n;
    let spread = |s: usize, k: usize| {
        let middle = mean(s, k);
        let square = |(depth, spread): (f64, f64)| spread.powi(2) + (depth - middle).powi(2);
        UNSEEN_FACTOR
            * (readings.iter().map(|r| square(r.at(s, k))).sum::<f64>() / n).sqrt().hypot(LEAST_SPREAD)
    };
    let table = |f: &dyn Fn(usize, usize) -> f64| -> Vec<[f64; N]> {
        (0..steps).map(|s| std::array::from_fn(|k| f(s, k))).collect()
    };
    (table(&mean), table(&spread))
}

impl Grid {
    /// Reads a motion on an even grid; `None` where a joint is never seen.
    fn new(motion: &Motion, times: &[f64]) -> Option<Self> {
        let mut joints = vec![[Point2::default(); N]; times.len()];
        for (k, landmark) in JOINTS.into_iter().enumerate() {
            let seen: Vec<(f64, Point2)> = (0..motion.len())
                .filter_map(|i| Some((motion.times[i].0, motion.point(i, landmark)?.at)))
                .collect();
            if seen.is_empty() {
                return None;
            }
            let x: Vec<(f64, f64)> = seen.iter().map(|(t, p)| (*t, p.x)).collect();
            let y: Vec<(f64, f64)> = seen.iter().map(|(t, p)| (*t, p.y)).collect();
            for (joint, time) in joints.iter_mut().zip(times) {
                joint[k] = Point2::new(straight(&x, *time), straight(&y, *time));
            }
        }
        let own = own_depth(motion, times);
        let size = body_sizes(&joints, times);
        size.iter().all(|s| *s > 0.0).then(|| {
            let bones =
                BONES.map(|sides| 0.5 * sides.map(|ends| longest(&joints, &size, ends)).iter().sum::<f64>());
            Self { joints, own, size, bones }
        })
    }

    /// The network's input, channel by channel: joints relative to the hips in sizes of the body (x right, y down), the
    /// pose network's own depth, whether that is told, the hips' place in the picture in longer sides from its middle, the
    /// bones.
    fn input(&self, (width, height): (u32, u32), told: bool, mirrored: bool) -> Vec<f32> {
        let steps = self.joints.len();
        let longer = f64::from(width.max(height));
        let flip = if mirrored { -1.0 } else { 1.0 };
        let source = |k: usize| if mirrored { twin(k) } else { k };
        let mut input = vec![0.0_f32; (3 * N + 3 + BONES.len()) * steps];
        for (s, joints) in self.joints.iter().enumerate() {
            let hips = joints[HIPS[0]].lerp(joints[HIPS[1]], 0.5);
            let mut set = |channel: usize, value: f64| input[channel * steps + s] = value as f32;
            for k in 0..N {
                let joint = joints[source(k)];
                set(2 * k, flip * (joint.x - hips.x) / self.size[s]);
                set(2 * k + 1, (joint.y - hips.y) / self.size[s]);
                if let (true, Some(own)) = (told, &self.own) {
                    set(2 * N + k, own[s][source(k)]);
                }
            }
            set(3 * N, if told { 1.0 } else { 0.0 });
            set(3 * N + 1, flip * (hips.x - 0.5 * f64::from(width)) / longer);
            set(3 * N + 2, (hips.y - 0.5 * f64::from(height)) / longer);
            for (k, bone) in self.bones.iter().enumerate() {
                set(3 * N + 3 + k, *bone);
            }
        }
        input
    }
}

/// Value of straight lines between `knots` (time, value), held outside.
fn straight(knots: &[(f64, f64)], time: f64) -> f64 {
    let right = knots.partition_point(|k| k.0 < time);
    match (right.checked_sub(1).map(|i| knots[i]), knots.get(right)) {
        (Some((t0, v0)), Some(&(t1, v1))) => v0 + (v1 - v0) * (time - t0) / (t1 - t0),
        (Some((_, v)), None) | (None, Some(&(_, v))) => v,
        (None, None) => 0.0,
    }
}

/// Trunk plus the longer leg of one body whose joints lie `length` apart.
fn body_size(length: impl Fn([usize; 2], [usize; 2]) -> f64) -> f64 {
    apparent::body_size(SHOULDERS, HIPS, LEGS, length)
}

/// Apparent size of the body at each time, pixels.
fn body_sizes(joints: &[[Point2; N]], times: &[f64]) -> Vec<f64> {
    let reading =
        |j: &[Point2; N]| body_size(|a, b| j[a[0]].lerp(j[a[1]], 0.5).distance(j[b[0]].lerp(j[b[1]], 0.5)));
    apparent::sizes(&joints.iter().map(reading).collect::<Vec<_>>(), times, SIZE_REACH)
}

/// Longest reading of a bone over the clip, in sizes of the body.
fn longest(joints: &[[Point2; N]], sizes: &[f64], ends: [[usize; 2]; 2]) -> f64 {
    let readings = joints.iter().zip(sizes).map(|(joint, size)| {
        let [a, b] = ends.map(|[i, k]| joint[i].lerp(joint[k], 0.5));
        a.distance(b) / size
    });
    quantile(readings.collect(), LONG).unwrap_or(0.0)
}
/// The pose network's own depth on an even grid, in sizes of its own body (median over the clip).
fn own_depth(motion: &Motion, times: &[f64]) -> Option<Vec<[f64; N]>> {
    let bodies: Vec<(f64, &[[f32; 3]; COUNT])> =
        motion.times.iter().zip(motion.world.iter()).filter_map(|(t, w)| Some((t.0, w.as_ref()?))).collect();
    let sizes = bodies.iter().map(|(_, body)| {
        let middle = |ends: [usize; 2]| -> [f64; 3] {
            let [a, b] = ends.map(|k| body[JOINTS[k] as usize].map(f64::from));
            std::array::from_fn(|i| 0.5 * (a[i] + b[i]))
        };
        body_size(|a, b| {
            let (a, b) = (middle(a), middle(b));
            (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
        })
    });
    let size = quantile(sizes.collect(), 0.5).filter(|size| *size > 0.0)?;
    let curves: [Vec<(f64, f64)>; N] = std::array::from_fn(|k| {
        bodies.iter().map(|(t, body)| (*t, f64::from(body[JOINTS[k] as usize][2]) / size)).collect()
    });
    Some(times.iter().map(|t| std::array::from_fn(|k| straight(&curves[k], *t))).collect())
}
