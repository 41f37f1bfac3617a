//! The trunk against the vertical, the shoulder line, turns.

use super::{Element, Ink, Instant, Mark, Moment};
use crate::geometry::Court;
use crate::pose::{Joint, Landmark};
use crate::stroke::Boundary;

/// Trunk line and plumb line through the middle of the hips.
pub fn trunk(m: &Moment) -> Option<Element> {
    let (hips, shoulders) = (m.middle(Joint::Hip)?, m.middle(Joint::Shoulder)?);
    let mut upright = hips;
    upright.up += (shoulders - hips).norm();
    let id = match m.boundary() {
        Some(Boundary::Contact) if m.shows_net() => Some("trunk_lean_at_contact_deg"),
        Some(Boundary::Contact) => Some("trunk_side_lean_at_contact_deg"),
        Some(Boundary::FinishEnd) => Some("trunk_lean_at_finish_deg"),
        _ => None,
    };
    let reading = id
        .filter(|id| m.shows_net() || id.contains("side"))
        .and_then(|id| m.reading(id, shoulders, Ink::Trunk, ""));
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

/// Both legs with their knees. The bend is told where it is largest: before the forward swing, in overheads and volleys
/// before contact.
pub fn knees(m: &Moment) -> Option<Element> {
    let leg = |back: bool| {
        let at = |joint| if back { m.back(joint) } else { m.front(joint) };
        Some([at(Joint::Hip)?, at(Joint::Knee)?, at(Joint::Ankle)?])
    };
    let (back, front) = (leg(true)?, leg(false)?);
    let reading = m.reading("knee_bend_deg", front[1], Ink::Base, "largest")?;
    let moment = Instant::of(reading.measure);
    let moment =
        if m.stroke.stroke.sort().is_ground_stroke() { moment } else { Instant::Boundary(Boundary::Contact) };
    (m.instant == moment).then_some(Element {
        ids: vec!["knee_bend_deg"],
        on_request: true,
        lines: vec![m.line(&back, Ink::Base)?, m.line(&front, Ink::Base)?],
        marks: vec![(m.pixel(back[1])?, Mark::Joint), (m.pixel(front[1])?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The head's way since the forward swing began.
pub fn head(m: &Moment) -> Option<Element> {
    let begin = m.phases().forward_start?.time;
    let motion = m.motion();
    let within = motion.times.iter().filter(|t| **t >= begin && **t <= m.shown);
    let points: Vec<Court> = within.filter_map(|t| motion.at(Landmark::Nose, *t)).collect();
    let reading = m.reading("head_shift_cm", *points.last()?, Ink::Path, "")?;
    (m.is(Boundary::Contact) && points.len() > 1).then_some(Element {
        ids: vec!["head_shift_cm"],
        on_request: true,
        lines: vec![m.line(&points, Ink::Path)?],
        readings: vec![reading],
        ..Element::default()
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
