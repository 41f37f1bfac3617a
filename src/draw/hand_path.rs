//! The hand's path around the body, stroke by stroke.

use std::io;

use crate::geometry::Court;
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::pose::{Joint, Motion};
use crate::stroke::{Boundary, Phases, search};
use crate::units::Seconds;

use super::axis::{Frame, Ticks};
use super::canvas::{At, Canvas};
use super::figure::{Figure, FigureStyle, Plane, bounds};
use super::label::{Area, Placer};
use super::page::{Grid, Head};
use super::style::{self, MARGIN, Pen};
use super::{svg, text, words};

const TITLE: &str = "Path of the hand around the body";
const LEFT: f64 = 58.0;
const HEADING_HEIGHT: f64 = 34.0;
const AXIS_HEIGHT: f64 = 34.0;
const KEY_HEIGHT: f64 = 40.0;
/// Distance of the key's lines: the hand's parts, and the racket where it was seen.
const KEY_LINE: f64 = 28.0;
const TALLEST: f64 = 480.0;

/// How far the path reaches back and on where a boundary doesn't say so.
const LONGEST_BEFORE: Seconds = Seconds(1.8);
const AFTER: Seconds = Seconds(0.6);

/// How far before contact the tip's path begins where nothing says when the racket comes forward.
const TIP_BEFORE: Seconds = Seconds(0.35);

/// Boundaries with the letter beside their mark.
const MARKS: [(Boundary, &str); 6] = [
    (Boundary::PrepStart, "start"),
    (Boundary::DropStart, "top of the loop"),
    (Boundary::BackswingEnd, "farthest back"),
    (Boundary::LowPoint, "lowest"),
    (Boundary::ForwardStart, "forward swing"),
    (Boundary::FinishEnd, "finish"),
];

/// The name of the contact's mark.
const CONTACT: &str = "contact";

/// A phase's part of the path.
struct Part {
    name: &'static str,
    pen: Pen,
}

const PARTS: [Part; 4] = [
    Part { name: "preparation", pen: Pen::new(style::GREY, 2.4) },
    Part { name: "drop", pen: Pen::new(style::INK, 3.2).dashed(9.0, 5.0) },
    Part { name: "forward swing", pen: Pen::new(style::BLUE, 6.0) },
    Part { name: "finish", pen: Pen::new(style::GREY, 2.8).dashed(3.0, 5.0) },
];

/// The racket's tip, and the racket at contact.
const TIP: Pen = Pen::new(style::RUST, 1.9).dashed(15.0, 3.5);
const RACKET: Pen = Pen::new(style::RUST, 3.6);
const TIP_DOT: f64 = 4.5;

/// One stroke in its plane, metres from the middle of the hips at contact.
struct Drawn<'a> {
    stroke: &'a MeasuredStroke,
    plane: Plane,
    figure: Figure,
    /// The path's stretches with the part they belong to.
    paths: Vec<(usize, Vec<(f64, f64)>)>,
    marks: Vec<(&'static str, (f64, f64))>,
    contact: Option<(f64, f64)>,
    /// Path of the racket's tip from the drop to the finish, and the racket at contact.
    tip: Vec<Vec<(f64, f64)>>,
    racket: Option<[(f64, f64); 2]>,
    ground: f64,
}

