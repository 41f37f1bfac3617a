//! What lines and marks look like over a picture.

use super::super::canvas::{At, Canvas};
use super::super::label::Area;
use super::super::racket::Trust;
use super::super::style::{self, Pen};
use super::layout::View;
use super::lines::{Element, Ink, Mark};

/// What a line looks like.
pub const fn pen(ink: Ink) -> Pen {
    match ink {
        Ink::Toe => Pen::new(style::RUST, 6.0).dashed(20.0, 12.0),
        Ink::Shoulder => Pen::new(style::BLUE, 7.0),
        Ink::Arm => Pen::new(style::RUST, 7.0),
        Ink::Trunk => Pen::new(style::INK, 7.0),
        Ink::Plumb => Pen::new(style::INK, 4.0).dashed(5.0, 10.0),
        Ink::Base => Pen::new(style::BLUE, 7.0).dashed(34.0, 9.0),
        Ink::Path => Pen::new(style::BLUE, 5.0).dashed(4.0, 11.0),
        Ink::Racket => Trust::Sure.pen(),
        Ink::Doubtful => Trust::Doubtful.pen(),
        Ink::Lag => Pen::new(style::INK, 4.0),
    }
}

/// The part of a line of a kind that lies within an area.
pub fn stroke(canvas: &mut Canvas, line: &[At], ink: Ink, room: &Area) {
    for part in room.clipped(line) {
        cased(canvas, &part, &pen(ink));
    }
}

/// A line with a pale border, which shows on any background.
pub fn cased(canvas: &mut Canvas, line: &[At], pen: &Pen) {
    canvas.path(line, &Pen { colour: style::PAPER, width: pen.width + 5.0, dash: None });
    canvas.path(line, pen);
}

/// Lines and marks, as far as they lie within an area.
pub fn draw(canvas: &mut Canvas, elements: &[Element], view: &View, room: &Area) {
    for (line, ink) in elements.iter().flat_map(|e| &e.lines) {
        let line: Vec<At> = line.iter().map(|p| view.at(*p)).collect();
        stroke(canvas, &line, *ink, room);
    }
    let marks = elements.iter().flat_map(|e| &e.marks).map(|(point, mark)| (view.at(*point), mark));
    for (at, mark) in marks.filter(|(at, _)| room.holds(*at)) {
        match mark {
            Mark::Joint => {
                canvas.dot(at, 9.0, style::PAPER);
                canvas.dot(at, 6.5, style::INK);
            }
            Mark::Contact => {
                canvas.dot(at, 15.0, style::PAPER);
                canvas.ring(at, 12.5, &Pen::new(style::RUST, 3.5));
                canvas.ring(at, 5.5, &Pen::new(style::RUST, 3.5));
            }
            Mark::Hand => canvas.ring(at, 10.0, &Pen::new(style::BLUE, 6.0)),
            Mark::Place => canvas.diamond(at, 13.0, &Pen::new(style::BLUE, 5.0)),
            Mark::Mass => canvas.square(at, 10.0, &Pen::new(style::INK, 5.0)),
        }
    }
}
