//! What the ground says about the depth of the feet.
//!
//! Two toes on the ground are level. A foot that is told to be too near lies, on its line of sight, too high, so that toes which don't
//! lie level tell by how much their depths are off: the more so the steeper the camera looks down on them. What is told and what the
//! ground says are weighed by their spreads; where they disagree by more than these allow, the feet's depth is known no better than
//! that (the spread is widened by the ratio of the two, as in Birge 1932, Phys Rev 40:207).

use crate::geometry::Camera;
use crate::pose::landmark::COUNT;
use crate::pose::{Compact, Joint, Side};
use crate::units::Seconds;

/// Toes that stand differ by so much in height for other reasons, metres (1 standard deviation): landmarks, soles, a foot on its tip. From
/// rendered players.
const UNEVEN: f64 = 0.03;

/// What the camera's tilt may be off by, as a share of how much farther one toe is told to be.
const TILT: f64 = 0.04;

/// A toe that is slower than this across the line of sight may stand, metres per second.
const STANDS: f64 = 1.0;

/// Heights are compared over so long on either side of a moment.
const AROUND: Seconds = Seconds(0.1);

/// Toes that are this many standard deviations off level don't both stand.
const OFF_THE_GROUND: f64 = 2.5;

/// By how much the other joints of a leg are off where its toe is, as a share: feet turn, and knees are known better. From rendered and
/// recorded players.
const FOLLOW: [(Joint, f64); 4] =
    [(Joint::Toe, 1.0), (Joint::Ankle, 0.75), (Joint::Heel, 0.75), (Joint::Knee, 0.45)];

/// Puts feet that stand where the ground and the told depths have them.
pub fn settle(points: &mut Compact<Camera>, times: &[Seconds], spread: &mut [[f32; COUNT]]) {
    let toes: Vec<Option<Toes>> = (0..times.len()).map(|i| Toes::at(points, times, spread, i)).collect();
    for i in 0..times.len() {
        let near = times.partition_point(|t| times[i] - *t > AROUND)
            ..times.partition_point(|t| *t - times[i] <= AROUND);
        let of_all = 1.0 / near.len().max(1) as f64;
        let standing: Vec<&Toes> = toes[near].iter().flatten().collect();
        let Some(found) = Toes::mean(&standing) else { continue };
        let share = standing.len() as f64 * of_all;
        let off = found.height / found.variance().sqrt();
        if off.abs() > OFF_THE_GROUND {
            continue;
        }
        let wider = 1.0 + share * (off.abs() - 1.0).max(0.0);
        for side in [Side::Left, Side::Right] {
            let gain = found.gain(side);
            for (joint, follow) in FOLLOW {
                let k = joint.on(side) as usize;
                let Some(at) = points.get(i, k) else { continue };
                let farther = share * follow * gain * found.height;
                points.set(i, k, Some(at * (1.0 + farther / at.away.max(0.1))));
                // What is left of the variance once the ground is known.
                let known = share * follow.powi(2) * gain.abs() * found.slope;
                spread[i][k] *= ((1.0 - known).max(0.0).sqrt() * wider) as f32;
            }
        }
    }
}

/// How two toes lie.
#[derive(Clone, Copy)]
struct Toes {
    /// By how much the left is higher, metres.
    height: f64,
    /// By how much it is farther from the lens, metres.
    farther: f64,
    /// By how much a foot sinks for each metre that it is put farther away.
    slope: f64,
    /// Spreads of the depths of left and right, metres.
    spread: [f64; 2],
}

impl Toes {
    /// `None` where a toe isn't seen or is too fast to stand.
    fn at(points: &Compact<Camera>, times: &[Seconds], spread: &[[f32; COUNT]], i: usize) -> Option<Self> {
        let (before, after) = (i.saturating_sub(1), (i + 1).min(times.len() - 1));
        let toe = |side: Side| {
            let k = Joint::Toe.on(side) as usize;
            let way = points.get(after, k)? - points.get(before, k)?;
            let speed = way.right.hypot(way.up) / (times[after] - times[before]).0.max(1e-6);
            points.get(i, k).filter(|_| speed < STANDS)
        };
        let (left, right) = (toe(Side::Left)?, toe(Side::Right)?);
        let middle = left.middle(right);
        Some(Self {
            height: left.up - right.up,
            farther: left.away - right.away,
            slope: -middle.up / middle.horizontal().norm().max(1e-6),
            spread: [Side::Left, Side::Right].map(|side| f64::from(spread[i][Joint::Toe.on(side) as usize])),
        })
    }

