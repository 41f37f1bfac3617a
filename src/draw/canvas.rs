//! Lines, marks and texts in pixels.

use std::io;

use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, FontTransform, IntoFont, RGBColor, ShapeStyle, TextStyle};

use super::style::{Anchor, FONT, PAPER, Pen, Text};
use super::text;

/// A place on a chart, pixels from its upper left corner.
pub type At = (f64, f64);

/// The backend knows whole numbers only; it draws in tenths of a pixel.
pub const UNITS: f64 = 10.0;

/// A surface to draw on. What goes wrong is kept until [`Canvas::finish`].
pub struct Canvas<'a> {
    backend: SVGBackend<'a>,
    outcome: io::Result<()>,
}

impl<'a> Canvas<'a> {
    /// A canvas that writes to `target`; `size` in [`UNITS`].
    pub fn new(target: &'a mut String, size: (u32, u32)) -> Self {
        Self { backend: SVGBackend::with_string(target, size), outcome: Ok(()) }
    }

    /// Closes the drawing.
    pub fn finish(mut self) -> io::Result<()> {
        let closed = self.backend.present();
        self.keep(closed);
        self.outcome
    }

    fn keep(&mut self, result: Result<(), impl std::error::Error>) {
        if let (Err(error), Ok(())) = (result, &self.outcome) {
            self.outcome = Err(io::Error::other(error.to_string()));
        }
    }

    /// A straight line.
    pub fn line(&mut self, from: At, to: At, pen: &Pen) {
        self.path(&[from, to], pen);
    }

    /// A line through points.
    pub fn path(&mut self, points: &[At], pen: &Pen) {
        match pen.dash {
            None => self.stretch(points, pen),
            Some((dash, gap)) => {
                for piece in dashes(points, dash, gap) {
                    self.stretch(&piece, pen);
                }
            }
        }
    }

    fn stretch(&mut self, points: &[At], pen: &Pen) {
        let mut whole: Vec<(i32, i32)> = points.iter().filter_map(|p| units(*p)).collect();
        whole.dedup();
        if whole.len() < 2 {
            return;
        }
        let drawn = self.backend.draw_path(whole, &shape(pen));
        self.keep(drawn);
    }

    /// A filled polygon.
    pub fn polygon(&mut self, points: &[At], colour: RGBColor) {
        let whole: Vec<(i32, i32)> = points.iter().filter_map(|p| units(*p)).collect();
        let drawn = self.backend.fill_polygon(whole, &colour);
        self.keep(drawn);
    }

    /// A filled rectangle.
    pub fn fill(&mut self, upper_left: At, lower_right: At, colour: RGBColor) {
        if let (Some(a), Some(b)) = (units(upper_left), units(lower_right)) {
            let drawn = self.backend.draw_rect(a, b, &colour, true);
            self.keep(drawn);
        }
    }

