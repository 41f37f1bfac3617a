//! The player's motion in the picture: what every later room works on.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::compact::{Compact, DepthTable};
use super::curve::Place;
use super::landmark::{COUNT, Landmark};
use super::smooth;
use super::swap;
use super::track::{Track, TrackFrame, typical_height};
use crate::geometry::Point2;
use crate::units::{FrameIndex, Seconds};

/// Landmarks that the model itself gives less than this chance of being visible are not used.
const MIN_VISIBILITY: f32 = 0.15;

/// Gaps up to this long are bridged by a curve and marked; longer ones stay gaps.
const LONGEST_BRIDGE: Seconds = Seconds(0.15);

/// A single point that leaves the line between its neighbours by more than this share of the player's height, at 30
/// pictures a second, is a slip of the model and not a movement (a hand at 15 m/s that turns round stays under it).
const SPIKE: f64 = 0.16;

/// No part of the body moves faster than this across the picture, body heights per second (20 m/s; a hand in a serve
/// reaches 13).
const FASTEST: f64 = 11.5;

/// One landmark in one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotionPoint {
    /// Where it is, pixels of the upright picture.
    pub at: Point2,
    /// The model's chance that it is in sight, 0 to 1.
    pub visibility: f64,
    /// Whether it was bridged from its neighbours in time and not seen.
    pub bridged: bool,
}

/// Depth of the joints per frame, shared by all that hold it; `None` where it was not told.
pub type Depths = Arc<DepthTable>;

/// How far a joint is from the lens, as the depth network tells it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Depth {
    /// Farther than the middle of the hips over the ground, along the way from the camera to them, in pixels at the hips' distance.
    pub away: f64,
    /// Standard deviation of that, in the same unit.
    pub spread: f64,
}

/// The motion of one player: smoothed landmarks in every picture of the clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    /// Width and height of the upright picture, pixels.
    pub size: (u32, u32),
    /// Pictures per second of real time (inverse of the median interval).
    pub rate: f64,
    /// Numbers of the pictures.
    pub indices: Vec<FrameIndex>,
    /// Times of the pictures, seconds since the first one, increasing.
    pub times: Vec<Seconds>,
    /// Landmarks per picture, in the order of [`Landmark::ALL`]; `None` where a landmark was not seen.
    pub points: Compact<MotionPoint>,
    /// The model's body in space per picture (metres of the model's own body, origin between the hips, x right, y down,
    /// z away), smoothed like the points; `None` without a pose or for models that have none.
    pub world: Arc<Vec<Option<[[f32; 3]; COUNT]>>>,
    /// Depth of the joints per picture; `None` where it was not told ([`super::Lifter`] fills it).
    pub depth: Depths,
    /// In which pictures left and right were exchanged and had to be turned back.
    pub straightened: Vec<bool>,
    /// Frame-to-frame jitter of each landmark left after smoothing, pixels (1 standard deviation).
    pub jitter: [f64; COUNT],
    /// How far the background has moved to the right and down in each picture since the first one of its shot, pixels; empty
    /// where that is not known.
    pub background: Vec<Point2>,
    /// When another shot begins.
    pub cuts: Vec<Seconds>,
    /// What was seen before smoothing, to smooth it anew; empty where that is not known.
    pub seen: Seen,
}

/// What a model saw of the player's arms: straightened, without slips, with its gaps, before any smoothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen(Arc<Compact<MotionPoint, { ARMS.len() }>>);

/// A landmark as a model saw it, with its chance to be in sight.
type Sight = Option<(Point2, f64)>;

/// What was seen of a landmark in each frame of a track.
fn sights(track: &Track, times: &[Seconds], rate: f64, landmark: Landmark, height: f64) -> Vec<Sight> {
    let k = landmark as usize;
    let spike = SPIKE * height * (30.0 / rate).clamp(0.4, 1.0);
    let raw: Vec<Option<[f64; 2]>> = track
        .frames
        .iter()
        .map(|f| {
            let pose = f.pose.as_ref()?;
            (pose.visibility[k] >= MIN_VISIBILITY).then(|| [pose.points[k].x, pose.points[k].y])
        })
        .collect();
    let raw = without_leaps(without_spikes(raw, spike), times, height);
    let seen = |(at, frame): (Option<[f64; 2]>, &TrackFrame)| {
        let visibility = frame.pose.as_ref().map_or(0.0, |p| f64::from(p.visibility[k]));
        at.map(|[x, y]| (Point2::new(x, y), visibility))
    };
    raw.into_iter().zip(&track.frames).map(seen).collect()
}

