//! Where the racket points and goes, and where the hand ends up.

use super::Missing;
use crate::geometry::Court;
use crate::pose::Joint;
use crate::racket::MIDDLE;
use crate::stroke::{Boundary, Stroke, search};
use crate::units::Seconds;

/// The path to the ball is its mean over this time before contact.
const TO_THE_BALL: Seconds = Seconds(0.030);

/// A racket of which less than this share lies level points nowhere seen from above.
const LEVEL_SHARE: f64 = 0.3;

pub fn slope(stroke: &Stroke) -> Result<f64, Missing> {
    let met = stroke.contact();
    let way = stroke.racket_point(MIDDLE, met)? - stroke.racket_point(MIDDLE, met - TO_THE_BALL)?;
    Ok(way.up.atan2(way.net).to_degrees())
}

pub fn tip_direction_in_drop(stroke: &Stroke) -> Result<f64, Missing> {
    let (_, axis) = stroke.racket_at(stroke.time_of(Boundary::LowPoint)?)?;
    seen_from_above(axis)
}

/// Where a way from butt to tip points seen from above, degrees: 0 = straight away from the net, 90 = to the hitting side.
fn seen_from_above(axis: Court) -> Result<f64, Missing> {
    if axis.horizontal().norm() < LEVEL_SHARE * axis.norm() {
        return Err(Missing::Undefined);
    }
    Ok(axis.side.atan2(-axis.net).to_degrees())
}

pub fn tip_across_back(stroke: &Stroke) -> Result<f64, Missing> {
    let end = stroke.time_of(Boundary::ForwardStart)?;
    let shoulder = Joint::Shoulder.on(stroke.rear_shoulder()?);
    let sign = if stroke.is_across()? { -1.0 } else { 1.0 };
    stroke.racket_point(1.0, end)?;
    let across = |t: Seconds| {
        let now = stroke.now(t);
        let (tip, shoulder) = (now.racket_point(1.0).ok()?, now.at(shoulder).ok()?);
        (tip.net < shoulder.net).then_some(sign * (shoulder.side - tip.side))
    };
    let most = search::maximum(across, stroke.phases.preparation_begin(), end);
    most.map(|(_, across)| 100.0 * across).ok_or(Missing::Undefined)
}

pub fn finish_hand_above_shoulder(stroke: &Stroke) -> Result<f64, Missing> {
    let (from, to) = (stroke.contact(), stroke.time_of(Boundary::FinishEnd)?);
    let motion = &stroke.motion;
    let above = |t: Seconds| {
        let now = motion.moment(t);
        Some(now.hand()?.up - now.off(Joint::Shoulder)?.up)
    };
    search::maximum(above, from, to).map(|(_, above)| 100.0 * above).ok_or(Missing::Hidden)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Camera;
    use crate::measure::figure::{self, stroke};
    use crate::pose::Landmark;
    use crate::scene::racket::tests::{Arm, CONTACT, outward};
    use crate::stroke::{Kind, Mark, Method};

    /// A forehand whose racket points and moves as said; the camera looks from the hitting side, the net is on the right.
    fn with_racket(racket: fn(f64) -> Camera) -> Stroke {
        let shown = Arm { rate: 60.0, forearm: outward, racket }.shown();
        let mut stroke = stroke(Kind::Forehand, |_, _, at| at);
        stroke.racket = Some(shown.racket());
        let moved =
            |t: f64| Some(Mark { time: CONTACT + crate::units::Seconds(t), method: Method::HandPosition });
        stroke.motion = shown.court;
        stroke.phases.contact.time = CONTACT;
        stroke.phases.low_point = moved(-0.25);
        stroke
    }

    #[test]
    fn the_slope_is_the_way_of_the_strings_to_the_ball() {
        // The wrist moves 1.5 m/s toward the net and 0.2 m/s up; a racket that keeps its direction goes with it.
        let stroke = with_racket(|_| Camera::new(-0.3, 0.2, -0.9));
        let known = 0.2_f64.atan2(1.5).to_degrees();
        let found = slope(&stroke).unwrap();
        assert!((found - known).abs() < 2.0, "{found} against {known}");
    }

    #[test]
    fn the_racket_points_where_it_lies_seen_from_above() {
        // Away from the net and to the hitting side, which is toward the camera: 45°.
        let found = tip_direction_in_drop(&with_racket(|_| Camera::new(-0.6, 0.1, -0.6))).unwrap();
        assert!((found - 45.0).abs() < 6.0, "{found}");
        for (net, side, known) in [(-1.0, 0.0, 0.0), (0.0, 1.0, 90.0), (0.0, -1.0, -90.0), (1.0, 0.0, 180.0)]
        {
            assert_eq!(seen_from_above(Court::new(0.6 * net, 0.6 * side, -0.3)), Ok(known));
        }
        assert_eq!(seen_from_above(Court::new(-0.1, 0.1, 0.66)), Err(Missing::Undefined));
    }

    #[test]
    fn the_finish_is_as_high_as_the_hand_gets_over_the_off_shoulder() {
        let stroke = stroke(Kind::Backhand, |landmark, t, at| match landmark {
            Landmark::RightWrist => {
                Court { up: 1.45 + 0.2 * (-((t - 0.25) / 0.1).powi(2)).exp() - 0.02, ..at }
            }
            _ => at,
        });
        let found = figure::value("finish_hand_above_shoulder_cm", &stroke).unwrap();
        assert!((found - 18.0).abs() < 0.2, "{found}");
    }
}
