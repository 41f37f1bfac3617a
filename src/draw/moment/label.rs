//! Numbers beside their lines, and what stands below the picture.

use super::super::canvas::{At, Canvas};
use super::super::label::{Area, Placer};
use super::super::strip::grade_mark;
use super::super::style::{self, Pen, Text};
use super::super::{text, words};
use super::layout::View;
use super::lines::{Ink, Reading};
use super::pens::pen;
use crate::measure::{Grade, Measurement};

/// Height of ordinary text and of values, pixels.
pub const TEXT: f64 = 38.0;
const VALUE: f64 = 42.0;
/// Widest title of a label before it is broken, pixels.
const WIDEST: f64 = 340.0;
/// A label farther from its line than this is joined to it by a thin line.
const NEAR: f64 = 26.0;

/// Ordinary text.
pub const WORDS: Text = Text { size: TEXT, ..style::BODY };

/// A number beside its line.
pub struct Label {
    ink: Ink,
    pub(super) grade: Grade,
    lines: Vec<String>,
    value: String,
    /// What is said below the value instead of its minus sign.
    side: &'static str,
    at: At,
    size: (f64, f64),
    anchor: At,
}

impl Label {
    /// `None` where there is no room for it.
    pub(super) fn new(
        reading: &Reading,
        value: &Measurement,
        view: &View,
        placer: &mut Placer,
    ) -> Option<Self> {
        let mut title = reading.measure.title.to_owned();
        if !reading.of_all.is_empty() {
            title = format!("{title}, {}", reading.of_all);
        }
        let lines = text::wrap(&title, TEXT, false, WIDEST);
        let (amount, side) = amount_and_side(reading, value);
        let wide = lines.iter().map(String::as_str).chain([side]).map(|line| text::width(line, TEXT, false));
        let wide = wide.fold(text::width(&amount, VALUE, true) + 30.0, f64::max) + 40.0;
        let side_lines = if side.is_empty() { 0.0 } else { 1.0 };
        let high = 1.2 * TEXT * (lines.len() as f64 + side_lines) + 1.2 * VALUE + 14.0;
        let anchor = view.at(reading.at);
        let at = placer.place_anywhere(anchor, wide + 8.0, high + 8.0)?;
        Some(Self {
            ink: reading.ink,
            grade: value.grade,
            lines,
            value: amount,
            side,
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
    pub(super) fn lead(&self, canvas: &mut Canvas) {
        let Area(left, top, right, bottom) = self.area();
        let nearest = (self.anchor.0.clamp(left, right), self.anchor.1.clamp(top, bottom));
        if (nearest.0 - self.anchor.0).hypot(nearest.1 - self.anchor.1) > NEAR {
            canvas.line(self.anchor, nearest, &Pen::new(style::PAPER, 7.0));
            canvas.line(self.anchor, nearest, &Pen::new(style::INK, 2.5));
        }
    }

    pub(super) fn draw(&self, canvas: &mut Canvas) {
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
        canvas.text((left + 26.0, y + 0.6 * (TEXT + VALUE)), self.side, &WORDS);
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

/// A value with its ±, and the side it is on where a minus sign would say that.
fn amount_and_side(reading: &Reading, value: &Measurement) -> (String, &'static str) {
    let other_side = reading.measure.other_side(value.value, value.plus_minus);
    other_side.unwrap_or_else(|| (words::amount(reading.measure, value), ""))
}

/// A value with its measure's name.
pub fn sentence(reading: &Reading, value: &Measurement) -> String {
    let of_all = if reading.of_all.is_empty() { String::new() } else { format!("{} ", reading.of_all) };
    let (amount, side) = amount_and_side(reading, value);
    format!("{} {of_all}{amount} {side}", reading.measure.title).trim_end().to_owned()
}