/// The model's body in space, smoothed. It is the model's guess and shows no impact.
fn smooth_world(track: &Track, times: &[Seconds], rate: f64) -> Vec<Option<[[f32; 3]; COUNT]>> {
    let seen = |frame: &TrackFrame, k: usize| -> Option<[f64; 3]> {
        let body = &frame.pose.as_ref()?.world;
        (body.len() == COUNT).then(|| body[k].map(f64::from))
    };
    let mut world = vec![Some([[0.0; 3]; COUNT]); times.len()];
    for k in 0..COUNT {
        let raw: Vec<Option<[f64; 3]>> = track.frames.iter().map(|frame| seen(frame, k)).collect();
        for (frame, value) in world.iter_mut().zip(smooth_series(&raw, times, rate, &[])) {
            match (frame.as_mut(), value) {
                (Some(body), Some(v)) => body[k] = v.map(|metres| metres as f32),
                _ => *frame = None,
            }
        }
    }
    world
}

/// Pictures a second from which on the arms' speed may jump at an impact: with fewer, the stretch between two pictures is
/// longer than what an impact changes.
const STRUCK_RATE: f64 = 55.0;

/// What an impact shakes: the arms' own landmarks.
const ARMS: [Landmark; 8] = [
    Landmark::LeftElbow,
    Landmark::RightElbow,
    Landmark::LeftWrist,
    Landmark::RightWrist,
    Landmark::LeftPinky,
    Landmark::RightPinky,
    Landmark::LeftIndex,
    Landmark::RightIndex,
];

impl Motion {
    /// Straightens, bridges and smooths what the model saw.
    ///
    /// Duplicated pictures carry no news: their points are bridged from the neighbours.
    pub fn from_track(track: &Track) -> Self {
        let mut track = track.clone();
        for frame in &mut track.frames {
            if frame.duplicate || frame.pose.as_ref().is_some_and(|p| !p.is_well_formed()) {
                frame.pose = None;
            }
        }
        let straightened = swap::straighten(&mut track);
        let times: Vec<Seconds> = track.frames.iter().map(|f| f.time).collect();
        let rate = rate_of(&times);
        let mut motion = Self {
            size: track.size,
            rate,
            indices: track.frames.iter().map(|f| f.index).collect(),
            points: Compact::nothing(times.len()),
            world: Arc::default(),
            depth: Arc::new(DepthTable::nothing(times.len())),
            straightened,
            jitter: [0.0; COUNT],
            background: Vec::new(),
            cuts: Vec::new(),
            seen: Seen::default(),
            times: times.clone(),
        };
        let (world, ()) =
            rayon::join(|| smooth_world(&track, &times, rate), || motion.smooth_landmarks(&track));
        motion.world = Arc::new(world);
        motion
    }

    /// Smooths all landmarks of a track, and keeps of the arms what was seen.
    fn smooth_landmarks(&mut self, track: &Track) {
        let height = typical_height(track);
        let mut arms = Compact::nothing(self.len());
        for landmark in Landmark::ALL {
            let sights = sights(track, &self.times, self.rate, landmark, height);
            self.smooth(landmark, &sights, &[]);
            if let Some(arm) = ARMS.iter().position(|arm| *arm == landmark) {
                let point = |(at, visibility)| MotionPoint { at, visibility, bridged: false };
                sights.into_iter().enumerate().for_each(|(i, sight)| arms.set(i, arm, sight.map(point)));
            }
        }
        self.seen = Seen(Arc::new(arms));
    }

    /// The motion with arms whose speed may jump at each impact (increasing times): a filter that runs through an impact
    /// rounds off what the impact stops. Nothing changes where pictures are too few for it.
    pub fn struck_at(&self, impacts: &[Seconds]) -> Self {
        let mut motion = self.clone();
        if self.rate >= STRUCK_RATE && !impacts.is_empty() && !self.seen.0.is_empty() {
            for (arm, landmark) in ARMS.into_iter().enumerate() {
                let sight = |point: MotionPoint| (point.at, point.visibility);
                let sights: Vec<Sight> = self.seen.0.iter().map(|frame| frame[arm].map(sight)).collect();
                motion.smooth(landmark, &sights, impacts);
            }
        }
        motion
    }

    /// Smooths what was seen of a landmark.
    fn smooth(&mut self, landmark: Landmark, sights: &[Sight], impacts: &[Seconds]) {
        let k = landmark as usize;
        let raw: Vec<Option<[f64; 2]>> =
            sights.iter().map(|sight| sight.map(|(at, _)| [at.x, at.y])).collect();
        let smoothed = smooth_series(&raw, &self.times, self.rate, impacts);
        self.jitter[k] = residual(&raw, &smoothed);
        let mut visibility = 0.0;
        for (i, (sight, smoothed)) in sights.iter().zip(smoothed).enumerate() {
            visibility = sight.map_or(visibility, |(_, visibility)| visibility);
            let point = |[x, y]: [f64; 2]| MotionPoint {
                at: Point2::new(x, y),
                visibility,
                bridged: sight.is_none(),
            };
            self.points.set(i, k, smoothed.map(point));
        }
    }

