//! The network's view of a motion: points relative to the hips in sizes of the body, on an even grid of times.

use crate::geometry::Point2;
use crate::pose::{Landmark, Motion, Track, apparent};
use crate::units::{FrameIndex, Seconds};

/// Points that the network reads, in its order: left before right.
const POINTS: [Landmark; N] = [
    Landmark::Nose,
    Landmark::LeftEar,
    Landmark::RightEar,
    Landmark::LeftShoulder,
    Landmark::RightShoulder,
    Landmark::LeftElbow,
    Landmark::RightElbow,
    Landmark::LeftWrist,
    Landmark::RightWrist,
    Landmark::LeftHip,
    Landmark::RightHip,
    Landmark::LeftKnee,
    Landmark::RightKnee,
    Landmark::LeftAnkle,
    Landmark::RightAnkle,
    Landmark::LeftToe,
    Landmark::RightToe,
];
const N: usize = 17;
const SHOULDERS: [usize; 2] = [3, 4];
const WRISTS: [usize; 2] = [7, 8];
const HIPS: [usize; 2] = [9, 10];
const LEGS: [[usize; 3]; 2] = [[9, 11, 13], [10, 12, 14]];

/// Values per moment: the points, how far apart the wrists are, how fast each moves.
pub const CHANNELS: usize = 2 * N + 3;

/// The body's apparent size is that of its long readings within this time to either side, seconds of life.
const SIZE_REACH: Seconds = Seconds(1.0);

/// The first and last pictures are held this long beyond the clip's ends, as they were in training.
const HELD: Seconds = Seconds(1.0);

/// A player in fewer pictures than this can't be read.
const LEAST_FRAMES: usize = 8;

/// What brings points, distances and speeds to about unit size.
const POINT_SCALE: f64 = 2.0;
const SPEED_SCALE: f64 = 0.2;

/// A motion on an even grid, at one pace.
pub struct Grid {
    /// Times of the samples, seconds since the clip's first picture; their number is even.
    pub times: Vec<f64>,
    /// Points relative to the hips in sizes of the body, x right, y down.
    points: Vec<[Point2; N]>,
    /// Samples a second at the pace read.
    rate: f64,
}

impl Grid {
    /// Reads a motion that runs `pace` times slower than life, `rate` samples a second of life; points that are hidden are bridged, or, where
    /// the track is given that the motion was made of, where it has them. `None` where a point is never seen (but for ears and toes, which
    /// not every model has).
    pub fn new(motion: &Motion, guesses: Option<&Track>, pace: f64, rate: f64) -> Option<Self> {
        let at = |i: usize, landmark: Landmark| {
            let seen = motion.point(i, landmark).filter(|point| !point.bridged || guesses.is_none());
            seen.map(|point| point.at).or_else(|| guessed(guesses?, motion.indices[i], landmark))
        };
        let hips_seen = |i: &usize| HIPS.iter().all(|k| motion.point(*i, POINTS[*k]).is_some());
        let frames: Vec<usize> = (0..motion.len()).filter(hips_seen).collect();
        let (first, last) = (motion.times[*frames.first()?], motion.times[*frames.last()?]);
        if frames.len() < LEAST_FRAMES {
            return None;
        }
        let step = pace / rate;
        let from = first.0 - HELD.0 * pace;
        let samples = 2 * (((last - first).0 + 2.0 * HELD.0 * pace) / step / 2.0).floor() as usize;
        let times: Vec<f64> = (0..samples).map(|s| from + s as f64 * step).collect();
        let mut points = vec![[Point2::default(); N]; samples];
        for (k, landmark) in POINTS.into_iter().enumerate() {
            let is_seen = |landmark: Landmark| frames.iter().any(|i| at(*i, landmark).is_some());
            let landmark = if is_seen(landmark) { landmark } else { POINTS[stand_in(k)] };
            let seen = (0..motion.len()).filter_map(|i| Some((motion.times[i].0, at(i, landmark)?)));
            let seen: Vec<(f64, Point2)> = seen.filter(|(t, _)| (first.0..=last.0).contains(t)).collect();
            let mut next = 0;
            for (sample, time) in points.iter_mut().zip(&times) {
                while next < seen.len() && seen[next].0 < *time {
                    next += 1;
                }
                sample[k] = between(&seen, next, *time)?;
            }
        }
        let sizes: Vec<f64> = points.iter().map(size).collect();
        let sizes = apparent::sizes(&sizes, &times, SIZE_REACH * pace);
        for (sample, size) in points.iter_mut().zip(sizes) {
            if size <= 0.0 {
                return None;
            }
            let hips = sample[HIPS[0]].lerp(sample[HIPS[1]], 0.5);
            for point in sample {
                *point = Point2::new((point.x - hips.x) / size, (point.y - hips.y) / size);
            }
        }
        Some(Self { times, points, rate })
    }

