//! The player's motion in the court's frame.

use super::direction::Direction;
use super::space::Space;
use crate::geometry::{Camera, Court};
use crate::order::median;
use crate::pose::curve::Between;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::units::{Degrees, Seconds};

/// Positions are not interpolated across gaps longer than this.
const LONGEST_STEP: Seconds = Seconds(0.2);

/// The turn between the camera's frame and the court's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axes {
    sin: f64,
    cos: f64,
    hitting: f64,
}

impl Axes {
    /// Axes for a net that lies at `angle` (0 = right in the picture, 90 = away from the camera).
    pub fn new(angle: Degrees, hand: Side) -> Self {
        let (sin, cos) = angle.radians().sin_cos();
        Self { sin, cos, hitting: if hand == Side::Right { 1.0 } else { -1.0 } }
    }

    /// From the camera's frame to the court's.
    pub fn to_court(self, c: Camera) -> Court {
        Court {
            net: c.right * self.cos + c.away * self.sin,
            side: self.hitting * (c.right * self.sin - c.away * self.cos),
            up: c.up,
        }
    }

    /// From the court's frame to the camera's.
    pub fn to_camera(self, p: Court) -> Camera {
        let side = self.hitting * p.side;
        Camera {
            right: p.net * self.cos + side * self.sin,
            up: p.up,
            away: p.net * self.sin - side * self.cos,
        }
    }
}

/// One player's joints over a stretch of time in the court's frame: `net` toward the net, `side` toward the hitting arm's
/// side, `up` over the ground; metres. The origin of `net` and `side` is arbitrary but fixed within a motion.
#[derive(Debug, Clone, PartialEq)]
pub struct CourtMotion {
    /// The hitting hand.
    pub hand: Side,
    /// Times of the pictures.
    pub times: Vec<Seconds>,
    /// Joints per picture.
    pub points: Vec<[Option<Court>; COUNT]>,
    /// Visibility of each joint, 0 to 1.
    pub visibility: Vec<[f32; COUNT]>,
    /// Standard deviation of each joint's depth along the lens, metres.
    pub depth_spread: Vec<[f32; COUNT]>,
    /// Where the net is from the camera, which says what lies in the picture's plane and what is depth.
    pub direction: Direction,
    /// Height of the ground in the camera's frame, metres.
    pub ground: f64,
}

/// The landmarks that touch the ground.
pub fn soles() -> impl Iterator<Item = Landmark> {
    let of = |side: Side| [Joint::Heel.on(side), Joint::Toe.on(side)];
    [Side::Left, Side::Right].into_iter().flat_map(of)
}

#[cfg(test)]
impl CourtMotion {
    /// A right-hander's motion that is seen and known through and through, square to the lens.
    pub fn plain(points: Vec<[Option<Court>; COUNT]>, times: Vec<Seconds>) -> Self {
        Self {
            hand: Side::Right,
            visibility: vec![[1.0; COUNT]; times.len()],
            depth_spread: vec![[0.0; COUNT]; times.len()],
            points,
            times,
            direction: Direction::at(Degrees(0.0)),
            ground: 0.0,
        }
    }
}

impl CourtMotion {
    /// Turns the pictures `frames` of a motion in the camera's frame so that one axis points to the net.
    pub fn new(space: &Space, direction: &Direction, hand: Side, frames: std::ops::Range<usize>) -> Self {
        let axes = Axes::new(direction.angle, hand);
        let to_court = |i: usize| space.points.at(i).map(|point| point.map(|c| axes.to_court(c)));
        let mut motion = Self {
            hand,
            times: space.times[frames.clone()].to_vec(),
            points: frames.clone().map(to_court).collect(),
            visibility: space.visibility[frames.clone()].to_vec(),
            depth_spread: space.depth_spread[frames].to_vec(),
            direction: *direction,
            ground: 0.0,
        };
        motion.set_on_ground();
        motion
    }

