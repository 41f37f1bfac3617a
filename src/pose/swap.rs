//! Catching frames in which the model takes the player's left for the right.

use super::landmark::{Joint, Landmark, Side};
use super::track::{Pose, Track, typical_height};
use crate::geometry::Point2;
use crate::units::Seconds;

/// The joints that vote on whether a pose is mirrored; the head's points are too close together to help.
const VOTERS: [Joint; 6] =
    [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Hip, Joint::Knee, Joint::Ankle];

/// What a second with exchanged labels costs, in body heights summed over the voters: the model is right more often than
/// not, so where continuity can't tell, its own labels stand. A true exchange of the whole body moves the voters by two
/// body heights or more.
const EXCHANGED_COST: f64 = 0.3;

/// After a gap this long nothing is continuous any more.
const LONGEST_STEP: Seconds = Seconds(0.25);

/// Relabels left and right where the model exchanged them; answers with the pictures in which it did, true for these.
///
/// The labelling is the one with the shortest way for all joints over the whole clip (Viterbi's algorithm over two
/// labellings per picture), so a single doubtful picture, as when the arms cross, can't turn all that follow.
pub fn straighten(track: &mut Track) -> Vec<bool> {
    let height = typical_height(track);
    let seen: Vec<usize> = (0..track.frames.len()).filter(|&i| track.frames[i].pose.is_some()).collect();
    // Cost of the best way to each picture with its labels kept or exchanged, and where it came from.
    let mut cost = [0.0, 0.0];
    let mut from: Vec<[usize; 2]> = Vec::with_capacity(seen.len());
    for pair in seen.windows(2) {
        let (before, now) = (&track.frames[pair[0]], &track.frames[pair[1]]);
        let elapsed = (now.time - before.time).0;
        let (kept, exchanged) = match (&before.pose, &now.pose) {
            (Some(a), Some(b)) if now.time - before.time < LONGEST_STEP => {
                (way(a, b, false) / height, way(a, b, true) / height)
            }
            _ => (0.0, 0.0),
        };
        let mut next = [0.0; 2];
        let mut origin = [0; 2];
        for label in 0..2 {
            let stay = cost[label] + kept;
            let turn = cost[1 - label] + exchanged;
            origin[label] = if stay <= turn { label } else { 1 - label };
            next[label] = stay.min(turn) + label as f64 * EXCHANGED_COST * elapsed;
        }
        from.push(origin);
        cost = next;
    }
    let mut label = usize::from(cost[1] < cost[0]);
    let mut turned = vec![false; track.frames.len()];
    for (place, &i) in seen.iter().enumerate().rev() {
        if label == 1
            && let Some(pose) = &mut track.frames[i].pose
        {
            *pose = mirrored(pose);
            turned[i] = true;
        }
        if let Some(origin) = place.checked_sub(1).and_then(|p| from.get(p)) {
            label = origin[label];
        }
    }
    turned
}

/// How far the voters move from one pose to the next, pixels, with the second one's labels kept or exchanged.
fn way(before: &Pose, now: &Pose, exchange: bool) -> f64 {
    VOTERS
        .iter()
        .flat_map(|joint| [(joint, Side::Left), (joint, Side::Right)])
        .map(|(joint, side)| {
            let to = now.point(joint.on(if exchange { side.other() } else { side }));
            before.point(joint.on(side)).distance(to)
        })
        .sum()
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

#[cfg(test)]
mod tests {
    use super::super::landmark::COUNT;
    use super::super::track::TrackFrame;
    use super::*;
    use crate::units::FrameIndex;

    /// A person whose left points stand left of the right ones and who drifts to the right.
    fn walking(frames: usize) -> Track {
        let frames = (0..frames)
            .map(|i| {
                let points = Landmark::ALL
                    .iter()
                    .map(|l| {
                        let side = if l.name().contains("left") { -30.0 } else { 30.0 };
                        Point2::new(500.0 + side + 2.0 * i as f64, 100.0 + 10.0 * *l as usize as f64)
                    })
                    .collect();
                let pose = Pose { points, visibility: vec![1.0; COUNT], world: Vec::new(), presence: 1.0 };
                TrackFrame {
                    index: FrameIndex(i),
                    time: Seconds(i as f64 / 30.0),
                    duplicate: false,
                    pose: Some(pose),
                }
            })
            .collect();
        Track { size: (1280, 720), frames }
    }

    #[test]
    fn exchanged_stretches_are_turned_back() {
        let truth = walking(60);
        let mut track = truth.clone();
        for frame in &mut track.frames[20..33] {
            frame.pose = frame.pose.as_ref().map(mirrored);
        }
        let turned: Vec<bool> = (0..60).map(|i| (20..33).contains(&i)).collect();
        assert_eq!(straighten(&mut track), turned);
        assert_eq!(track, truth);
    }

    #[test]
    fn a_right_track_stays_as_it_is() {
        let truth = walking(40);
        let mut track = truth.clone();
        assert_eq!(straighten(&mut track), [false; 40]);
        assert_eq!(track, truth);
    }
}
