//! Whether a swing was slowed down before the clip came here, told from the swing itself.

use crate::order::median;
use crate::pose::Side;
use crate::scene::Space;
use crate::units::Seconds;

/// A swing lasts while the hand is faster than this share of its greatest speed.
const SHARE: f64 = 0.4;

/// It is looked for this far on either side of its peak: a stroke slowed eight times fits.
const REACH: Seconds = Seconds(1.6);

/// Speeds are taken over twice this.
const STEP: Seconds = Seconds(0.034);

/// Shorter swings, as of volleys, are too different to tell anything, metres.
const LEAST_WAY: f64 = 1.0;

/// An arm that is driven as hard as it can takes a time that grows with the root of its way. Seconds per root of a metre, the
/// usual value of rendered, recorded and real players; those of them who swing most slowly need half as much again.
const USUAL: f64 = 0.23;

/// Nobody who really hits needs so much longer than usual.
const LEAST_FACTOR: f64 = 2.3;

/// A player's own swings differ by less than this factor; where one does by more, it was filmed or saved at another pace.
const ALIKE: f64 = 1.5;

/// Which strokes of a clip are shown slowed down, and how many times, from how each compares with the usual ([`pace`]).
///
/// A player who practises gently swings about as slowly in every stroke, so one stroke is told apart from the others only where it
/// is far slower than they are.
pub fn slowed(paces: &[Option<f64>]) -> Vec<Option<f64>> {
    let Some(usual) = median(paces.iter().copied().flatten()) else { return vec![None; paces.len()] };
    let least = if usual < LEAST_FACTOR { LEAST_FACTOR.max(usual * ALIKE) } else { usual / ALIKE };
    paces.iter().map(|pace| pace.filter(|pace| *pace >= least)).collect()
}

/// How many times longer than bodies usually need the hand's swing around `peak` takes; `None` where it is too short to tell.
pub fn pace(space: &Space, hand: Side, peak: Seconds) -> Option<f64> {
    let speeds = speeds(space, hand, peak - REACH, peak + REACH);
    let near = |(time, _): &&(Seconds, f64)| (*time - peak).abs().0 < 0.2;
    let top = speeds.iter().filter(near).max_by(|a, b| a.1.total_cmp(&b.1))?.1;
    let middle = speeds.iter().position(|(_, speed)| *speed == top)?;
    let is_slower = |(_, speed): &(Seconds, f64)| *speed < SHARE * top;
    let first = speeds[..middle].iter().rposition(is_slower)?;
    let last = middle + speeds[middle..].iter().position(is_slower)?;
    let way: f64 = speeds[first..=last]
        .windows(2)
        .map(|pair| (pair[1].0 - pair[0].0).0 * 0.5 * (pair[0].1 + pair[1].1))
        .sum();
    let time = (speeds[last].0 - speeds[first].0).0;
    (way >= LEAST_WAY).then(|| time / way.sqrt() / USUAL)
}

/// Speed of the hand relative to the hips, metres per second, in the pictures between two times.
fn speeds(space: &Space, hand: Side, from: Seconds, to: Seconds) -> Vec<(Seconds, f64)> {
    let at = |time: Seconds| space.times.partition_point(|t| *t < time);
    (at(from)..at(to))
        .filter_map(|i| {
            let (before, after) =
                (at(space.times[i] - STEP), at(space.times[i] + STEP).min(space.times.len() - 1));
            let span = (space.times[after] - space.times[before]).0;
            let way = (space.hand(after, hand)? - space.hand(before, hand)?).norm();
            (span > 0.0).then_some((space.times[i], way / span))
        })
        .collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::geometry::Camera;
    use crate::pose::Joint;
    use crate::pose::landmark::COUNT;
    use crate::scene::{Lens, Stand, Teller};
    use crate::units::Metres;

    /// A hand that swings 1.6 m in `duration` seconds, hips at rest.
    pub fn swing(duration: f64) -> Space {
        let times: Vec<Seconds> = (0..180).map(|i| Seconds(i as f64 / 60.0)).collect();
        let points: Vec<[Option<Camera>; COUNT]> = times
            .iter()
            .map(|time| {
                let share = ((time.0 - 1.5) / duration + 0.5).clamp(0.0, 1.0);
                let along = 0.8 - 0.8 * (std::f64::consts::PI * share).cos();
                let mut points = [None; COUNT];
                for side in [Side::Left, Side::Right] {
                    points[Joint::Hip.on(side) as usize] = Some(Camera::new(0.0, 0.0, 5.0));
                    points[Joint::Wrist.on(side) as usize] = Some(Camera::new(along, 0.3, 5.0));
                }
                points
            })
            .collect();
        Space {
            rate: 60.0,
            points: points.into(),
            visibility: vec![[1.0; COUNT]; times.len()],
            depth_spread: vec![[0.1; COUNT]; times.len()],
            stand: Stand::level(Lens::usual((1280, 720))),
            size: (1280, 720),
            scale: vec![None; times.len()],
            sway: Default::default(),
            stature: Metres(1.75),
            teller: Teller::PoseNetwork,
            jitter: 0.0,
            times,
        }
    }

    #[test]
    fn a_swing_shown_four_times_slower_is_told() {
        let alone = |duration| slowed(&[pace(&swing(duration), Side::Right, Seconds(1.5))])[0];
        assert_eq!(alone(0.35), None);
        let factor = alone(1.4).unwrap();
        assert!((3.0..5.5).contains(&factor), "{factor}");
    }

    #[test]
    fn gentle_swings_that_are_alike_were_not_slowed_one_by_one() {
        let gentle = [2.0, 2.35, 2.4, 2.1, 2.2].map(Some);
        assert_eq!(slowed(&gentle), [None; 5]);
        let ramp = [Some(1.2), None, Some(4.1), Some(1.3)];
        assert_eq!(slowed(&ramp), [None, None, Some(4.1), None]);
        let all = [Some(3.6), Some(2.9), None];
        assert_eq!(slowed(&all), all);
    }

    #[test]
    fn a_short_movement_tells_nothing() {
        let mut space = swing(1.4);
        let wrist = Joint::Wrist.on(Side::Right) as usize;
        for i in 0..space.points.len() {
            let at = space.points.get(i, wrist).unwrap();
            space.points.set(i, wrist, Some(Camera { right: 0.3 * at.right, ..at }));
        }
        assert_eq!(pace(&space, Side::Right, Seconds(1.5)), None);
    }
}
