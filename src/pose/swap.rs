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

/// A picture in which left and right lie much closer together than in its neighbours can't say which is which (the model
/// often passes through such a pose while it exchanges them); it is left out and follows the picture before it.
const CLEAR_SHARE: f64 = 0.4;
const NEIGHBOURS: Seconds = Seconds(0.1);

/// Relabels left and right where the model exchanged them, and returns in how many pictures.
///
/// The labelling is the one with the shortest way for all joints over the whole clip (Viterbi's algorithm over two
/// labellings per picture), so a single doubtful picture, as when the arms cross, can't turn all that follow.
pub fn straighten(track: &mut Track) -> usize {
    let height = typical_height(track);
    let clear = clear_frames(track);
    let seen: Vec<usize> = (0..track.frames.len()).filter(|&i| clear[i]).collect();
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
    let mut labels = vec![None; track.frames.len()];
    for (place, &i) in seen.iter().enumerate().rev() {
        labels[i] = Some(label == 1);
        if let Some(origin) = place.checked_sub(1).and_then(|p| from.get(p)) {
            label = origin[label];
        }
    }
    let mut count = 0;
    let mut last: Option<Pose> = None;
    for (frame, label) in track.frames.iter_mut().zip(labels) {
        let Some(pose) = &mut frame.pose else { continue };
        let nearer =
            || last.as_ref().is_some_and(|before| way(before, pose, true) < way(before, pose, false));
        if label.unwrap_or_else(nearer) {
            *pose = mirrored(pose);
            count += 1;
        }
        last = Some(pose.clone());
    }
    count
}

/// Which pictures show left and right clearly apart, compared with their neighbours.
fn clear_frames(track: &Track) -> Vec<bool> {
    let apart: Vec<Option<f64>> = track
        .frames
        .iter()
        .map(|frame| {
            let pose = frame.pose.as_ref()?;
            let pairs =
                VOTERS.iter().map(|j| pose.point(j.on(Side::Left)).distance(pose.point(j.on(Side::Right))));
            Some(pairs.sum())
        })
        .collect();
    let times: Vec<Seconds> = track.frames.iter().map(|f| f.time).collect();
    (0..apart.len())
        .map(|i| {
            let Some(own) = apart[i] else { return false };
            let first = times.partition_point(|t| *t < times[i] - NEIGHBOURS);
            let last = times.partition_point(|t| *t <= times[i] + NEIGHBOURS);
            let widest = apart[first..last].iter().flatten().fold(0.0, |m: f64, v| m.max(*v));
            own >= CLEAR_SHARE * widest
        })
        .collect()
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
