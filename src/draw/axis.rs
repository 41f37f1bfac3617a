//! Panels with axes: from values to pixels, and the ticks between.

use crate::measure::Measure;

use super::canvas::{At, Canvas};
use super::curve::{Samples, stretches};
use super::style::{self, Pen};

/// A rectangle of the chart in which values are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge, pixels.
    pub left: f64,
    /// Upper edge, pixels.
    pub top: f64,
    /// Width, pixels.
    pub width: f64,
    /// Height, pixels.
    pub height: f64,
    /// Values at the left and right edge.
    pub x: (f64, f64),
    /// Values at the lower and upper edge.
    pub y: (f64, f64),
}

impl Frame {
    /// Right edge, pixels.
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// Lower edge, pixels.
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Where a value of the horizontal axis lies.
    pub fn across(&self, x: f64) -> f64 {
        self.left + (x - self.x.0) / (self.x.1 - self.x.0) * self.width
    }

    /// Where a value of the vertical axis lies.
    pub fn down(&self, y: f64) -> f64 {
        self.bottom() - (y - self.y.0) / (self.y.1 - self.y.0) * self.height
    }

    /// Where a pair of values lies.
    pub fn at(&self, x: f64, y: f64) -> At {
        (self.across(x), self.down(y))
    }

    /// A vertical line through the frame.
    pub fn upright(&self, canvas: &mut Canvas, x: f64, pen: &Pen) {
        canvas.line((self.across(x), self.top), (self.across(x), self.bottom()), pen);
    }

    /// A horizontal line through the frame.
    pub fn level(&self, canvas: &mut Canvas, y: f64, pen: &Pen) {
        canvas.line((self.left, self.down(y)), (self.right(), self.down(y)), pen);
    }

    /// A curve with its gaps; what lies above or below the frame is cut off at its edge.
    pub fn curve(&self, canvas: &mut Canvas, samples: &Samples, pen: &Pen) {
        for stretch in stretches(samples) {
            for piece in self.within(&stretch) {
                let points: Vec<At> = piece.iter().map(|(x, y)| self.at(*x, *y)).collect();
                canvas.path(&points, pen);
            }
        }
    }

    /// The pieces of a line that lie between the lower and the upper edge.
    fn within(&self, line: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let (low, high) = self.y;
        let mut pieces = Vec::new();
        let mut piece: Vec<(f64, f64)> = Vec::new();
        for pair in line.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            // Shares of the way at which this step comes in and goes out.
            let (mut enter, mut leave): (f64, f64) = (0.0, 1.0);
            for (start, end) in [(y0 - low, y1 - low), (high - y0, high - y1)] {
                if start < 0.0 && end < 0.0 {
                    leave = -1.0;
                } else if start < 0.0 {
                    enter = enter.max(start / (start - end));
                } else if end < 0.0 {
                    leave = leave.min(start / (start - end));
                }
            }
            if enter > leave {
                continue;
            }
            let on = |share: f64| (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share);
            if piece.is_empty() {
                piece.push(on(enter));
            }
            piece.push(on(leave));
            if leave < 1.0 {
                pieces.push(std::mem::take(&mut piece));
            }
        }
        if !piece.is_empty() {
            pieces.push(piece);
        }
        pieces
    }

    /// Grid lines with their numbers left of the frame.
    pub fn scale_left(&self, canvas: &mut Canvas, ticks: &Ticks) {
        // Lines of one look that follow one another are one element.
        ticks.values().for_each(|value| self.level(canvas, value, &style::GRID_LINE));
        for value in ticks.values() {
            canvas.text((self.left - 8.0, self.down(value)), &ticks.label(value), &style::NOTE.end());
        }
    }
}

/// Round numbers along an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ticks {
    first: i64,
    last: i64,
    step: f64,
    /// What a number is multiplied by where it is written.
    scale: f64,
}

impl Ticks {
    /// At most `most` multiples of 1, 2 or 5 times a power of ten from `low` to `high`.
    pub fn within(low: f64, high: f64, most: usize) -> Self {
        let least = ((high - low) / most.max(1) as f64).max(1e-9);
        let power = 10f64.powf(least.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= least * 0.999_999);
        let step = step.unwrap_or(10.0 * power);
        Self {
            first: (low / step - 1e-9).ceil() as i64,
            last: (high / step + 1e-9).floor() as i64,
            step,
            scale: 1.0,
        }
    }

    /// The same of a measure, as people read it.
    pub fn of(measure: &Measure, (low, high): (f64, f64), most: usize) -> Self {
        Self { scale: measure.scale(), ..Self::within(low, high, most) }
    }

    /// The numbers.
    pub fn values(&self) -> impl Iterator<Item = f64> + use<> {
        let step = self.step;
        (self.first..=self.last).map(move |k| k as f64 * step)
    }

    /// A number as it stands on the axis.
    pub fn label(&self, value: f64) -> String {
        let decimals = (-(self.scale * self.step * 1.000_001).log10().floor()).max(0.0) as usize;
        let text = format!("{:.decimals$}", self.scale * value.abs());
        if value < -0.5 * self.step { format!("−{text}") } else { text }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round() {
        let labels = |low, high| {
            let ticks = Ticks::within(low, high, 5);
            ticks.values().map(|v| ticks.label(v)).collect::<Vec<_>>()
        };
        assert_eq!(labels(-12.0, 31.0), ["−10", "0", "10", "20", "30"]);
        assert_eq!(labels(0.0, 1.0), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
    }

    #[test]
    fn curves_end_at_the_frame() {
        let frame = Frame { left: 0.0, top: 0.0, width: 1.0, height: 1.0, x: (0.0, 1.0), y: (0.0, 1.0) };
        assert_eq!(
            frame.within(&[(0.0, 0.5), (1.0, 1.5), (2.0, 1.5), (3.0, 0.5)]),
            [vec![(0.0, 0.5), (0.5, 1.0)], vec![(2.5, 1.0), (3.0, 0.5)]]
        );
        assert_eq!(frame.within(&[(0.0, -1.0), (1.0, 2.0)]).len(), 1);
        assert!(frame.within(&[(0.0, -1.0), (1.0, -2.0)]).is_empty());
    }
}
