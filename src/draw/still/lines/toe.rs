//! Distances of hand and contact: to the front toe's line, to the shoulder, to the hip.
//!
//! What is measured along the court is not what the picture shows between two points at unlike distances from the lens. So a
//! distance is drawn where the hand is, and the line it is measured to runs from its joint across to there: that of the toe
//! along the ground.

use super::{Element, Ink, Mark, Moment, Reading, is_worth_it};
use crate::geometry::Court;
use crate::measure::contact_point;
use crate::pose::Joint;
use crate::stroke::Boundary;

/// The chest's height on the way from the middle of the hips to that of the shoulders.
const CHEST: f64 = 0.72;

/// How far a line goes on beyond what it is for, metres.
const BEYOND: f64 = 0.12;

/// The hand's distance to the line up from the front toe. Where that of the point of contact is known it says more.
pub fn hand(m: &Moment) -> Option<Element> {
    let hand = m.motion().hand_at(m.time)?;
    let is_known = m.shows_net() && ahead(m).is_some_and(|(_, reading)| is_worth_it(&reading));
    let line = to_toe_line(m, "hand_ahead_of_front_toe_cm", hand, Mark::Hand)?;
    Some(Element { on_request: is_known, ..line })
}

/// The point of contact's distance to that line.
pub fn contact(m: &Moment) -> Option<Element> {
    let (point, reading) = ahead(m)?;
    let line = to_toe_line(m, reading.measure.id, point, Mark::Contact)?;
    Some(Element { on_request: !(m.shows_net() && is_worth_it(&reading)), ..line })
}

/// The point of contact with its distance, where there is one.
fn ahead(m: &Moment) -> Option<(Court, Reading)> {
    let point = contact_point(&m.stroke.stroke).ok()?;
    Some((point, m.reading("contact_ahead_of_front_toe_cm", point, Ink::Toe, "")?))
}

/// The line up from the front toe with the heights of knee, hip and chest on it, and a point's distance to it.
fn to_toe_line(m: &Moment, id: &'static str, point: Court, mark: Mark) -> Option<Element> {
    if !m.is(Boundary::Contact) {
        return None;
    }
    let toe = m.stroke.stroke.front_toe(m.time).ok()?;
    let (knee, hip) = (m.middle(Joint::Knee)?, m.middle(Joint::Hip)?);
    let chest = hip + (m.middle(Joint::Shoulder)? - hip) * CHEST;
    let on_ground = Court { up: 0.0, ..toe };
    let foot = if m.shows_net() { Court { side: point.side, ..on_ground } } else { on_ground };
    let at = |up: f64| Court { up, ..foot };
    let top = at(point.up.max(chest.up) + BEYOND);
    let mut lines = vec![m.line(&[toe, on_ground, foot, top], Ink::Toe)?];
    let mut names = Vec::new();
    for (height, name) in [(knee.up, "knee"), (hip.up, "hip"), (chest.up, "chest")] {
        // Ticks run along the picture.
        let (dx, centre) = (0.045, at(height));
        let (net, side) = if m.shows_net() { (dx, 0.0) } else { (0.0, dx) };
        let tick = Court::new(net, side, 0.0);
        lines.push(m.line(&[centre - tick, centre + tick], Ink::Toe)?);
        names.push((m.pixel(centre)?, name));
    }
    let mut readings = Vec::new();
    let mut marks = Vec::new();
    let reading = m.reading(id, at(point.up).middle(point), Ink::Toe, "")?;
    if m.shows_net() {
        readings.push(reading);
    }
    if m.shows_net() && reading.outcome.is_ok() {
        lines.push(m.line(&[at(point.up), point], Ink::Toe)?);
        marks.push((m.pixel(point)?, mark));
    }
    Some(Element { ids: vec![id], key: true, lines, marks, readings, names, ..Element::default() })
}

/// The line through the hitting shoulder, and how far the hand is behind it.
pub fn behind_shoulder(m: &Moment) -> Option<Element> {
    let (shoulder, hand) = (m.hitting(Joint::Shoulder)?, m.hitting(Joint::Wrist)?);
    let across = Court { side: hand.side, ..shoulder };
    let meets = Court { up: hand.up, ..across };
    let past = Court { up: hand.up + BEYOND * (hand.up - shoulder.up).signum(), ..across };
    let reading = m.reading("hand_behind_shoulder_cm", meets.middle(hand), Ink::Shoulder, "largest")?;
    (m.is(Boundary::BackswingEnd) && m.shows_net()).then_some(Element {
        ids: vec!["hand_behind_shoulder_cm"],
        key: true,
        lines: vec![m.line(&[shoulder, across, past], Ink::Plumb)?, m.line(&[meets, hand], Ink::Shoulder)?],
        marks: vec![(m.pixel(shoulder)?, Mark::Joint), (m.pixel(hand)?, Mark::Hand)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// How far the hand is above the shoulder at the top of the loop.
pub fn above_shoulder(m: &Moment) -> Option<Element> {
    let (shoulder, hand) = (m.hitting(Joint::Shoulder)?, m.hitting(Joint::Wrist)?);
    let level = Court { up: shoulder.up, ..hand };
    let reading = m.reading("hand_above_shoulder_cm", level.middle(hand), Ink::Shoulder, "")?;
    m.is(Boundary::DropStart).then_some(Element {
        ids: vec!["hand_above_shoulder_cm"],
        lines: vec![m.line(&[shoulder, level], Ink::Plumb)?, m.line(&[level, hand], Ink::Shoulder)?],
        marks: vec![(m.pixel(shoulder)?, Mark::Joint), (m.pixel(hand)?, Mark::Hand)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// How far the hand is from the hitting hip, across.
pub fn from_hip(m: &Moment) -> Option<Element> {
    let (hip, hand) = (m.hitting(Joint::Hip)?, m.hitting(Joint::Wrist)?);
    let along = Court { net: hand.net, ..hip };
    let meets = Court { up: hand.up, ..along };
    let reading = m.reading("hand_to_body_in_drop_cm", meets.middle(hand), Ink::Base, "smallest")?;
    (m.is(Boundary::LowPoint) && m.shows_side()).then_some(Element {
        ids: vec!["hand_to_body_in_drop_cm"],
        lines: vec![m.line(&[hip, along, meets], Ink::Plumb)?, m.line(&[meets, hand], Ink::Base)?],
        marks: vec![(m.pixel(hip)?, Mark::Joint), (m.pixel(hand)?, Mark::Hand)],
        readings: vec![reading],
        ..Element::default()
    })
}
