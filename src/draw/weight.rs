//! The pelvis over the base through the stroke.

use std::io;

use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::measure::{Grade, pelvis_over_base};
use crate::order;
use crate::stroke::Sort;
use crate::units::Seconds;

use super::axis::{Frame, Ticks};
use super::canvas::{At, Canvas};
use super::curve::{self, Samples};
use super::page::{self, Head};
use super::style::{self, MARGIN, Pen, WIDTH};
use super::{hand_speed, label, svg, text, words};

const TITLE: &str = "Hips over the feet through the stroke";
const CONTACT: &str = "pelvis_over_base_at_contact";
const FINISH: &str = "pelvis_over_base_at_finish";
const LEFT: f64 = 120.0;
const RIGHT: f64 = 110.0;
const HEIGHT: f64 = 430.0;
const KEY_HEIGHT: f64 = 40.0;
const KEY_ROW: f64 = 28.0;
const AXIS_HEIGHT: f64 = 66.0;

/// Beyond these shares the hips are far outside the feet; curves are cut there.
const WIDEST: (f64, f64) = (-0.75, 1.75);
/// The range that is always shown.
const USUAL: (f64, f64) = (-0.25, 1.25);

/// A stroke's curve.
struct Line<'a> {
    stroke: &'a MeasuredStroke,
    samples: Samples,
    rough: bool,
}

/// Draws the chart.
pub fn draw(clip: &ClipMeasures) -> io::Result<String> {
    let window = window(clip);
    let lines: Vec<Line> = clip.strokes.iter().filter_map(|s| Line::new(s, window)).collect();
    let hidden: Vec<usize> = clip
        .strokes
        .iter()
        .map(|s| s.number)
        .filter(|i| lines.iter().all(|l| l.stroke.number != *i))
        .collect();
    if lines.is_empty() {
        return page::notice(TITLE, &format!("This can't be shown from this clip: {}.", reason(clip)));
    }
    let medians: Vec<(Sort, Samples)> = words::kinds(clip)
        .into_iter()
        .map(|kind| {
            let same: Vec<&Samples> = lines
                .iter()
                .filter(|l| l.stroke.stroke.sort() == kind && !l.rough)
                .map(|l| &l.samples)
                .collect();
            (kind, curve::medians(&same))
        })
        .filter(|(_, m)| !m.is_empty())
        .collect();
    let head = Head::new(TITLE, &notes(&lines, &hidden));
    let two_rows = is_mixed(&lines) && !medians.is_empty();
    let frame = Frame {
        left: MARGIN + LEFT,
        top: head.bottom() + KEY_HEIGHT + if two_rows { KEY_ROW } else { 0.0 },
        width: WIDTH - 2.0 * MARGIN - LEFT - RIGHT,
        height: HEIGHT,
        x: window,
        y: range(&lines),
    };
    svg::document(TITLE, &description(&lines), frame.bottom() + AXIS_HEIGHT + MARGIN, |canvas| {
        head.draw(canvas);
        key(canvas, &medians, &lines, head.bottom() + 0.5 * KEY_HEIGHT - 6.0);
        axes(canvas, &frame);
        let single = lines.len() == 1;
        for line in &lines {
            let pen = match (single, line.rough) {
                (true, _) => style::CURVE,
                (false, false) => Pen::new(style::PALE, 2.2),
                (false, true) => Pen::new(style::PALE, 2.2).dashed(6.0, 4.0),
            };
            frame.curve(canvas, &line.samples, &pen);
        }
        for (i, (_, median)) in medians.iter().enumerate() {
            frame.curve(canvas, median, &median_pen(i));
        }
        for line in &lines {
            line.marks(canvas, &frame);
        }
        names(canvas, &frame, &lines);
    })
}

fn median_pen(place: usize) -> Pen {
    match place {
        0 => style::MEDIAN,
        1 => Pen { colour: style::BLUE, ..style::MEDIAN }.dashed(12.0, 6.0),
        _ => style::MEDIAN.dashed(4.0, 5.0),
    }
}

/// The time shown: from a second before contact to a little after the latest finish.
fn window(clip: &ClipMeasures) -> (f64, f64) {
    let (from, to) = hand_speed::window(clip);
    (from.max(-1.2), to.min(1.2))
}

