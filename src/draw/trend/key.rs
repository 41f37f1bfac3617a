//! What the signs of a trend mean.

use std::borrow::Cow;

use super::super::canvas::{At, Canvas};
use super::super::style::{self, MARGIN, Pen, WIDTH};
use super::super::text;
use super::marks::mark;
use super::{NARROW, Trend, USUAL_WIDTH};

/// Distance of the key's lines, and room for a sign before its meaning, pixels.
const KEY_LINE: f64 = 28.0;
const SIGN_WIDTH: f64 = 24.0;

impl Trend<'_> {
    /// What the marks mean, with the place of each on the lines of the key, counted from its upper left corner.
    pub(super) fn key(&self) -> Vec<(At, Sign<'_>)> {
        let wide_chart = if self.is_narrow() { NARROW } else { WIDTH };
        let drills = self.drills().into_iter().map(Sign::Median);
        let target = self.band.map(|_| Sign::Target);
        let (mut x, mut y) = (0.0, 0.0);
        let mut place = |sign: Sign<'_>| {
            let wide = SIGN_WIDTH + text::width(&sign.meaning(), style::SMALL, false);
            if x > 0.0 && x + wide > wide_chart - 2.0 * MARGIN {
                (x, y) = (0.0, y + KEY_LINE);
            }
            let at = (x, y);
            x += wide + 20.0;
            at
        };
        let usual = self.usual.map(|_| Sign::Usual);
        let signs =
            [Sign::Stroke].into_iter().chain(drills).chain([Sign::Interval]).chain(target).chain(usual);
        signs.map(|sign| (place(sign), sign)).collect()
    }
}

pub(super) const INTERVAL: Pen = Pen::new(style::INK, 2.4);

/// A sign of the key.
#[derive(Debug, Clone, Copy)]
pub(super) enum Sign<'a> {
    Stroke,
    Median(&'a str),
    Interval,
    Target,
    Usual,
}

impl Sign<'_> {
    fn meaning(&self) -> Cow<'_, str> {
        match self {
            Self::Stroke => "stroke".into(),
            Self::Median("") => "session's median".into(),
            Self::Median(drill) => format!("session's median, {drill}").into(),
            Self::Interval => "its 95 % interval".into(),
            Self::Target => "target".into(),
            Self::Usual => "middle half of recorded club players".into(),
        }
    }

    pub(super) fn draw(&self, canvas: &mut Canvas, (x, y): At) {
        match self {
            Self::Stroke => canvas.dot((x, y), 3.5, style::PALE),
            Self::Median(drill) => mark(canvas, (x, y), drill),
            Self::Interval => canvas.line((x, y - 11.0), (x, y + 11.0), &INTERVAL),
            Self::Target => canvas.fill((x - 9.0, y - 9.0), (x + 9.0, y + 9.0), style::BAND),
            Self::Usual => {
                canvas.fill(
                    (x - 0.5 * USUAL_WIDTH, y - 11.0),
                    (x + 0.5 * USUAL_WIDTH, y + 11.0),
                    style::PALE,
                );
            }
        }
        canvas.text((x + 15.0, y), &self.meaning(), &style::LABEL);
    }
}
