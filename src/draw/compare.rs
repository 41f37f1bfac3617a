//! Two sessions side by side: for each measure the strokes of both as dots with their medians, and the difference with its
//! interval.

use std::io;

use crate::compare::{ComparedMeasure, Comparison, Verdict};
use crate::measure::{Measure, Measurement};
use crate::stats::Summary;

use super::axis::{Frame, Ticks};
use super::canvas::Canvas;
use super::page::{self, Head};
use super::style::{self, MARGIN, Pen};
use super::{svg, text};

/// More rows than this make no chart that can be read; `compare.csv` has the rest.
const MOST_ROWS: usize = 14;
/// Narrow enough to be read on a phone without moving it: the measure's name stands over its panels.
const WIDE: f64 = 540.0;
const NAME: f64 = 34.0;
const NAME_LINE: f64 = style::LEADING * style::SMALL;
const ROW: f64 = NAME + 112.0;
const LANE: f64 = 30.0;
const STROKES: (f64, f64) = (MARGIN + 12.0, 270.0);
const DIFFERENCE: (f64, f64) = (348.0, 150.0);
const HEADING: f64 = 30.0;

/// Draws a comparison; a page of words where nothing can be compared.
///
/// # Errors
/// Where the chart can't be drawn.
pub fn draw(comparison: &Comparison) -> io::Result<String> {
    const TITLE: &str = "Before and after";
    if let Some(why) = &comparison.refused {
        return page::notice(TITLE, &format!("Not comparable: {why}."));
    }
    let rows: Vec<&ComparedMeasure> = comparison
        .rows
        .iter()
        .filter(|row| row.verdict != Verdict::Refused && row.seen)
        .take(MOST_ROWS)
        .collect();
    if rows.is_empty() {
        return page::notice(TITLE, "No measure has a value in both sessions.");
    }
    let [before, after] = &comparison.names;
    let mut notes = vec![format!(
        "Before: {before}, {} strokes. After: {after}, {} strokes.",
        comparison.strokes[0], comparison.strokes[1]
    )];
    notes.extend(comparison.notes.iter().map(|note| format!("{}.", text::capitalised(note))));
    if comparison.rows.len() > rows.len() {
        notes.push(format!("The {} most telling of {} measures.", rows.len(), comparison.rows.len()));
    }
    let head = Head::within(WIDE, TITLE, &notes);
    let top = head.bottom() + 3.0 * HEADING;
    let names: Vec<Vec<String>> = rows.iter().map(|row| name_lines(row)).collect();
    let high = |lines: &Vec<String>| ROW + NAME_LINE * (lines.len().max(1) - 1) as f64;
    let height = top + names.iter().map(high).sum::<f64>() + MARGIN;
    svg::sized(TITLE, &description(&rows), (WIDE, height), |canvas| {
        head.draw(canvas);
        key(canvas, head.bottom() + 0.4 * HEADING);
        let y = head.bottom() + 2.4 * HEADING;
        canvas.text((STROKES.0, y), "Strokes and medians", &style::NOTE);
        canvas.text((DIFFERENCE.0, y), "Of means, with 95 %", &style::NOTE);
        let mut top = top;
        for (row, lines) in rows.iter().zip(&names) {
            canvas.line((MARGIN, top), (WIDE - MARGIN, top), &style::GRID_LINE);
            name(canvas, row, lines, top);
            let bottom = top + high(lines);
            strokes(canvas, row, bottom - ROW + NAME);
            difference(canvas, row, bottom - ROW + NAME);
            top = bottom;
        }
    })
}

/// What the marks mean.
fn key(canvas: &mut Canvas, y: f64) {
    let mut x = MARGIN + 9.0;
    for (label, is_after) in [("before", false), ("after", true)] {
        stroke_mark(canvas, (x, y), is_after);
        canvas.text((x + 14.0, y), label, &style::LABEL);
        x += 14.0 + text::width(label, style::SMALL, false) + 28.0;
    }
    median_mark(canvas, x, y);
    canvas.text((x + 12.0, y), "median", &style::LABEL);
    let (x, y) = (MARGIN, y + HEADING);
    canvas.fill((x, y - 10.0), (x + 20.0, y + 10.0), style::BAND);
    canvas.text((x + 28.0, y), "target, or a difference that does not matter", &style::LABEL);
}

fn stroke_mark(canvas: &mut Canvas, at: (f64, f64), is_after: bool) {
    if is_after {
        canvas.dot(at, 5.5, style::BLUE);
    } else {
        canvas.ring(at, 4.8, &Pen::new(style::GREY, 2.2));
    }
}

fn median_mark(canvas: &mut Canvas, x: f64, y: f64) {
    canvas.line((x, y - 12.0), (x, y + 12.0), &Pen::new(style::INK, 4.0));
}

/// The measure's name in lines that leave room for what it comes to.
fn name_lines(row: &ComparedMeasure) -> Vec<String> {
    let room = WIDE - 2.0 * MARGIN - text::width(row.verdict.in_plain_words(), style::SMALL, true) - 16.0;
    text::wrap(&super::words::title(row.measure), style::SMALL, true, room)
}

