//! Speed of the hand over time, stroke under stroke, with contact in one line.

use std::io;

use crate::geometry::Court;
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::stroke::{Boundary, Sort, phases, search};

use super::axis::{Frame, Ticks};
use super::canvas::Canvas;
use super::curve::{self, Samples};
use super::page::Head;
use super::style::{self, MARGIN, WIDTH};
use super::{svg, text, words};

const TITLE: &str = "Speed of the hand, m/s";
const PEAK: &str = "hand_speed_peak_mps";
const LEFT: f64 = 70.0;
const AXIS_HEIGHT: f64 = 30.0;
const HEADING_HEIGHT: f64 = 32.0;
const PLOT_HEIGHT: f64 = 130.0;
const BAR_HEIGHT: f64 = 28.0;
const GAP: f64 = 20.0;
const PANEL_HEIGHT: f64 = HEADING_HEIGHT + PLOT_HEIGHT + BAR_HEIGHT + GAP;

/// Draws the chart.
pub fn draw(clip: &ClipMeasures) -> io::Result<String> {
    let window = window(clip);
    let speeds: Vec<Samples> = clip
        .strokes
        .iter()
        .map(|s| {
            let motion = &s.stroke.motion;
            curve::around_contact(&s.stroke, window, |t| phases::velocity(motion, t).map(Court::norm))
        })
        .collect();
    let medians: Vec<(Sort, Samples)> = words::kinds(clip)
        .into_iter()
        .map(|kind| {
            let same: Vec<&Samples> = clip
                .strokes
                .iter()
                .zip(&speeds)
                .filter(|(s, _)| s.stroke.sort() == kind)
                .map(|(_, speed)| speed)
                .collect();
            (kind, curve::medians(&same))
        })
        .collect();
    let fastest = speeds.iter().flatten().filter_map(|(_, v)| *v).fold(1.0, f64::max);

    let mut notes = vec![
        "Time runs from left to right; the grey strip at contact is its ±. The bar under each curve shows the phases: \
         preparation, drop (white), forward swing (dark), finish. The dot is the fastest moment of the forward swing."
            .to_owned(),
    ];
    let known: Vec<&str> =
        medians.iter().filter(|(_, m)| !m.is_empty()).map(|(kind, _)| kind.plural()).collect();
    if !known.is_empty() {
        notes.push(format!("Dashed: the median of all {} of this clip.", known.join(", and of all ")));
    }
    let head = Head::new(TITLE, &notes);
    let top = head.bottom() + AXIS_HEIGHT;
    let height = top + clip.strokes.len() as f64 * PANEL_HEIGHT + AXIS_HEIGHT + MARGIN;
    svg::document(TITLE, &description(clip), height, |canvas| {
        head.draw(canvas);
        for (i, (stroke, speed)) in clip.strokes.iter().zip(&speeds).enumerate() {
            let frame = Frame {
                left: MARGIN + LEFT,
                top: top + i as f64 * PANEL_HEIGHT + HEADING_HEIGHT,
                width: WIDTH - 2.0 * MARGIN - LEFT,
                height: PLOT_HEIGHT,
                x: window,
                y: (0.0, 1.12 * fastest),
            };
            if i == 0 {
                times(canvas, &frame, top - 0.5 * AXIS_HEIGHT);
            }
            let median = medians.iter().find(|(kind, _)| *kind == stroke.stroke.sort()).map(|(_, m)| m);
            panel(canvas, &frame, stroke, speed, median);
            if i + 1 == clip.strokes.len() {
                times(canvas, &frame, frame.bottom() + BAR_HEIGHT + GAP);
            }
        }
    })
}

/// Seconds before and after contact that hold every stroke's phases.
pub fn window(clip: &ClipMeasures) -> (f64, f64) {
    const EARLIEST: f64 = -2.2;
    const LATEST: f64 = 1.5;
    const AROUND: f64 = 0.15;
    let mut window: (f64, f64) = (-1.0, 0.6);
    for s in &clip.strokes {
        let phases = &s.stroke.phases;
        let met = phases.contact.time;
        for boundary in Boundary::ALL {
            if let Some(mark) = phases.get(boundary) {
                let t = (mark.time - met).0;
                window = (window.0.min(t - AROUND), window.1.max(t + AROUND));
            }
        }
    }
    (window.0.max(EARLIEST), window.1.min(LATEST))
}

/// The axis of time with contact named on it.
pub fn times(canvas: &mut Canvas, frame: &Frame, y: f64) {
    let ticks = Ticks::within(frame.x.0, frame.x.1, 8);
    let contact = 0.5 * text::width("contact", style::SMALL, true) + 8.0;
    for t in ticks.values() {
        let words = format!("{} s", ticks.label(t));
        let half = 0.5 * text::width(&words, style::SMALL, false);
        let x = frame.across(t);
        if (x - frame.across(0.0)).abs() > half + contact && x + half <= frame.right() + MARGIN {
            canvas.text((x, y), &words, &style::NOTE.middle());
        }
    }
    canvas.text((frame.across(0.0), y), "contact", &style::NOTE.middle().bold().coloured(style::RUST));
}