/// Holds the usual range and the curves, up to the widest.
fn range(lines: &[Line]) -> (f64, f64) {
    let values = || lines.iter().flat_map(|l| &l.samples).filter_map(|(_, v)| *v);
    let low = values().fold(USUAL.0, f64::min).max(WIDEST.0);
    let high = values().fold(USUAL.1, f64::max).min(WIDEST.1);
    (low, high)
}

fn notes(lines: &[Line], hidden: &[usize]) -> Vec<String> {
    let mut notes = vec![
        "Where the middle of the hips is between the feet: at the lower line over the back ankle, at the upper line over \
         the front ankle. This is posture, not force."
            .to_owned(),
    ];
    let rough: Vec<usize> = lines.iter().filter(|l| l.rough).map(|l| l.stroke.number).collect();
    if rough.len() == lines.len() {
        notes.push("A rough guide only: from this view the ± is large.".to_owned());
    } else if !rough.is_empty() {
        notes.push(format!("Thin dashes, a rough guide only: stroke {}.", words::listed(&rough)));
    }
    if !hidden.is_empty() {
        notes.push(format!(
            "Not shown, because too uncertain or not in sight: stroke {}.",
            words::listed(hidden)
        ));
    }
    notes
}

/// Why no stroke can be shown.
fn reason(clip: &ClipMeasures) -> &'static str {
    clip.strokes
        .iter()
        .find_map(|s| words::outcome(s, CONTACT)?.1.err())
        .map_or("hips or feet were not in sight", |missing| missing.name())
}

impl<'a> Line<'a> {
    /// A stroke's curve; `None` where neither contact nor finish could be measured.
    fn new(stroke: &'a MeasuredStroke, window: (f64, f64)) -> Option<Self> {
        let outcomes = [CONTACT, FINISH].map(|id| words::outcome(stroke, id));
        let grades: Vec<Grade> =
            outcomes.iter().flatten().filter_map(|(_, o)| Some(o.as_ref().ok()?.grade)).collect();
        let best = grades.iter().max()?;
        let samples = curve::around_contact(&stroke.stroke, window, |t: Seconds| {
            pelvis_over_base(&stroke.stroke, t).ok()
        });
        Some(Self { stroke, samples, rough: *best == Grade::Low })
    }

    fn value_at(&self, time: f64) -> Option<f64> {
        self.samples[order::nearest(&self.samples, |sample| sample.0, time)?].1
    }

    /// Contact as a dot and the end of the finish as a square on the curve.
    fn marks(&self, canvas: &mut Canvas, frame: &Frame) {
        const MARK: Pen = Pen::new(style::INK, 2.2);
        let inside = |v: &f64| *v >= frame.y.0 && *v <= frame.y.1;
        if let Some(value) = self.value_at(0.0).filter(inside) {
            canvas.dot(frame.at(0.0, value), 5.5, style::RUST);
        }
        let phases = &self.stroke.stroke.phases;
        if let Some(finish) = phases.finish_end {
            let t = (finish.time - phases.contact.time).0;
            if let Some(value) = self.value_at(t).filter(inside).filter(|_| t <= frame.x.1) {
                canvas.square(frame.at(t, value), 5.0, &MARK);
            }
        }
    }

    /// Where the curve leaves the frame on the right.
    fn end(&self, frame: &Frame) -> Option<(f64, f64)> {
        let inside = |v: f64| v >= frame.y.0 && v <= frame.y.1;
        self.samples.iter().rev().find_map(|(t, v)| Some((*t, (*v).filter(|v| inside(*v))?)))
    }
}

