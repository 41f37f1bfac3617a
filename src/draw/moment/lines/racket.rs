//! The racket: its axis, the lag, the point of contact, the tip in the ready pose.

use super::super::super::racket::Trust;
use super::{Element, Ink, Instant, Mark, Moment, is_worth_it};
use crate::geometry::Court;
use crate::measure::contact_point;
use crate::pose::{Joint, Landmark};
use crate::stroke::Boundary;

/// The measures that the racket's axis belongs to.
const OF_RACKET: [&str; 13] = [
    "lag_peak_deg",
    "lag_peak_before_contact_ms",
    "lag_onset_before_contact_ms",
    "lag_at_contact_deg",
    "contact_ahead_of_front_toe_cm",
    "contact_height_cm",
    "contact_level",
    "contact_reach_cm",
    "contact_over_stature",
    "swing_slope_deg",
    "tip_direction_in_drop_deg",
    "tip_across_back_cm",
    "ready_tip_above_eyes_cm",
];

/// The axis from butt to tip, where it was seen: the smoothed way through space, from which the measures are read, lies a little
/// beside it.
pub fn axis(m: &Moment) -> Option<Element> {
    let racket = m.racket()?;
    let ink = match Trust::of(&racket) {
        Trust::Sure => Ink::Racket,
        Trust::Doubtful => Ink::Doubtful,
    };
    Some(Element {
        ids: OF_RACKET.to_vec(),
        lines: vec![(vec![racket.butt.at, racket.tip.at], ink)],
        ..Element::default()
    })
}

/// Radius of the arc of the lag, metres, and into how many pieces it is cut.
const ARC: f64 = 0.24;
const PIECES: usize = 24;

/// The angle from the forearm's own direction to the racket's.
pub fn lag(m: &Moment) -> Option<Element> {
    let (id, of_all) = match m.instant {
        Instant::LargestLag => ("lag_peak_deg", ""),
        Instant::Boundary(Boundary::Contact) => ("lag_at_contact_deg", ""),
        Instant::Boundary(_) => return None,
    };
    let (butt, tip) = m.racket().and_then(|_| m.on_racket(0.0).zip(m.on_racket(1.0)))?;
    let (elbow, wrist) = (m.hitting(Joint::Elbow)?, m.hitting(Joint::Wrist)?);
    let forearm = m.stroke.stroke.racket.as_ref()?.forearm(m.motion(), m.shown)?;
    let arc = arc((wrist, forearm), (butt, tip - butt))?;
    let (first, middle) = (*arc.first()?, *arc.get(arc.len() / 2)?);
    let reading = m.reading(id, middle, Ink::Lag, of_all)?;
    Some(Element {
        ids: vec![id],
        key: m.instant == Instant::LargestLag,
        on_request: m.is(Boundary::Contact),
        lines: vec![
            m.line(&[elbow, wrist], Ink::Arm)?,
            m.line(&[wrist, first], Ink::Plumb)?,
            m.line(&arc, Ink::Lag)?,
        ],
        marks: vec![(m.pixel(elbow)?, Mark::Joint), (m.pixel(wrist)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The arc in space between the ways of forearm and racket: each a point with a direction, and the arc begins on the first and
/// ends on the second. `None` where they have no direction.
fn arc((wrist, forearm): (Court, Court), (butt, racket): (Court, Court)) -> Option<Vec<Court>> {
    let (from, to) = (forearm.unit()?, racket.unit()?);
    let grip = butt + to * (wrist - butt).dot(to);
    let angle = from.dot(to).clamp(-1.0, 1.0).acos();
    // Square to the forearm, on the racket's side; in line with it there is none, and no arc either.
    let across = (to - from * from.dot(to)).unit().unwrap_or_default();
    Some(
        (0..=PIECES)
            .map(|i| {
                let share = i as f64 / PIECES as f64;
                let (sin, cos) = (angle * share).sin_cos();
                wrist + (grip - wrist) * share + (from * cos + across * sin) * ARC
            })
            .collect(),
    )
}

/// How high the point of contact is over the ground.
pub fn height(m: &Moment) -> Option<Element> {
    let point = m.is(Boundary::Contact).then(|| contact_point(&m.stroke.stroke).ok())??;
    let reading = m.reading("contact_height_cm", point, Ink::Plumb, "")?;
    Some(Element {
        ids: vec!["contact_height_cm"],
        on_request: !is_worth_it(&reading),
        lines: vec![m.line(&[point, Court { up: 0.0, ..point }], Ink::Plumb)?],
        marks: vec![(m.pixel(point)?, Mark::Contact)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// The same against the player: the toe's line shows it.
pub fn level(m: &Moment) -> Option<Element> {
    let point = m.is(Boundary::Contact).then(|| contact_point(&m.stroke.stroke).ok())??;
    let hips = m.middle(Joint::Hip)?;
    let level = Court { up: point.up, ..hips };
    Some(Element {
        ids: vec!["contact_level"],
        on_request: true,
        lines: vec![m.line(&[hips, level, point], Ink::Plumb)?],
        marks: vec![(m.pixel(hips)?, Mark::Joint), (m.pixel(point)?, Mark::Contact)],
        readings: vec![m.reading("contact_level", point, Ink::Plumb, "")?],
        ..Element::default()
    })
}

/// How far across from the hips the point of contact is.
pub fn reach(m: &Moment) -> Option<Element> {
    let point = m.is(Boundary::Contact).then(|| contact_point(&m.stroke.stroke).ok())??;
    let hips = m.middle(Joint::Hip)?;
    let along = Court { net: point.net, ..hips };
    let meets = Court { up: point.up, ..along };
    let reading = m.reading("contact_reach_cm", meets.middle(point), Ink::Base, "")?;
    m.shows_side().then_some(Element {
        ids: vec!["contact_reach_cm"],
        on_request: !is_worth_it(&reading),
        lines: vec![m.line(&[hips, along, meets], Ink::Plumb)?, m.line(&[meets, point], Ink::Base)?],
        marks: vec![(m.pixel(hips)?, Mark::Joint), (m.pixel(point)?, Mark::Contact)],
        readings: vec![reading],
        ..Element::default()
    })
}

/// How far the tip is above the eyes in the ready pose.
pub fn ready(m: &Moment) -> Option<Element> {
    let tip = m.racket().and_then(|_| m.on_racket(1.0))?;
    let eyes = m.at(Landmark::LeftEye)?.middle(m.at(Landmark::RightEye)?);
    let level = Court { up: eyes.up, ..tip };
    let reading = m.reading("ready_tip_above_eyes_cm", level.middle(tip), Ink::Path, "")?;
    m.is(Boundary::PrepStart).then_some(Element {
        ids: vec!["ready_tip_above_eyes_cm"],
        on_request: !is_worth_it(&reading),
        lines: vec![m.line(&[eyes, level], Ink::Plumb)?, m.line(&[level, tip], Ink::Path)?],
        marks: vec![(m.pixel(eyes)?, Mark::Joint), (m.pixel(tip)?, Mark::Joint)],
        readings: vec![reading],
        ..Element::default()
    })
}
