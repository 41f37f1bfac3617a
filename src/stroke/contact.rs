//! The instant of impact from the hand's movement alone.

use super::kind::Kind;
use super::search;
use crate::geometry::Court;
use crate::scene::CourtMotion;
use crate::units::Seconds;

/// One way of reading contact from a curve: how long contact comes after the curve's extreme, and how far that varies
/// (1 standard deviation). Means over rendered and recorded players whose contact is known; a real player's habit is
/// part of the spread.
#[derive(Debug, Clone, Copy)]
struct Cue {
    lead: Seconds,
    spread: Seconds,
}

/// Peak of the hand's speed toward the net.
const FASTEST_FOREHAND: Cue = Cue { lead: Seconds(0.034), spread: Seconds(0.012) };
const FASTEST_OTHER: Cue = Cue { lead: Seconds(0.026), spread: Seconds(0.018) };

/// The hand farthest out to its side: the swing comes from the inside and crosses over after the ball.
const WIDEST: Cue = Cue { lead: Seconds(0.028), spread: Seconds(0.013) };

/// Contact is looked for this far on either side of the peak of the hand's speed.
const REACH: Seconds = Seconds(0.13);

/// From behind or in front the speed's peak is read late, out of depth and finish; the widest point lies farther back.
const WIDEST_REACH: Seconds = Seconds(0.25);

/// Step of the differences that give the hand's velocity.
const STEP: Seconds = Seconds(0.008);

/// A kinematic contact with its uncertainty from the spread between players (1 standard deviation), without the
/// landmarks' own noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KinematicContact {
    /// When the ball is met.
    pub time: Seconds,
    /// Standard deviation.
    pub spread: Seconds,
}

/// Reads contact near `peak`, the peak of the hand's speed relative to the hips.
///
/// From the side the peak of the speed toward the net is seen well; from behind or in front the hand's widest point is.
/// Both are weighed by how much of their movement lies in the picture's plane.
pub fn kinematic(motion: &CourtMotion, kind: Kind, peak: Seconds) -> Option<KinematicContact> {
    let toward_net = |t: Seconds| velocity_from_hips(motion, t).map(|v| v.net);
    let (fastest, _) = search::maximum(toward_net, peak - REACH, peak + REACH)?;
    let cue = if kind == Kind::Forehand { FASTEST_FOREHAND } else { FASTEST_OTHER };
    let mut readings = vec![(fastest + cue.lead, cue.spread / motion.net_in_picture().max(0.05))];
    if kind == Kind::Forehand && motion.side_in_picture() > 0.3 {
        let out = |t: Seconds| motion.hand_from_hips(t).map(|p| p.side);
        let (from, to) = (peak - WIDEST_REACH, peak + REACH);
        if let Some((widest, _)) = search::maximum(out, from, to)
            && widest > from + STEP
            && widest < to - STEP
        {
            readings.push((widest + WIDEST.lead, WIDEST.spread / motion.side_in_picture()));
        }
    }
    let weights: f64 = readings.iter().map(|(_, s)| s.0.powi(-2)).sum();
    let time = readings.iter().map(|(t, s)| t.0 * s.0.powi(-2)).sum::<f64>() / weights;
    Some(KinematicContact { time: Seconds(time), spread: Seconds(weights.powf(-0.5)).min(Seconds(0.05)) })
}

/// Velocity of the hand relative to the hips, metres per second.
pub fn velocity_from_hips(motion: &CourtMotion, time: Seconds) -> Option<Court> {
    CourtMotion::velocity(|t| motion.hand_from_hips(t), time, STEP)
}
