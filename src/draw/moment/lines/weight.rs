//! Feet, base of support, and what is over it.

use super::{Element, Ink, Mark, Moment, is_worth_it};
use crate::geometry::Court;
use crate::measure::centre_of_mass;
use crate::pose::Joint;
use crate::stroke::Boundary;

fn on_ground(point: Court) -> Court {
    Court { up: 0.0, ..point }
}

/// Where a point projects onto the line between the ankles' places on the ground.
fn on_base(m: &Moment, point: Court) -> Option<Court> {
    let back = on_ground(m.back(Joint::Ankle)?);
    let base = on_ground(m.front(Joint::Ankle)?) - back;
    let length = base.dot(base);
    (length > 1e-6).then(|| back + base * ((on_ground(point) - back).dot(base) / length))
}

/// The base from ankle to ankle and the pelvis over it.
pub fn base(m: &Moment) -> Option<Element> {
    let (back, front) = (m.back(Joint::Ankle)?, m.front(Joint::Ankle)?);
    let hips = m.middle(Joint::Hip)?;
    let share = match m.boundary() {
        Some(Boundary::Contact) => Some("pelvis_over_base_at_contact"),
        Some(Boundary::FinishEnd) => Some("pelvis_over_base_at_finish"),
        _ => None,
    };
    let mut lines = vec![
        m.line(&[on_ground(back), on_ground(front)], Ink::Base)?,
        m.line(&[back, on_ground(back)], Ink::Base)?,
        m.line(&[front, on_ground(front)], Ink::Base)?,
    ];
    let mut marks = vec![(m.pixel(back)?, Mark::Joint), (m.pixel(front)?, Mark::Joint)];
    let mut readings = Vec::new();
    if let Some(place) = on_base(m, hips).filter(|_| m.shows_net()) {
        lines.push(m.line(&[hips, on_ground(hips), place], Ink::Plumb)?);
        marks.extend([(m.pixel(hips)?, Mark::Joint), (m.pixel(place)?, Mark::Place)]);
        readings.extend(share.and_then(|id| m.reading(id, place, Ink::Base, "")));
    }
    Some(Element {
        ids: share.into_iter().collect(),
        key: true,
        on_request: !matches!(m.boundary(), Some(Boundary::Contact | Boundary::FinishEnd)),
        lines,
        marks,
        readings,
        names: Vec::new(),
    })
}

/// The base's length.
pub fn stance(m: &Moment) -> Option<Element> {
    let feet = [m.back(Joint::Ankle)?, m.front(Joint::Ankle)?].map(on_ground);
    let reading = m.reading("stance_width_cm", feet[0], Ink::Base, "")?;
    m.is(Boundary::Contact).then_some(Element {
        ids: vec!["stance_width_cm"],
        on_request: true,
        lines: vec![m.line(&feet, Ink::Base)?],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The centre of mass over the base.
pub fn mass(m: &Moment) -> Option<Element> {
    let mass = centre_of_mass(&m.stroke.stroke, m.shown).ok()?;
    let place = on_base(m, mass)?;
    let reading = m.reading("mass_over_base_at_finish", place, Ink::Base, "")?;
    let feet = [m.back(Joint::Ankle)?, m.front(Joint::Ankle)?].map(on_ground);
    (m.is(Boundary::FinishEnd) && m.shows_net()).then_some(Element {
        ids: vec!["mass_over_base_at_finish"],
        on_request: true,
        key: false,
        lines: vec![m.line(&feet, Ink::Base)?, m.line(&[mass, on_ground(mass), place], Ink::Plumb)?],
        marks: vec![(m.pixel(mass)?, Mark::Mass), (m.pixel(place)?, Mark::Place)],
        readings: vec![reading],
        names: Vec::new(),
    })
}

/// How far the pelvis has come since the forward swing began.
pub fn advance(m: &Moment) -> Option<Element> {
    let from = m.motion().middle(Joint::Hip, m.phases().forward_start?.time)?;
    let to = m.middle(Joint::Hip)?;
    let reading = m.reading("pelvis_advance_cm", from, Ink::Path, "")?;
    (m.is(Boundary::FinishEnd) && m.shows_net()).then_some(Element {
        ids: vec!["pelvis_advance_cm"],
        on_request: !is_worth_it(&reading),
        key: false,
        lines: vec![m.line(&[from, to], Ink::Path)?],
        marks: vec![(m.pixel(from)?, Mark::Place), (m.pixel(to)?, Mark::Joint)],
        readings: vec![reading],
        names: Vec::new(),
    })
}

/// The back heel over the ground.
pub fn heel(m: &Moment) -> Option<Element> {
    let heel = m.back(Joint::Heel)?;
    let reading = m.reading("back_heel_lift_cm", heel, Ink::Toe, "largest")?;
    m.is(Boundary::FinishEnd).then_some(Element {
        ids: vec!["back_heel_lift_cm"],
        lines: vec![m.line(&[heel, on_ground(heel)], Ink::Toe)?],
        marks: vec![(m.pixel(heel)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The front foot's step since the preparation began.
pub fn step(m: &Moment) -> Option<Element> {
    let toe = Joint::Toe.on(m.stroke.stroke.front_foot().ok()?);
    let from = m.motion().at(toe, m.phases().prep_start?.time)?;
    let to = m.at(toe)?;
    let reading = m.reading("step_length_cm", from.middle(to), Ink::Path, "")?;
    (m.is(Boundary::Contact) && m.shows_net()).then_some(Element {
        ids: vec!["step_length_cm"],
        on_request: true,
        key: false,
        lines: vec![m.line(&[from, to], Ink::Path)?],
        marks: vec![(m.pixel(from)?, Mark::Place), (m.pixel(to)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}