/// Marks and lines with their names; where kinds are mixed their medians have a row of their own.
fn key(canvas: &mut Canvas, medians: &[(Sort, Samples)], lines: &[Line], first_row: f64) {
    const LENGTH: f64 = 40.0;
    let mut at = (MARGIN + 6.0, first_row);
    let name = |canvas: &mut Canvas, (x, y): At, room: f64, name: &str| {
        canvas.text((x + room, y), name, &style::LABEL);
        (x + room + text::width(name, style::SMALL, false) + 30.0, y)
    };
    canvas.dot(at, 5.5, style::RUST);
    at = name(canvas, at, 14.0, "contact");
    canvas.square(at, 5.0, &Pen::new(style::INK, 2.2));
    at = name(canvas, at, 14.0, "end of the finish");
    if lines.len() > 1 {
        canvas.line(at, (at.0 + LENGTH, at.1), &Pen::new(style::PALE, 2.2));
        at = name(canvas, at, LENGTH + 10.0, "one stroke");
    }
    let mixed = is_mixed(lines);
    if mixed {
        at = (MARGIN, first_row + KEY_ROW);
    }
    for (i, (kind, _)) in medians.iter().enumerate() {
        canvas.line(at, (at.0 + LENGTH, at.1), &median_pen(i));
        let words = if mixed { format!("median {}", kind.plural()) } else { "median".to_owned() };
        at = name(canvas, at, LENGTH + 10.0, &words);
    }
}

fn is_mixed(lines: &[Line]) -> bool {
    lines.iter().any(|l| l.stroke.stroke.sort() != lines[0].stroke.stroke.sort())
}

fn axes(canvas: &mut Canvas, frame: &Frame) {
    for t in Ticks::within(frame.x.0, frame.x.1, 8).values() {
        frame.upright(canvas, t, &style::GRID_LINE);
    }
    frame.level(canvas, 0.5, &style::GRID_LINE);
    canvas.text((frame.left - 10.0, frame.down(0.5)), "half-way", &style::NOTE.end());
    for (value, name) in [(0.0, "back ankle"), (1.0, "front ankle")] {
        frame.level(canvas, value, &Pen::new(style::INK, 2.0));
        canvas.text((frame.left - 10.0, frame.down(value)), name, &style::LABEL.end());
    }
    frame.upright(canvas, 0.0, &style::CONTACT_LINE);
    canvas.line((frame.left, frame.bottom()), (frame.right(), frame.bottom()), &style::AXIS);
    hand_speed::times(canvas, frame, frame.bottom() + 20.0);
    let middle = 0.5 * (frame.left + frame.right());
    canvas.text((middle, frame.bottom() + 50.0), "seconds before and after contact", &style::NOTE.middle());
}

/// Numbers of the strokes where their curves end; thin lines lead to those that had to move.
fn names(canvas: &mut Canvas, frame: &Frame, lines: &[Line]) {
    if lines.len() == 1 {
        return;
    }
    let ends: Vec<(usize, (f64, f64))> =
        lines.iter().filter_map(|l| Some((l.stroke.number, l.end(frame)?))).collect();
    let wanted: Vec<f64> = ends.iter().map(|(_, (_, v))| frame.down(*v)).collect();
    let places = label::spread(&wanted, 1.1 * style::SMALL, (frame.top, frame.bottom()));
    // So many strokes that their numbers would lie over each other stay without.
    if style::SMALL * ends.len() as f64 > frame.height {
        return;
    }
    let highest = places.iter().copied().fold(f64::MAX, f64::min);
    let x = frame.right() + 30.0;
    canvas.text((x - 12.0, highest - 1.2 * style::SMALL), "stroke", &style::NOTE);
    for ((number, (t, value)), y) in ends.into_iter().zip(places) {
        canvas
            .path(&[frame.at(t, value), (frame.right() + 6.0, y), (x - 4.0, y)], &Pen::new(style::PALE, 1.0));
        canvas.text((x, y), &number.to_string(), &style::LABEL);
    }
}

fn description(lines: &[Line]) -> String {
    let all: Vec<String> = lines
        .iter()
        .map(|l| {
            let values: Vec<String> = [(CONTACT, "contact"), (FINISH, "the finish")]
                .iter()
                .filter_map(|(id, name)| {
                    let (measure, outcome) = words::outcome(l.stroke, id)?;
                    Some(format!("{} at {name}", words::amount(measure, outcome.as_ref().ok()?)))
                })
                .collect();
            format!("{}: {}.", words::heading(l.stroke), values.join(", "))
        })
        .collect();
    format!(
        "Position of the middle of the hips between back ankle (0) and front ankle (1) over time, all strokes over each \
         other, aligned at contact. {}",
        all.join(" ")
    )
}
