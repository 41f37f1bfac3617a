//! One measure over all strokes: a dot for each, in order.

use std::io;

use crate::measure::clip::ClipMeasures;
use crate::measure::{CATALOGUE, Grade, Measure, Measurement, Outcome};
use crate::order::median;
use crate::stroke::Sort;
use crate::targets::reference::reference;

use super::axis::{Frame, Ticks};
use super::canvas::{At, Canvas};
use super::page::Head;
use super::style::{self, MARGIN, Pen, WIDTH};
use super::{label, svg, text, words};

const LEFT: f64 = 66.0;
const RIGHT: f64 = 150.0;
const HEIGHT: f64 = 240.0;
const KEY_HEIGHT: f64 = 36.0;
/// Distance of the key's lines, and what separates its signs.
const KEY_LINE: f64 = 26.0;
const BETWEEN_SIGNS: f64 = 28.0;
/// Room for a sign before its meaning.
const SIGN_WIDTH: f64 = 25.0;
/// Few strokes need less room: two such charts stand side by side on a sheet, with letters as large as in one of full width.
const NARROW: f64 = 540.0;
/// So many strokes fit into it.
pub const MOST_IN_NARROW: usize = 12;
const BELOW: f64 = 66.0;
/// More room below where the kinds' letters stand under the numbers.
const LETTERS: f64 = 22.0;
/// Strokes closer than this have no room for letters.
const LETTER_PITCH: f64 = 17.0;

/// Names and charts of all measures that have a value.
pub fn draw_all(clip: &ClipMeasures) -> impl Iterator<Item = (String, io::Result<String>)> + '_ {
    CATALOGUE.iter().enumerate().filter_map(|(place, measure)| {
        let outcomes: Vec<Option<Outcome>> =
            clip.strokes.iter().map(|s| s.measured.outcomes.get(place).copied()).collect();
        let values: Vec<Option<Measurement>> = outcomes.iter().map(|o| (*o)?.ok()).collect();
        values.iter().any(Option::is_some).then(|| (super::strip_file(measure), draw(clip, measure, &values)))
    })
}

fn draw(clip: &ClipMeasures, measure: &Measure, values: &[Option<Measurement>]) -> io::Result<String> {
    let title = words::title(measure);
    let kinds = words::kinds(clip);
    let wide = if values.len() > MOST_IN_NARROW { WIDTH } else { NARROW };
    let head = Head::within(wide, &title, &[format!("{}.", text::capitalised(measure.sign))]);
    let y = range(measure, values);
    let usual = usual(clip, measure, y);
    let key = key(values, usual.is_some(), wide - 2.0 * MARGIN);
    let top = head.bottom() + KEY_HEIGHT + key.last().map_or(0.0, |(at, _)| at.1);
    let below = BELOW + if kinds.len() > 1 { LETTERS } else { 0.0 };
    let frame = Frame {
        left: MARGIN + LEFT,
        top,
        width: wide - 2.0 * MARGIN - LEFT - RIGHT,
        height: HEIGHT,
        x: (-0.5, values.len() as f64 - 0.5),
        y,
    };
    let size = (wide, frame.bottom() + below + MARGIN);
    svg::sized(&title, &description(clip, measure, values), size, |canvas| {
        head.draw(canvas);
        for ((x, y), sign) in &key {
            sign.draw(canvas, (MARGIN + x, head.bottom() + 0.5 * KEY_HEIGHT - 4.0 + y));
        }
        if let Some((low, high)) = usual {
            canvas.fill((frame.left, frame.down(high)), (frame.right(), frame.down(low)), style::BAND);
        }
        frame.scale_left(canvas, &Ticks::of(measure, frame.y, 6));
        canvas.line((frame.left, frame.bottom()), (frame.right(), frame.bottom()), &style::AXIS);
        if frame.y.0 < 0.0 && frame.y.1 > 0.0 {
            frame.level(canvas, 0.0, &style::AXIS);
        }
        medians(canvas, &frame, clip, measure, values, &kinds);
        for (i, m) in values.iter().enumerate().filter_map(|(i, value)| Some((i, value.as_ref()?))) {
            whisker(canvas, &frame, i, m);
        }
        for (i, value) in values.iter().enumerate() {
            let x = frame.across(i as f64);
            match value {
                Some(m) => grade_mark(canvas, (x, frame.down(m.value)), m.grade),
                None => canvas.text(
                    (x, frame.bottom() - 14.0),
                    "–",
                    &style::HEADING.middle().coloured(style::GREY),
                ),
            }
        }
        if let [Some(only)] = values {
            let at = (frame.across(0.0) + 20.0, frame.down(only.value));
            canvas.patched_text(at, &words::amount(measure, only), &style::LABEL.bold());
        }
        numbers(canvas, &frame, clip, kinds.len() > 1);
        let mut axis = "Stroke".to_owned();
        if let Some(letters) = words::letters_key(&kinds) {
            axis = format!("Stroke: {}", letters.trim_end_matches('.'));
        }
        if values.iter().any(Option::is_none) {
            axis.push_str("   (– no value)");
        }
        canvas.text((frame.left, frame.bottom() + below - 14.0), &axis, &style::NOTE);
    })
}

