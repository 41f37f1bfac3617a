//! The phases of a drawn motion, each boundary off by what reading it may be off by.

use rand::Rng;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::Sources;
use crate::pose::Joint;
use crate::scene::CourtMotion;
use crate::stroke::{Boundary, Mark, Method, Phases, Stroke, correction};
use crate::units::Seconds;

/// How far a boundary read from smoothed landmarks lies from the one in the joints' true motion, beyond what the draws
/// show (1 standard deviation): a flat extreme moves far in time for a small error in place. From rendered players.
fn boundary_spread(boundary: Boundary) -> Seconds {
    Seconds(match boundary {
        Boundary::BackswingEnd => 0.028,
        Boundary::FinishEnd => 0.026,
        Boundary::PrepStart => 0.020,
        Boundary::DropStart => 0.012,
        Boundary::ForwardStart => 0.008,
        Boundary::LowPoint => 0.008,
        Boundary::Contact => 0.0,
    })
}

/// How far the end of a finish may lie from a moment in which the hand only slowed (1 standard deviation): from recorded
/// rallies.
const OTHER_PAUSE: Seconds = Seconds(0.35);

/// How far the forward swing's start may lie from the backswing's end that stands for it (1 standard deviation): a good part of
/// a forward swing.
const UNSEEN_START: Seconds = Seconds(0.08);

/// How far a moment that is read from a hand out of sight may lie from the true one (1 standard deviation): from two-handed
/// backhands seen from the hitting side, where the body hides both hands.
const UNSEEN_HAND: Seconds = Seconds(0.08);

/// How far the start of the drop may lie from the true one where the way to the net lies along the lens (1 standard deviation): the hand
/// turns back and down at once, of which only the way down is seen. From players rendered from behind, in front and at an angle.
const DROP_ALONG_LENS: Seconds = Seconds(0.06);

/// How little of the hitting hand was seen from a boundary to contact (for the finish, from contact to its end): 0 = always in
/// sight, 1 = never.
fn unseen(motion: &CourtMotion, time: Seconds, contact: Seconds) -> f64 {
    let wrist = motion.hitting(Joint::Wrist) as usize;
    let (from, to) = (time.min(contact), time.max(contact));
    let (first, end) =
        (motion.times.partition_point(|t| *t < from), motion.times.partition_point(|t| *t <= to));
    let seen = |i: usize| motion.points[i][wrist].map_or(0.0, |_| f64::from(motion.visibility[i][wrist]));
    let count = end.saturating_sub(first);
    if count == 0 { 0.0 } else { 1.0 - (first..end).map(seen).sum::<f64>() / count as f64 }
}

/// The boundaries of a drawn `motion` of a `stroke` around its contact, each off by what reading it may be off by.
pub fn split(
    stroke: &Stroke,
    motion: &CourtMotion,
    mark: Mark,
    sources: &Sources,
    rng: &mut Pcg64Mcg,
) -> Phases {
    let met = mark.time;
    let mut phases = stroke.phases.again(motion, mark, stroke.sort());
    for boundary in Boundary::ALL {
        let normal: f64 = rng.sample(StandardNormal);
        if let Some(mark) = phases.get_mut(boundary) {
            let method = stroke.phases.get(boundary).map_or(mark.method, |found| found.method);
            let spread = match method {
                // Contact's own spread is in its time already.
                Method::Marked if boundary == Boundary::Contact => Seconds(0.0),
                Method::Marked => Seconds(correction::SPREAD_IN_PICTURES / sources.rate),
                Method::HandSlowed => OTHER_PAUSE,
                Method::BackswingEnd => UNSEEN_START,
                _ if boundary == Boundary::Contact => boundary_spread(boundary),
                Method::ShoulderTurn => boundary_spread(boundary),
                _ => {
                    let doubt = unseen(&stroke.motion, mark.time, met);
                    let along = match boundary {
                        Boundary::DropStart => 1.0 - stroke.motion.net_in_picture(),
                        _ => 0.0,
                    };
                    let own = boundary_spread(boundary).0.hypot(UNSEEN_HAND.0 * doubt);
                    Seconds(own.hypot(DROP_ALONG_LENS.0 * along))
                }
            };
            mark.time = mark.time + spread * normal;
        }
    }
    phases
}
