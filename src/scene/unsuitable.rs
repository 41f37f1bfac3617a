//! Views in which no stroke can be measured.

use serde::Serialize;

use crate::geometry::Point2;
use crate::order::{median, quantile};
use crate::pose::{Joint, Landmark, Motion, Side};

/// A player lower than this in the picture (highest to lowest landmark, pixels) is too small: a landmark's slip is then larger
/// than what a measure tells.
const SMALLEST: f64 = 100.0;

/// Where the ankles are in sight in less than this share of the frames, the player is cut off or hidden below the knee.
const ANKLES: f64 = 0.2;

/// An upright body's trunk looks longer than its shoulders are wide, from anywhere at the height of a person or a fence; from
/// straight above it shrinks to nothing. Shoulders are as wide as they look when they are square to the lens, most of the
/// widest.
const TRUNK_BY_SHOULDERS: f64 = 0.7;
const SQUARE: f64 = 0.9;

/// Why nothing is measured in a clip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unsuitable {
    /// The player is this many pixels high.
    TooSmall(f64),
    /// The legs are out of the picture or hidden below the knee.
    CutOff,
    /// The camera looks down on the player's head.
    FromAbove,
}

impl Unsuitable {
    /// Why a motion can't be measured; `None` where it can, or where nobody was seen.
    pub fn of(motion: &Motion) -> Option<Self> {
        let height = median((0..motion.len()).filter_map(|i| height(motion, i)))?;
        if height < SMALLEST {
            return Some(Self::TooSmall(height));
        }
        let hips: Vec<usize> =
            (0..motion.len()).filter(|i| middle(motion, *i, Joint::Hip).is_some()).collect();
        let ankle = |i: &&usize| {
            [Side::Left, Side::Right].iter().any(|side| motion.point(**i, Joint::Ankle.on(*side)).is_some())
        };
        let with_ankles = hips.iter().filter(ankle).count();
        if (with_ankles as f64) < ANKLES * hips.len() as f64 {
            return Some(Self::CutOff);
        }
        let trunk =
            |i: &usize| Some(middle(motion, *i, Joint::Shoulder)?.distance(middle(motion, *i, Joint::Hip)?));
        let shoulders = |i: usize| {
            let at = |side| Some(motion.point(i, Joint::Shoulder.on(side))?.at);
            Some(at(Side::Left)?.distance(at(Side::Right)?))
        };
        let trunk = median(hips.iter().filter_map(trunk))?;
        let shoulders = quantile((0..motion.len()).filter_map(shoulders).collect(), SQUARE)?;
        (trunk < TRUNK_BY_SHOULDERS * shoulders).then_some(Self::FromAbove)
    }

    /// What a person should know, and do.
    pub fn words(self) -> String {
        match self {
            Self::TooSmall(pixels) => format!(
                "nothing was measured: the player is only {pixels:.0} pixels high; film from nearer, so that the player is at \
                 least {SMALLEST:.0} pixels high"
            ),
            Self::CutOff => "nothing was measured: the player's legs are out of the picture or hidden; keep the whole body \
                             in the picture, feet too"
                .to_owned(),
            Self::FromAbove => "nothing was measured: the camera looks down on the player from above; film from the height \
                                of a person or over the back fence"
                .to_owned(),
        }
    }
}

/// From the highest to the lowest landmark in a frame, pixels.
fn height(motion: &Motion, frame: usize) -> Option<f64> {
    let rows = || Landmark::ALL.into_iter().filter_map(|l| Some(motion.point(frame, l)?.at.y));
    Some(rows().max_by(f64::total_cmp)? - rows().min_by(f64::total_cmp)?)
}

/// The point between a pair of joints in a frame.
fn middle(motion: &Motion, frame: usize, joint: Joint) -> Option<Point2> {
    let at = |side| Some(motion.point(frame, joint.on(side))?.at);
    Some(at(Side::Left)?.lerp(at(Side::Right)?, 0.5))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::COUNT;
    use crate::pose::{MotionPoint, Track};
    use crate::units::{FrameIndex, Seconds};

    /// A body whose joints stand at places given in body heights: right, down.
    fn body(height: f64, leave_out: &[Joint], trunk: f64) -> Motion {
        let mut motion = Motion::from_track(&Track { size: (1280, 720), frames: Vec::new() });
        let places = [
            (Joint::Shoulder, 0.11, 0.18),
            (Joint::Elbow, 0.14, 0.35),
            (Joint::Wrist, 0.15, 0.45),
            (Joint::Hip, 0.08, 0.18 + trunk),
            (Joint::Knee, 0.08, 0.72),
            (Joint::Ankle, 0.08, 0.95),
        ];
        let mut points = [None; COUNT];
        let point = |x: f64, y: f64| {
            let at = Point2::new(640.0 + height * x, 100.0 + height * y);
            Some(MotionPoint { at, visibility: 1.0, bridged: false })
        };
        points[Landmark::Nose as usize] = point(0.0, 0.05);
        for (joint, across, down) in places.iter().filter(|(joint, ..)| !leave_out.contains(joint)) {
            points[joint.on(Side::Left) as usize] = point(*across, *down);
            points[joint.on(Side::Right) as usize] = point(-across, *down);
        }
        for i in 0..10 {
            motion.indices.push(FrameIndex(i));
            motion.times.push(Seconds(i as f64 / 30.0));
            motion.points.push(points);
        }
        motion
    }

    #[test]
    fn a_whole_player_at_eye_level_is_measured() {
        assert_eq!(Unsuitable::of(&body(300.0, &[], 0.32)), None);
    }

    #[test]
    fn a_distant_player_is_not() {
        assert!(
            matches!(Unsuitable::of(&body(90.0, &[], 0.32)), Some(Unsuitable::TooSmall(p)) if (80.0..82.0).contains(&p))
        );
    }

    #[test]
    fn neither_is_one_cut_at_the_knee_or_seen_from_above() {
        assert_eq!(Unsuitable::of(&body(300.0, &[Joint::Ankle], 0.32)), Some(Unsuitable::CutOff));
        assert_eq!(Unsuitable::of(&body(300.0, &[], 0.05)), Some(Unsuitable::FromAbove));
    }
}
