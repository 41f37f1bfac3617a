//! Turn of shoulders and hips, and the off arm that keeps them turned.

use super::Missing;
use super::readings::Readings;
use crate::geometry::wrapped;
use crate::pose::Joint;
use crate::scene::body::share;
use crate::stroke::{Stroke, phases, search};
use crate::units::Seconds;

/// The off arm is held out while its wrist is at least this share of its length from its shoulder and not lower than
/// this below it, metres.
const HELD_OUT_SHARE: f64 = 0.70;
const HELD_OUT_DROP: f64 = 0.30;

/// The off hand has left the racket when the wrists are this much farther apart than in the ready pose, metres.
const PARTED: f64 = 0.16;

/// The sign that makes turns away from the net positive: a backhand turns the other way.
fn away(stroke: &Stroke) -> Result<f64, Missing> {
    Ok(if stroke.is_across()? { -1.0 } else { 1.0 })
}

/// The turn of shoulders and hips at a time, degrees; `None` where it can't be told.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turns {
    shoulders: Option<f64>,
    hips: Option<f64>,
}

/// The turns from the preparation's start to contact.
pub(super) fn turns(stroke: &Stroke) -> Vec<(Seconds, Turns)> {
    let at = |t: Seconds| {
        let now = stroke.motion.moment(t);
        let turn = |joint| phases::turn_in(&now, joint).and_then(unwound);
        (t, Turns { shoulders: turn(Joint::Shoulder), hips: turn(Joint::Hip) })
    };
    search::times(stroke.phases.preparation_begin(), stroke.contact()).map(at).collect()
}

/// Largest turn between the preparation's start and contact.
fn largest_turn(readings: &Readings<'_>, turn: impl Fn(&Turns) -> Option<f64>) -> Result<f64, Missing> {
    let sign = away(readings.stroke)?;
    let turns = readings.turns().iter().filter_map(|(t, turns)| Some((*t, sign * turn(turns)?)));
    search::largest(turns).map(|(_, v)| v).ok_or(Missing::Hidden)
}

pub fn shoulder_turn(readings: &Readings<'_>) -> Result<f64, Missing> {
    largest_turn(readings, |turns| turns.shoulders)
}

pub fn hip_turn(readings: &Readings<'_>) -> Result<f64, Missing> {
    largest_turn(readings, |turns| turns.hips)
}

pub fn separation(readings: &Readings<'_>) -> Result<f64, Missing> {
    largest_turn(readings, |turns| Some(turns.shoulders? - turns.hips?))
}

/// Turns past straight back are slips of the model's depth: nobody turns that far in a stroke.
fn unwound(turn: f64) -> Option<f64> {
    const FARTHEST: f64 = 160.0;
    (turn.abs() < FARTHEST).then_some(turn)
}

/// The turn forward is looked for from so long before contact to so long after it.
const TURN_BEFORE: Seconds = Seconds(0.5);
const TURN_AFTER: Seconds = Seconds(0.05);

/// Half of the span over which a line's turn is taken for its rate: depth errs too fast for less.
const TURN_STEP: Seconds = Seconds(0.05);

/// How long before contact the line through a joint's left and right turns toward the net and on fastest, milliseconds.
fn fastest_turn(stroke: &Stroke, joint: Joint) -> Result<f64, Missing> {
    let sign = away(stroke)?;
    let met = stroke.contact();
    let rate = |t: Seconds| {
        let turn = |t| phases::turn(&stroke.motion, joint, t);
        Some(-sign * wrapped(turn(t + TURN_STEP)? - turn(t - TURN_STEP)?))
    };
    let (from, to) = (met - TURN_BEFORE, met + TURN_AFTER);
    let (at, _) = search::maximum(rate, from, to).ok_or(Missing::Hidden)?;
    // At an end of the window it may be faster outside.
    if at - from < search::STEP || to - at < search::STEP {
        return Err(Missing::Undefined);
    }
    Ok((met - at).milliseconds())
}

pub fn hips_before_contact(stroke: &Stroke) -> Result<f64, Missing> {
    fastest_turn(stroke, Joint::Hip)
}