    /// Number of pictures.
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Whether the clip has no picture.
    pub fn is_empty(&self) -> bool {
        self.times.is_empty()
    }

    /// A landmark in a picture, if it was seen or bridged there.
    pub fn point(&self, frame: usize, landmark: Landmark) -> Option<MotionPoint> {
        self.points.get(frame, landmark as usize)
    }

    /// Whether the player was seen in any picture.
    pub fn has_player(&self) -> bool {
        (0..self.len()).any(|i| self.points.is_known(i))
    }
}

/// Pictures per second from the median interval; 30 where there are too few pictures to tell.
fn rate_of(times: &[Seconds]) -> f64 {
    let mut steps: Vec<f64> = times.windows(2).map(|w| (w[1] - w[0]).0).filter(|d| *d > 0.0).collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).map_or(30.0, |d| 1.0 / d)
}

/// Drops single points that jump away from both neighbours and back.
fn without_spikes(raw: Vec<Option<[f64; 2]>>, limit: f64) -> Vec<Option<[f64; 2]>> {
    let mut kept = raw.clone();
    for i in 1..raw.len().saturating_sub(1) {
        if let (Some(a), Some(b), Some(c)) = (raw[i - 1], raw[i], raw[i + 1]) {
            let off = (b[0] - 0.5 * (a[0] + c[0])).hypot(b[1] - 0.5 * (a[1] + c[1]));
            let neighbours = (a[0] - c[0]).hypot(a[1] - c[1]);
            if off > limit && neighbours < off {
                kept[i] = None;
            }
        }
    }
    kept
}

/// Drops short stretches that lie between two leaps no limb can make, as when left and right are exchanged for a moment.
fn without_leaps(mut raw: Vec<Option<[f64; 2]>>, times: &[Seconds], height: f64) -> Vec<Option<[f64; 2]>> {
    let seen: Vec<usize> = (0..raw.len()).filter(|&i| raw[i].is_some()).collect();
    let leaps: Vec<usize> = (1..seen.len())
        .filter(|&k| {
            let (i, j) = (seen[k - 1], seen[k]);
            let (Some(a), Some(b)) = (raw[i], raw[j]) else { return false };
            (b[0] - a[0]).hypot(b[1] - a[1]) > FASTEST * height * (times[j] - times[i]).0
        })
        .collect();
    for pair in leaps.windows(2) {
        let (first, last) = (seen[pair[0]], seen[pair[1] - 1]);
        if times[last] - times[first] < LONGEST_BRIDGE {
            raw[first..=last].fill(None);
        }
    }
    raw
}

/// Bridges short gaps and smooths each stretch on an even grid, so that uneven picture times don't bend the filter. At an
/// impact the speed may jump.
fn smooth_series<const D: usize>(
    raw: &[Option<[f64; D]>],
    times: &[Seconds],
    rate: f64,
    impacts: &[Seconds],
) -> Vec<Option<[f64; D]>> {
    let mut out = vec![None; raw.len()];
    for (start, end) in stretches(raw, times) {
        let seen: Vec<usize> = (start..=end).filter(|&i| raw[i].is_some()).collect();
        let span = (times[end] - times[start]).0;
        let steps = (span * rate).round() as usize;
        if seen.len() < 2 || steps == 0 {
            out[start..=end].copy_from_slice(&raw[start..=end]);
            continue;
        }
        let step = span / steps as f64;
        let seen_times: Vec<f64> = seen.iter().map(|&i| times[i].0).collect();
        let grid_times: Vec<f64> = (0..=steps).map(|s| times[start].0 + s as f64 * step).collect();
        let value = |i: usize| raw[seen[i]].unwrap_or([0.0; D]);
        let grid: Vec<[f64; D]> = along(&seen_times, grid_times.iter().copied(), value).collect();
        let struck: Vec<f64> = impacts.iter().map(|t| (*t - times[start]).0 / step).collect();
        let grid = smooth::low_pass_struck(&grid, smooth::cutoff_for(rate), 1.0 / step, &struck);
        let smoothed = along(&grid_times, times[start..=end].iter().map(|t| t.0), |i| grid[i]);
        out[start..=end].iter_mut().zip(smoothed).for_each(|(out, at)| *out = Some(at));
    }
    out
}

/// A smooth curve with values at `knots` (increasing) at other times (increasing).
fn along<const D: usize>(
    knots: &[f64],
    times: impl Iterator<Item = f64>,
    value: impl Fn(usize) -> [f64; D],
) -> impl Iterator<Item = [f64; D]> {
    let mut right = 0;
    times.filter_map(move |t| {
        right += knots[right..].iter().take_while(|knot| **knot < t).count();
        let place = Place::beside(knots, right, t)?;
        Some(std::array::from_fn(|axis| place.value(|i| value(i)[axis])))
    })
}

