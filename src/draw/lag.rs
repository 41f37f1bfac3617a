//! Lag against time before contact: all strokes over each other with their median.

use std::io;

use crate::measure;
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::stroke::Sort;

use super::axis::{Frame, Ticks};
use super::canvas::Canvas;
use super::curve::{self, Samples};
use super::hand_speed;
use super::page::Head;
use super::style::{self, MARGIN, Pen, WIDTH};
use super::{svg, text, words};

const TITLE: &str = "Lag: angle between forearm and racket, degrees";
const PEAK: &str = "lag_peak_deg";
const LEFT: f64 = 70.0;
const AXIS_HEIGHT: f64 = 34.0;
const HEADING_HEIGHT: f64 = 34.0;
const PLOT_HEIGHT: f64 = 330.0;
const KEY_HEIGHT: f64 = 36.0;

/// Seconds around contact that are shown.
const WINDOW: (f64, f64) = (-0.6, 0.15);

/// Single strokes behind the median; the dash tells strokes of low grade.
const SINGLE: Pen = Pen::new(style::PALE, 1.8);
const LOW: Pen = Pen::new(style::PALE, 1.8).dashed(3.0, 4.0);

/// A stroke's curve.
struct Drawn<'a> {
    stroke: &'a MeasuredStroke,
    samples: Samples,
}

/// Draws the chart.
pub fn draw(clip: &ClipMeasures) -> io::Result<String> {
    let drawn: Vec<Drawn> = clip
        .strokes
        .iter()
        .map(|stroke| Drawn {
            stroke,
            samples: curve::around_contact(&stroke.stroke, WINDOW, |t| measure::lag(&stroke.stroke, t).ok()),
        })
        .filter(|drawn| drawn.samples.iter().any(|(_, lag)| lag.is_some()))
        .collect();
    if drawn.is_empty() {
        return super::page::notice(TITLE, "This can't be shown from this clip: no racket was seen.");
    }
    let kinds: Vec<Sort> = words::kinds(clip)
        .into_iter()
        .filter(|kind| drawn.iter().any(|d| d.stroke.stroke.sort() == *kind))
        .collect();
    let left_out: Vec<usize> = clip
        .strokes
        .iter()
        .map(|stroke| stroke.number)
        .filter(|number| drawn.iter().all(|drawn| drawn.stroke.number != *number))
        .collect();
    let head = Head::new(TITLE, &notes(&left_out));
    let top = head.bottom() + KEY_HEIGHT;
    let panel = HEADING_HEIGHT + PLOT_HEIGHT + AXIS_HEIGHT;
    let whole = top + kinds.len() as f64 * panel + MARGIN;
    svg::document(TITLE, &description(&drawn), whole, |canvas| {
        head.draw(canvas);
        key(canvas, head.bottom() + 0.5 * KEY_HEIGHT);
        for (i, kind) in kinds.iter().enumerate() {
            let of_kind: Vec<&Drawn> = drawn.iter().filter(|d| d.stroke.stroke.sort() == *kind).collect();
            let frame = Frame {
                left: MARGIN + LEFT,
                top: top + i as f64 * panel + HEADING_HEIGHT,
                width: WIDTH - 2.0 * MARGIN - LEFT,
                height: PLOT_HEIGHT,
                x: WINDOW,
                y: (0.0, 150.0),
            };
            draw_panel(canvas, &frame, *kind, &of_kind);
        }
    })
}

fn notes(left_out: &[usize]) -> Vec<String> {
    let mut notes = vec![
        "0 = racket in line with the forearm, 90 = square, over 90 = racket trails back. A larger lag is no goal in itself. \
         In space, with depth from the racket's known length: what points at the camera is unsure."
            .to_owned(),
    ];
    if !left_out.is_empty() {
        notes.push(format!("Not shown, because no racket was seen: {}.", words::listed(left_out)));
    }
    notes
}

fn key(canvas: &mut Canvas, y: f64) {
    let mut x = MARGIN;
    for (pen, name) in [
        (SINGLE, "a stroke"),
        (LOW, "a stroke whose peak is low grade or missing"),
        (style::MEDIAN, "median"),
    ] {
        canvas.line((x, y), (x + 46.0, y), &pen);
        canvas.text((x + 56.0, y), name, &style::LABEL);
        x += 56.0 + text::width(name, style::SMALL, false) + 30.0;
    }
}

fn draw_panel(canvas: &mut Canvas, frame: &Frame, kind: Sort, drawn: &[&Drawn]) {
    let count = drawn.len();
    let heading =
        if count == 1 { format!("1 {}", kind.name()) } else { format!("{count} {}", kind.plural()) };
    canvas.text((frame.left, frame.top - 0.5 * HEADING_HEIGHT), &heading, &style::HEADING);
    for t in Ticks::within(frame.x.0, frame.x.1, 8).values() {
        frame.upright(canvas, t, &style::GRID_LINE);
    }
    frame.scale_left(canvas, &Ticks::within(frame.y.0, frame.y.1, 5));
    for drawn in drawn {
        let sure =
            matches!(words::outcome(drawn.stroke, PEAK), Some((_, Ok(m))) if m.grade > measure::Grade::Low);
        frame.curve(canvas, &drawn.samples, if sure { &SINGLE } else { &LOW });
    }
    let samples: Vec<&Samples> = drawn.iter().map(|drawn| &drawn.samples).collect();
    frame.curve(canvas, &curve::medians(&samples), &style::MEDIAN);
    frame.upright(canvas, 0.0, &style::CONTACT_LINE);
    canvas.line((frame.left, frame.bottom()), (frame.right(), frame.bottom()), &style::AXIS);
    hand_speed::times(canvas, frame, frame.bottom() + 0.5 * AXIS_HEIGHT);
}

fn description(drawn: &[Drawn]) -> String {
    let one = |drawn: &Drawn| {
        let peak = match words::outcome(drawn.stroke, PEAK) {
            Some((measure, Ok(m))) => format!("largest {}", words::amount(measure, &m)),
            Some((_, Err(reason))) => format!("largest lag missing: {}", reason.name()),
            None => String::new(),
        };
        format!("{}: {peak}.", words::heading(drawn.stroke))
    };
    let all: Vec<String> = drawn.iter().map(one).collect();
    format!(
        "Angle between forearm and racket over time, strokes over each other, aligned at contact. {}",
        all.join(" ")
    )
}
