//! Putting a still together: heading, picture, lines, numbers, notes.

use std::io;

use super::super::canvas::{At, Canvas};
use super::super::label::{Area, Placer};
use super::super::strip::grade_mark;
use super::super::style::{self, Pen, Text};
use super::super::{raster, text, words};
use super::frame::{Crop, WIDTH};
use super::lines::{Element, Ink, Mark, Moment, Reading};
use super::{Lines, Still, body};
use crate::geometry::Point2;
use crate::measure::{Grade, Measurement};
use crate::pose::Motion;
use crate::stroke::Boundary;
use crate::video::Picture;

/// Height of ordinary text and of values, pixels.
pub const TEXT: f64 = 30.0;
const VALUE: f64 = 34.0;
const HEADING: f64 = 40.0;
/// Empty border of texts, pixels.
const BORDER: f64 = 24.0;
const LINE: f64 = style::LEADING * TEXT;
/// Widest title of a label before it is broken, pixels.
const WIDEST: f64 = 290.0;
/// A label farther from its line than this is joined to it by a thin line.
const NEAR: f64 = 26.0;
/// Where the hand is at the moment itself is worth a word from so many body heights away from where it is in the picture.
const APART: f64 = 0.03;

const WORDS: Text = Text { size: TEXT, ..style::BODY };
const QUIET: Text = WORDS.coloured(style::GREY);

/// A label with the place of its middle.
struct Label<'a> {
    reading: &'a Reading,
    lines: Vec<String>,
    value: String,
    at: At,
    size: (f64, f64),
    anchor: At,
}

/// Draws a moment over its picture.
pub fn still(
    motion: &Motion,
    place: usize,
    body_height: f64,
    picture: &Picture,
    moment: &Moment,
    lines: Lines<'_>,
) -> io::Result<Still> {
    let elements = moment.elements(lines);
    let points: Vec<Point2> = body::points(motion, place)
        .chain(elements.iter().flat_map(|e| &e.lines).flat_map(|(line, _)| line.iter().copied()))
        .collect();
    let crop = Crop::around(&points, body_height, (picture.width, picture.height));
    let head = heading(moment, lines);
    let top = BORDER + HEADING * style::LEADING + LINE * (head.len() - 1) as f64;
    let view = View { crop, top: top.round(), unit: body_height * crop.scale() };

    let mut placer = Placer::new(Area(
        10.0,
        view.top + 10.0,
        f64::from(WIDTH) - 10.0,
        view.top + f64::from(crop.shown_height()) - 10.0,
    ));
    for area in body::areas(motion, place, body_height) {
        placer.block(view.area(area));
    }
    reserve(&mut placer, &elements, &view);
    let names: Vec<(At, &str)> =
        elements.iter().flat_map(|e| &e.names).map(|(p, n)| (view.at(*p), *n)).collect();
    let names: Vec<(At, &str)> = names
        .into_iter()
        .filter_map(|(at, name)| {
            let wide = text::width(name, TEXT, false) + 10.0;
            Some((placer.place_anywhere(at, wide, TEXT * 1.15)?, name))
        })
        .collect();
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
    let tail = tail(moment, &elements, body_height);
    notes.apart = tail.is_some().then(|| {
        let late = (moment.time - moment.shown).milliseconds();
        let when = if late > 0.0 { "after" } else { "before" };
        format!(
            "The ring is the hand at {}, {:.0} ms {when} this picture.",
            name(moment.boundary),
            late.abs()
        )
    });
    let grades: Vec<Grade> =
        labels.iter().filter_map(|label| Some(label.reading.outcome.ok()?.grade)).collect();
    let foot = notes.lines();
    let key = grades.iter().any(|grade| *grade < Grade::Good);
    let below = view.top + f64::from(crop.shown_height());
    let rows = foot.len() + usize::from(key);
    let height = below + if rows > 0 { LINE * rows as f64 + BORDER } else { 0.0 };

    let mut image = page(&crop.cut(picture), view.top as usize, height.round() as u32);
    raster::over(&mut image, |canvas| {
        for (i, words) in head.iter().enumerate() {
            let y = BORDER + 0.5 * HEADING;
            match i {
                0 => canvas.text((BORDER, y), words, &WORDS.bold().sized(HEADING)),
                _ => canvas.text((BORDER, y + 0.5 * HEADING + LINE * (i as f64 - 0.5) + 8.0), words, &QUIET),
            }
        }
        if let Some(line) = &tail {
            stroke(canvas, &line.map(|p| view.at(p)), Ink::Path);
        }
        draw(canvas, &elements, &view);
        for (at, name) in &names {
            canvas.patched_text(*at, name, &WORDS.middle());
        }
        for label in &labels {
            label.draw(canvas);
        }
        let row = |i: usize| below + 0.5 * BORDER + LINE * (i as f64 + 0.5);
        for (i, words) in foot.iter().enumerate() {
            canvas.text((BORDER, row(i)), words, &QUIET);
        }
        if key {
            grades_key(canvas, &grades, row(foot.len()));
        }
    })?;
    Ok(Still { alt: alt(moment, &head, &elements, &notes), image })
}

