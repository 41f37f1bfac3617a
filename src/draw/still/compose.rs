//! Putting a still together: heading, picture, lines, numbers, notes.

use std::io;

use super::super::canvas::Canvas;
use super::super::label::Area;
use super::super::moment::crop::WIDTH;
use super::super::moment::label::{TEXT, WORDS, sentence};
use super::super::moment::{Crop, Instant, Layout, Lines, Moment, View, body};
use super::super::strip::grade_mark;
use super::super::style::{self, Text};
use super::super::{raster, text, words};
use super::{Role, Still};
use crate::geometry::Point2;
use crate::measure::Grade;
use crate::pose::Motion;
use crate::stroke::Boundary;
use crate::video::Picture;

const HEADING: f64 = 46.0;
/// A frame this near to contact shows it, milliseconds.
const BETWEEN_FRAMES: f64 = 2.5;
/// Empty border of texts, pixels.
const BORDER: f64 = 24.0;
const LINE: f64 = style::LEADING * TEXT;
const QUIET: Text = WORDS.coloured(style::GREY);

/// Draws a moment over its picture.
pub fn still(
    motion: &Motion,
    place: usize,
    body_height: f64,
    picture: &Picture,
    moment: &Moment,
    lines: Lines<'_>,
    roles: &[Role],
) -> io::Result<Still> {
    let elements = moment.elements(lines);
    let covered = moment.covered(motion, place, body_height);
    let points: Vec<Point2> = body::points(motion, place)
        .chain(covered.iter().map(|(middle, _)| *middle))
        .chain(elements.iter().flat_map(|e| &e.lines).flat_map(|(line, _)| line.iter().copied()))
        .collect();
    let crop = Crop::around(&points, body_height, (picture.width, picture.height));
    let (title, parts) = heading(moment, lines, roles);
    let most = f64::from(WIDTH) - 2.0 * BORDER;
    let mut head = vec![title.clone()];
    head.extend(text::wrap(&parts, TEXT, false, most));
    let top = (BORDER + HEADING * style::LEADING + LINE * (head.len() - 1) as f64).round();
    let below = top + f64::from(crop.shown_height());
    let room = Area(0.0, top, f64::from(WIDTH), below);
    let view = View::new(crop, top, body_height);
    let layout = Layout::new(moment, elements, view, (room, None), &covered);
    let foot: Vec<String> =
        layout.notes.sentences().iter().flat_map(|words| text::wrap(words, TEXT, false, most)).collect();
    let grades = layout.grades();
    let key = grades.iter().any(|grade| *grade < Grade::Good);
    let rows = foot.len() + usize::from(key);
    let height = below + if rows > 0 { LINE * rows as f64 + BORDER } else { 0.0 };
    let mut image = page(&crop.cut(picture), top as usize, height.round() as u32);
    raster::over(&mut image, 1.0, |canvas| {
        for (i, words) in head.iter().enumerate() {
            let y = BORDER + 0.5 * HEADING;
            match i {
                0 => canvas.text((BORDER, y), words, &WORDS.bold().sized(HEADING)),
                _ => canvas.text((BORDER, y + 0.5 * HEADING + LINE * (i as f64 - 0.5) + 8.0), words, &QUIET),
            }
        }
        layout.draw(canvas);
        let row = |i: usize| below + 0.5 * BORDER + LINE * (i as f64 + 0.5);
        for (i, words) in foot.iter().enumerate() {
            canvas.text((BORDER, row(i)), words, &QUIET);
        }
        if key {
            grades_key(canvas, &grades, row(foot.len()));
        }
    })?;
    Ok(Still { alt: alt(&title, &parts, &layout), body_height: body_height * crop.scale(), image })
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

/// What the marks of uncertain values mean.
fn grades_key(canvas: &mut Canvas, grades: &[Grade], y: f64) {
    let mut x = BORDER + 10.0;
    for (grade, meaning) in [(Grade::Fair, "fair: read as a range"), (Grade::Low, "rough guide only")] {
        if grades.contains(&grade) {
            grade_mark(canvas, (x, y), grade);
            canvas.text((x + 20.0, y), meaning, &QUIET);
            x += text::width(meaning, TEXT, false) + 64.0;
        }
    }
}

/// The heading and what stands under it.
fn heading(moment: &Moment, lines: Lines<'_>, roles: &[Role]) -> (String, String) {
    let instant = frame_words(moment);
    let mut first = format!("{} · {instant}", words::heading(moment.stroke));
    let plus_minus = match moment.instant {
        Instant::Boundary(boundary) => moment.stroke.measured.boundaries[boundary as usize],
        Instant::LargestLag => None,
    };
    let time = match plus_minus {
        Some(plus_minus) if plus_minus.0 >= 0.015 => format!("{:.2} ± {:.2} s", moment.time.0, plus_minus.0),
        _ => format!("{:.2} s", moment.time.0),
    };
    // Of the most typical stroke it says little that it is also the nearest or the farthest of all.
    let typical = roles.contains(&Role::Typical);
    let told = roles.iter().filter(|role| !typical || **role == Role::Typical);
    let mut parts: Vec<String> = told.map(|role| role.name().to_owned()).collect();
    parts.push(time);
    parts.extend(moment.tempo(lines).into_iter().filter_map(|(measure, outcome)| {
        Some(format!("{} {}", measure.title, words::amount(measure, &outcome.ok()?)))
    }));
    let room = f64::from(WIDTH) - 2.0 * BORDER;
    if text::width(&first, HEADING, true) > room {
        first = format!("Stroke {} · {instant}", moment.stroke.number);
    }
    (first, parts.join(" · "))
}

/// The moment, and which frame stands for it where contact lies between two.
fn frame_words(moment: &Moment) -> String {
    let apart = (moment.time - moment.shown).milliseconds();
    match moment.instant {
        Instant::Boundary(Boundary::Contact) if apart >= BETWEEN_FRAMES => {
            format!("frame {apart:.0} ms before contact")
        }
        Instant::Boundary(Boundary::Contact) if apart <= -BETWEEN_FRAMES => {
            format!("frame {:.0} ms after contact", -apart)
        }
        instant => instant.name().to_owned(),
    }
}

/// The still in words.
fn alt(title: &str, parts: &str, layout: &Layout) -> String {
    let readings = layout.elements.iter().flat_map(|e| &e.readings);
    let numbers: Vec<String> = readings
        .filter_map(|reading| {
            let value = reading.outcome.ok()?;
            Some(format!("{}, {} grade", sentence(reading, &value), value.grade.name()))
        })
        .collect();
    let mut all = vec![format!("{title}: {parts}.")];
    if !numbers.is_empty() {
        all.push(format!("{}.", text::capitalised(&numbers.join("; "))));
    }
    all.extend(layout.notes.apart.clone());
    if !layout.notes.missing.is_empty() {
        all.push(format!("No value: {}.", layout.notes.missing.join("; ")));
    }
    all.join(" ")
}
