//! How a camera that was moved looked elsewhere, picture by picture, and what is seen through one that stood still.

use std::borrow::Cow;

use crate::geometry::Point2;
use crate::order::{median, quantile};
use crate::pose::{Motion, MotionPoint};
use crate::units::{Degrees, Seconds};

/// What is left of a camera's movement once the background's shift is taken out, as a share of it; over how long it is taken,
/// and in which share of a clip it is smaller. The player is nearer than the background, and what is seen beside the axis
/// shifts more than what is on it.
const LEFT: f64 = 0.05;
const STROKE: Seconds = Seconds(0.5);
const OFTEN: f64 = 0.9;

/// How far the background has moved in each picture from where it is most of the clip, pixels.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sway {
    times: Vec<Seconds>,
    /// To the right and down; none for a camera that stood still, and where it isn't known.
    shifts: Vec<Point2>,
}

impl Sway {
    /// What the background of a motion's pictures tells, while the player is in sight.
    pub fn of(motion: &Motion) -> Self {
        let shifts = &motion.background;
        let seen: Vec<usize> =
            (0..motion.len().min(shifts.len())).filter(|i| motion.points.is_known(*i)).collect();
        if shifts.len() != motion.len() || seen.iter().all(|i| shifts[*i] == shifts[seen[0]]) {
            return Self::default();
        }
        let usual = |of: fn(&Point2) -> f64| median(seen.iter().map(|i| of(&shifts[*i]))).unwrap_or(0.0);
        let (x, y) = (usual(|shift| shift.x), usual(|shift| shift.y));
        let shifts = shifts.iter().map(|shift| Point2::new(shift.x - x, shift.y - y)).collect();
        Self { times: motion.times.clone(), shifts }
    }

    /// The motion as a camera that stood still would have seen it.
    pub fn steadied<'m>(&self, motion: &'m Motion) -> Cow<'m, Motion> {
        if self.shifts.is_empty() {
            return Cow::Borrowed(motion);
        }
        let mut steady = motion.clone();
        for (i, points) in motion.points.iter().enumerate() {
            for (k, point) in points.into_iter().enumerate() {
                let steadied = point.map(|point| MotionPoint { at: self.steady(i, point.at), ..point });
                steady.points.set(i, k, steadied);
            }
        }
        Cow::Owned(steady)
    }

    /// Where a pixel of a picture would lie had the camera stood still.
    pub fn steady(&self, picture: usize, pixel: Point2) -> Point2 {
        pixel - self.moved(picture)
    }

    /// How far the background of a picture has moved, pixels.
    pub fn moved(&self, picture: usize) -> Point2 {
        self.shifts.get(picture).copied().unwrap_or_default()
    }

    /// How far the background has moved at a time, between the pictures by a straight line.
    pub fn at(&self, time: Seconds) -> Point2 {
        let after = self.times.partition_point(|t| *t < time).min(self.shifts.len().saturating_sub(1));
        let before = after.saturating_sub(1);
        let (Some(a), Some(b)) = (self.shifts.get(before), self.shifts.get(after)) else {
            return Point2::default();
        };
        let span = (self.times[after] - self.times[before]).0;
        let share = if span > 0.0 { ((time - self.times[before]).0 / span).clamp(0.0, 1.0) } else { 0.0 };
        a.lerp(*b, share)
    }

    /// Standard deviation of a place that is left over a stroke, pixels; 0 for a camera that stood still.
    pub fn left(&self) -> f64 {
        let moved = (0..self.shifts.len()).map(|i| self.shifts[i].distance(self.at(self.times[i] + STROKE)));
        LEFT * quantile(moved.collect(), OFTEN).unwrap_or(0.0)
    }

    /// The angle between the outermost directions in which a camera with this focal length (pixels) looked.
    pub fn angle(&self, focal: f64) -> Degrees {
        let along = |of: fn(&Point2) -> f64| {
            let all = || self.shifts.iter().map(of);
            all().fold(f64::MIN, f64::max) - all().fold(f64::MAX, f64::min)
        };
        if self.shifts.is_empty() {
            return Degrees(0.0);
        }
        Degrees((along(|shift| shift.x).hypot(along(|shift| shift.y)) / focal).atan().to_degrees())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::Track;
    use crate::pose::landmark::{COUNT, Landmark};
    use crate::units::FrameIndex;

    /// A player who stands while the camera pans: the background and the player move left together.
    fn panned() -> Motion {
        let mut motion = Motion::from_track(&Track { size: (1280, 720), frames: Vec::new() });
        for i in 0..31 {
            let shift = -4.0 * f64::from(i);
            let mut points = [None; COUNT];
            let at = Point2::new(640.0 + shift, 300.0);
            points[Landmark::Nose as usize] = Some(MotionPoint { at, visibility: 1.0, bridged: false });
            motion.indices.push(FrameIndex(i as usize));
            motion.times.push(Seconds(f64::from(i) / 30.0));
            motion.points.push(points);
            motion.background.push(Point2::new(shift, 0.0));
        }
        motion
    }

    #[test]
    fn who_stands_while_the_camera_pans_stands_in_the_steadied_motion() {
        let motion = panned();
        let sway = Sway::of(&motion);
        let steady = sway.steadied(&motion);
        let nose = |i: usize| steady.point(i, Landmark::Nose).unwrap().at;
        assert!((0..31).all(|i| nose(i).distance(nose(15)) < 1e-3));
        // In the middle of the pan the camera looks where it looks most of the clip.
        assert_eq!(nose(15), motion.point(15, Landmark::Nose).unwrap().at);
        let back = sway.at(motion.times[3]);
        assert!((nose(3).x + back.x - motion.point(3, Landmark::Nose).unwrap().at.x).abs() < 1e-3);
        assert!((sway.angle(1000.0).0 - 6.84).abs() < 0.1, "{:?}", sway.angle(1000.0));
        assert!((sway.left() - 0.05 * 60.0).abs() < 0.3, "{}", sway.left());
    }

    #[test]
    fn a_camera_that_stood_still_changes_nothing() {
        let mut motion = panned();
        motion.background.fill(Point2::new(3.0, 0.0));
        assert_eq!(Sway::of(&motion), Sway::default());
        motion.background.clear();
        assert_eq!(Sway::of(&motion), Sway::default());
        assert_eq!(Sway::default().at(Seconds(1.0)), Point2::default());
        assert_eq!(Sway::default().angle(1000.0), Degrees(0.0));
    }
}
