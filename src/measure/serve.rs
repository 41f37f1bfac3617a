//! What only overheads have: the tossing arm and the racket's drop behind the back.

use super::Missing;
use crate::pose::Joint;
use crate::stroke::{Stroke, search};
use crate::units::Seconds;

/// The tossing hand is highest within this time before contact.
const TOSS: Seconds = Seconds(1.6);

/// The hitting hand is up before its drop between these times before contact, and comes out of it before the last one.
const UP: (Seconds, Seconds) = (Seconds(1.3), Seconds(0.35));
const OUT_OF_DROP: Seconds = Seconds(0.04);

/// A drop is at least so deep, metres.
const LEAST_DROP: f64 = 0.03;

pub fn toss_arm_up(stroke: &Stroke) -> Result<f64, Missing> {
    let motion = &stroke.motion;
    let met = stroke.contact();
    let above = |t: Seconds| {
        Some(motion.at(motion.off(Joint::Wrist), t)?.up - motion.at(motion.off(Joint::Shoulder), t)?.up)
    };
    stroke.joint(motion.off(Joint::Shoulder), met)?;
    let hand = |t: Seconds| motion.at(motion.off(Joint::Wrist), t).map(|p| p.up);
    let (highest, _) = search::maximum(hand, met - TOSS, met).ok_or(Missing::Hidden)?;
    if above(highest).is_none_or(|above| above <= 0.0) {
        return Err(Missing::Undefined);
    }
    Ok(search::first_at_or_under(above, 0.0, highest, met).map_or(0.0, |down| (met - down).milliseconds()))
}

/// When the hitting hand is lowest behind its shoulder.
fn drop_low(stroke: &Stroke) -> Result<Seconds, Missing> {
    let motion = &stroke.motion;
    let met = stroke.contact();
    let up = |t: Seconds| motion.hand_at(t).map(|p| p.up);
    let (highest, top) = search::maximum(up, met - UP.0, met - UP.1).ok_or(Missing::Hidden)?;
    let end = met - OUT_OF_DROP;
    let (lowest, low) = search::minimum(up, highest, end).ok_or(Missing::Hidden)?;
    let inside = lowest - highest > search::STEP && end - lowest > search::STEP;
    let behind = stroke.joint(motion.hitting(Joint::Shoulder), lowest)?.net
        > stroke.joint(motion.hitting(Joint::Wrist), lowest)?.net;
    if inside && behind && top - low >= LEAST_DROP { Ok(lowest) } else { Err(Missing::PhaseAbsent) }
}

pub fn elbow_in_drop(stroke: &Stroke) -> Result<f64, Missing> {
    stroke.elbow_angle(drop_low(stroke)?)
}

#[cfg(test)]
mod tests {
    use crate::geometry::Court;
    use crate::measure::Missing;
    use crate::measure::figure::{standing, stroke, value};
    use crate::pose::Landmark;
    use crate::stroke::Kind;

    /// The tossing hand is up until it passes its shoulder downward at a time; the hitting hand goes up, drops behind the
    /// shoulder with the elbow square 0.25 s before contact, and rises to the ball.
    fn serve(down: f64) -> crate::stroke::Stroke {
        let shoulder = standing(Landmark::RightShoulder);
        stroke(Kind::Overhead, move |landmark, t, at| match landmark {
            Landmark::LeftWrist => Court { up: 1.45 + 2.0 * (down - t).clamp(-0.3, 0.3), ..at },
            Landmark::RightElbow => shoulder + Court::new(0.0, 0.28, 0.0),
            Landmark::RightWrist => {
                let drop = (-((t + 0.25) / 0.08).powi(2)).exp();
                let rise = (t + 0.15).max(0.0) * 3.0;
                shoulder + Court::new(-0.10, 0.28, 0.24 - 0.48 * drop + rise)
            }
            _ => at,
        })
    }

    #[test]
    fn the_tossing_arm_is_up_until_its_hand_falls_below_the_shoulder() {
        assert!((value("toss_arm_up_ms", &serve(-0.2)).unwrap() - 200.0).abs() < 5.0);
        assert_eq!(value("toss_arm_up_ms", &serve(0.2)), Ok(0.0));
        let low = stroke(Kind::Overhead, |_, _, at| at);
        assert_eq!(value("toss_arm_up_ms", &low), Err(Missing::Undefined));
    }

    #[test]
    fn the_elbow_is_read_where_the_hand_is_lowest_behind_the_shoulder() {
        // Upper arm across, forearm down and a little back from the elbow: square.
        assert!((value("elbow_in_drop_deg", &serve(-0.2)).unwrap() - 90.0).abs() < 1.0);
        let flat = stroke(Kind::Overhead, |_, _, at| at);
        assert_eq!(value("elbow_in_drop_deg", &flat), Err(Missing::PhaseAbsent));
    }

    #[test]
    fn a_serve_is_met_as_high_as_its_share_of_the_stature() {
        let mut stroke = serve(-0.2);
        let wrist = stroke.motion.hand_at(stroke.phases.contact.time).unwrap();
        stroke.struck = Some(Court::new(0.0, 0.0, 2.7 - wrist.up));
        assert!((value("contact_over_stature", &stroke).unwrap() - 1.5).abs() < 0.01);
    }
}
