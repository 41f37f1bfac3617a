//! The arms: path of the hand, elbow, forearm and hand.

use super::{Element, Ink, Mark, Moment, is_worth_it};
use crate::geometry::Court;
use crate::pose::Joint;
use crate::stroke::Boundary;

/// The hand's path from the preparation's start to here.
pub fn path(m: &Moment) -> Option<Element> {
    along_path(m, "backswing_path_cm", false)
}

/// The same path, with how far back it goes.
pub fn travel(m: &Moment) -> Option<Element> {
    along_path(m, "backswing_travel_cm", true)
}

fn along_path(m: &Moment, id: &'static str, on_request: bool) -> Option<Element> {
    let begin = m.phases().prep_start?.time;
    let motion = m.motion();
    let within = motion.times.iter().filter(|t| **t >= begin && **t <= m.shown);
    let points: Vec<Court> = within.filter_map(|t| motion.hand_at(*t)).collect();
    let reading = m.reading(id, *points.get(points.len() / 2)?, Ink::Path, "")?;
    (m.is(Boundary::BackswingEnd) && points.len() > 1).then_some(Element {
        ids: vec![id],
        on_request: on_request || !is_worth_it(&reading),
        lines: vec![m.line(&points, Ink::Path)?],
        readings: vec![reading],
        ..Element::default()
    })
}

/// Upper arm and forearm with the angle between them.
pub fn elbow(m: &Moment) -> Option<Element> {
    let id = match m.boundary() {
        Some(Boundary::BackswingEnd) => "elbow_at_backswing_end_deg",
        Some(Boundary::Contact) => "contact_elbow_deg",
        _ => return None,
    };
    let (shoulder, elbow) = (m.hitting(Joint::Shoulder)?, m.hitting(Joint::Elbow)?);
    let wrist = m.hitting(Joint::Wrist)?;
    Some(Element {
        ids: vec![id],
        on_request: true,
        lines: vec![m.line(&[shoulder, elbow, wrist], Ink::Arm)?],
        marks: vec![(m.pixel(elbow)?, Mark::Joint), (m.pixel(wrist)?, Mark::Joint)],
        readings: m.reading(id, elbow, Ink::Arm, "").into_iter().collect(),
        ..Element::default()
    })
}

/// The upper arm against the trunk in the drop.
pub fn ribs(m: &Moment) -> Option<Element> {
    let (shoulder, elbow) = (m.hitting(Joint::Shoulder)?, m.hitting(Joint::Elbow)?);
    let down = m.middle(Joint::Hip)? - m.middle(Joint::Shoulder)?;
    let reading = m.reading("elbow_off_ribs_deg", elbow, Ink::Arm, "smallest")?;
    m.is(Boundary::LowPoint).then_some(Element {
        ids: vec!["elbow_off_ribs_deg"],
        lines: vec![m.line(&[shoulder, shoulder + down], Ink::Trunk)?, m.line(&[shoulder, elbow], Ink::Arm)?],
        marks: vec![(m.pixel(shoulder)?, Mark::Joint), (m.pixel(elbow)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The forearm and the hand's direction. Where the racket is seen, its axis takes the place of the hand's direction
/// ([`super::racket`]).
pub fn forearm(m: &Moment) -> Option<Element> {
    let id = match m.boundary() {
        Some(Boundary::LowPoint | Boundary::ForwardStart) => "hand_angle_peak_deg",
        Some(Boundary::Contact) => "hand_angle_at_contact_deg",
        _ => return None,
    };
    let (elbow, wrist) = (m.hitting(Joint::Elbow)?, m.hitting(Joint::Wrist)?);
    let mut lines = vec![m.line(&[elbow, wrist], Ink::Arm)?];
    let knuckles = m.hitting(Joint::Index).zip(m.hitting(Joint::Pinky)).map(|(a, b)| a.middle(b));
    lines.extend(knuckles.and_then(|knuckles| m.line(&[wrist, knuckles], Ink::Arm)));
    let of_all = if m.is(Boundary::Contact) { "" } else { "largest" };
    let reading = m.reading(id, wrist, Ink::Arm, of_all);
    const TIMES: [&str; 2] = ["hand_angle_peak_before_contact_ms", "hand_angle_onset_before_contact_ms"];
    let times = TIMES.map(|id| m.reading(id, wrist, Ink::Arm, "").filter(|_| m.is(Boundary::ForwardStart)));
    let worth_it = reading.as_ref().is_some_and(is_worth_it);
    Some(Element {
        ids: [id].into_iter().chain(TIMES).collect(),
        on_request: m.racket().is_some() || m.is(Boundary::Contact) && !worth_it,
        lines,
        marks: vec![(m.pixel(elbow)?, Mark::Joint), (m.pixel(wrist)?, Mark::Joint)],
        readings: reading.into_iter().chain(times.into_iter().flatten()).collect(),
        ..Element::default()
    })
}

/// The hand over the off shoulder in the finish.
pub fn finish(m: &Moment) -> Option<Element> {
    let (shoulder, hand) = (m.off(Joint::Shoulder)?, m.hitting(Joint::Wrist)?);
    let level = Court { up: shoulder.up, ..hand };
    let reading = m.reading("finish_hand_above_shoulder_cm", level.middle(hand), Ink::Shoulder, "largest")?;
    m.is(Boundary::FinishEnd).then_some(Element {
        ids: vec!["finish_hand_above_shoulder_cm"],
        on_request: true,
        lines: vec![m.line(&[shoulder, level], Ink::Plumb)?, m.line(&[level, hand], Ink::Shoulder)?],
        marks: vec![(m.pixel(shoulder)?, Mark::Joint), (m.pixel(hand)?, Mark::Hand)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The off arm, which keeps the shoulders turned.
pub fn off_arm(m: &Moment) -> Option<Element> {
    let (shoulder, elbow, wrist) = (m.off(Joint::Shoulder)?, m.off(Joint::Elbow)?, m.off(Joint::Wrist)?);
    let reading = m.reading("off_arm_hold_ms", wrist, Ink::Shoulder, "")?;
    m.is(Boundary::BackswingEnd).then_some(Element {
        ids: vec!["off_arm_hold_ms"],
        on_request: true,
        lines: vec![m.line(&[shoulder, elbow, wrist], Ink::Shoulder)?],
        marks: vec![(m.pixel(wrist)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}