/// Draws the chart.
pub fn draw(picture: &Motion, clip: &ClipMeasures) -> io::Result<String> {
    let drawn: Vec<Drawn> = clip.strokes.iter().filter_map(|s| Drawn::new(picture, s)).collect();
    let left_out: Vec<usize> = clip
        .strokes
        .iter()
        .map(|s| s.number)
        .filter(|i| drawn.iter().all(|d| d.stroke.number != *i))
        .collect();
    let points = drawn.iter().flat_map(Drawn::extent);
    let (Some(plane), Some((x, y))) = (drawn.first().map(|d| d.plane), bounds(points)) else {
        return super::page::notice(
            TITLE,
            "This can't be shown from this clip: hips and hand were not in sight at contact.",
        );
    };
    let shown = drawn.len().min(style::MOST_PATHS);
    let head = Head::new(TITLE, &notes(plane, drawn.len(), &left_out));

    const ROOM: f64 = 0.08;
    let (x, y) = ((x.0 - ROOM, x.1 + ROOM), (y.0 - ROOM, y.1 + ROOM));
    let width = Grid::width_for(shown) - LEFT;
    let scale = (width / (x.1 - x.0)).min(TALLEST / (y.1 - y.0));
    let height = scale * (y.1 - y.0);
    let spare = 0.5 * (width / scale - (x.1 - x.0));
    let has_racket = drawn.iter().take(shown).any(|d| !d.tip.is_empty() || d.racket.is_some());
    let key_height = KEY_HEIGHT + if has_racket { KEY_LINE } else { 0.0 };
    let grid = Grid::new(shown, HEADING_HEIGHT + height + AXIS_HEIGHT, head.bottom() + key_height);
    let whole = grid.bottom(shown) + MARGIN;
    let description = description(plane, &drawn[..shown]);
    svg::document(TITLE, &description, whole, |canvas| {
        head.draw(canvas);
        let row = head.bottom() + 0.5 * KEY_HEIGHT - 4.0;
        key(canvas, row, PARTS.iter().map(|part| (&part.pen, part.name)));
        if has_racket {
            key(
                canvas,
                row + KEY_LINE,
                [(&TIP, "racket's tip"), (&RACKET, "racket at contact, a dot at its tip")],
            );
        }
        for (i, stroke) in drawn.iter().take(shown).enumerate() {
            let (left, top) = grid.corner(i);
            let frame = Frame {
                left: left + LEFT,
                top: top + HEADING_HEIGHT,
                width,
                height,
                x: (x.0 - spare, x.1 + spare),
                y,
            };
            canvas.text(
                (left + LEFT, top + 0.5 * HEADING_HEIGHT),
                &words::heading(stroke.stroke),
                &style::HEADING,
            );
            stroke.draw(canvas, &frame, i == 0);
        }
    })
}

fn notes(plane: Plane, count: usize, left_out: &[usize]) -> Vec<String> {
    let seen = match plane {
        Plane::Side => "Seen from the side, with the net on the right.",
        Plane::Behind => "Seen from behind the player, looking to the net.",
    };
    let mut notes = vec![format!(
        "{seen} Numbers are cm from the middle of the hips at contact; the figure stands as at contact."
    )];
    if count > style::MOST_PATHS {
        notes.push(format!(
            "The first {} strokes are shown; {} more are left out.",
            style::MOST_PATHS,
            count - style::MOST_PATHS
        ));
    }
    if !left_out.is_empty() {
        notes.push(format!(
            "Not shown, because the hips were not in sight at contact: {}.",
            words::listed(left_out)
        ));
    }
    notes
}

fn key<'a>(canvas: &mut Canvas, y: f64, lines: impl IntoIterator<Item = (&'a Pen, &'a str)>) {
    let mut x = MARGIN;
    for (pen, name) in lines {
        canvas.line((x, y), (x + 44.0, y), pen);
        canvas.text((x + 52.0, y), name, &style::LABEL);
        x += 52.0 + text::width(name, style::SMALL, false) + 24.0;
    }
}

