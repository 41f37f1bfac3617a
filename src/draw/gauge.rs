//! A measure's value with its ± against the range of its target.

use std::io;

use crate::measure::Grade;
use crate::targets::Target;

use super::axis::{Frame, Ticks};
use super::canvas::Canvas;
use super::strip::grade_mark;
use super::style::{self, Pen};
use super::{svg, text};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 150.0;
const SIDE: f64 = 26.0;
/// Upper and lower edge of the target's band, and where the value lies in it.
const TOP: f64 = 34.0;
const BOTTOM: f64 = 108.0;
const LEVEL: f64 = 86.0;
/// Room beyond what is shown, as a share of it.
const ROOM: f64 = 0.14;

/// Draws a value (in the measure's unit, with half its 95 % interval) on a line with the target's range as a band.
pub fn draw(target: &Target, value: f64, plus_minus: f64, grade: Grade) -> io::Result<String> {
    let measure = target.measure;
    let title = format!("{} against the aim", text::capitalised(measure.title));
    let amount = match measure.other_side(value, plus_minus) {
        Some((amount, side)) => format!("{amount} {side}"),
        None => measure.within(value, plus_minus),
    };
    let aim = format!("aim: {}", measure.spoken_range(target.low, target.high).unwrap_or_default());
    let description = format!("{amount}; {aim}.");
    let ends = [Some(value - plus_minus), Some(value + plus_minus), target.low, target.high];
    let (low, high) = ends.into_iter().flatten().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
    let room = ROOM * (high - low).max(measure.grades.0);
    let frame = Frame {
        left: SIDE,
        top: TOP,
        width: WIDTH - 2.0 * SIDE,
        height: BOTTOM - TOP,
        x: (low - room, high + room),
        y: (0.0, 1.0),
    };
    svg::sized(&title, &description, (WIDTH, HEIGHT), |canvas| {
        band(canvas, &frame, target, &aim);
        let ticks = Ticks::of(measure, frame.x, 6);
        for tick in ticks.values() {
            let x = frame.across(tick);
            canvas.line((x, BOTTOM), (x, BOTTOM + 6.0), &style::AXIS);
            canvas.text((x, BOTTOM + 22.0), &ticks.label(tick), &style::NOTE.middle());
        }
        canvas.line((frame.left, BOTTOM), (frame.right(), BOTTOM), &style::AXIS);
        let pen = Pen::new(style::INK, 2.6);
        let (from, to) = (frame.across(value - plus_minus), frame.across(value + plus_minus));
        canvas.line((from, LEVEL), (to, LEVEL), &pen);
        for x in [from, to] {
            canvas.line((x, LEVEL - 6.0), (x, LEVEL + 6.0), &pen);
        }
        grade_mark(canvas, (frame.across(value), LEVEL), grade);
        canvas.text((inside(frame.across(value), &amount), 60.0), &amount, &style::HEADING.middle());
    })
}

/// The target's range: a band with a firm line at each limit, open where there is none.
fn band(canvas: &mut Canvas, frame: &Frame, target: &Target, label: &str) {
    let from = target.low.map_or(frame.left, |low| frame.across(low));
    let to = target.high.map_or(frame.right(), |high| frame.across(high));
    canvas.fill((from, TOP), (to, BOTTOM), style::BAND);
    for limit in [target.low, target.high].into_iter().flatten() {
        frame.upright(canvas, limit, &Pen::new(style::GREY, 2.4));
    }
    canvas.text((inside(0.5 * (from + to), label), 16.0), label, &style::LABEL.middle());
}

/// The middle of a label near `x` that stays on the drawing.
fn inside(x: f64, label: &str) -> f64 {
    let half = 0.5 * text::width(label, style::TEXT, true) + 4.0;
    x.clamp(half, (WIDTH - half).max(half))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::targets::Set;

    #[test]
    fn the_value_and_both_limits_are_told() {
        let set = Set::parse("[trunk_lean_at_finish_deg]\nlow = -4\nhigh = 15\nsource = 'x'", "x").unwrap();
        let svg = draw(&set.targets()[0], -9.2, 7.1, Grade::Fair).unwrap();
        for words in [
            "aim: from 4° backward to 15° forward",
            "9 ± 7° backward",
            "role=\"img\"",
            "<title>Trunk lean at the finish against",
        ] {
            assert!(svg.contains(words), "{words}: {svg}");
        }
        let set = Set::parse("[pelvis_over_base_at_finish]\nlow = 0.55\nsource = 'x'", "x").unwrap();
        let svg = draw(&set.targets()[0], 0.41, 0.149, Grade::Fair).unwrap();
        assert!(svg.contains("aim: at least 55 %") && svg.contains("41 ± 15 %"), "{svg}");
        // One-sided, and a value far outside.
        let set = Set::parse("[hand_behind_shoulder_cm]\nhigh = 10\nsource = 'x'", "x").unwrap();
        let svg = draw(&set.targets()[0], 500.0, 0.0, Grade::Good).unwrap();
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