    fn mean(of: &[&Self]) -> Option<Self> {
        let mean =
            |value: &dyn Fn(&Self) -> f64| of.iter().map(|toes| value(toes)).sum::<f64>() / of.len() as f64;
        (!of.is_empty()).then(|| Self {
            height: mean(&|toes| toes.height),
            farther: mean(&|toes| toes.farther),
            slope: mean(&|toes| toes.slope),
            spread: [0, 1].map(|side| mean(&|toes| toes.spread[side])),
        })
    }

    /// Variance of the difference in height, square metres.
    fn variance(&self) -> f64 {
        let [left, right] = self.spread;
        self.slope.powi(2) * (left * left + right * right) + UNEVEN.powi(2) + (TILT * self.farther).powi(2)
    }

    /// By how much farther a foot is for each metre that the left toe is put over the right.
    fn gain(&self, side: Side) -> f64 {
        let (spread, sign) = if side == Side::Left { (self.spread[0], 1.0) } else { (self.spread[1], -1.0) };
        sign * spread * spread * self.slope / self.variance()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::Landmark;

    const SPREAD: f32 = 0.15;

    /// How much farther the left ankle is told to be than the right, and its spread, of feet that stand 0.4 m apart along the lens
    /// and are filmed from 1.2 m up at 5 m; the left one, which moves at `speed`, is first told to be `nearer` metres nearer than it is.
    fn settled(nearer: f64, speed: f64) -> (f64, f64) {
        let times: Vec<Seconds> = (0..11).map(|i| Seconds(f64::from(i) / 30.0)).collect();
        let mut points = Compact::nothing(times.len());
        for (i, time) in times.iter().enumerate() {
            for (side, right, away, told) in
                [(Side::Left, 0.2 + speed * time.0, 5.2, 5.2 - nearer), (Side::Right, -0.2, 4.8, 4.8)]
            {
                for (joint, up) in [(Joint::Toe, -1.2), (Joint::Ankle, -1.12)] {
                    let at = Camera::new(right, up, away) * (told / away);
                    points.set(i, joint.on(side) as usize, Some(at));
                }
            }
        }
        let mut spread = vec![[SPREAD; COUNT]; times.len()];
        settle(&mut points, &times, &mut spread);
        let ankle = |landmark: Landmark| points.get(5, landmark as usize).unwrap();
        let farther = ankle(Landmark::LeftAnkle).away - ankle(Landmark::RightAnkle).away;
        (farther, f64::from(spread[5][Landmark::LeftAnkle as usize]))
    }

    #[test]
    fn feet_on_the_ground_are_put_where_it_has_them() {
        let (level, known) = settled(0.0, 0.0);
        assert!((level - 0.4).abs() < 0.005, "{level}");
        assert!(known < f64::from(SPREAD), "the ground tells something: {known}");
        let (mended, _) = settled(0.2, 0.0);
        assert!(mended > 0.27 && mended < 0.4, "{mended} of 0.4, told 0.2");
    }

    #[test]
    fn a_foot_that_moves_or_is_far_off_the_ground_is_left_alone() {
        assert!((settled(0.2, 2.0).0 - 0.2).abs() < 1e-3);
        assert!((settled(1.0, 0.0).0 + 0.6).abs() < 1e-3);
    }

    #[test]
    fn where_ground_and_told_depths_disagree_neither_is_trusted() {
        let (_, agreeing) = settled(0.1, 0.0);
        let (_, disagreeing) = settled(0.5, 0.0);
        assert!(disagreeing > 1.2 * agreeing, "{disagreeing} against {agreeing}");
    }
}
