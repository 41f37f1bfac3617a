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
const FASTEST_FOREHAND: Cue = Cue { lead: Seconds(0.030), spread: Seconds(0.018) };
const FASTEST_OTHER: Cue = Cue { lead: Seconds(0.026), spread: Seconds(0.020) };

/// The speed toward the net fallen to half its peak: later than the peak, but where the speed stays high for long it is
/// the end of the plateau that follows contact, not its highest point.
const FALLEN_SHARE: f64 = 0.5;
const FALLEN_FOREHAND: Cue = Cue { lead: Seconds(-0.046), spread: Seconds(0.014) };
const FALLEN_OTHER: Cue = Cue { lead: Seconds(-0.028), spread: Seconds(0.022) };

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
    let (fastest, speed) = search::maximum(toward_net, peak - REACH, peak + REACH)?;
    let (at_peak, after_peak) = match kind {
        Kind::Forehand => (FASTEST_FOREHAND, FALLEN_FOREHAND),
        _ => (FASTEST_OTHER, FALLEN_OTHER),
    };
    let seen = motion.net_in_picture().max(0.05);
    let mut readings = vec![(fastest + at_peak.lead, at_peak.spread / seen)];
    let fallen =
        search::first_at_or_under(toward_net, FALLEN_SHARE * speed, fastest, fastest + REACH + REACH);
    if let Some(fallen) = fallen {
        readings.push((fallen + after_peak.lead, after_peak.spread / seen));
    }
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
    // Readings share the hand's errors, so together they are no surer than the best of them, and less sure where they
    // contradict each other.
    let best = readings.iter().map(|(_, s)| s.0).fold(f64::INFINITY, f64::min);
    let scatter = readings.iter().map(|(t, s)| (t.0 - time).powi(2) * s.0.powi(-2)).sum::<f64>() / weights;
    Some(KinematicContact { time: Seconds(time), spread: Seconds(best.min(0.05).hypot(scatter.sqrt())) })
}

/// Velocity of the hand relative to the hips, metres per second.
pub fn velocity_from_hips(motion: &CourtMotion, time: Seconds) -> Option<Court> {
    CourtMotion::velocity(|t| motion.hand_from_hips(t), time, STEP)
}