pub fn shoulders_before_contact(stroke: &Stroke) -> Result<f64, Missing> {
    fastest_turn(stroke, Joint::Shoulder)
}

pub fn off_arm_hold(stroke: &Stroke) -> Result<f64, Missing> {
    let motion = &stroke.motion;
    let begin = stroke.phases.prep_start.ok_or(Missing::PhaseAbsent)?.time;
    let apart = |t: Seconds| {
        let now = motion.moment(t);
        let off = now.off(Joint::Wrist)?;
        Some((now.hand()? - off).norm())
    };
    let ready = apart(begin).ok_or(Missing::Hidden)?;
    let parted =
        search::first_at_or_under(|t| apart(t).map(|d| -d), -(ready + PARTED), begin, stroke.contact())
            .ok_or(Missing::Undefined)?;
    let shoulder = motion.off(Joint::Shoulder);
    let wrist = motion.off(Joint::Wrist);
    let arm = arm_length(stroke).ok_or(Missing::Hidden)?;
    let bent_or_low = |t: Seconds| {
        let now = motion.moment(t);
        let reach = now.at(wrist)? - now.at(shoulder)?;
        let slack = (reach.norm() - HELD_OUT_SHARE * arm).min(reach.up + HELD_OUT_DROP);
        Some(slack)
    };
    // Held out means that it was out at some time after parting; the hold ends when it no longer is.
    let out = search::first_at_or_under(|t| bent_or_low(t).map(|s| -s), 0.0, parted, stroke.contact())
        .ok_or(Missing::Undefined)?;
    let end = search::first_at_or_under(bent_or_low, 0.0, out + Seconds(0.02), stroke.contact())
        .unwrap_or(stroke.contact());
    Ok((end - parted).milliseconds())
}

/// Length of the off arm: its upper and forearm as they appear at their longest around the stroke.
fn arm_length(stroke: &Stroke) -> Option<f64> {
    let motion = &stroke.motion;
    let (from, to) = (stroke.phases.preparation_begin(), stroke.contact());
    let (mut upper, mut fore) = (Vec::new(), Vec::new());
    for now in search::times(from, to).map(|t| motion.moment(t)) {
        let length = |a: Joint, b: Joint| Some((now.off(a)? - now.off(b)?).norm());
        upper.extend(length(Joint::Shoulder, Joint::Elbow));
        fore.extend(length(Joint::Elbow, Joint::Wrist));
    }
    let longest = |mut lengths: Vec<f64>| {
        let place = lengths.len() * 3 / 4;
        (place < lengths.len()).then(|| *lengths.select_nth_unstable_by(place, f64::total_cmp).1)
    };
    // Without elbows the share of the shoulders' width stands in for the arm.
    match (longest(upper), longest(fore)) {
        (Some(upper), Some(fore)) => Some(upper + fore),
        _ => {
            let wide = motion.at(motion.hitting(Joint::Shoulder), to)?
                - motion.at(motion.off(Joint::Shoulder), to)?;
            Some(wide.norm() * (share::UPPER_ARM + share::FOREARM) / share::SHOULDERS)
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::measure::figure::{stroke, turned, value};
    use crate::pose::Landmark;
    use crate::stroke::Kind;

    /// Degrees still turned away from the net at a time, when the turn is half done and fastest at another.
    fn left(t: f64, half: f64) -> f64 {
        80.0 / (1.0 + ((t - half) / 0.04).exp())
    }

    #[test]
    fn hips_and_shoulders_are_timed_where_they_turn_fastest() {
        for (kind, sign) in [(Kind::Forehand, 1.0), (Kind::Backhand, -1.0)] {
            let stroke = stroke(kind, |landmark, t, at| match landmark {
                Landmark::LeftHip | Landmark::RightHip => turned(at, sign * left(t, -0.09)),
                Landmark::LeftShoulder | Landmark::RightShoulder => turned(at, sign * left(t, -0.05)),
                _ => at,
            });
            let at = |id| value(id, &stroke).unwrap();
            assert!((at("hips_before_contact_ms") - 90.0).abs() < 5.0, "{kind:?}");
            assert!((at("shoulders_before_contact_ms") - 50.0).abs() < 5.0, "{kind:?}");
        }
    }
}
