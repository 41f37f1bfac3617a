//! Lines, marks and texts in pixels.

use std::io;

use plotters::style::RGBColor;
use plotters_backend::DrawingBackend;

use super::backend::Svg;
pub use super::backend::UNITS;
use super::style::{Anchor, PAPER, Pen, Text};
use super::text;

/// A place on a chart, pixels from its upper left corner.
pub type At = (f64, f64);

/// A surface to draw on. What goes wrong is kept until [`Canvas::finish`].
pub struct Canvas {
    backend: Svg,
    outcome: io::Result<()>,
}

impl Canvas {
    /// An empty canvas; `size` in [`UNITS`].
    pub fn new(size: (u32, u32)) -> Self {
        Self { backend: Svg::new(size), outcome: Ok(()) }
    }

    /// Closes the drawing and answers with its elements.
    pub fn finish(mut self) -> io::Result<String> {
        let closed = self.backend.present();
        self.keep(closed);
        self.outcome.map(|()| self.backend.into_elements())
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
        let whole: Vec<(i32, i32)> = points.iter().filter_map(|p| units(*p)).collect();
        self.backend.set_dash(pen.dash);
        let drawn = self.backend.draw_path(whole, pen);
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
        if let Some(at) = units(at) {
            self.backend.bordered_circle(at, (radius * UNITS) as u32, &PAPER, pen);
        }
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
        let whole: Vec<(i32, i32)> = corners.iter().filter_map(|p| units(*p)).collect();
        self.backend.bordered(&whole, &PAPER, pen);
    }

    /// A line of text, centred in height on its point.
    pub fn text(&mut self, at: At, words: &str, style: &Text) {
        if let Some(at) = units(at) {
            let drawn = self.backend.draw_text(words, style, at);
            self.keep(drawn);
        }
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

/// A place in the backend's units; `None` where it is not a number or far off the chart.
fn units((x, y): At) -> Option<(i32, i32)> {
    const FAR: f64 = 1e6;
    let on_chart = x.abs() < FAR && y.abs() < FAR;
    on_chart.then(|| ((x * UNITS).round() as i32, (y * UNITS).round() as i32))
}