    /// The border of a rectangle.
    pub fn outline(&mut self, (x0, y0): At, (x1, y1): At, pen: &Pen) {
        self.path(&[(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], pen);
    }

    /// A filled circle.
    pub fn dot(&mut self, at: At, radius: f64, colour: RGBColor) {
        if let Some(at) = units(at) {
            let drawn = self.backend.draw_circle(at, (radius * UNITS) as u32, &colour, true);
            self.keep(drawn);
        }
    }

    /// A circle that hides what lies under it.
    pub fn ring(&mut self, at: At, radius: f64, pen: &Pen) {
        self.dot(at, radius + 0.5 * pen.width, pen.colour);
        self.dot(at, radius - 0.5 * pen.width, PAPER);
    }

    /// A triangle that hides what lies under it.
    pub fn triangle(&mut self, (x, y): At, radius: f64, pen: &Pen) {
        let corners =
            [(x, y - radius), (x + 0.87 * radius, y + 0.5 * radius), (x - 0.87 * radius, y + 0.5 * radius)];
        self.closed(&corners, pen);
    }

    /// A square that hides what lies under it.
    pub fn square(&mut self, (x, y): At, half: f64, pen: &Pen) {
        self.closed(
            &[(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)],
            pen,
        );
    }

    /// A square on its corner that hides what lies under it.
    pub fn diamond(&mut self, (x, y): At, radius: f64, pen: &Pen) {
        self.closed(&[(x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y)], pen);
    }

    fn closed(&mut self, corners: &[At], pen: &Pen) {
        self.polygon(corners, PAPER);
        // Once more along the first side, so that the last corner is joined and not cut off.
        let around: Vec<At> = corners.iter().chain(corners.iter().take(2)).copied().collect();
        self.path(&around, pen);
    }

    /// A line of text, centred in height on its point.
    pub fn text(&mut self, at: At, words: &str, style: &Text) {
        let Some(at) = units(at) else { return };
        let horizontal = match style.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let weight = if style.bold { FontStyle::Bold } else { FontStyle::Normal };
        let font = (FONT, font_size(style.size), weight).into_font();
        let font = if style.upward { font.transform(FontTransform::Rotate270) } else { font };
        let style = TextStyle::from(font).color(&style.colour).pos(Pos::new(horizontal, VPos::Center));
        let drawn = self.backend.draw_text(words, &style, at);
        self.keep(drawn);
    }

    /// A line of text on a patch that hides what lies under it.
    pub fn patched_text(&mut self, (x, y): At, words: &str, style: &Text) {
        let wide = text::width(words, style.size, style.bold);
        let left = match style.anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * wide,
            Anchor::End => x - wide,
        };
        let half = 0.6 * style.size;
        self.fill((left - 3.0, y - half), (left + wide + 3.0, y + half), PAPER);
        self.text((x, y), words, style);
    }
}

/// The size to ask for so that the backend, which divides by 1.24, writes a whole number.
fn font_size(pixels: f64) -> f64 {
    const DIVISOR: f64 = 1.24;
    let wanted = (pixels * UNITS).round();
    let size = wanted * DIVISOR;
    [size, size.next_up(), size.next_down()].into_iter().find(|s| s / DIVISOR == wanted).unwrap_or(size)
}

fn shape(pen: &Pen) -> ShapeStyle {
    ShapeStyle {
        color: pen.colour.to_rgba(),
        filled: false,
        stroke_width: (pen.width * UNITS).round() as u32,
    }
}

/// A place in the backend's units; `None` where it is not a number or far off the chart.
fn units((x, y): At) -> Option<(i32, i32)> {
    const FAR: f64 = 1e6;
    let on_chart = x.abs() < FAR && y.abs() < FAR;
    on_chart.then(|| ((x * UNITS).round() as i32, (y * UNITS).round() as i32))
}

/// Cuts a line into dashes of one length with gaps of another; the last dash may be short.
fn dashes(points: &[At], dash: f64, gap: f64) -> Vec<Vec<At>> {
    let mut pieces = Vec::new();
    let mut piece: Vec<At> = points.first().copied().into_iter().collect();
    let (mut drawing, mut left) = (true, dash);
    for pair in points.windows(2) {
        let ((mut x, mut y), (x1, y1)) = (pair[0], pair[1]);
        loop {
            let rest = (x1 - x).hypot(y1 - y);
            if rest <= left || !rest.is_finite() {
                left -= rest;
                if drawing {
                    piece.push((x1, y1));
                }
                break;
            }
            (x, y) = (x + (x1 - x) * left / rest, y + (y1 - y) * left / rest);
            if drawing {
                piece.push((x, y));
                pieces.push(std::mem::take(&mut piece));
                left = gap;
            } else {
                piece = vec![(x, y)];
                left = dash;
            }
            drawing = !drawing;
        }
    }
    if drawing && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::super::style;
    use super::*;

    #[test]
    fn dashes_go_round_corners() {
        let pieces = dashes(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], 6.0, 2.0);
        assert_eq!(
            pieces,
            [
                vec![(0.0, 0.0), (6.0, 0.0)],
                vec![(8.0, 0.0), (10.0, 0.0), (10.0, 4.0)],
                vec![(10.0, 6.0), (10.0, 10.0)]
            ]
        );
    }

    #[test]
    fn font_sizes_are_written_as_whole_numbers() {
        for pixels in [style::TITLE, style::TEXT, style::SMALL] {
            assert_eq!(format!("{}", font_size(pixels) / 1.24), format!("{}", pixels * UNITS));
        }
    }
}