/// From the clip's picture to the still's page.
struct View {
    crop: Crop,
    /// Where the picture begins.
    top: f64,
    /// A body height in pixels of the still.
    unit: f64,
}

impl View {
    fn at(&self, point: Point2) -> At {
        let (x, y) = self.crop.at(point);
        (x, y + self.top)
    }

    fn area(&self, (middle, half): (Point2, f64)) -> Area {
        Area::around(self.at(middle), 2.0 * half * self.crop.scale(), 2.0 * half * self.crop.scale())
    }
}

/// The picture on white paper, with room above and below.
fn page(picture: &Picture, top: usize, height: u32) -> Picture {
    let row = 3 * picture.width as usize;
    let mut rgb = vec![255; row * height as usize];
    if let Some(place) = rgb.get_mut(row * top..row * top + picture.rgb.len()) {
        place.copy_from_slice(&picture.rgb);
    }
    Picture { width: picture.width, height, rgb }
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
        placer.block(Area::around(view.at(*point), 0.03 * view.unit, 0.03 * view.unit));
    }
}

/// From where the hand is in the picture to where it is at the moment itself, where that makes a difference.
fn tail(moment: &Moment, elements: &[Element], body_height: f64) -> Option<[Point2; 2]> {
    let shows_hand = elements.iter().flat_map(|e| &e.marks).any(|(_, mark)| *mark == Mark::Hand);
    let line = [moment.hand_in_picture()?, moment.hand_at_moment()?];
    let apart = moment.boundary == Boundary::Contact && line[0].distance(line[1]) > APART * body_height;
    (shows_hand && apart).then_some(line)
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
    }
}

/// A line with a pale border, which shows on any background.
fn stroke(canvas: &mut Canvas, line: &[At], ink: Ink) {
    let pen = pen(ink);
    canvas.path(line, &Pen { colour: style::PAPER, width: pen.width + 5.0, dash: None });
    canvas.path(line, &pen);
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
            Mark::Hand => canvas.ring(at, 10.0, &Pen::new(style::BLUE, 6.0)),
            Mark::Place => canvas.diamond(at, 13.0, &Pen::new(style::BLUE, 5.0)),
            Mark::Mass => canvas.square(at, 10.0, &Pen::new(style::INK, 5.0)),
        }
    }
}

impl<'a> Label<'a> {
    /// `None` where there is no room for it.
    fn new(reading: &'a Reading, value: &Measurement, view: &View, placer: &mut Placer) -> Option<Self> {
        let lines = text::wrap(reading.measure.title, TEXT, false, WIDEST);
        let mut amount = words::amount(reading.measure, value);
        if !reading.of_all.is_empty() {
            amount = format!("{} {amount}", reading.of_all);
        }
        let wide = lines.iter().map(|line| text::width(line, TEXT, false));
        let wide = wide.fold(text::width(&amount, VALUE, true) + 30.0, f64::max) + 40.0;
        let high = 1.2 * TEXT * lines.len() as f64 + 1.2 * VALUE + 14.0;
        let anchor = view.at(reading.at);
        let at = placer.place_anywhere(anchor, wide + 8.0, high + 8.0)?;
        Some(Self { reading, lines, value: amount, at, size: (wide, high), anchor })
    }

    fn area(&self) -> Area {
        Area::around(self.at, self.size.0, self.size.1)
    }

    fn draw(&self, canvas: &mut Canvas) {
        let Area(left, top, right, bottom) = self.area();
        let nearest = (self.anchor.0.clamp(left, right), self.anchor.1.clamp(top, bottom));
        if (nearest.0 - self.anchor.0).hypot(nearest.1 - self.anchor.1) > NEAR {
            canvas.line(self.anchor, nearest, &Pen::new(style::PAPER, 7.0));
            canvas.line(self.anchor, nearest, &Pen::new(style::INK, 2.5));
        }
        canvas.fill((left, top), (right, bottom), style::PAPER);
        // A piece of the line that the number belongs to.
        canvas.line((left + 10.0, top + 8.0), (left + 10.0, bottom - 8.0), &pen(self.reading.ink));
        let mut y = top + 7.0 + 0.6 * TEXT;
        for line in &self.lines {
            canvas.text((left + 26.0, y), line, &WORDS);
            y += 1.2 * TEXT;
        }
        y += 0.6 * (VALUE - TEXT);
        if let Ok(value) = self.reading.outcome {
            grade_mark(canvas, (left + 36.0, y), value.grade);
        }
        canvas.text((left + 54.0, y), &self.value, &WORDS.bold().sized(VALUE));
    }
}

