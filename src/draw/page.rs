//! What all charts have in common: the head, panels in rows, and a page that says why there is no chart.

use std::io;

use super::canvas::{At, Canvas};
use super::style::{self, GUTTER, MARGIN, WIDTH};
use super::{svg, text};

/// Title and notes on top of a chart.
#[derive(Debug)]
pub struct Head {
    title: Vec<String>,
    notes: Vec<String>,
}

impl Head {
    /// A head with its texts broken into lines.
    pub fn new(title: &str, notes: &[String]) -> Self {
        Self::within(WIDTH, title, notes)
    }

    /// The head of a chart of a width of its own.
    pub fn within(width: f64, title: &str, notes: &[String]) -> Self {
        let most = width - 2.0 * MARGIN;
        Self {
            title: text::wrap(title, style::TITLE, true, most),
            notes: notes.iter().flat_map(|n| text::wrap(n, style::SMALL, false, most)).collect(),
        }
    }

    /// Where the chart below it may begin.
    pub fn bottom(&self) -> f64 {
        let lines = self.title.len() as f64 * style::TITLE + self.notes.len() as f64 * style::SMALL;
        MARGIN + style::LEADING * lines + 12.0
    }

    /// Draws it.
    pub fn draw(&self, canvas: &mut Canvas) {
        let mut top = MARGIN;
        for (lines, style) in [(&self.title, style::TITLE_TEXT), (&self.notes, style::NOTE)] {
            for line in lines {
                canvas.text((MARGIN, top + 0.5 * style.size), line, &style);
                top += style::LEADING * style.size;
            }
        }
    }
}

/// Panels of one size in rows.
#[derive(Debug, Clone, Copy)]
pub struct Grid {
    /// Panels in a row.
    pub columns: usize,
    /// Width of a panel.
    pub width: f64,
    /// Height of a panel.
    pub height: f64,
    top: f64,
}

impl Grid {
    /// One panel fills a row; more stand two in a row.
    pub fn width_for(panels: usize) -> f64 {
        let columns = columns(panels) as f64;
        (WIDTH - 2.0 * MARGIN - (columns - 1.0) * GUTTER) / columns
    }

    /// A grid whose first row begins at `top`.
    pub fn new(panels: usize, height: f64, top: f64) -> Self {
        Self { columns: columns(panels), width: Self::width_for(panels), height, top }
    }

    /// Upper left corner of a panel.
    pub fn corner(&self, panel: usize) -> At {
        let (row, column) = (panel / self.columns, panel % self.columns);
        (MARGIN + column as f64 * (self.width + GUTTER), self.top + row as f64 * (self.height + GUTTER))
    }

    /// Lower edge of the last row.
    pub fn bottom(&self, panels: usize) -> f64 {
        self.top + panels.div_ceil(self.columns) as f64 * (self.height + GUTTER) - GUTTER
    }
}

fn columns(panels: usize) -> usize {
    panels.clamp(1, 2)
}

/// A chart that has only words.
pub fn notice(title: &str, words: &str) -> io::Result<String> {
    let head = Head::new(title, &[]);
    let lines = text::wrap(words, style::TEXT, false, WIDTH - 2.0 * MARGIN);
    let height = head.bottom() + lines.len() as f64 * style::LEADING * style::TEXT + MARGIN;
    svg::document(title, words, height, |canvas| {
        head.draw(canvas);
        for (i, line) in lines.iter().enumerate() {
            let y = head.bottom() + (i as f64 + 0.5) * style::LEADING * style::TEXT;
            canvas.text((MARGIN, y), line, &style::BODY);
        }
    })
}