/// Stretches of frames (first, last) in which no gap is longer than the longest bridge.
fn stretches<T>(raw: &[Option<T>], times: &[Seconds]) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for i in (0..raw.len()).filter(|&i| raw[i].is_some()) {
        match found.last_mut() {
            Some((_, end)) if times[i] - times[*end] <= LONGEST_BRIDGE => *end = i,
            _ => found.push((i, i)),
        }
    }
    found
}

/// Standard deviation, in pixels per axis, of what smoothing took away, from the median distance (Rayleigh's median is
/// 1.177 times its scale).
fn residual(raw: &[Option<[f64; 2]>], smoothed: &[Option<[f64; 2]>]) -> f64 {
    let mut distances: Vec<f64> = raw
        .iter()
        .zip(smoothed)
        .filter_map(|(r, s)| {
            let (r, s) = ((*r)?, (*s)?);
            Some((r[0] - s[0]).hypot(r[1] - s[1]))
        })
        .collect();
    distances.sort_by(f64::total_cmp);
    distances.get(distances.len() / 2).map_or(0.0, |d| d / 1.177)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A point that speeds up to 12 units a second at `impact` and goes on at half that speed.
    fn struck(times: &[Seconds], impact: f64) -> Vec<Option<[f64; 1]>> {
        times
            .iter()
            .map(|t| {
                let u = t.0 - impact;
                Some([if u < 0.0 { 12.0 * 0.1 * ((u / 0.1).exp() - 1.0) } else { 6.0 * u }])
            })
            .collect()
    }

    fn peak_speed(path: &[Option<[f64; 1]>], rate: f64, until: usize) -> f64 {
        (1..until).map(|i| (path[i].unwrap()[0] - path[i - 1].unwrap()[0]) * rate).fold(0.0, f64::max)
    }

    #[test]
    fn speed_before_an_impact_survives_smoothing() {
        for rate in [60.0, 120.0] {
            let times: Vec<Seconds> = (0..rate as usize).map(|i| Seconds(i as f64 / rate)).collect();
            let impact = Seconds(0.5 + 0.4 / rate);
            let raw = struck(&times, impact.0);
            let first_after = times.partition_point(|t| *t <= impact);
            let truth = peak_speed(&raw, rate, first_after);
            let jumping = peak_speed(&smooth_series(&raw, &times, rate, &[impact]), rate, first_after);
            let through = peak_speed(&smooth_series(&raw, &times, rate, &[]), rate, first_after);
            assert!((jumping / truth - 1.0).abs() < 0.04, "{rate}: {jumping} {through} {truth}");
            assert!(
                (jumping - truth).abs() < 0.3 * (through - truth).abs(),
                "{rate}: {jumping} {through} {truth}"
            );
        }
    }

    #[test]
    fn an_impact_that_changes_no_speed_gets_no_spike() {
        // A hand that slows evenly, with landmarks that jitter by a centimetre.
        let times: Vec<Seconds> = (0..60).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let speed = |t: f64| 5.0 - 8.0 * (t - 0.5);
        let place = |t: f64| 5.0 * t - 4.0 * (t - 0.5).powi(2);
        for seed in 0..40 {
            let mut state = 0x9e37_79b9_u32.wrapping_mul(seed + 1);
            let mut jitter = || {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                0.0346 * (f64::from(state >> 8) / f64::from(1 << 24) - 0.5)
            };
            let raw: Vec<Option<[f64; 1]>> = times.iter().map(|t| Some([place(t.0) + jitter()])).collect();
            let smoothed = smooth_series(&raw, &times, 60.0, &[Seconds(30.5 / 60.0)]);
            for i in 28..34 {
                let found = 60.0 * (smoothed[i].unwrap()[0] - smoothed[i - 1].unwrap()[0]);
                let truth = speed((times[i].0 + times[i - 1].0) / 2.0);
                assert!((found - truth).abs() < 0.8, "{seed}, {i}: {found} m/s, is {truth}");
            }
        }
    }

    #[test]
    fn pictures_missing_at_an_impact_are_bridged() {
        let times: Vec<Seconds> = (0..60).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let mut raw: Vec<Option<[f64; 1]>> = times.iter().map(|t| Some([3.0 * t.0])).collect();
        raw[30..33].fill(None);
        let smoothed = smooth_series(&raw, &times, 60.0, &[Seconds(30.5 / 60.0)]);
        for (i, at) in smoothed.iter().enumerate() {
            let [at] = at.unwrap();
            assert!((at - 3.0 * times[i].0).abs() < 0.02, "{i} {at}");
        }
    }
}
