//! Definitions that hold for every kind, on figures whose numbers are known.

use super::Missing;
use super::figure::{CONTACT, standing, stroke, turned, value};
use crate::geometry::Court;
use crate::pose::{Joint, Landmark, Side};
use crate::stroke::{Hands, Kind, Mark, Method, Phases, Sort, Stroke};
use crate::units::Seconds;

fn is_on(landmark: Landmark, side: Side, joints: &[Joint]) -> bool {
    joints.iter().any(|joint| joint.on(side) == landmark)
}

const FOOT: [Joint; 3] = [Joint::Ankle, Joint::Heel, Joint::Toe];

fn close(found: Result<f64, Missing>, known: f64, within: f64, what: &str) {
    assert!(found.is_ok_and(|found| (found - known).abs() <= within), "{what}: {found:?} against {known}");
}

/// One foot 0.6 m toward the net from 0.6 s before contact, the hips over a quarter of the way to it.
fn stepped_with(kind: Kind, foot: Side) -> Stroke {
    stroke(kind, |landmark, t, at| {
        let forward = if t > -0.6 { 0.6 } else { 0.0 };
        match landmark {
            _ if is_on(landmark, foot, &FOOT) => at + Court::new(forward, 0.0, 0.0),
            Landmark::LeftHip | Landmark::RightHip => {
                // Over the quarter of the line from ankle to ankle, which runs across as well.
                at + Court::new(0.15, if foot == Side::Left { 0.10 } else { -0.10 }, 0.0)
            }
            _ => at,
        }
    })
}

#[test]
fn the_front_foot_is_the_one_nearest_the_net_whoever_hits() {
    for (kind, foot) in [
        (Kind::Forehand, Side::Left),
        (Kind::Forehand, Side::Right),
        (Kind::Backhand, Side::Right),
        (Kind::Backhand, Side::Left),
    ] {
        let stroke = stepped_with(kind, foot);
        assert_eq!(stroke.front_foot(), Ok(foot));
        close(value("pelvis_over_base_at_contact", &stroke), 0.25, 0.01, "pelvis");
        close(value("step_length_cm", &stroke), 60.0, 0.1, "step");
        // The wrist hangs above the ankles, 0.18 m behind a toe that is 0.6 m ahead.
        close(value("hand_ahead_of_front_toe_cm", &stroke), -78.0, 0.1, "hand against the toe");
    }
}

#[test]
fn the_hand_is_measured_against_the_shoulder_that_is_back() {
    // Turned by 80° with the hand 0.30 m farther from the net than the rear shoulder and 0.05 m above it.
    for (kind, turn, rear) in [(Kind::Forehand, 80.0, Side::Right), (Kind::Backhand, -80.0, Side::Left)] {
        let shoulder = turned(standing(Joint::Shoulder.on(rear)), turn);
        let stroke = stroke(kind, |landmark, t, at| match landmark {
            Landmark::RightWrist if t < -0.1 => shoulder + Court::new(-0.30, 0.0, 0.05),
            _ if is_on(landmark, Side::Left, &[Joint::Shoulder]) => turned(at, turn),
            _ if is_on(landmark, Side::Right, &[Joint::Shoulder]) => turned(at, turn),
            _ => at,
        });
        assert_eq!(stroke.rear_shoulder(), Ok(rear));
        close(value("hand_behind_shoulder_cm", &stroke), 30.0, 0.1, "behind");
        close(value("hand_above_shoulder_cm", &stroke), 5.0, 0.1, "above");
        close(value("shoulder_turn_deg", &stroke), 80.0, 0.1, "turn away from the net");
    }
}

#[test]
fn reach_is_positive_on_the_side_where_the_ball_is_met() {
    for (kind, side) in [(Kind::Forehand, 0.5), (Kind::Backhand, -0.5)] {
        let mut stroke = stroke(kind, |_, _, at| at);
        let wrist = standing(Landmark::RightWrist);
        stroke.struck = Some(Court::new(0.0, side - wrist.side, 0.0));
        close(value("contact_reach_cm", &stroke), 50.0, 0.1, "reach");
    }
}

