//! Where lines, marks and numbers of a moment stand over a picture.

use super::super::canvas::{At, Canvas};
use super::super::label::{Area, Placer};
use super::super::text;
use super::Instant;
use super::crop::Crop;
use super::label::{Label, Notes, TEXT, WORDS, sentence};
use super::lines::{Element, Ink, Mark, Moment};
use super::pens::{draw, stroke};
use crate::geometry::Point2;
use crate::measure::Grade;
use crate::stroke::Boundary;
use crate::units::Seconds;

/// Where the hand is at the moment itself is worth a word from so many body heights away from where it is in the picture.
const APART: f64 = 0.03;
/// And from so long before or after.
const LATE: Seconds = Seconds(0.0025);
/// Labels keep this far from the picture's edge.
const EDGE: f64 = 10.0;

/// A moment with a place for everything that is drawn of it.
pub struct Layout {
    /// Lines and marks.
    pub elements: Vec<Element>,
    /// Labels, each with its area.
    pub labels: Vec<Label>,
    /// What has no place in the picture.
    pub notes: Notes,
    view: View,
    room: Area,
    names: Vec<(At, &'static str)>,
    tails: Vec<[Point2; 2]>,
}

impl Layout {
    /// Finds a place for everything. `room` is what labels may cover, the picture as it is shown, without `taken` and the body
    /// (squares: middle and half a side, pixels of the clip's picture).
    pub fn new(
        moment: &Moment,
        elements: Vec<Element>,
        view: View,
        (room, taken): (Area, Option<Area>),
        body: &[(Point2, f64)],
    ) -> Self {
        let Area(left, top, right, bottom) = room;
        let mut placer = Placer::new(Area(left + EDGE, top + EDGE, right - EDGE, bottom - EDGE));
        taken.into_iter().for_each(|area| placer.block(area));
        for area in body {
            placer.block(view.area(*area));
        }
        reserve(&mut placer, &elements, &view);
        // Names of heights come first: they are small and belong beside their ticks.
        let names = elements.iter().flat_map(|e| &e.names).filter_map(|(point, name)| {
            let size = (text::width(name, TEXT, false) + 10.0, 1.25 * TEXT);
            let tick = view.at(*point);
            let beside = 0.5 * size.0 + 0.03 * view.body * view.crop.scale();
            let near = [0.0, -TEXT, TEXT].into_iter().flat_map(|dy| [(beside, dy), (-beside, dy)]);
            let places: Vec<At> = near.map(|(dx, dy)| (tick.0 + dx, tick.1 + dy)).collect();
            Some((placer.first_free(&places, size.0, size.1)?, *name))
        });
        let names: Vec<(At, &'static str)> = names.collect();
        let mut notes = Notes::default();
        let mut labels = Vec::new();
        for reading in elements.iter().flat_map(|e| &e.readings) {
            match reading.outcome {
                Err(missing) => notes.missing.push(format!("{} ({})", reading.measure.title, missing.name())),
                Ok(value) => match Label::new(reading, &value, &view, &mut placer) {
                    Some(label) => labels.push(label),
                    None => notes.crowded.push(sentence(reading, &value)),
                },
            }
        }
        let tails = tails(moment, &elements, view.body);
        notes.apart = (!tails.is_empty()).then(|| {
            let met =
                if moment.stroke.stroke.struck.is_some() { "the ball" } else { "the middle of the strings" };
            let what = match (shows(&elements, Mark::Hand), shows(&elements, Mark::Contact)) {
                (true, true) => format!("Ring: the hand; double ring: {met}"),
                (true, false) => "Ring: the hand".to_owned(),
                _ => format!("Double ring: {met}"),
            };
            format!("{what} at {}.", moment.instant.name())
        });
        Self { elements, labels, notes, view, room, names, tails }
    }

    /// The grades of the labels' values.
    pub fn grades(&self) -> Vec<Grade> {
        self.labels.iter().map(|label| label.grade).collect()
    }

    /// Draws everything.
    pub fn draw(&self, canvas: &mut Canvas) {
        for line in &self.tails {
            stroke(canvas, &line.map(|p| self.view.at(p)), Ink::Path, &self.room);
        }
        draw(canvas, &self.elements, &self.view, &self.room);
        // No thin line runs over a name or a label.
        for label in &self.labels {
            label.lead(canvas);
        }
        for (at, name) in &self.names {
            canvas.patched_text(*at, name, &WORDS.middle());
        }
        for label in &self.labels {
            label.draw(canvas);
        }
    }
}

/// From the clip's picture to the one that is drawn on.
#[derive(Debug, Clone, Copy)]
pub struct View {
    crop: Crop,
    /// Where the picture begins.
    top: f64,
    /// The player's height in the clip's picture, pixels.
    body: f64,
}

impl View {
    /// A part of the picture that is shown `top` pixels below the upper edge; `body` is the player's height in pixels of the
    /// clip's picture.
    pub fn new(crop: Crop, top: f64, body: f64) -> Self {
        Self { crop, top, body }
    }

    /// Where a point of the clip's picture is shown.
    pub fn at(&self, point: Point2) -> At {
        let (x, y) = self.crop.at(point);
        (x, y + self.top)
    }

    fn area(&self, (middle, half): (Point2, f64)) -> Area {
        let side = 2.0 * half * self.crop.scale();
        Area::around(self.at(middle), side, side)
    }
}

/// Keeps labels off lines where there is room elsewhere.
fn reserve(placer: &mut Placer, elements: &[Element], view: &View) {
    const EVERY: f64 = 24.0;
    for (line, _) in elements.iter().flat_map(|e| &e.lines) {
        for pair in line.windows(2) {
            let (a, b) = (view.at(pair[0]), view.at(pair[1]));
            let steps = ((b.0 - a.0).hypot(b.1 - a.1) / EVERY).ceil().clamp(1.0, 200.0) as usize;
            for i in 0..=steps {
                let t = i as f64 / steps as f64;
                placer.avoid(Area::around((a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t), EVERY, EVERY));
            }
        }
    }
    for (point, _) in elements.iter().flat_map(|e| &e.marks) {
        placer.block(view.area((*point, 0.015 * view.body)));
    }
}

/// From where hand and strings are in the picture to where they are at the moment itself, where that makes a difference.
fn tails(moment: &Moment, elements: &[Element], body_height: f64) -> Vec<[Point2; 2]> {
    // What is apart at the same time is so by the errors of both.
    let late = (moment.time - moment.shown).abs();
    if moment.instant != Instant::Boundary(Boundary::Contact) || late < LATE {
        return Vec::new();
    }
    let hand = moment.hand_in_picture().zip(moment.hand_at_moment());
    let strings = moment.strings_in_picture().zip(moment.contact_at_moment());
    [(Mark::Hand, hand), (Mark::Contact, strings)]
        .into_iter()
        .filter(|(mark, _)| shows(elements, *mark))
        .filter_map(|(_, line)| line)
        .filter(|(shown, meant)| shown.distance(*meant) > APART * body_height)
        .map(|(shown, meant)| [shown, meant])
        .collect()
}

fn shows(elements: &[Element], wanted: Mark) -> bool {
    elements.iter().flat_map(|e| &e.marks).any(|(_, mark)| *mark == wanted)
}
