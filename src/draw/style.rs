//! Sizes, strokes, colours and fonts of every chart.
//!
//! Nothing is told apart by colour alone: lines differ by width and dashes, marks by shape, and labels stand beside what
//! they name. The two hues differ in lightness too, so that they stay apart in grey and for colour-blind readers.

use plotters::style::RGBColor;

/// Width of every chart, pixels.
pub const WIDTH: f64 = 900.0;
/// Empty border around everything.
pub const MARGIN: f64 = 24.0;
/// Space between panels.
pub const GUTTER: f64 = 28.0;

/// Most strokes that get a posture of their own.
pub const MOST_POSTURES: usize = 12;
/// Most strokes that get a path of their own.
pub const MOST_PATHS: usize = 24;
/// A median needs at least this many strokes.
pub const LEAST_FOR_MEDIAN: usize = 3;

/// Text and everything that matters.
pub const INK: RGBColor = RGBColor(0x1c, 0x1f, 0x24);
/// Text of second rank, and what belongs to the background of a figure.
pub const GREY: RGBColor = RGBColor(0x5c, 0x62, 0x6b);
/// Lines of single strokes behind a median, limbs of the far side.
pub const PALE: RGBColor = RGBColor(0x7d, 0x84, 0x8e);
/// The far side of a figure that stands behind a chart.
pub const FAINT: RGBColor = RGBColor(0x8c, 0x92, 0x9a);
/// Grid lines.
pub const GRID: RGBColor = RGBColor(0xdd, 0xe0, 0xe4);
/// Bands.
pub const BAND: RGBColor = RGBColor(0xea, 0xec, 0xef);
/// The page.
pub const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
/// The forward swing and the hand.
pub const BLUE: RGBColor = RGBColor(0x14, 0x4f, 0x8c);
/// Contact and the toe line.
pub const RUST: RGBColor = RGBColor(0xb9, 0x54, 0x0a);

/// Family of every text; each device takes its own.
pub const FONT: &str = "sans-serif";
/// Height of titles, pixels.
pub const TITLE: f64 = 27.0;
/// Height of ordinary text.
pub const TEXT: f64 = 20.0;
/// Height of the smallest text.
pub const SMALL: f64 = 18.0;
/// Distance of lines as a multiple of the text's height.
pub const LEADING: f64 = 1.35;

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Its colour.
    pub colour: RGBColor,
    /// Its width, pixels.
    pub width: f64,
    /// Lengths of dash and gap, pixels; `None` for an unbroken line.
    pub dash: Option<(f64, f64)>,
}

impl Pen {
    /// An unbroken line.
    pub const fn new(colour: RGBColor, width: f64) -> Self {
        Self { colour, width, dash: None }
    }

    /// The same line broken into dashes.
    pub const fn dashed(self, dash: f64, gap: f64) -> Self {
        Self { dash: Some((dash, gap)), ..self }
    }
}

/// Grid lines.
pub const GRID_LINE: Pen = Pen::new(GRID, 1.2);
/// Frames and axes.
pub const AXIS: Pen = Pen::new(GREY, 1.4);
/// The moment of contact.
pub const CONTACT_LINE: Pen = Pen::new(RUST, 3.0);
/// Boundaries of phases.
pub const BOUNDARY: Pen = Pen::new(GREY, 1.4).dashed(4.0, 4.0);
/// A stroke's own curve.
pub const CURVE: Pen = Pen::new(BLUE, 3.2);
/// The median of all strokes beside a stroke's own curve.
pub const MEDIAN_BESIDE: Pen = Pen::new(GREY, 2.0).dashed(7.0, 5.0);
/// The median of all strokes in front of them.
pub const MEDIAN: Pen = Pen::new(INK, 4.2);

/// How a text is drawn; it stands centred in height on its point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Text {
    /// Height, pixels.
    pub size: f64,
    /// Its colour.
    pub colour: RGBColor,
    /// Whether it is bold.
    pub bold: bool,
    /// Which end of it stands at its point.
    pub anchor: Anchor,
    /// Whether it reads upward.
    pub upward: bool,
}

/// Where a text's point lies in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// At its start.
    Start,
    /// In its middle.
    Middle,
    /// At its end.
    End,
}

impl Text {
    const fn new(size: f64, colour: RGBColor) -> Self {
        Self { size, colour, bold: false, anchor: Anchor::Start, upward: false }
    }

    /// The same text with its middle on its point.
    pub const fn middle(self) -> Self {
        Self { anchor: Anchor::Middle, ..self }
    }

    /// The same text with its end on its point.
    pub const fn end(self) -> Self {
        Self { anchor: Anchor::End, ..self }
    }

    /// The same text in bold.
    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same text in another size.
    pub const fn sized(self, size: f64) -> Self {
        Self { size, ..self }
    }

    /// The same text in another colour.
    pub const fn coloured(self, colour: RGBColor) -> Self {
        Self { colour, ..self }
    }
}

/// A chart's title.
pub const TITLE_TEXT: Text = Text::new(TITLE, INK).bold();
/// A panel's heading.
pub const HEADING: Text = Text::new(TEXT, INK).bold();
/// Ordinary text.
pub const BODY: Text = Text::new(TEXT, INK);
/// Explanations and axes.
pub const NOTE: Text = Text::new(SMALL, GREY);
/// Labels inside a panel.
pub const LABEL: Text = Text::new(SMALL, INK);

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast of two colours (WCAG 2.2, relative luminance of sRGB).
    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let linear = |part: u8| match f64::from(part) / 255.0 {
            part if part <= 0.04045 => part / 12.92,
            part => ((part + 0.055) / 1.055).powf(2.4),
        };
        let light = |RGBColor(r, g, b)| 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b) + 0.05;
        light(a).max(light(b)) / light(a).min(light(b))
    }

    #[test]
    fn lines_are_told_from_the_paper_and_text_is_read() {
        assert!((contrast(INK, PAPER) - 16.6).abs() < 0.3, "{}", contrast(INK, PAPER));
        for line in [PALE, FAINT, BLUE, RUST] {
            assert!(contrast(line, PAPER) >= 3.0, "{line:?}: {:.2}", contrast(line, PAPER));
        }
        for text in [INK, GREY, BLUE, RUST] {
            assert!(contrast(text, PAPER) >= 4.5, "{text:?}: {:.2}", contrast(text, PAPER));
        }
    }
}