#[test]
fn a_kind_has_only_what_makes_sense_for_it() {
    let serve = stroke(Kind::Overhead, |_, _, at| at);
    for id in
        ["hand_behind_shoulder_cm", "step_length_cm", "back_heel_lift_cm", "lag_peak_deg", "contact_reach_cm"]
    {
        assert_eq!(value(id, &serve), Err(Missing::NotForThisKind), "{id}");
    }
    let backhand = stroke(Kind::Backhand, |_, _, at| at);
    for id in ["off_arm_hold_ms", "elbow_off_ribs_deg", "hand_to_body_in_drop_cm", "toss_arm_up_ms"] {
        assert_eq!(value(id, &backhand), Err(Missing::NotForThisKind), "{id}");
    }
    let volley = Stroke { volley: true, ..backhand.clone() };
    assert_eq!(value("hand_behind_shoulder_cm", &volley), Err(Missing::NotForThisKind));
    assert!(value("stance_width_cm", &volley).is_ok() && value("knee_bend_deg", &volley).is_ok());
    let two_handed = Stroke { hands: Hands::Two, ..backhand };
    assert_eq!(value("lag_peak_deg", &two_handed), Err(Missing::TwoHands));
    assert_eq!(value("lag_onset_before_contact_ms", &two_handed), Err(Missing::TwoHands));
}

/// The left foot in front; the heel of the other comes up by 0.10 m after contact, and its ball by `ball`.
fn lifted(ball: f64) -> Stroke {
    stroke(Kind::Forehand, |landmark, t, at| {
        let up = if t > 0.1 && t < 0.5 { 1.0 } else { 0.0 };
        match landmark {
            _ if is_on(landmark, Side::Left, &FOOT) => at + Court::new(0.5, 0.0, 0.0),
            Landmark::RightHeel => at + Court::new(0.0, 0.0, 0.10 * up),
            Landmark::RightToe => at + Court::new(0.0, 0.0, ball * up),
            _ => at,
        }
    })
}

#[test]
fn a_foot_that_steps_does_not_lift_its_heel() {
    close(value("back_heel_lift_cm", &lifted(0.01)), 10.0, 1.0, "lift");
    assert_eq!(value("back_heel_lift_cm", &lifted(0.10)), Err(Missing::Stepped));
}

#[test]
fn overheads_and_volleys_have_no_takeback_to_part() {
    let split = |sort| {
        let stroke = stroke(Kind::Forehand, |landmark, t, at| match landmark {
            // Back until 0.4 s before contact, forward to it and to rest.
            Landmark::RightWrist if t < -0.4 => at + Court::new(-0.5 * (t + 1.0).max(0.0), 0.0, 0.0),
            Landmark::RightWrist => at + Court::new(-0.3 + 2.5 * (t + 0.4).min(0.6), 0.0, 0.0),
            _ => at,
        });
        Phases::split(&stroke.motion, Mark { time: CONTACT, method: Method::Sound }, sort)
    };
    let (ground, serve, volley) = (split(Sort::Forehand), split(Sort::Overhead), split(Sort::ForehandVolley));
    assert!(ground.backswing_end.is_some() && ground.forward_start.is_some());
    assert!(serve.backswing_end.is_none() && serve.prep_start.is_none() && serve.finish_end.is_some());
    assert!(volley.backswing_end.is_none() && volley.finish_end.is_none());
}

#[test]
fn a_player_who_runs_takes_the_hand_back_against_the_hips() {
    // 4 m/s toward the net with the hand carried along: over the ground it never retreats, against the hips it is farthest
    // back 0.35 s before contact.
    let back = |t: f64| -0.35 * (-((t + 0.35) / 0.12).powi(2)).exp();
    let stroke = stroke(Kind::Forehand, |landmark, t, at| {
        let run = Court::new(4.0 * t, 0.0, 0.0);
        match landmark {
            Landmark::RightWrist => at + run + Court::new(back(t), 0.0, 0.0),
            _ => at + run,
        }
    });
    let found = Phases::split(&stroke.motion, stroke.phases.contact, Sort::Forehand);
    let at = found.backswing_end.map(|mark| (mark.time - CONTACT).0);
    assert!(at.is_some_and(|at| (at + 0.35).abs() < 0.02), "{at:?}");
}

#[test]
fn a_hand_that_never_slows_starts_forward_where_it_turns_and_says_so() {
    // Known to turn 0.25 s before contact, but at full speed from the first.
    let stroke = stroke(Kind::Forehand, |landmark, t, at| match landmark {
        Landmark::RightWrist => at + Court::new(6.0 * t, 0.0, 0.0),
        _ => at,
    });
    let turned = Mark { time: CONTACT - Seconds(0.25), method: Method::Marked };
    let mut known = [None; 7];
    known[crate::stroke::Boundary::BackswingEnd as usize] = Some(turned);
    let found = Phases::split_between(&stroke.motion, stroke.phases.contact, Sort::Forehand, known);
    assert_eq!(found.forward_start.map(|mark| mark.method), Some(Method::BackswingEnd));
}