/// The part of the middle half of recorded players that the chart shows; `None` where the strokes are of several kinds or there
/// is nothing to show.
fn usual(clip: &ClipMeasures, measure: &Measure, shown: (f64, f64)) -> Option<(f64, f64)> {
    let kinds = words::kinds(clip);
    let [kind] = kinds.as_slice() else { return None };
    let found = reference(measure, kind.name(), 100.0 * clip.filmed.stature.metres.0)?;
    let (low, high) = (found.low.max(shown.0), found.high.min(shown.1));
    (low < high).then_some((low, high))
}

/// A range that holds every value with its ±, and a free strip at the bottom where strokes without a value are marked.
fn range(measure: &Measure, values: &[Option<Measurement>]) -> (f64, f64) {
    let ends = || values.iter().flatten().flat_map(|m| [m.value - m.plus_minus, m.value + m.plus_minus]);
    let (low, high) = (ends().fold(f64::MAX, f64::min), ends().fold(f64::MIN, f64::max));
    // A spread much finer than the measure itself can tell would look like a finding.
    let least = 2.0 * measure.grades.0;
    let missing = (least - (high - low)).max(0.0);
    let (low, high) = (low - 0.5 * missing, high + 0.5 * missing);
    let room = 0.06 * (high - low);
    let below = if values.iter().any(Option::is_none) { 2.5 } else { 1.0 };
    (low - below * room, high + room)
}

/// What a ± looks like.
const WHISKER: Pen = Pen::new(style::GREY, 2.2);

/// The whisker of a value.
fn whisker(canvas: &mut Canvas, frame: &Frame, place: usize, m: &Measurement) {
    const CAP: f64 = 5.0;
    let x = frame.across(place as f64);
    let (low, high) = (frame.down(m.value - m.plus_minus), frame.down(m.value + m.plus_minus));
    canvas.line((x, low), (x, high), &WHISKER);
    for y in [low, high] {
        canvas.line((x - CAP, y), (x + CAP, y), &WHISKER);
    }
}

/// The mark of a grade: the surer, the fuller.
pub fn grade_mark(canvas: &mut Canvas, at: At, grade: Grade) {
    match grade {
        Grade::Good => canvas.dot(at, 7.5, style::BLUE),
        Grade::Fair => canvas.ring(at, 6.2, &Pen::new(style::BLUE, 3.0)),
        Grade::Low => canvas.triangle(at, 8.0, &Pen::new(style::RUST, 2.4)),
    }
}

/// A sign of the key: that of a grade, or of the ±.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Grade(Grade),
    Whisker,
    /// Where recorded players are.
    Usual,
}

impl Sign {
    const fn meaning(self) -> &'static str {
        match self {
            Self::Grade(Grade::Good) => "good",
            Self::Grade(Grade::Fair) => "fair: read as a range",
            Self::Grade(Grade::Low) => "low: rough guide only",
            Self::Whisker => "± (95 % interval)",
            Self::Usual => "middle half of recorded club players",
        }
    }

    fn draw(self, canvas: &mut Canvas, (x, y): At) {
        match self {
            Self::Grade(grade) => grade_mark(canvas, (x + 9.0, y), grade),
            Self::Whisker => canvas.line((x + 9.0, y - 10.0), (x + 9.0, y + 10.0), &WHISKER),
            Self::Usual => canvas.fill((x, y - 9.0), (x + 18.0, y + 9.0), style::BAND),
        }
        canvas.text((x + SIGN_WIDTH, y), self.meaning(), &style::LABEL);
    }
}

