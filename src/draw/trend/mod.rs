//! One measure over many sessions: strokes as dots, each session's median with its interval, the target as a band, recorded
//! players as a bar at the edge.

mod description;
mod key;
mod marks;

use std::io;

use crate::measure::Measure;
use crate::stats::Interval;
use crate::units::day_number;

use super::axis::{Frame, Ticks};
use super::label;
use super::page::Head;
use super::style::{self, MARGIN, WIDTH};
use super::{svg, text, words};
use marks::session;

const LEFT: f64 = 66.0;
const RIGHT: f64 = 20.0;
const HEIGHT: f64 = 320.0;
const KEY_HEIGHT: f64 = 40.0;
/// Room for the drills' names over the columns.
const NAMES_HEIGHT: f64 = 30.0;
/// So few sessions need less room: two such charts stand side by side on a page, with letters as large as in one of full width.
const MOST_IN_NARROW: usize = 12;
const NARROW: f64 = 540.0;
const NARROW_HEIGHT: f64 = 240.0;
/// Width of the bar that shows where recorded players are.
const USUAL_WIDTH: f64 = 9.0;
/// Room for a day, written upward.
const BELOW: f64 = 136.0;
/// Sessions are moved apart to at least this distance where there is room, pixels.
const LEAST_PITCH: f64 = 26.0;
/// Free space at both ends, pixels.
const ENDS: f64 = 34.0;
/// Dots of one session lie this far to either side of its median at most, pixels.
const SPREAD: f64 = 8.0;

/// A session on the chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The day, `YYYY-MM-DD`, or nothing.
    pub date: String,
    /// The drill, or nothing.
    pub drill: String,
    /// The strokes' values.
    pub values: Vec<f64>,
    /// Their median.
    pub median: f64,
    /// 95 % interval of the median.
    pub interval: Option<Interval>,
}

/// In which order sessions stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// By day, as far apart as they were.
    Days,
    /// Drill by drill, by day within each.
    Drills,
}

/// What a coach wants to see: from the lower to the upper end, either of which may be open.
pub type Band = (Option<f64>, Option<f64>);

/// What is drawn.
#[derive(Debug, Clone)]
pub struct Trend<'a> {
    /// The measure.
    pub measure: &'static Measure,
    /// Whose strokes of which kind and view.
    pub whose: &'a str,
    /// The sessions in the order in which they stand.
    pub points: Vec<Point>,
    /// Their order.
    pub order: Order,
    /// The target.
    pub band: Option<Band>,
    /// The middle half of recorded players.
    pub usual: Option<(f64, f64)>,
    /// Whether most values are a rough guide only.
    pub is_low: bool,
}