    /// Shifts the motion so that the ground, taken as the level of the lower foot most of the time, is at `up` = 0.
    pub(super) fn set_on_ground(&mut self) {
        let lowest = |frame: &[Option<Court>; COUNT]| {
            soles().filter_map(|l| frame[l as usize]).map(|p| p.up).min_by(f64::total_cmp)
        };
        let Some(ground) = median(self.points.iter().filter_map(lowest)) else { return };
        for point in self.points.iter_mut().flatten().flatten() {
            point.up -= ground;
        }
        self.ground += ground;
    }

    /// A point of this motion in the frame of the camera that it was taken with.
    pub fn in_camera(&self, at: Court) -> Camera {
        let level = Axes::new(self.direction.angle, self.hand).to_camera(at);
        Camera { up: level.up + self.ground, ..level }
    }

    /// A point of the camera's frame in this motion's.
    pub fn in_court(&self, at: Camera) -> Court {
        let court = Axes::new(self.direction.angle, self.hand).to_court(at);
        Court { up: court.up - self.ground, ..court }
    }

    /// How much of a movement toward the net lies in the picture's plane, 0 to 1 (1 = all of it, as from the side).
    pub fn net_in_picture(&self) -> f64 {
        self.direction.angle.radians().cos().abs()
    }

    /// How much of a movement across lies in the picture's plane, 0 to 1.
    pub fn side_in_picture(&self) -> f64 {
        self.direction.angle.radians().sin().abs()
    }

    /// How much of a direction of the court's frame lies along the lens, away from it.
    pub fn along_lens(&self, direction: Court) -> f64 {
        Axes::new(self.direction.angle, self.hand).to_camera(direction).away
    }

    /// A joint of the hitting side.
    pub fn hitting(&self, joint: Joint) -> Landmark {
        joint.on(self.hand)
    }

    /// A joint of the other side.
    pub fn off(&self, joint: Joint) -> Landmark {
        joint.on(self.hand.other())
    }

    /// First and last time of the motion; `None` when it is empty.
    pub fn span(&self) -> Option<(Seconds, Seconds)> {
        Some((*self.times.first()?, *self.times.last()?))
    }

    /// A landmark's position at any time within the motion, between pictures by a cubic through the neighbours; `None`
    /// outside or in a gap.
    pub fn at(&self, landmark: Landmark, time: Seconds) -> Option<Court> {
        self.moment(time).at(landmark)
    }

    /// The motion at a time: where several landmarks are wanted there, what they share is worked out once.
    pub fn moment(&self, time: Seconds) -> Moment<'_> {
        Moment { motion: self, place: self.place(time) }
    }

    fn place(&self, time: Seconds) -> Place {
        let right = self.first_from(time);
        let Some(t2) = self.times.get(right) else { return Place::Nowhere };
        if *t2 == time {
            return Place::Frame(right);
        }
        let Some(left) = right.checked_sub(1) else { return Place::Nowhere };
        let t1 = self.times[left];
        if *t2 - t1 > LONGEST_STEP {
            return Place::Nowhere;
        }
        let t0 = left.checked_sub(1).map_or(t1, |i| self.times[i]);
        let t3 = self.times.get(right + 1).unwrap_or(t2);
        Place::Between(left, Between::of([t0.0, t1.0, t2.0, t3.0], time.0))
    }

    /// Place of the first frame that is not before a time. Frames come in nearly even steps: it is next to where even steps would have it.
    pub(super) fn first_from(&self, time: Seconds) -> usize {
        let n = self.times.len();
        let Some((first, last)) = self.span() else { return 0 };
        let share = (time - first).0 / (last - first).0.max(1e-9);
        let mut place = (share * (n - 1) as f64).clamp(0.0, n as f64) as usize;
        while place < n && self.times[place] < time {
            place += 1;
        }
        while place > 0 && self.times[place - 1] >= time {
            place -= 1;
        }
        place
    }

    /// The point half way between a joint's left and right.
    pub fn middle(&self, joint: Joint, time: Seconds) -> Option<Court> {
        self.moment(time).middle(joint)
    }

    /// The hitting hand (its wrist).
    pub fn hand_at(&self, time: Seconds) -> Option<Court> {
        self.at(self.hitting(Joint::Wrist), time)
    }

    /// The hitting hand relative to the middle of the hips.
    pub fn hand_from_hips(&self, time: Seconds) -> Option<Court> {
        let now = self.moment(time);
        Some(now.hand()? - now.middle(Joint::Hip)?)
    }

    /// Velocity of a point that moves as `path` says, metres per second, by a central difference over `step`.
    pub fn velocity(path: impl Fn(Seconds) -> Option<Court>, time: Seconds, step: Seconds) -> Option<Court> {
        Some((path(time + step)? - path(time - step)?) / (2.0 * step.0))
    }
}