/// The signs that occur, each with its place, counted from the key's upper left corner; `most` is the longest line.
fn key(values: &[Option<Measurement>], usual: bool, most: f64) -> Vec<(At, Sign)> {
    let occurs = |grade: &Grade| values.iter().flatten().any(|m| m.grade == *grade);
    let grades = [Grade::Good, Grade::Fair, Grade::Low].into_iter().filter(occurs).map(Sign::Grade);
    let (mut x, mut y) = (0.0, 0.0);
    let mut place = |sign: Sign| {
        let wide = SIGN_WIDTH + text::width(sign.meaning(), style::SMALL, false);
        if x > 0.0 && x + wide > most {
            (x, y) = (0.0, y + KEY_LINE);
        }
        let at = (x, y);
        x += wide + BETWEEN_SIGNS;
        (at, sign)
    };
    grades.chain([Sign::Whisker]).chain(usual.then_some(Sign::Usual)).map(&mut place).collect()
}

/// The median of each kind that has several values, named at the right.
fn medians(
    canvas: &mut Canvas,
    frame: &Frame,
    clip: &ClipMeasures,
    measure: &Measure,
    values: &[Option<Measurement>],
    kinds: &[Sort],
) {
    const DASHES: [Option<(f64, f64)>; 4] = [None, Some((12.0, 6.0)), Some((4.0, 4.0)), Some((2.0, 6.0))];
    let found: Vec<(usize, f64)> = kinds
        .iter()
        .enumerate()
        .filter_map(|(k, kind)| {
            let of_kind: Vec<f64> = clip
                .strokes
                .iter()
                .zip(values)
                .filter(|(s, _)| s.stroke.sort() == *kind)
                .filter_map(|(_, v)| Some((*v)?.value))
                .collect();
            (of_kind.len() >= style::LEAST_FOR_MEDIAN).then(|| median(of_kind.into_iter()))?.map(|m| (k, m))
        })
        .collect();
    let wanted: Vec<f64> = found.iter().map(|(_, m)| frame.down(*m)).collect();
    let places = label::spread(
        &wanted,
        2.0 * style::LEADING * style::SMALL,
        (frame.top + 20.0, frame.bottom() - 20.0),
    );
    for ((k, value), y) in found.into_iter().zip(places) {
        frame.level(canvas, value, &Pen { dash: DASHES[k], ..Pen::new(style::INK, 2.2) });
        let whose =
            if kinds.len() > 1 { format!("median {}", words::letter(kinds[k])) } else { "median".to_owned() };
        let x = frame.right() + 10.0;
        let half = 0.5 * style::LEADING * style::SMALL;
        canvas.text((x, y - half), &whose, &style::LABEL);
        canvas.text((x, y + half), &measure.amount(value), &style::LABEL.bold());
    }
}

/// Numbers of the strokes, and their kinds' letters under them; every second, fifth … only where they stand too close.
fn numbers(canvas: &mut Canvas, frame: &Frame, clip: &ClipMeasures, letters: bool) {
    let count = clip.strokes.len();
    let widest = text::width(&count.to_string(), style::SMALL, false) + 8.0;
    let pitch = frame.width / count as f64;
    let every = [1, 2, 5, 10, 20, 50].into_iter().find(|n| *n as f64 * pitch >= widest).unwrap_or(100);
    for i in 0..count {
        let x = frame.across(i as f64);
        canvas.line((x, frame.bottom()), (x, frame.bottom() + 6.0), &style::AXIS);
    }
    for (i, stroke) in clip.strokes.iter().enumerate() {
        let x = frame.across(i as f64);
        if (i + 1) % every == 0 {
            canvas.text((x, frame.bottom() + 20.0), &stroke.number.to_string(), &style::LABEL.middle());
        }
        if letters && pitch >= LETTER_PITCH {
            let letter = words::letter(stroke.stroke.sort());
            canvas.text((x, frame.bottom() + 20.0 + LETTERS), letter, &style::NOTE.middle());
        }
    }
}

fn description(clip: &ClipMeasures, measure: &Measure, values: &[Option<Measurement>]) -> String {
    let all: Vec<String> = clip
        .strokes
        .iter()
        .zip(values)
        .map(|(s, v)| match v {
            Some(m) => {
                format!("{}: {}, {}.", words::heading(s), words::amount(measure, m), m.grade.name())
            }
            None => format!("{}: no value.", words::heading(s)),
        })
        .collect();
    format!("{} {}. {}", measure.definition, measure.sign, all.join(" "))
}
