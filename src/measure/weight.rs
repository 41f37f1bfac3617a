//! Feet and base of support.

use super::Missing;
use crate::geometry::Court;
use crate::order::quantile;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::CourtMotion;
use crate::stroke::{Boundary, Stroke, phases, search};
use crate::units::Seconds;

/// A base shorter than this has no direction along which a share would mean anything, metres.
const SHORTEST_BASE: f64 = 0.12;

/// The hand moves again faster than this when the recovery starts, metres per second.
const RECOVERY_SPEED: f64 = 0.5;

/// How long after the finish the recovery is waited for, and how long the heel is watched when no finish was seen.
const LONGEST_REST: Seconds = Seconds(0.8);
const WATCH_HEEL: Seconds = Seconds(0.6);

/// The ball of a foot that comes up on its toe rises less than this, metres; one that steps or hops rises more.
const STAYS: f64 = 0.04;

/// A heel stands flat at this share of its lowest readings.
const FLAT_SHARE: f64 = 0.25;

pub fn stance_width(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.contact();
    let hitting = stroke.joint(stroke.motion.hitting(Joint::Ankle), t)?;
    Ok(100.0 * (stroke.joint(stroke.motion.off(Joint::Ankle), t)? - hitting).horizontal().norm())
}

pub fn step_length(stroke: &Stroke) -> Result<f64, Missing> {
    let toe = Joint::Toe.on(stroke.front_foot()?);
    let before = stroke.joint(toe, stroke.time_of(Boundary::PrepStart)?)?;
    Ok(100.0 * (stroke.joint(toe, stroke.contact())?.net - before.net))
}

/// Share of the way from the back ankle to the front ankle at which a point projects onto the base.
fn over_base(stroke: &Stroke, point: Court, time: Seconds) -> Result<f64, Missing> {
    let front = stroke.front_foot()?;
    let back = stroke.joint(Joint::Ankle.on(front.other()), time)?;
    let base = (stroke.joint(Joint::Ankle.on(front), time)? - back).horizontal();
    if base.norm() < SHORTEST_BASE {
        return Err(Missing::Undefined);
    }
    Ok((point - back).dot(base) / base.dot(base))
}

/// Share of the way from the back ankle to the front ankle at which the middle of the hips projects onto the base at a time.
///
/// # Errors
/// Why it is missing.
pub fn pelvis_over_base(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    over_base(stroke, stroke.middle(Joint::Hip, time)?, time)
}

pub fn pelvis_over_base_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    pelvis_over_base(stroke, stroke.contact())
}

pub fn pelvis_over_base_at_finish(stroke: &Stroke) -> Result<f64, Missing> {
    pelvis_over_base(stroke, stroke.time_of(Boundary::FinishEnd)?)
}

pub fn mass_over_base_at_finish(stroke: &Stroke) -> Result<f64, Missing> {
    let t = stroke.time_of(Boundary::FinishEnd)?;
    over_base(stroke, centre_of_mass(stroke, t)?, t)
}