/// Where a time lies among a motion's frames.
#[derive(Debug, Clone, Copy)]
enum Place {
    /// Outside, or in a gap.
    Nowhere,
    /// In one of them.
    Frame(usize),
    /// Between this one and the next.
    Between(usize, Between),
}

/// A motion at one time.
#[derive(Debug, Clone, Copy)]
pub struct Moment<'a> {
    motion: &'a CourtMotion,
    place: Place,
}

impl Moment<'_> {
    /// A landmark's position, as [`CourtMotion::at`] has it.
    pub fn at(&self, landmark: Landmark) -> Option<Court> {
        let (k, points) = (landmark as usize, self.motion.points.as_slice());
        match self.place {
            Place::Nowhere => None,
            Place::Frame(frame) => points[frame][k],
            Place::Between(left, between) => {
                let (p1, p2) = (points[left][k]?, points[left + 1][k]?);
                let p0 = left.checked_sub(1).and_then(|i| points[i][k]);
                let p3 = points.get(left + 2).and_then(|frame| frame[k]);
                let weights = between.weights([p0.is_some(), p3.is_some()]);
                let (p0, p3) = (p0.unwrap_or(p1), p3.unwrap_or(p2));
                Some(p0 * weights[0] + p1 * weights[1] + p2 * weights[2] + p3 * weights[3])
            }
        }
    }

    /// A joint of the hitting side.
    pub fn hitting(&self, joint: Joint) -> Option<Court> {
        self.at(self.motion.hitting(joint))
    }

    /// A joint of the other side.
    pub fn off(&self, joint: Joint) -> Option<Court> {
        self.at(self.motion.off(joint))
    }

    /// The point half way between a joint's left and right.
    pub fn middle(&self, joint: Joint) -> Option<Court> {
        Some(self.at(joint.on(Side::Left))?.middle(self.at(joint.on(Side::Right))?))
    }

    /// The hitting hand (its wrist).
    pub fn hand(&self) -> Option<Court> {
        self.hitting(Joint::Wrist)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::View;

    #[test]
    fn the_frame_at_a_time_is_found_where_steps_are_uneven() {
        let times = [0.0, 0.1, 0.11, 0.12, 0.9, 0.9, 1.0].map(Seconds).to_vec();
        let motion = CourtMotion {
            hand: Side::Right,
            points: vec![[None; COUNT]; times.len()],
            visibility: vec![[1.0; COUNT]; times.len()],
            depth_spread: vec![[0.1; COUNT]; times.len()],
            direction: Direction { angle: Degrees(0.0), spread: Degrees(0.0), view: View::Side },
            ground: 0.0,
            times,
        };
        for time in [-1.0, 0.0, 0.05, 0.1, 0.105, 0.12, 0.5, 0.9, 0.95, 1.0, 2.0, f64::NAN].map(Seconds) {
            assert_eq!(motion.first_from(time), motion.times.partition_point(|t| *t < time), "{time:?}");
        }
    }
}