fn panel(
    canvas: &mut Canvas,
    frame: &Frame,
    stroke: &MeasuredStroke,
    speed: &Samples,
    median: Option<&Samples>,
) {
    let heading = words::heading(stroke);
    let y = frame.top - 0.5 * HEADING_HEIGHT;
    canvas.text((frame.left, y), &heading, &style::HEADING);
    let x = frame.left + text::width(&heading, style::TEXT, true) + 14.0;
    canvas.text((x, y), &facts(stroke), &style::NOTE);

    let contact = Boundary::ALL.iter().position(|b| *b == Boundary::Contact);
    if let Some(half) = contact.and_then(|i| stroke.measured.boundaries[i]) {
        let (left, right) = (frame.across(-half.0), frame.across(half.0));
        canvas.fill((left, frame.top), (right, frame.bottom()), style::BAND);
    }
    for t in Ticks::within(frame.x.0, frame.x.1, 8).values() {
        frame.upright(canvas, t, &style::GRID_LINE);
    }
    frame.scale_left(canvas, &Ticks::within(frame.y.0, frame.y.1, 3));
    let phases = &stroke.stroke.phases;
    let met = phases.contact.time;
    for boundary in [Boundary::PrepStart, Boundary::DropStart, Boundary::ForwardStart, Boundary::FinishEnd] {
        if let Some(mark) = phases.get(boundary) {
            let t = (mark.time - met).0;
            if t > frame.x.0 && t < frame.x.1 {
                frame.upright(canvas, t, &style::BOUNDARY);
            }
        }
    }
    canvas.line(
        (frame.across(0.0), frame.top),
        (frame.across(0.0), frame.bottom() + BAR_HEIGHT),
        &style::CONTACT_LINE,
    );
    if let Some(median) = median {
        frame.curve(canvas, median, &style::MEDIAN_BESIDE);
    }
    frame.curve(canvas, speed, &style::CURVE);
    if let (Some(start), Some((_, Ok(_)))) = (phases.forward_start, words::outcome(stroke, PEAK)) {
        let curve = |t| phases::velocity(&stroke.stroke.motion, t).map(Court::norm);
        if let Some((t, fastest)) = search::maximum(curve, start.time, met) {
            canvas.dot(frame.at((t - met).0, fastest), 6.5, style::BLUE);
        }
    }
    canvas.line((frame.left, frame.bottom()), (frame.right(), frame.bottom()), &style::AXIS);
    bar(canvas, frame, stroke);
}

/// When it was hit and how fast.
fn facts(stroke: &MeasuredStroke) -> String {
    let phases = &stroke.stroke.phases;
    let mut facts = format!("contact at {:.2} s", phases.contact.time.0);
    if let Some((measure, Ok(m))) = words::outcome(stroke, PEAK) {
        facts.push_str(&format!(" · peak {}, {} grade", words::amount(measure, &m), m.grade.name()));
    }
    facts
}

/// The phases as a bar under the curve.
fn bar(canvas: &mut Canvas, frame: &Frame, stroke: &MeasuredStroke) {
    let phases = &stroke.stroke.phases;
    let met = phases.contact.time;
    let at = |boundary: Boundary| phases.get(boundary).map(|m| (m.time - met).0);
    let (prep, drop) = (at(Boundary::PrepStart), at(Boundary::DropStart));
    let (forward, finish) = (at(Boundary::ForwardStart), at(Boundary::FinishEnd));
    let spans = [
        (prep, drop.or(forward), ["preparation", "prep."], style::BAND, style::INK),
        (drop, forward, ["drop", "drop"], style::PAPER, style::INK),
        (forward, Some(0.0), ["forward swing", "forward"], style::BLUE, style::PAPER),
        (Some(0.0), finish, ["finish", "finish"], style::BAND, style::INK),
    ];
    let (top, bottom) = (frame.bottom() + 4.0, frame.bottom() + BAR_HEIGHT);
    for (from, to, names, fill, ink) in spans {
        let (Some(from), Some(to)) = (from, to) else { continue };
        let (left, right) = (frame.across(from).max(frame.left), frame.across(to).min(frame.right()));
        if right <= left {
            continue;
        }
        canvas.fill((left, top), (right, bottom), fill);
        canvas.outline((left, top), (right, bottom), &style::AXIS);
        let room = right - left - 6.0;
        if let Some(name) = names.iter().find(|n| text::width(n, style::SMALL, false) <= room) {
            let style = style::LABEL.middle().coloured(ink);
            canvas.text((0.5 * (left + right), 0.5 * (top + bottom)), name, &style);
        }
    }
    // Over the bar's borders, so that contact stays one line.
    canvas.line((frame.across(0.0), top), (frame.across(0.0), bottom), &style::CONTACT_LINE);
}

fn description(clip: &ClipMeasures) -> String {
    let all: Vec<String> =
        clip.strokes.iter().map(|s| format!("{}: {}.", words::heading(s), facts(s))).collect();
    format!(
        "Speed of the hitting hand over time, one panel for each stroke, aligned at contact. {}",
        all.join(" ")
    )
}