impl<'a> Drawn<'a> {
    /// The stroke's path; `None` where there is no place to measure from.
    fn new(picture: &Motion, stroke: &'a MeasuredStroke) -> Option<Self> {
        let (motion, phases) = (&stroke.stroke.motion, &stroke.stroke.phases);
        let met = phases.contact.time;
        let plane = Plane::best(motion);
        let origin = plane.of(motion.middle(Joint::Hip, met)?, motion.hand);
        let flat = |p: Court| {
            let (x, y) = plane.of(p, motion.hand);
            (x - origin.0, y - origin.1)
        };
        let hand = |t: Seconds| motion.hand_at(t).map(flat);
        let paths = spans(phases)
            .into_iter()
            .enumerate()
            .filter_map(|(part, span)| Some((part, span?)))
            .flat_map(|(part, (from, to))| pieces(&hand, from, to).into_iter().map(move |p| (part, p)))
            .collect();
        let marks = MARKS
            .iter()
            .filter_map(|(boundary, name)| {
                let time = phases.get(*boundary)?.time;
                (time >= met - LONGEST_BEFORE).then_some(())?;
                Some((*name, hand(time)?))
            })
            .collect();
        let figure = Figure::new(picture, motion, met, plane).moved(origin);
        let racket = stroke.stroke.racket.as_ref();
        let on_racket = |share: f64, t: Seconds| Some(flat(racket?.point(motion, share, t)?));
        let (from, to) = tip_span(phases);
        let tip = pieces(&|t| on_racket(1.0, t), from, to);
        let racket = on_racket(0.0, met).zip(on_racket(1.0, met)).map(|(butt, tip)| [butt, tip]);
        Some(Self { stroke, plane, figure, paths, marks, contact: hand(met), tip, racket, ground: -origin.1 })
    }

    fn extent(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let path = self.paths.iter().flat_map(|(_, p)| p.iter().copied());
        let tip = self.tip.iter().flatten().copied();
        path.chain(tip).chain(self.figure.extent()).chain([(0.0, self.ground)])
    }

    /// The marks are named in one panel only: in the others they stand in the same order.
    fn draw(&self, canvas: &mut Canvas, frame: &Frame, named: bool) {
        const BOUNDARY_MARK: Pen = Pen::new(style::INK, 2.4);
        const LABEL_HEIGHT: f64 = 22.0;
        /// A name farther from its mark than this is joined to it by a thin line.
        const NEAR: f64 = 14.0;
        const LEADER: Pen = Pen::new(style::GREY, 1.4);
        let at = |(x, y): (f64, f64)| frame.at(x, y);
        axes(canvas, frame);
        frame.level(canvas, self.ground, &Pen::new(style::GREY, 2.0));
        self.figure.draw(canvas, FigureStyle::Behind, at);
        let mut placer = Placer::new(Area(frame.left, frame.top, frame.right(), frame.bottom()));
        for point in self.figure.points() {
            placer.avoid(Area::around(at(point), 16.0, 16.0));
        }
        for (part, piece) in &self.paths {
            let points: Vec<At> = piece.iter().map(|p| at(*p)).collect();
            canvas.path(&points, &PARTS[*part].pen);
            for point in points {
                placer.avoid(Area::around(point, 6.0, 6.0));
            }
        }
        for piece in &self.tip {
            let points: Vec<At> = piece.iter().map(|p| at(*p)).collect();
            canvas.path(&points, &TIP);
            for point in points {
                placer.avoid(Area::around(point, 6.0, 6.0));
            }
        }
        if let Some([butt, tip]) = self.racket.map(|ends| ends.map(at)) {
            canvas.line(butt, tip, &RACKET);
            canvas.dot(tip, TIP_DOT, style::RUST);
            for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
                let along = (butt.0 + share * (tip.0 - butt.0), butt.1 + share * (tip.1 - butt.1));
                placer.avoid(Area::around(along, 8.0, 8.0));
            }
        }
        for (_, place) in &self.marks {
            placer.block(Area::around(at(*place), 13.0, 13.0));
        }
        if let Some(place) = self.contact {
            placer.block(Area::around(at(place), 20.0, 20.0));
        }
        let contact = self.contact.map(|place| (CONTACT, place));
        for (name, place) in contact.into_iter().chain(self.marks.iter().copied()) {
            let style = if name == CONTACT {
                canvas.dot(at(place), 9.0, style::RUST);
                canvas.dot(at(place), 3.0, style::PAPER);
                style::LABEL.middle().bold().coloured(style::RUST)
            } else {
                canvas.square(at(place), 4.5, &BOUNDARY_MARK);
                style::LABEL.middle()
            };
            let width = text::width(name, style::SMALL, style.bold) + 6.0;
            let wanted = named.then(|| placer.place_anywhere(at(place), width, LABEL_HEIGHT)).flatten();
            if let Some(middle) = wanted {
                let (x, y) = at(place);
                let Area(left, top, right, bottom) = Area::around(middle, width, LABEL_HEIGHT);
                let edge = (x.clamp(left, right), y.clamp(top, bottom));
                if (edge.0 - x).hypot(edge.1 - y) > NEAR {
                    canvas.line((x, y), edge, &LEADER);
                }
                canvas.patched_text(middle, name, &style);
            }
        }
    }
}

