//! One measure over many sessions: strokes as dots, each session's mean with its interval, the target as a band.

use std::io;

use crate::measure::Measure;
use crate::stats::Interval;

use super::axis::{Frame, Ticks};
use super::canvas::{At, Canvas};
use super::label;
use super::page::Head;
use super::style::{self, MARGIN, Pen, WIDTH};
use super::{svg, text, words};

const LEFT: f64 = 66.0;
const RIGHT: f64 = 20.0;
const HEIGHT: f64 = 320.0;
const KEY_HEIGHT: f64 = 40.0;
/// Distance of the key's lines, and room for a sign before its meaning, pixels.
const KEY_LINE: f64 = 28.0;
const SIGN_WIDTH: f64 = 24.0;
/// Room for the drills' names over the columns.
const NAMES_HEIGHT: f64 = 30.0;
/// Room for a day, written upward.
const BELOW: f64 = 136.0;
/// Days that stand closer are left out.
const LABEL_PITCH: f64 = 21.0;
/// Sessions are moved apart to at least this distance where there is room, pixels.
const LEAST_PITCH: f64 = 26.0;
/// Free space at both ends, pixels.
const ENDS: f64 = 34.0;
/// Dots of one session lie this far to either side of its mean at most, pixels.
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
    /// Their mean.
    pub mean: f64,
    /// 95 % interval of the mean.
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
    /// Whether most values are for orientation only.
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
            notes.push("Most values have a low grade: for orientation only.".to_owned());
        }
        let head = Head::new(&title, &notes);
        let key = self.key();
        let key_height = KEY_HEIGHT + key.last().map_or(0.0, |((_, y), _)| *y);
        let names = if self.order == Order::Drills { NAMES_HEIGHT } else { 0.0 };
        let frame = Frame {
            left: MARGIN + LEFT,
            top: head.bottom() + key_height + names,
            width: WIDTH - 2.0 * MARGIN - LEFT - RIGHT,
            height: HEIGHT,
            x: (0.0, 1.0),
            y: self.range(),
        };
        let places = self.places(&frame);
        svg::document(&title, &self.description(), frame.bottom() + BELOW + MARGIN, |canvas| {
            head.draw(canvas);
            for ((x, y), sign) in &key {
                sign.draw(canvas, (MARGIN + 9.0 + x, head.bottom() + 16.0 + y));
            }
            self.target(canvas, &frame);
            frame.scale_left(canvas, &Ticks::within(frame.y.0, frame.y.1, 6));
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

    /// A range that holds every value, interval and end of the target near them.
    fn range(&self) -> (f64, f64) {
        let ends = || {
            self.points.iter().flat_map(|point| {
                let interval = point.interval.map_or([point.mean; 2], |i| [i.low, i.high]);
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

    /// What the marks mean, with the place of each on the lines of the key, counted from its upper left corner.
    fn key(&self) -> Vec<(At, Sign<'_>)> {
        let drills = self.drills().into_iter().map(Sign::Mean);
        let target = self.band.map(|_| Sign::Target);
        let (mut x, mut y) = (0.0, 0.0);
        let mut place = |sign: Sign<'_>| {
            let wide = SIGN_WIDTH + text::width(sign.meaning(), style::SMALL, false);
            if x > 0.0 && x + wide > WIDTH - 2.0 * MARGIN {
                (x, y) = (0.0, y + KEY_LINE);
            }
            let at = (x, y);
            x += wide + 20.0;
            at
        };
        let signs = [Sign::Stroke].into_iter().chain(drills).chain([Sign::Interval]).chain(target);
        signs.map(|sign| (place(sign), sign)).collect()
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

    fn target(&self, canvas: &mut Canvas, frame: &Frame) {
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

    /// Names over the columns of drills, and lines between them.
    fn columns(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
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

    /// Lines from each session's mean to the next one's of the same drill.
    fn lines(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
        const BETWEEN: Pen = Pen::new(style::PALE, 1.6);
        for drill in self.drills() {
            let means: Vec<At> = self
                .points
                .iter()
                .zip(places)
                .filter(|(point, _)| point.drill == drill)
                .map(|(point, x)| (*x, frame.down(point.mean)))
                .collect();
            canvas.path(&means, &BETWEEN);
        }
    }

    /// The days under the axis; where they stand too close, some are left out.
    fn days(&self, canvas: &mut Canvas, frame: &Frame, places: &[f64]) {
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

    fn description(&self) -> String {
        let all: Vec<String> = self
            .points
            .iter()
            .map(|point| {
                let number = |value: f64| words::number(self.measure, value);
                let interval = point
                    .interval
                    .map_or_else(String::new, |i| format!(" ({} to {})", number(i.low), number(i.high)));
                let drill = if point.drill.is_empty() { String::new() } else { format!(" {}", point.drill) };
                let day = if point.date.is_empty() { "no date" } else { &point.date };
                let unit = self.measure.unit.suffix();
                let strokes = if point.values.len() == 1 { "stroke" } else { "strokes" };
                format!(
                    "{day}{drill}: {} {strokes}, mean {}{unit}{interval}.",
                    point.values.len(),
                    number(point.mean)
                )
            })
            .collect();
        format!("{}. {} {}. {}", self.whose, self.measure.definition, self.measure.sign, all.join(" "))
    }
}

const INTERVAL: Pen = Pen::new(style::INK, 2.4);

/// A sign of the key.
#[derive(Debug, Clone, Copy)]
enum Sign<'a> {
    Stroke,
    Mean(&'a str),
    Interval,
    Target,
}

impl Sign<'_> {
    fn meaning(&self) -> &str {
        match self {
            Self::Stroke => "stroke",
            Self::Mean("") => "session's mean",
            Self::Mean(drill) => drill,
            Self::Interval => "95 % interval of the mean",
            Self::Target => "target",
        }
    }

    fn draw(&self, canvas: &mut Canvas, (x, y): At) {
        match self {
            Self::Stroke => canvas.dot((x, y), 3.5, style::PALE),
            Self::Mean(drill) => mark(canvas, (x, y), drill),
            Self::Interval => canvas.line((x, y - 11.0), (x, y + 11.0), &INTERVAL),
            Self::Target => canvas.fill((x - 9.0, y - 9.0), (x + 9.0, y + 9.0), style::BAND),
        }
        canvas.text((x + 15.0, y), self.meaning(), &style::LABEL);
    }
}

/// A session: its strokes, its mean and the mean's interval.
fn session(canvas: &mut Canvas, frame: &Frame, point: &Point, x: f64, spread: f64) {
    const STEPS: usize = 5;
    const CAP: f64 = 5.0;
    for (i, value) in point.values.iter().enumerate() {
        // Side by side in turn, so that equal values stay apart; the mean's own line stays free.
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
    mark(canvas, (x, frame.down(point.mean)), &point.drill);
}

/// The mark of a session by its drill.
fn mark(canvas: &mut Canvas, at: At, drill: &str) {
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

/// Days since the year 0 in the Gregorian calendar (Richards 2013, Explanatory Supplement to the Astronomical Almanac,
/// 15.11, shifted); only differences are used.
fn day_number(date: &str) -> Option<f64> {
    let mut parts = date.split('-').map(|part| part.parse::<i64>().ok());
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    let (year, month) = if month > 2 { (year, month) } else { (year - 1, month + 12) };
    Some((365 * year + year / 4 - year / 100 + year / 400 + (153 * (month - 3) + 2) / 5 + day) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_through_leap_years() {
        let between = |a: &str, b: &str| day_number(b).unwrap() - day_number(a).unwrap();
        assert_eq!(between("2024-02-28", "2024-03-01"), 2.0);
        assert_eq!(between("2025-02-28", "2025-03-01"), 1.0);
        assert_eq!(between("2024-12-31", "2025-01-01"), 1.0);
        assert_eq!(between("2024-01-01", "2025-01-01"), 366.0);
        assert_eq!(day_number("soon"), None);
    }

    fn point(date: &str, drill: &str, values: &[f64]) -> Point {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let interval = (values.len() > 1).then_some(Interval { low: mean - 2.0, high: mean + 2.0 });
        Point { date: date.to_owned(), drill: drill.to_owned(), values: values.to_vec(), mean, interval }
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
            is_low: false,
        };
        let frame = Frame { left: 0.0, top: 0.0, width: 800.0, height: 1.0, x: (0.0, 1.0), y: (0.0, 1.0) };
        let places = trend.places(&frame);
        assert!(places[1] - places[0] >= LEAST_PITCH - 1e-9 && places[2] - places[1] > 600.0, "{places:?}");
        let svg = trend.draw().unwrap();
        assert_eq!(svg, trend.draw().unwrap());
        assert!(svg.contains("2025-06-14 drop: 1 stroke, mean 11.0 cm."), "{svg}");
        let by_drill = Trend { order: Order::Drills, ..trend }.draw().unwrap();
        assert_ne!(svg, by_drill);
    }
}
