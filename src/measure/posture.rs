//! Trunk, knees and head.

use super::Missing;
use crate::geometry::{Court, angle_between};
use crate::pose::{Joint, Landmark, Side};
use crate::scene::court::Axes;
use crate::stroke::{Boundary, Stroke, search};
use crate::units::Seconds;

/// Of overheads and volleys the knees are looked at for so long before contact.
const BEFORE_CONTACT: Seconds = Seconds(1.0);

/// A head moves about so far in one direction against the hips in a forward swing, metres (root mean square).
const USUAL_SHIFT: f64 = 0.04;

/// From the middle of the hips to the middle of the shoulders, metres.
fn trunk(stroke: &Stroke, time: Seconds) -> Result<Court, Missing> {
    let now = stroke.now(time);
    Ok(now.middle(Joint::Shoulder)? - now.middle(Joint::Hip)?)
}

/// Lean of the trunk toward the net, degrees.
fn trunk_lean(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    let trunk = trunk(stroke, time)?;
    Ok(trunk.net.atan2(trunk.up).to_degrees())
}

pub fn trunk_lean_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    trunk_lean(stroke, stroke.contact())
}

pub fn trunk_lean_at_finish(stroke: &Stroke) -> Result<f64, Missing> {
    trunk_lean(stroke, stroke.time_of(Boundary::FinishEnd)?)
}

pub fn trunk_side_lean_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    let trunk = trunk(stroke, stroke.contact())?;
    Ok(trunk.side.atan2(trunk.up).to_degrees())
}

/// Mean flexion of both knees at a time, degrees; 0 = straight.
fn flexion(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    let now = stroke.now(time);
    let of = |side: Side| {
        let at = |joint: Joint| now.at(joint.on(side));
        let knee = at(Joint::Knee)?;
        let angle = angle_between(at(Joint::Hip)? - knee, at(Joint::Ankle)? - knee);
        Ok(180.0 - angle.ok_or(Missing::Undefined)?)
    };
    Ok(0.5 * (of(Side::Left)? + of(Side::Right)?))
}

pub fn knee_bend(stroke: &Stroke) -> Result<f64, Missing> {
    let met = stroke.contact();
    let (from, to) = if stroke.sort().is_ground_stroke() {
        (stroke.phases.preparation_begin(), stroke.time_of(Boundary::ForwardStart)?)
    } else {
        (met - BEFORE_CONTACT, met)
    };
    flexion(stroke, to)?;
    search::maximum(|t| flexion(stroke, t).ok(), from, to).map(|(_, bend)| bend).ok_or(Missing::Hidden)
}

pub fn head_shift(stroke: &Stroke) -> Result<f64, Missing> {
    let over_hips = |t: Seconds| {
        let now = stroke.now(t);
        Ok(now.at(Landmark::Nose)? - now.middle(Joint::Hip)?)
    };
    let (from, to) = (stroke.time_of(Boundary::ForwardStart)?, stroke.contact());
    let motion = &stroke.motion;
    let way = Axes::new(motion.direction.angle, motion.hand).to_camera(over_hips(to)? - over_hips(from)?);
    // Along the lens the way is a difference of guessed depths, which only adds; by how far they are known it is taken between
    // itself and what heads usually do, as a mean square.
    let frame = motion.times.partition_point(|t| *t < to).min(motion.times.len() - 1);
    let spread = f64::from(motion.depth_spread[frame][Landmark::Nose as usize]);
    let known = USUAL_SHIFT.powi(2) / (USUAL_SHIFT.powi(2) + spread.powi(2));
    let along = (known * way.away).powi(2) + (1.0 - known) * USUAL_SHIFT.powi(2);
    Ok(100.0 * (way.right.powi(2) + along).sqrt())
}

#[cfg(test)]
mod tests {
    use crate::geometry::Court;
    use crate::measure::figure::{stroke, value};
    use crate::pose::Landmark;
    use crate::stroke::{Kind, Stroke};

    /// Both knees bent by `degrees` at a time, straight otherwise: thigh and shank of 0.4 m with the hip over the ankle.
    fn squat(kind: Kind, at: f64, degrees: f64) -> Stroke {
        stroke(kind, |landmark, t, place| {
            let bend = if (t - at).abs() < 0.1 { degrees } else { 0.0 };
            let (sin, cos) = (0.5 * bend).to_radians().sin_cos();
            let ahead = |net: f64, up: f64| Court::new(net, place.side, up);
            match landmark {
                Landmark::LeftHip | Landmark::RightHip => ahead(0.0, 0.08 + 0.8 * cos),
                Landmark::LeftKnee | Landmark::RightKnee => {
                    Court::new(0.4 * sin, place.side, 0.08 + 0.4 * cos)
                }
                Landmark::LeftAnkle | Landmark::RightAnkle => ahead(0.0, 0.08),
                _ => place,
            }
        })
    }

    #[test]
    fn knees_are_looked_at_before_the_forward_swing_or_before_an_overhead() {
        let bend = |stroke: &Stroke| value("knee_bend_deg", stroke).unwrap();
        assert!((bend(&squat(Kind::Forehand, -0.5, 40.0)) - 40.0).abs() < 6.0);
        assert!(bend(&squat(Kind::Forehand, 0.0, 40.0)) < 20.0);
        assert!((bend(&squat(Kind::Overhead, -0.1, 50.0)) - 50.0).abs() < 6.0);
    }

    #[test]
    fn the_heads_way_is_counted_less_the_hips() {
        let stroke = stroke(Kind::Forehand, |landmark, t, at| {
            let share = ((t + 0.2) / 0.2).clamp(0.0, 1.0);
            let carried = at + Court::new(0.3 * share, 0.0, 0.0);
            match landmark {
                Landmark::Nose => carried + Court::new(0.03 * share, 0.04 * share, -0.2 * share),
                _ => carried,
            }
        });
        assert!((value("head_shift_cm", &stroke).unwrap() - 5.0).abs() < 0.1);
        // The camera looks across: with depths that say nothing 3 cm toward the net stay, and what is usual along the lens.
        let mut guessed = stroke.clone();
        guessed.motion.depth_spread.fill([1.0; crate::pose::landmark::COUNT]);
        assert!((value("head_shift_cm", &guessed).unwrap() - 5.0).abs() < 0.1);
        let far = super::USUAL_SHIFT;
        for frame in &mut guessed.motion.points {
            if let Some(nose) = &mut frame[Landmark::Nose as usize] {
                nose.side *= 10.0;
            }
        }
        let known = 100.0 * (0.03_f64.powi(2) + far.powi(2)).sqrt();
        assert!((value("head_shift_cm", &guessed).unwrap() - known).abs() < 0.2);
    }

    #[test]
    fn the_trunk_leans_sideways_toward_the_hitting_side() {
        let stroke = stroke(Kind::Backhand, |landmark, _, at| match landmark {
            Landmark::LeftShoulder | Landmark::RightShoulder => at + Court::new(0.0, 0.52 * 0.1763, 0.0),
            _ => at,
        });
        assert!((value("trunk_side_lean_at_contact_deg", &stroke).unwrap() - 10.0).abs() < 0.1);
    }
}