/// The measure and what it comes to, over its panels.
fn name(canvas: &mut Canvas, row: &ComparedMeasure, lines: &[String], top: f64) {
    let y = top + 0.5 * NAME + 2.0;
    let style = if row.verdict == Verdict::Changed { style::LABEL.bold() } else { style::LABEL };
    canvas.text((WIDE - MARGIN, y), row.verdict.in_plain_words(), &style.end());
    for (i, line) in lines.iter().enumerate() {
        canvas.text((MARGIN, y + NAME_LINE * i as f64), line, &style::LABEL.bold());
    }
}

/// A panel that stands in a row.
fn frame((left, width): (f64, f64), top: f64, x: (f64, f64)) -> Frame {
    Frame { left, top: top + 8.0, width, height: 2.0 * LANE + 16.0, x, y: (0.0, 1.0) }
}

/// Values on a scale of their own: a lane for each session.
fn strokes(canvas: &mut Canvas, row: &ComparedMeasure, top: f64) {
    let sides = [ComparedMeasure::values(&row.before), ComparedMeasure::values(&row.after)];
    let all = || sides.iter().flatten().copied();
    let frame =
        frame(STROKES, top, widened(all().fold(f64::MAX, f64::min), all().fold(f64::MIN, f64::max), row));
    if let Some(target) = row.target.as_ref().filter(|target| target.range().is_some()) {
        let low = target.low.unwrap_or(f64::MIN).clamp(frame.x.0, frame.x.1);
        let high = target.high.unwrap_or(f64::MAX).clamp(frame.x.0, frame.x.1);
        band(canvas, &frame, low, high);
    }
    scale(canvas, &frame, row.measure, 5);
    for (lane, values) in sides.iter().enumerate() {
        let y = frame.top + 8.0 + (lane as f64 + 0.5) * LANE;
        for value in values {
            stroke_mark(canvas, (frame.across(*value), y), lane == 1);
        }
        if let Some(summary) = Summary::of(values) {
            median_mark(canvas, frame.across(summary.median), y);
        }
    }
}

/// The range of an axis with room at its ends, no narrower than what the measure can tell at best.
fn widened(low: f64, high: f64, row: &ComparedMeasure) -> (f64, f64) {
    let missing = (row.measure.grades.0 - (high - low)).max(0.0);
    let (low, high) = (low - 0.5 * missing, high + 0.5 * missing);
    let room = 0.08 * (high - low);
    (low - room, high + room)
}

/// The difference with its interval and zero, over the coach's margin.
fn difference(canvas: &mut Canvas, row: &ComparedMeasure, top: f64) {
    let Some(value) = row.difference() else { return };
    let interval = row.tested.map(|tested| tested.difference.interval);
    let (low, high) = interval.map_or((value, value), |i| (i.low, i.high));
    let frame = frame(DIFFERENCE, top, widened(low.min(0.0), high.max(0.0), row));
    if let Some(margin) = row.target.as_ref().and_then(|target| target.margin) {
        band(canvas, &frame, (-margin).max(frame.x.0), margin.min(frame.x.1));
    }
    scale(canvas, &frame, row.measure, 3);
    frame.upright(canvas, 0.0, &Pen::new(style::INK, 2.0));
    let y = frame.top + 0.5 * frame.height;
    let pen = Pen::new(style::RUST, 3.0);
    if interval.is_some() {
        canvas.line((frame.across(low), y), (frame.across(high), y), &pen);
        for end in [low, high] {
            canvas.line((frame.across(end), y - 7.0), (frame.across(end), y + 7.0), &pen);
        }
    }
    canvas.square((frame.across(value), y), 5.5, &pen);
}

fn band(canvas: &mut Canvas, frame: &Frame, low: f64, high: f64) {
    if low < high {
        canvas.fill((frame.across(low), frame.top), (frame.across(high), frame.bottom()), style::BAND);
    }
}

/// Grid lines with their numbers below.
fn scale(canvas: &mut Canvas, frame: &Frame, measure: &Measure, most: usize) {
    let ticks = Ticks::of(measure, frame.x, most);
    for value in ticks.values() {
        frame.upright(canvas, value, &style::GRID_LINE);
        canvas.text((frame.across(value), frame.bottom() + 14.0), &ticks.label(value), &style::NOTE.middle());
    }
}

fn description(rows: &[&ComparedMeasure]) -> String {
    let amounts = |side: &[Measurement]| {
        Summary::of(&ComparedMeasure::values(side)).map_or(0.0, |summary| summary.median)
    };
    let all: Vec<String> = rows
        .iter()
        .map(|row| {
            let amount = |value| row.measure.amount(value);
            let (before, after) = (amount(amounts(&row.before)), amount(amounts(&row.after)));
            format!("{}: median {before} before, {after} after, {}.", row.measure.title, row.verdict.name())
        })
        .collect();
    all.join(" ")
}