/// What the marks of uncertain values mean.
fn grades_key(canvas: &mut Canvas, grades: &[Grade], y: f64) {
    let mut x = BORDER + 10.0;
    for (grade, meaning) in
        [(Grade::Fair, "fair: mind the ±"), (Grade::Low, "low grade: for orientation only")]
    {
        if grades.contains(&grade) {
            grade_mark(canvas, (x, y), grade);
            canvas.text((x + 20.0, y), meaning, &QUIET);
            x += text::width(meaning, TEXT, false) + 64.0;
        }
    }
}

/// What is told below the picture.
#[derive(Default)]
struct Notes {
    apart: Option<String>,
    crowded: Vec<String>,
    missing: Vec<String>,
}

impl Notes {
    fn sentences(&self) -> Vec<String> {
        let mut all: Vec<String> = self.apart.iter().cloned().collect();
        if !self.crowded.is_empty() {
            all.push(format!("Also: {}.", self.crowded.join("; ")));
        }
        if !self.missing.is_empty() {
            all.push(format!("No value: {}.", self.missing.join("; ")));
        }
        all
    }

    fn lines(&self) -> Vec<String> {
        let room = f64::from(WIDTH) - 2.0 * BORDER;
        self.sentences().iter().flat_map(|sentence| text::wrap(sentence, TEXT, false, room)).collect()
    }
}

/// A moment's name for a coach.
pub const fn name(boundary: Boundary) -> &'static str {
    match boundary {
        Boundary::PrepStart => "ready",
        Boundary::DropStart => "top of the loop",
        Boundary::BackswingEnd => "end of takeback",
        Boundary::LowPoint => "low point",
        Boundary::ForwardStart => "start of the forward swing",
        Boundary::Contact => "contact",
        Boundary::FinishEnd => "finish",
    }
}

/// The heading and the lines under it.
fn heading(moment: &Moment, lines: Lines<'_>) -> Vec<String> {
    let mut first = format!("{} · {}", words::heading(moment.stroke), name(moment.boundary));
    let plus_minus = moment.stroke.measured.boundaries[moment.boundary as usize];
    let time = match plus_minus {
        Some(plus_minus) => format!("{:.2} ± {:.2} s", moment.time.0, plus_minus.0),
        None => format!("{:.2} s", moment.time.0),
    };
    let mut parts = vec![time];
    parts.extend(moment.tempo(lines).into_iter().filter_map(|(measure, outcome)| {
        Some(format!("{} {}", measure.title, words::amount(measure, &outcome.ok()?)))
    }));
    let room = f64::from(WIDTH) - 2.0 * BORDER;
    if text::width(&first, HEADING, true) > room {
        first = format!("Stroke {} · {}", moment.stroke.number, name(moment.boundary));
    }
    let mut all = vec![first];
    all.extend(text::wrap(&parts.join(" · "), TEXT, false, room));
    all
}

fn sentence(reading: &Reading, value: &Measurement) -> String {
    let of_all = if reading.of_all.is_empty() { String::new() } else { format!("{} ", reading.of_all) };
    format!("{} {of_all}{}", reading.measure.title, words::amount(reading.measure, value))
}

/// The still in words.
fn alt(moment: &Moment, head: &[String], elements: &[Element], notes: &Notes) -> String {
    let _ = moment;
    let numbers: Vec<String> = elements
        .iter()
        .flat_map(|e| &e.readings)
        .filter_map(|reading| {
            let value = reading.outcome.ok()?;
            Some(format!("{}, {} grade", sentence(reading, &value), value.grade.name()))
        })
        .collect();
    let mut all = vec![format!("{}.", head.join(", "))];
    if !numbers.is_empty() {
        all.push(format!("{}.", text::capitalised(&numbers.join("; "))));
    }
    all.extend(notes.apart.clone());
    if !notes.missing.is_empty() {
        all.push(format!("No value: {}.", notes.missing.join("; ")));
    }
    all.join(" ")
}
