//! How a body looks in the picture: its size, the measure of all that a series of frames is read in, and where it stands.

use super::landmark::{Joint, Landmark, Side};
use crate::geometry::Point2;
use crate::order::quantile;
use crate::units::Seconds;

/// A body looks as large as its long readings near a moment, at this quantile: bent or turned to the lens it looks shorter than it is.
const LONG: f64 = 0.9;

/// A landmark less visible than this is a guess.
const IN_SIGHT: f64 = 0.3;

/// The middle between the heels, and the nose, pixels, where all are in sight; `seen` gives a landmark's place and its visibility, 0 to 1.
pub fn feet_and_nose(seen: impl Fn(Landmark) -> Option<(Point2, f64)>) -> Option<[Point2; 2]> {
    let at =
        |landmark| seen(landmark).filter(|(_, visibility)| *visibility >= IN_SIGHT).map(|(place, _)| place);
    let [left, right] = [Side::Left, Side::Right].map(|side| at(Joint::Heel.on(side)));
    Some([left?.lerp(right?, 0.5), at(Landmark::Nose)?])
}

/// The same where the heels may be guesses, as those of somebody who is cut off by the frame's lower edge.
pub fn guessed_feet_and_nose(seen: impl Fn(Landmark) -> Option<(Point2, f64)>) -> Option<[Point2; 2]> {
    feet_and_nose(|landmark| {
        let (place, visibility) = seen(landmark)?;
        Some((place, if landmark == Landmark::Nose { visibility } else { 1.0 }))
    })
}

/// Trunk plus the longer leg of a body; `length` is how far apart two points are, each the middle of two joints (twice the same joint for
/// one). `legs` are hip, knee and ankle of either side.
pub fn body_size<J: Copy>(
    shoulders: [J; 2],
    hips: [J; 2],
    legs: [[J; 3]; 2],
    length: impl Fn([J; 2], [J; 2]) -> f64,
) -> f64 {
    let leg = |[hip, knee, ankle]: [J; 3]| length([hip; 2], [knee; 2]) + length([knee; 2], [ankle; 2]);
    length(shoulders, hips) + leg(legs[0]).max(leg(legs[1]))
}

/// Size of the body at each of some times from readings at the same times, which may be too short, from those within `reach` to either
/// side.
pub fn sizes(readings: &[f64], times: &[f64], reach: Seconds) -> Vec<f64> {
    const ROUNDING: f64 = 1e-6;
    let near = |time: &f64| {
        let from = times.partition_point(|other| *other < time - reach.0 - ROUNDING);
        let to = times.partition_point(|other| *other <= time + reach.0 + ROUNDING);
        quantile(readings[from..to].to_vec(), LONG).unwrap_or(0.0)
    };
    times.iter().map(near).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feet_below_the_frame_are_guessed() {
        let cut_off = |landmark| match landmark {
            Landmark::Nose => Some((Point2::new(300.0, 100.0), 0.9)),
            _ => Some((Point2::new(310.0, 520.0), 0.0)),
        };
        assert_eq!(feet_and_nose(cut_off), None);
        let guessed = guessed_feet_and_nose(cut_off);
        assert_eq!(guessed, Some([Point2::new(310.0, 520.0), Point2::new(300.0, 100.0)]));
        assert_eq!(guessed_feet_and_nose(|landmark| cut_off(landmark).map(|(place, _)| (place, 0.0))), None);
    }

    #[test]
    fn a_body_that_bends_for_a_moment_keeps_its_size() {
        let times: Vec<f64> = (0..120).map(|i| f64::from(i) / 30.0).collect();
        let readings: Vec<f64> =
            times.iter().map(|t| if (1.8..2.2).contains(t) { 60.0 } else { 100.0 }).collect();
        assert!(sizes(&readings, &times, Seconds(1.0)).iter().all(|size| (size - 100.0).abs() < 1e-9));
        assert_eq!(sizes(&[], &[], Seconds(1.0)), Vec::<f64>::new());
    }

    #[test]
    fn the_longer_leg_counts() {
        let place = [0.0_f64, 10.0, 14.0, 18.0, 10.0, 13.0, 16.0];
        let middle = |[a, b]: [usize; 2]| 0.5 * (place[a] + place[b]);
        let length = |a, b| (middle(a) - middle(b)).abs();
        assert_eq!(body_size([0, 0], [1, 4], [[1, 2, 3], [4, 5, 6]], length), 18.0);
    }
}
