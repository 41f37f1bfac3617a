//! Distances of hand and contact: to the front toe's line, to the shoulder, to the hip.
//!
//! What is measured along the court is not what the picture shows between two points at unlike distances from the lens. The
//! toe's line stands at the toe, where everybody looks for it; the distance runs from there to the point as the picture shows it,
//! and the number is that of space. Distances to shoulder and hip are drawn where the hand is.

use super::{Element, Ink, Mark, Moment, Reading, is_worth_it};
use crate::geometry::{Court, Point2};
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
    // From behind the line shows how high contact is, and nothing where that is not told.
    let height = m.reading("contact_height_cm", hand, Ink::Plumb, "");
    let shows_something = m.shows_net() || height.is_some_and(|height| is_worth_it(&height));
    let line = to_toe_line(m, "hand_ahead_of_front_toe_cm", hand, Mark::Hand)?;
    Some(Element { on_request: is_known || !shows_something, ..line })
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
    let at = |up: f64| Court { up, ..on_ground };
    let top = at(point.up.max(chest.up) + BEYOND);
    let mut lines = vec![m.line(&[toe, on_ground, top], Ink::Toe)?];
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
    // A distance of a low grade is no line beside which a number could stand.
    if m.shows_net() && (reading.outcome.is_err() || is_worth_it(&reading)) {
        readings.push(reading);
    }
    if m.shows_net() && is_worth_it(&reading) {
        let shown = m.pixel(point)?;
        marks.push((shown, mark));
        if let Some(start) = level_with(shown, m.pixel(on_ground)?, m.pixel(top)?)
            && reading.outcome.is_ok_and(|value| m.is_toward_net(shown.x - start.x) == (value.value > 0.0))
        {
            lines.push((vec![start, shown], Ink::Toe));
        }
    }
    Some(Element { ids: vec![id], key: true, lines, marks, readings, names, ..Element::default() })
}

/// The point of a nearly upright line that is as high in the picture as another point.
fn level_with(point: Point2, foot: Point2, top: Point2) -> Option<Point2> {
    let rise = top.y - foot.y;
    (rise.abs() > 1.0).then(|| foot.lerp(top, (point.y - foot.y) / rise))
}

/// The line through the rear shoulder, and how far the hand is behind it.
pub fn behind_shoulder(m: &Moment) -> Option<Element> {
    let (shoulder, hand) = (m.rear_shoulder()?, m.hitting(Joint::Wrist)?);
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
    let (shoulder, hand) = (m.rear_shoulder()?, m.hitting(Joint::Wrist)?);
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