    /// The network's input, channel by channel; as a mirror shows it where wanted.
    pub fn input(&self, mirrored: bool) -> Vec<f32> {
        let samples = self.points.len();
        let flip = if mirrored { -1.0 } else { 1.0 };
        let source = |k: usize| if mirrored && k > 0 { ((k - 1) ^ 1) + 1 } else { k };
        let mut input = vec![0.0_f32; CHANNELS * samples];
        for s in 0..samples {
            let mut set = |channel: usize, value: f64| input[channel * samples + s] = value as f32;
            let at = |s: usize, k: usize| self.points[s][source(k)];
            for k in 0..N {
                set(2 * k, POINT_SCALE * flip * at(s, k).x);
                set(2 * k + 1, POINT_SCALE * at(s, k).y);
            }
            set(2 * N, POINT_SCALE * at(s, WRISTS[0]).distance(at(s, WRISTS[1])));
            if s > 0 && s + 1 < samples {
                for (side, wrist) in WRISTS.into_iter().enumerate() {
                    let speed = at(s - 1, wrist).distance(at(s + 1, wrist)) * 0.5 * self.rate;
                    set(2 * N + 1 + side, SPEED_SCALE * speed);
                }
            }
        }
        input
    }
}

/// Where the pose model guesses a point to be in a frame.
fn guessed(track: &Track, frame: FrameIndex, landmark: Landmark) -> Option<Point2> {
    let place = track.frames.binary_search_by_key(&frame, |frame| frame.index).ok()?;
    let pose = track.frames[place].pose.as_ref()?;
    (pose.visibility(landmark) > 0.0).then(|| pose.point(landmark))
}

/// What stands for a point that a model doesn't have: the nose for ears, the ankle for toes.
const fn stand_in(k: usize) -> usize {
    match k {
        1 | 2 => 0,
        15 | 16 => k - 2,
        other => other,
    }
}

/// A point at a time between the sight before `next` and that one, held outside.
fn between(seen: &[(f64, Point2)], next: usize, time: f64) -> Option<Point2> {
    match (next.checked_sub(1).map(|i| seen[i]), seen.get(next)) {
        (Some((t0, a)), Some((t1, b))) => Some(a.lerp(*b, (time - t0) / (t1 - t0))),
        (Some((_, a)), None) | (None, Some(&(_, a))) => Some(a),
        (None, None) => None,
    }
}

/// Trunk plus the longer leg, pixels.
fn size(points: &[Point2; N]) -> f64 {
    let middle = |[a, b]: [usize; 2]| points[a].lerp(points[b], 0.5);
    apparent::body_size(SHOULDERS, HIPS, LEGS, |a, b| middle(a).distance(middle(b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::track::{Pose, Track, TrackFrame};

    /// A body that stands still but for its left wrist, which goes up and down again once and is hidden meanwhile.
    fn hidden_swing() -> Track {
        let pose = |frame: usize| {
            let hidden = (10..30).contains(&frame);
            let mut points = vec![Point2::new(100.0, 100.0); 33];
            let mut visibility = vec![0.9; 33];
            for (landmark, x, y) in [
                (Landmark::LeftShoulder, 110.0, 60.0),
                (Landmark::RightShoulder, 90.0, 60.0),
                (Landmark::LeftKnee, 110.0, 140.0),
                (Landmark::RightKnee, 90.0, 140.0),
                (Landmark::LeftAnkle, 110.0, 180.0),
                (Landmark::RightAnkle, 90.0, 180.0),
            ] {
                points[landmark as usize] = Point2::new(x, y);
            }
            let raised = if hidden { 60.0 } else { 0.0 };
            points[Landmark::LeftWrist as usize] = Point2::new(120.0, 110.0 - raised);
            visibility[Landmark::LeftWrist as usize] = if hidden { 0.05 } else { 0.9 };
            Pose { points, visibility, world: Vec::new(), presence: 1.0 }
        };
        let frame = |i: usize| TrackFrame {
            index: FrameIndex(i as _),
            time: Seconds(i as f64 / 30.0),
            duplicate: false,
            pose: Some(pose(i)),
        };
        Track { size: (200, 200), frames: (0..40).map(frame).collect() }
    }

    #[test]
    fn a_hidden_hand_is_bridged_or_where_the_model_guesses_it() {
        let track = hidden_swing();
        let motion = Motion::from_track(&track);
        let wrist_up = |guesses| {
            let grid = Grid::new(&motion, guesses, 1.0, 60.0).unwrap();
            let middle = grid.times.partition_point(|time| *time < 20.0 / 30.0);
            -grid.points[middle][WRISTS[0]].y
        };
        assert!(wrist_up(None) < 0.0, "straight from where it was to where it is seen again");
        assert!(wrist_up(Some(&track)) > 0.3, "{}", wrist_up(Some(&track)));
    }
}
