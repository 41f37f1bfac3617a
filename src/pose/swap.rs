//! Catching frames in which the model takes the player's left for the right.

use super::landmark::{Joint, Landmark, Side};
use super::track::{Pose, Track};
use crate::geometry::Point2;

/// The joints that vote on whether a pose is mirrored; the head's points are too close together to help.
const VOTERS: [Joint; 6] =
    [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Hip, Joint::Knee, Joint::Ankle];

/// How much better (as a ratio of summed distances) the mirrored pose must continue the one before it.
const CLEARLY_BETTER: f64 = 0.6;

/// A swap is only believed where the two readings differ by this share of the player's height in the picture.
const MIN_DIFFERENCE: f64 = 0.10;

/// Relabels left and right in every frame where the mirrored labels continue the motion much better, and returns how
/// many frames were turned round. The labels that most frames have are taken for right, weighted by how sure the model
/// was of them.
pub fn straighten(track: &mut Track) -> usize {
    let mut flips = vec![false; track.frames.len()];
    let mut last: Option<(usize, Pose)> = None;
    for i in 0..track.frames.len() {
        let Some(pose) = track.frames[i].pose.clone() else { continue };
        let mut straight = pose.clone();
        if let Some((previous_index, previous)) = &last {
            let elapsed = track.frames[i].time - track.frames[*previous_index].time;
            // After a long gap nothing is continuous any more: the model's own labels start afresh.
            if elapsed.0 < 0.25 && is_mirrored(previous, &pose) {
                straight = mirrored(&pose);
                flips[i] = true;
            }
        }
        last = Some((i, straight));
    }
    // Continuity alone can't say which of two consistent labellings is the true one; the majority is.
    let poses = track.frames.iter().filter(|f| f.pose.is_some()).count();
    let flipped = flips.iter().filter(|&&f| f).count();
    let invert = flipped * 2 > poses;
    let mut count = 0;
    for (frame, flip) in track.frames.iter_mut().zip(flips) {
        if flip != invert
            && let Some(pose) = &mut frame.pose
        {
            *pose = mirrored(pose);
            count += 1;
        }
    }
    count
}

/// Whether `pose` continues `previous` clearly better with its left and right exchanged.
fn is_mirrored(previous: &Pose, pose: &Pose) -> bool {
    let height = previous.points.iter().map(|p| p.y).fold(f64::MIN, f64::max)
        - previous.points.iter().map(|p| p.y).fold(f64::MAX, f64::min);
    let distance = |exchange: bool| -> f64 {
        VOTERS
            .iter()
            .flat_map(|j| [(j, Side::Left), (j, Side::Right)])
            .map(|(joint, side)| {
                let now = pose.point(joint.on(if exchange { side.other() } else { side }));
                previous.point(joint.on(side)).distance(now)
            })
            .sum()
    };
    let (kept, exchanged) = (distance(false), distance(true));
    exchanged < CLEARLY_BETTER * kept
        && kept - exchanged > MIN_DIFFERENCE * height * VOTERS.len() as f64 * 0.5
}

/// The same pose with every left label on the right point and the other way round.
fn mirrored(pose: &Pose) -> Pose {
    fn exchange<T: Copy>(values: &[T]) -> Vec<T> {
        if values.is_empty() {
            return Vec::new();
        }
        Landmark::ALL.iter().map(|l| values[l.mirrored() as usize]).collect()
    }
    Pose {
        points: exchange::<Point2>(&pose.points),
        visibility: exchange(&pose.visibility),
        world: exchange(&pose.world),
        presence: pose.presence,
    }
}
