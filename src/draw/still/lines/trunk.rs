//! The trunk against the vertical, the shoulder line, turns.

use super::{Element, Ink, Mark, Moment};
use crate::pose::Joint;
use crate::stroke::Boundary;

/// Trunk line and plumb line through the middle of the hips.
pub fn trunk(m: &Moment) -> Option<Element> {
    let (hips, shoulders) = (m.middle(Joint::Hip)?, m.middle(Joint::Shoulder)?);
    let mut upright = hips;
    upright.up += (shoulders - hips).norm();
    let id = match m.boundary() {
        Some(Boundary::Contact) => Some("trunk_lean_at_contact_deg"),
        Some(Boundary::FinishEnd) => Some("trunk_lean_at_finish_deg"),
        _ => None,
    };
    let reading = id.filter(|_| m.shows_net()).and_then(|id| m.reading(id, shoulders, Ink::Trunk, ""));
    Some(Element {
        ids: id.into_iter().collect(),
        key: true,
        on_request: !matches!(m.boundary(), Some(Boundary::Contact | Boundary::FinishEnd)),
        lines: vec![m.line(&[hips, upright], Ink::Plumb)?, m.line(&[hips, shoulders], Ink::Trunk)?],
        marks: vec![(m.pixel(hips)?, Mark::Joint), (m.pixel(shoulders)?, Mark::Joint)],
        readings: reading.into_iter().collect(),
        names: Vec::new(),
    })
}

/// The line through both shoulders.
pub fn shoulder_line(m: &Moment) -> Option<Element> {
    let (hitting, off) = (m.hitting(Joint::Shoulder)?, m.off(Joint::Shoulder)?);
    let plane = m.reading("hand_behind_chest_plane_cm", off, Ink::Shoulder, "largest");
    Some(Element {
        ids: vec!["hand_behind_shoulder_cm", "hand_behind_chest_plane_cm", "hand_above_shoulder_cm"],
        on_request: !matches!(m.boundary(), Some(Boundary::DropStart | Boundary::BackswingEnd)),
        lines: vec![m.line(&[hitting, off], Ink::Shoulder)?],
        marks: vec![(m.pixel(hitting)?, Mark::Joint), (m.pixel(off)?, Mark::Joint)],
        readings: plane.filter(|_| m.is(Boundary::BackswingEnd)).into_iter().collect(),
        ..Element::default()
    })
}

/// Lines of shoulders and hips, whose turn no single picture shows.
pub fn turn(m: &Moment) -> Option<Element> {
    let hips = (m.hitting(Joint::Hip)?, m.off(Joint::Hip)?);
    let shoulders = (m.hitting(Joint::Shoulder)?, m.off(Joint::Shoulder)?);
    let readings = [
        m.reading("shoulder_turn_deg", shoulders.1, Ink::Shoulder, "largest"),
        m.reading("hip_turn_deg", hips.1, Ink::Base, "largest"),
        m.reading("separation_deg", hips.0.middle(shoulders.0), Ink::Trunk, "largest"),
    ];
    m.is(Boundary::BackswingEnd).then_some(Element {
        ids: vec!["shoulder_turn_deg", "hip_turn_deg", "separation_deg"],
        on_request: true,
        key: false,
        lines: vec![
            m.line(&[shoulders.0, shoulders.1], Ink::Shoulder)?,
            m.line(&[hips.0, hips.1], Ink::Base)?,
        ],
        marks: Vec::new(),
        readings: readings.into_iter().flatten().collect(),
        names: Vec::new(),
    })
}
