//! Sessions, their days and drills on a trend.

use super::super::axis::Frame;
use super::super::canvas::{At, Canvas};
use super::super::style::{self, Pen};
use super::key::INTERVAL;
use super::{NAMES_HEIGHT, Order, Point, Trend, USUAL_WIDTH};

/// Days that stand closer are left out.
const LABEL_PITCH: f64 = 21.0;

impl Trend<'_> {
    pub(super) fn target(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((low, high)) = self.band else { return };
        let (bottom, top) = frame.y;
        let (low, high) = (low.unwrap_or(bottom).max(bottom), high.unwrap_or(top).min(top));
        if low < high {
            canvas.fill((frame.left, frame.down(high)), (frame.right(), frame.down(low)), style::BAND);
            for end in [low, high].into_iter().filter(|end| *end > bottom && *end < top) {
                frame.level(canvas, end, &style::BOUNDARY);
            }
        }
    }

    /// A bar at the right edge where the middle half of recorded players are.
    pub(super) fn usual(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((low, high)) = self.usual else { return };
        let (low, high) = (low.max(frame.y.0), high.min(frame.y.1));
        if low < high {
            let (left, right) = (frame.right() - USUAL_WIDTH, frame.right());
            canvas.fill((left, frame.down(high)), (right, frame.down(low)), style::PALE);
        }
    }

    /// Names over the columns of drills, and lines between them.
    pub(super) fn columns(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
        let mut from = 0;
        for to in 1..=self.points.len() {
            if to < self.points.len() && self.points[to].drill == self.points[from].drill {
                continue;
            }
            let drill =
                if self.points[from].drill.is_empty() { "not said" } else { &self.points[from].drill };
            let middle = 0.5 * (places[from] + places[to - 1]);
            canvas.text((middle, frame.top - 0.5 * NAMES_HEIGHT), drill, &style::HEADING.middle());
            if to < self.points.len() {
                let between = 0.5 * (places[to - 1] + places[to]);
                canvas.line((between, frame.top - NAMES_HEIGHT), (between, frame.bottom()), &style::BOUNDARY);
            }
            from = to;
        }
    }

    /// Lines from each session's median to the next one's of the same drill.
    pub(super) fn lines(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
        const BETWEEN: Pen = Pen::new(style::PALE, 1.6);
        for drill in self.drills() {
            let medians: Vec<At> = self
                .points
                .iter()
                .zip(places)
                .filter(|(point, _)| point.drill == drill)
                .map(|(point, x)| (*x, frame.down(point.median)))
                .collect();
            canvas.path(&medians, &BETWEEN);
        }
    }

    /// The days under the axis; where they stand too close, some are left out.
    pub(super) fn days(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
        let mut last = f64::MIN;
        let mut written = "";
        for (point, x) in self.points.iter().zip(places) {
            canvas.line((*x, frame.bottom()), (*x, frame.bottom() + 6.0), &style::AXIS);
            if *x - last < LABEL_PITCH || (point.date == written && self.order == Order::Days) {
                continue;
            }
            let day = if point.date.is_empty() { "no date" } else { &point.date };
            let style = style::Text { upward: true, ..style::LABEL.middle() };
            canvas.text((*x, frame.bottom() + 14.0 + 0.5 * 112.0), day, &style);
            (last, written) = (*x, &point.date);
        }
    }
}

/// A session: its strokes, its median and the median's interval.
pub(super) fn session(canvas: &mut Canvas, frame: &Frame, point: &Point, x: f64, spread: f64) {
    const STEPS: usize = 5;
    const CAP: f64 = 5.0;
    for (i, value) in point.values.iter().enumerate() {
        // Side by side in turn, so that equal values stay apart; the median's own line stays free.
        let step = (i % STEPS) as f64 / (STEPS - 1) as f64;
        let side = if i % 2 == 0 { 1.0 } else { -1.0 };
        let shift = side * (0.5 + 0.5 * step) * spread;
        canvas.dot((x + shift, frame.down(*value)), 3.5, style::PALE);
    }
    if let Some(interval) = point.interval {
        let (low, high) = (frame.down(interval.low), frame.down(interval.high));
        canvas.line((x, low), (x, high), &INTERVAL);
        for y in [low, high] {
            canvas.line((x - CAP, y), (x + CAP, y), &INTERVAL);
        }
    }
    mark(canvas, (x, frame.down(point.median)), &point.drill);
}

/// The mark of a session by its drill.
pub(super) fn mark(canvas: &mut Canvas, at: At, drill: &str) {
    const LINE: Pen = Pen::new(style::BLUE, 2.6);
    match drill {
        "shadow" => canvas.triangle(at, 8.5, &LINE),
        "drop" => canvas.square(at, 6.0, &LINE),
        "hand-feed" => canvas.diamond(at, 8.5, &LINE),
        "machine" => canvas.ring(at, 6.5, &LINE),
        "rally" => canvas.dot(at, 7.0, style::BLUE),
        _ => canvas.dot(at, 7.0, style::INK),
    }
}