/// Centre of mass from the segments' ends; masses and centres as shares of body mass and segment length after de Leva
/// 1996 (means of his female and male tables), trunk and head taken between the middles of hips, shoulders and ears.
pub fn centre_of_mass(stroke: &Stroke, time: Seconds) -> Result<Court, Missing> {
    const TRUNK: (f64, f64) = (0.430, 0.555);
    const HEAD: f64 = 0.068;
    /// Proximal joint, distal joint, mass, centre from the proximal end.
    const SEGMENTS: [(Joint, Joint, f64, f64); 5] = [
        (Joint::Shoulder, Joint::Elbow, 0.0263, 0.576),
        (Joint::Elbow, Joint::Wrist, 0.0150, 0.457),
        (Joint::Wrist, Joint::Index, 0.0059, 0.770),
        (Joint::Hip, Joint::Knee, 0.1447, 0.385),
        (Joint::Knee, Joint::Ankle, 0.0457, 0.442),
    ];
    const FOOT: (f64, f64) = (0.0133, 0.42);
    let between = |a: Court, b: Court, share: f64| a + (b - a) * share;
    let (hips, shoulders) = (stroke.middle(Joint::Hip, time)?, stroke.middle(Joint::Shoulder, time)?);
    let head = stroke.middle(Joint::Ear, time).or_else(|_| stroke.joint(Landmark::Nose, time))?;
    let mut sum = between(hips, shoulders, TRUNK.1) * TRUNK.0 + head * HEAD;
    let mut mass = TRUNK.0 + HEAD;
    for side in [Side::Left, Side::Right] {
        // A hidden or missing part of an arm weighs little; it is taken to hang at the shoulder or end at the wrist.
        let shoulder = stroke.joint(Joint::Shoulder.on(side), time)?;
        let place = |joint: Joint| match joint {
            Joint::Elbow => Ok(stroke.joint(Joint::Elbow.on(side), time).unwrap_or(shoulder)),
            Joint::Wrist | Joint::Index => Ok([joint, Joint::Wrist, Joint::Elbow]
                .into_iter()
                .find_map(|j| stroke.joint(j.on(side), time).ok())
                .unwrap_or(shoulder)),
            _ => stroke.joint(joint.on(side), time),
        };
        for (proximal, distal, share, centre) in SEGMENTS {
            let (from, to) = (place(proximal)?, place(distal)?);
            sum += between(from, to, centre) * share;
            mass += share;
        }
        let heel = stroke
            .joint(Joint::Heel.on(side), time)
            .or_else(|_| stroke.joint(Joint::Ankle.on(side), time))?;
        let toe =
            stroke.joint(Joint::Toe.on(side), time).or_else(|_| stroke.joint(Joint::Ankle.on(side), time))?;
        sum += between(heel, toe, FOOT.1) * FOOT.0;
        mass += FOOT.0;
    }
    Ok(sum / mass)
}

pub fn pelvis_advance(stroke: &Stroke) -> Result<f64, Missing> {
    let from = stroke.middle(Joint::Hip, stroke.time_of(Boundary::ForwardStart)?)?;
    Ok(100.0 * (stroke.middle(Joint::Hip, stroke.time_of(Boundary::FinishEnd)?)?.net - from.net))
}

pub fn back_heel_lift(stroke: &Stroke) -> Result<f64, Missing> {
    let motion: &CourtMotion = &stroke.motion;
    let back = stroke.front_foot()?.other();
    let (heel, toe) = (Joint::Heel.on(back), Joint::Toe.on(back));
    let met = stroke.contact();
    stroke.joint(heel, met)?;
    let end = match stroke.phases.finish_end {
        Some(finish) => recovery_start(stroke, finish.time),
        None => met + WATCH_HEEL,
    };
    // Heights of heel and toe, each where it is seen.
    let heights = |from, to| {
        let moments = search::times(from, to).map(|t| (t, motion.moment(t)));
        let mut seen = [Vec::new(), Vec::new()];
        for (t, now) in moments {
            for (seen, landmark) in seen.iter_mut().zip([heel, toe]) {
                seen.extend(now.at(landmark).map(|point| (t, point.up)));
            }
        }
        seen
    };
    // A point's own flat height: the foot stands flat through most of the preparation, and the landmark sits higher or lower
    // on the shoe than the other foot's.
    let rise = |before: &[(Seconds, f64)], after: Vec<(Seconds, f64)>| {
        let flat = quantile(before.iter().map(|(_, up)| *up).collect(), FLAT_SHARE).ok_or(Missing::Hidden)?;
        let (_, highest) = search::largest(after).ok_or(Missing::Hidden)?;
        Ok(highest - flat)
    };
    let [heel_before, toe_before] = heights(stroke.phases.preparation_begin() - Seconds(0.3), met);
    let [heel_after, toe_after] = heights(met, end);
    if rise(&toe_before, toe_after)? > STAYS {
        return Err(Missing::Stepped);
    }
    Ok(100.0 * rise(&heel_before, heel_after)?)
}

/// First time after the finish at which the hand moves again.
fn recovery_start(stroke: &Stroke, finish: Seconds) -> Seconds {
    let rest = |t: Seconds| phases::velocity(&stroke.motion, t).map(|v| -v.norm());
    search::first_at_or_under(rest, -RECOVERY_SPEED, finish + Seconds(0.1), finish + LONGEST_REST)
        .unwrap_or(finish + LONGEST_REST)
}