impl Trend<'_> {
    /// Draws it as an SVG document.
    ///
    /// # Errors
    /// Where the drawing fails.
    pub fn draw(&self) -> io::Result<String> {
        let title = words::title(self.measure);
        let mut notes = vec![self.whose.to_owned(), format!("{}.", text::capitalised(self.measure.sign))];
        if self.is_low {
            notes.push("Most values have a low grade: a rough guide only.".to_owned());
        }
        let wide = if self.is_narrow() { NARROW } else { WIDTH };
        let head = Head::within(wide, &title, &notes);
        let key = self.key();
        let key_height = KEY_HEIGHT + key.last().map_or(0.0, |((_, y), _)| *y);
        let names = if self.order == Order::Drills { NAMES_HEIGHT } else { 0.0 };
        let frame = Frame {
            left: MARGIN + LEFT,
            top: head.bottom() + key_height + names,
            width: wide - 2.0 * MARGIN - LEFT - RIGHT,
            height: if self.is_narrow() { NARROW_HEIGHT } else { HEIGHT },
            x: (0.0, 1.0),
            y: self.range(),
        };
        let places = self.places(&frame);
        let size = (wide, frame.bottom() + BELOW + MARGIN);
        svg::sized(&title, &self.description(), size, |canvas| {
            head.draw(canvas);
            for ((x, y), sign) in &key {
                sign.draw(canvas, (MARGIN + 9.0 + x, head.bottom() + 16.0 + y));
            }
            self.target(canvas, &frame);
            self.usual(canvas, &frame);
            frame.scale_left(canvas, &Ticks::of(self.measure, frame.y, 6));
            canvas.line((frame.left, frame.bottom()), (frame.right(), frame.bottom()), &style::AXIS);
            if frame.y.0 < 0.0 && frame.y.1 > 0.0 {
                frame.level(canvas, 0.0, &style::AXIS);
            }
            if self.order == Order::Drills {
                self.columns(canvas, &frame, &places);
            }
            self.lines(canvas, &frame, &places);
            // Dots of one session stay nearer to it than to the next.
            let pitch = places.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::MAX, f64::min);
            for (point, x) in self.points.iter().zip(&places) {
                session(canvas, &frame, point, *x, SPREAD.min(0.42 * pitch));
            }
            self.days(canvas, &frame, &places);
        })
    }

    /// Whether two charts of this kind stand side by side.
    fn is_narrow(&self) -> bool {
        self.order == Order::Days && self.points.len() <= MOST_IN_NARROW
    }

    /// A range that holds every value, interval and end of the target near them.
    fn range(&self) -> (f64, f64) {
        let ends = || {
            self.points.iter().flat_map(|point| {
                let interval = point.interval.map_or([point.median; 2], |i| [i.low, i.high]);
                point.values.iter().copied().chain(interval)
            })
        };
        let (low, high) = (ends().fold(f64::MAX, f64::min), ends().fold(f64::MIN, f64::max));
        let target = self.band.map_or([None; 2], |(low, high)| [low, high]);
        let (low, high) = target
            .into_iter()
            .flatten()
            .filter(|end| *end > low - (high - low) && *end < high + (high - low))
            .fold((low, high), |(low, high), end| (low.min(end), high.max(end)));
        // A spread much finer than the measure itself can tell would look like a finding.
        let missing = (2.0 * self.measure.grades.0 - (high - low)).max(0.0);
        let room = 0.06 * (high - low + missing);
        (low - 0.5 * missing - room, high + 0.5 * missing + room)
    }

    /// Where the sessions stand, pixels.
    fn places(&self, frame: &Frame) -> Vec<f64> {
        let (from, to) = (frame.left + ENDS, frame.right() - ENDS);
        let count = self.points.len();
        let even = |i: usize| from + (to - from) * (i as f64 + 0.5) / count as f64;
        let days: Option<Vec<f64>> = self.points.iter().map(|point| day_number(&point.date)).collect();
        let Some(days) = days.filter(|_| self.order == Order::Days && count > 1) else {
            return (0..count).map(even).collect();
        };
        let (first, last) = (days[0], days[count - 1]);
        let wanted: Vec<f64> = days
            .iter()
            .map(|day| {
                if last > first {
                    from + (to - from) * (day - first) / (last - first)
                } else {
                    0.5 * (from + to)
                }
            })
            .collect();
        label::spread(&wanted, LEAST_PITCH, (from, to))
    }

    /// The drills that occur, each once, in the order of the sessions.
    fn drills(&self) -> Vec<&str> {
        let mut found: Vec<&str> = Vec::new();
        for point in &self.points {
            if !found.contains(&point.drill.as_str()) {
                found.push(&point.drill);
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(date: &str, drill: &str, values: &[f64]) -> Point {
        let median = crate::order::median(values.iter().copied()).unwrap();
        let interval = (values.len() > 1).then_some(Interval { low: median - 2.0, high: median + 2.0 });
        Point { date: date.to_owned(), drill: drill.to_owned(), values: values.to_vec(), median, interval }
    }

    #[test]
    fn a_trend_keeps_its_bytes_and_its_sessions_apart() {
        let trend = Trend {
            measure: Measure::find("hand_behind_shoulder_cm").unwrap(),
            whose: "P01 · forehand · side view",
            points: vec![
                point("2025-05-01", "shadow", &[10.0, 14.0, 12.0]),
                point("2025-05-02", "drop", &[16.0, 18.0]),
                point("2025-06-14", "drop", &[11.0]),
            ],
            order: Order::Days,
            band: Some((None, Some(5.0))),
            usual: Some((8.0, 13.0)),
            is_low: false,
        };
        let frame = Frame { left: 0.0, top: 0.0, width: 800.0, height: 1.0, x: (0.0, 1.0), y: (0.0, 1.0) };
        let places = trend.places(&frame);
        assert!(places[1] - places[0] >= LEAST_PITCH - 1e-9 && places[2] - places[1] > 600.0, "{places:?}");
        let svg = trend.draw().unwrap();
        assert_eq!(svg, trend.draw().unwrap());
        assert!(svg.contains("2025-06-14 drop: 1 stroke, median 11 cm."), "{svg}");
        assert!(svg.contains("middle half of recorded club players"), "{svg}");
        let by_drill = Trend { order: Order::Drills, ..trend }.draw().unwrap();
        assert_ne!(svg, by_drill);
    }
}