/// Grid lines every half metre or so, with their numbers; the hips' own lines are 0.
fn axes(canvas: &mut Canvas, frame: &Frame) {
    let (x, y) = ((100.0 * frame.x.0, 100.0 * frame.x.1), (100.0 * frame.y.0, 100.0 * frame.y.1));
    let across = Ticks::within(x.0, x.1, (frame.width / 75.0) as usize);
    let up = Ticks::within(y.0, y.1, (frame.height / 55.0) as usize);
    for value in across.values() {
        frame.upright(canvas, value / 100.0, &style::GRID_LINE);
        let at = (frame.across(value / 100.0), frame.bottom() + 18.0);
        canvas.text(at, &across.label(value), &style::NOTE.middle());
    }
    for value in up.values() {
        frame.level(canvas, value / 100.0, &style::GRID_LINE);
        let at = (frame.left - 8.0, frame.down(value / 100.0));
        canvas.text(at, &up.label(value), &style::NOTE.end());
    }
}

/// From when to when each of [`PARTS`] lasts.
fn spans(phases: &Phases) -> [Option<(Seconds, Seconds)>; 4] {
    let met = phases.contact.time;
    let time = |boundary: Boundary| phases.get(boundary).map(|m| m.time);
    let begin = phases.preparation_begin().max(met - LONGEST_BEFORE);
    let (drop, forward) = (time(Boundary::DropStart), time(Boundary::ForwardStart));
    let finish = time(Boundary::FinishEnd).unwrap_or(met + AFTER);
    let before = drop.or(forward).unwrap_or(met).max(begin);
    [
        Some((begin, before)),
        drop.map(|from| (from.max(begin), forward.unwrap_or(met))),
        forward.map(|from| (from.max(begin), met)),
        Some((met, finish)),
    ]
}

/// From when to when the tip's path is drawn: before that it waits about with the hands.
fn tip_span(phases: &Phases) -> (Seconds, Seconds) {
    let met = phases.contact.time;
    let from = phases.backswing_end.or(phases.forward_start).map_or(met - TIP_BEFORE, |mark| mark.time);
    (from, phases.finish_end.map_or(met + AFTER, |mark| mark.time.min(met + AFTER)))
}

/// The stretches in which the hand was seen.
fn pieces(hand: &dyn Fn(Seconds) -> Option<(f64, f64)>, from: Seconds, to: Seconds) -> Vec<Vec<(f64, f64)>> {
    /// Finer steps would not be seen.
    const STRIDE: usize = 3;
    let span = (to - from).0;
    if span.is_nan() || span <= 0.0 {
        return Vec::new();
    }
    let steps = (span / (STRIDE as f64 * search::STEP.0)).ceil().max(1.0) as usize;
    let points: Vec<Option<(f64, f64)>> =
        (0..=steps).map(|i| hand(from + Seconds(span * i as f64 / steps as f64))).collect();
    points
        .split(Option::is_none)
        .map(|part| part.iter().flatten().copied().collect::<Vec<_>>())
        .filter(|part| part.len() > 1)
        .collect()
}

fn description(plane: Plane, drawn: &[Drawn]) -> String {
    let seen = match plane {
        Plane::Side => "from the side with the net on the right",
        Plane::Behind => "from behind the player",
    };
    let all: Vec<String> = drawn.iter().map(|d| words::heading(d.stroke)).collect();
    let tips = drawn.iter().any(|d| !d.tip.is_empty());
    let tips =
        if tips { ", and of the racket's tip from the takeback's end on where it was seen" } else { "" };
    format!(
        "Path of the hitting hand around the body from the start of the preparation to the end of the finish{tips}, seen \
         {seen}, with a stick figure at contact and marks at the phases' boundaries. {}.",
        all.join(". ")
    )
}
