//! Where lines, marks and numbers of a moment stand over a picture, and how they are drawn.

use super::super::canvas::{At, Canvas};
use super::super::label::{Area, Placer};
use super::super::racket::Trust;
use super::super::strip::grade_mark;
use super::super::style::{self, Pen, Text};
use super::super::{text, words};
use super::Instant;
use super::frame::Crop;
use super::lines::{Element, Ink, Mark, Moment, Reading};
use crate::geometry::Point2;
use crate::measure::{Grade, Measurement};
use crate::stroke::Boundary;
use crate::units::Seconds;

/// Height of ordinary text and of values, pixels.
pub const TEXT: f64 = 30.0;
const VALUE: f64 = 34.0;
/// Widest title of a label before it is broken, pixels.
const WIDEST: f64 = 290.0;
/// A label farther from its line than this is joined to it by a thin line.
const NEAR: f64 = 26.0;
/// Where the hand is at the moment itself is worth a word from so many body heights away from where it is in the picture.
const APART: f64 = 0.03;
/// And from so long before or after.
const LATE: Seconds = Seconds(0.0025);
/// Labels keep this far from the picture's edge.
const EDGE: f64 = 10.0;

/// Ordinary text.
pub const WORDS: Text = Text { size: TEXT, ..style::BODY };

/// A moment with a place for everything that is drawn of it.
pub struct Layout {
    /// Lines and marks.
    pub elements: Vec<Element>,
    /// Labels, each with its area.
    pub labels: Vec<Label>,
    /// What has no place in the picture.
    pub notes: Notes,
    view: View,
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
            let late = (moment.time - moment.shown).milliseconds();
            let when = if late > 0.0 { "after" } else { "before" };
            let what = match (shows(&elements, Mark::Hand), shows(&elements, Mark::Contact)) {
                (true, true) => "The ring is the hand, the target the middle of the strings",
                (true, false) => "The ring is the hand",
                _ => "The target is the middle of the strings",
            };
            format!("{what} at {}, {:.0} ms {when} this picture.", moment.instant.name(), late.abs())
        });
        Self { elements, labels, notes, view, names, tails }
    }

    /// The grades of the labels' values.
    pub fn grades(&self) -> Vec<Grade> {
        self.labels.iter().map(|label| label.grade).collect()
    }

    /// Draws everything.
    pub fn draw(&self, canvas: &mut Canvas) {
        for line in &self.tails {
            stroke(canvas, &line.map(|p| self.view.at(p)), Ink::Path);
        }
        draw(canvas, &self.elements, &self.view);
        for (at, name) in &self.names {
            canvas.patched_text(*at, name, &WORDS.middle());
        }
        // No thin line runs over a label.
        for label in &self.labels {
            label.lead(canvas);
        }
        for label in &self.labels {
            label.draw(canvas);
        }
    }
}

/// A number beside its line.
pub struct Label {
    ink: Ink,
    grade: Grade,
    lines: Vec<String>,
    value: String,
    at: At,
    size: (f64, f64),
    anchor: At,
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

const fn pen(ink: Ink) -> Pen {
    match ink {
        Ink::Toe => Pen::new(style::RUST, 6.0).dashed(20.0, 12.0),
        Ink::Shoulder => Pen::new(style::BLUE, 7.0),
        Ink::Arm => Pen::new(style::RUST, 7.0),
        Ink::Trunk => Pen::new(style::INK, 7.0),
        Ink::Plumb => Pen::new(style::INK, 4.0).dashed(5.0, 10.0),
        Ink::Base => Pen::new(style::BLUE, 7.0).dashed(34.0, 9.0),
        Ink::Path => Pen::new(style::BLUE, 5.0).dashed(4.0, 11.0),
        Ink::Racket => Trust::Sure.pen(),
        Ink::Doubtful => Trust::Doubtful.pen(),
        Ink::Lag => Pen::new(style::INK, 4.0),
    }
}

fn stroke(canvas: &mut Canvas, line: &[At], ink: Ink) {
    cased(canvas, line, &pen(ink));
}

/// A line with a pale border, which shows on any background.
pub fn cased(canvas: &mut Canvas, line: &[At], pen: &Pen) {
    canvas.path(line, &Pen { colour: style::PAPER, width: pen.width + 5.0, dash: None });
    canvas.path(line, pen);
}

fn draw(canvas: &mut Canvas, elements: &[Element], view: &View) {
    for (line, ink) in elements.iter().flat_map(|e| &e.lines) {
        let line: Vec<At> = line.iter().map(|p| view.at(*p)).collect();
        stroke(canvas, &line, *ink);
    }
    for (point, mark) in elements.iter().flat_map(|e| &e.marks) {
        let at = view.at(*point);
        match mark {
            Mark::Joint => {
                canvas.dot(at, 9.0, style::PAPER);
                canvas.dot(at, 6.5, style::INK);
            }
            Mark::Contact => {
                canvas.dot(at, 12.0, style::PAPER);
                canvas.ring(at, 9.0, &Pen::new(style::RUST, 4.0));
                canvas.dot(at, 3.5, style::RUST);
            }
            Mark::Hand => canvas.ring(at, 10.0, &Pen::new(style::BLUE, 6.0)),
            Mark::Place => canvas.diamond(at, 13.0, &Pen::new(style::BLUE, 5.0)),
            Mark::Mass => canvas.square(at, 10.0, &Pen::new(style::INK, 5.0)),
        }
    }
}

impl Label {
    /// `None` where there is no room for it.
    fn new(reading: &Reading, value: &Measurement, view: &View, placer: &mut Placer) -> Option<Self> {
        let mut title = reading.measure.title.to_owned();
        if !reading.of_all.is_empty() {
            title = format!("{title}, {}", reading.of_all);
        }
        let lines = text::wrap(&title, TEXT, false, WIDEST);
        let amount = words::amount(reading.measure, value);
        let wide = lines.iter().map(|line| text::width(line, TEXT, false));
        let wide = wide.fold(text::width(&amount, VALUE, true) + 30.0, f64::max) + 40.0;
        let high = 1.2 * TEXT * lines.len() as f64 + 1.2 * VALUE + 14.0;
        let anchor = view.at(reading.at);
        let at = placer.place_anywhere(anchor, wide + 8.0, high + 8.0)?;
        Some(Self {
            ink: reading.ink,
            grade: value.grade,
            lines,
            value: amount,
            at,
            size: (wide, high),
            anchor,
        })
    }

    /// What it covers.
    pub fn area(&self) -> Area {
        Area::around(self.at, self.size.0, self.size.1)
    }

    /// The thin line to a label that stands apart from its line.
    fn lead(&self, canvas: &mut Canvas) {
        let Area(left, top, right, bottom) = self.area();
        let nearest = (self.anchor.0.clamp(left, right), self.anchor.1.clamp(top, bottom));
        if (nearest.0 - self.anchor.0).hypot(nearest.1 - self.anchor.1) > NEAR {
            canvas.line(self.anchor, nearest, &Pen::new(style::PAPER, 7.0));
            canvas.line(self.anchor, nearest, &Pen::new(style::INK, 2.5));
        }
    }

    fn draw(&self, canvas: &mut Canvas) {
        let Area(left, top, right, bottom) = self.area();
        canvas.fill((left, top), (right, bottom), style::PAPER);
        // A piece of the line that the number belongs to.
        canvas.line((left + 10.0, top + 8.0), (left + 10.0, bottom - 8.0), &pen(self.ink));
        let mut y = top + 7.0 + 0.6 * TEXT;
        for line in &self.lines {
            canvas.text((left + 26.0, y), line, &WORDS);
            y += 1.2 * TEXT;
        }
        y += 0.6 * (VALUE - TEXT);
        grade_mark(canvas, (left + 36.0, y), self.grade);
        canvas.text((left + 54.0, y), &self.value, &WORDS.bold().sized(VALUE));
    }
}

/// What is told below the picture.
#[derive(Debug, Default)]
pub struct Notes {
    /// That the hand is elsewhere at the moment itself.
    pub apart: Option<String>,
    /// Values for which there was no room.
    pub crowded: Vec<String>,
    /// What has no value, and why.
    pub missing: Vec<String>,
}

impl Notes {
    /// Whole sentences.
    pub fn sentences(&self) -> Vec<String> {
        let mut all: Vec<String> = self.apart.iter().cloned().collect();
        if !self.crowded.is_empty() {
            all.push(format!("Also: {}.", self.crowded.join("; ")));
        }
        if !self.missing.is_empty() {
            all.push(format!("No value: {}.", self.missing.join("; ")));
        }
        all
    }
}

/// A value with its measure's name.
pub fn sentence(reading: &Reading, value: &Measurement) -> String {
    let of_all = if reading.of_all.is_empty() { String::new() } else { format!("{} ", reading.of_all) };
    format!("{} {of_all}{}", reading.measure.title, words::amount(reading.measure, value))
}
