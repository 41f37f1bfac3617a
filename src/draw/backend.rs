//! SVG behind plotters' drawing interface, with as few bytes as its look needs.
//!
//! The interface counts in whole numbers: here they are tenths of a pixel ([`UNITS`]), and the file has them as decimals of
//! pixels. Lines that follow one another and look the same are one element. Dashes are the viewer's to draw. What most texts
//! have in common stands once, in [`RULES`].

use std::convert::Infallible;
use std::fmt::Write;

use plotters_backend::text_anchor::{HPos, Pos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind, FontFamily,
    FontStyle, FontTransform,
};

use super::style::{self, Anchor, Pen, Text};
use super::svg::escaped;
use super::text;

/// How many of the interface's units are a pixel.
pub const UNITS: f64 = 10.0;

/// Half the height of a small letter as a share of the text's: by so much texts stand below their middle.
const HALF_LETTER: f64 = 0.26;

/// Points of a line that stray less than this from it are left out, units: a twentieth of a pixel.
const STRAY: f64 = 0.5;

/// The look of texts, as a sheet of styles has it. The names begin alike, so that they mean nothing else on a page.
pub const RULES: &str = "text{font-family:sans-serif;font-size:18px;fill:#1c1f24}.t-body{font-size:20px}\
                         .t-title{font-size:27px}.t-grey{fill:#5c626b}.t-bold{font-weight:bold}.t-middle{text-anchor:middle}\
                         .t-end{text-anchor:end}";

/// What [`RULES`] says.
const CLASSES_OF_SIZES: [(f64, &str); 3] =
    [(style::SMALL, ""), (style::TEXT, "t-body"), (style::TITLE, "t-title")];

/// A drawing as it is written.
#[derive(Debug)]
pub struct Svg {
    size: (u32, u32),
    body: String,
    dash: Option<(f64, f64)>,
    /// The look of the lines whose element is still open.
    open: Option<String>,
}

/// Nothing goes wrong when text is put together.
type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl Svg {
    /// An empty drawing; `size` in [`UNITS`].
    pub fn new(size: (u32, u32)) -> Self {
        Self { size, body: String::new(), dash: None, open: None }
    }

    /// Lengths of dash and gap of the lines that follow, pixels; `None` for unbroken lines.
    pub fn set_dash(&mut self, dash: Option<(f64, f64)>) {
        self.dash = dash;
    }

    /// The elements.
    pub fn into_elements(mut self) -> String {
        self.close();
        self.body
    }

    fn close(&mut self) {
        if self.open.take().is_some() {
            self.body.push_str("\"/>\n");
        }
    }

    /// An element that is no line.
    fn element(&mut self, element: &str) {
        self.close();
        self.body.push_str(element);
        self.body.push('\n');
    }

    /// A shape with a border.
    pub fn bordered(
        &mut self,
        corners: &[BackendCoord],
        fill: &impl BackendStyle,
        border: &impl BackendStyle,
    ) {
        self.close();
        let _ = write!(self.body, "<path fill=\"{}\" {} d=\"", hex(fill.color()), line_look(border));
        let around: Vec<BackendCoord> = corners.iter().chain(corners.first()).copied().collect();
        self.way(&around);
        self.body.push_str("\"/>\n");
    }

    /// A circle with a border, which lies half within the radius.
    pub fn bordered_circle(
        &mut self,
        at: BackendCoord,
        radius: u32,
        fill: &impl BackendStyle,
        border: &impl BackendStyle,
    ) {
        let ([x, y], radius) = ([at.0, at.1].map(decimal), width(radius));
        let (fill, border) = (hex(fill.color()), line_look(border));
        self.element(&format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{fill}\" {border}/>"));
    }

    /// The way through some points as an element's data.
    fn way(&mut self, points: &[BackendCoord]) {
        let (Some(first), true) = (points.first(), points.len() > 1) else { return };
        let is_closed = points.len() > 2 && points.last() == Some(first);
        let corners = &points[..points.len() - usize::from(is_closed)];
        self.body.push('M');
        pair(&mut self.body, *first);
        let mut last = ' ';
        for step in corners.windows(2) {
            let (dx, dy) = (step[1].0 - step[0].0, step[1].1 - step[0].1);
            match (dx, dy) {
                (_, 0) => {
                    self.body.push('h');
                    number(&mut self.body, dx);
                    last = 'h';
                }
                (0, _) => {
                    self.body.push('v');
                    number(&mut self.body, dy);
                    last = 'v';
                }
                _ => {
                    match last {
                        'l' if dx < 0 => {}
                        'l' => self.body.push(' '),
                        _ => self.body.push('l'),
                    }
                    pair(&mut self.body, (dx, dy));
                    last = 'l';
                }
            }
        }
        if is_closed {
            self.body.push('z');
        }
    }
}

impl DrawingBackend for Svg {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        self.close();
        Ok(())
    }

    fn draw_pixel(&mut self, at: BackendCoord, colour: BackendColor) -> Drawn {
        self.draw_rect(at, (at.0 + 1, at.1 + 1), &colour, true)
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        (x0, y0): BackendCoord,
        (x1, y1): BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        if !fill {
            return self.draw_path([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], style);
        }
        let [x, y, wide, high] = [x0, y0, x1 - x0, y1 - y0].map(decimal);
        let colour = hex(style.color());
        self.element(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{high}\" fill=\"{colour}\"/>"
        ));
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let mut points: Vec<BackendCoord> = path.into_iter().collect();
        points.dedup();
        if points.len() < 2 {
            return Ok(());
        }
        let points = simplified(&points);
        let mut look = line_look(style);
        if let Some((dash, gap)) = self.dash {
            // Text doesn't fail to be written.
            let _ = write!(look, " stroke-dasharray=\"{dash} {gap}\"");
        }
        if self.open.as_ref() != Some(&look) {
            self.close();
            let _ = write!(self.body, "<path {look} d=\"");
            self.open = Some(look);
        }
        self.way(&points);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        at: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let ([x, y], radius, colour) = ([at.0, at.1].map(decimal), width(radius), hex(style.color()));
        let look = match fill {
            true => format!("fill=\"{colour}\""),
            false => line_look(style),
        };
        self.element(&format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {look}/>"));
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        let points: Vec<String> =
            corners.into_iter().map(|(x, y)| format!("{},{}", decimal(x), decimal(y))).collect();
        self.element(&format!("<polygon fill=\"{}\" points=\"{}\"/>", hex(style.color()), points.join(" ")));
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(&mut self, words: &str, style: &S, (x, y): BackendCoord) -> Drawn {
        let mut classes: Vec<&str> = Vec::new();
        let mut own = String::new();
        match CLASSES_OF_SIZES.iter().find(|(size, _)| *size == style.size()) {
            Some((_, class)) => classes.push(class),
            None => own = format!("font-size:{}px;", style.size()),
        }
        match hex(style.color()) {
            colour if colour == hex(BackendStyle::color(&style::INK)) => {}
            colour if colour == hex(BackendStyle::color(&style::GREY)) => classes.push("t-grey"),
            colour => own = format!("{own}fill:{colour}"),
        }
        if matches!(style.style(), FontStyle::Bold) {
            classes.push("t-bold");
        }
        match style.anchor().h_pos {
            HPos::Left => {}
            HPos::Center => classes.push("t-middle"),
            HPos::Right => classes.push("t-end"),
        }
        classes.retain(|class| !class.is_empty());
        let given = |name: &str, value: &str| match value {
            "" => String::new(),
            value => format!(" {name}=\"{value}\""),
        };
        let turned = match style.transform() {
            FontTransform::Rotate270 => format!(" transform=\"rotate(-90 {} {})\"", decimal(x), decimal(y)),
            _ => String::new(),
        };
        let base = y + (HALF_LETTER * style.size() * UNITS).round() as i32;
        self.element(&format!(
            "<text x=\"{}\" y=\"{}\"{}{}{turned}>{}</text>",
            decimal(x),
            decimal(base),
            given("class", &classes.join(" ")),
            given("style", own.trim_end_matches(';')),
            escaped(words)
        ));
        Ok(())
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        words: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let wide = text::width(words, style.size(), matches!(style.style(), FontStyle::Bold));
        Ok(((wide * UNITS) as u32, (style.size() * UNITS) as u32))
    }
}

impl BackendStyle for Pen {
    fn color(&self) -> BackendColor {
        BackendStyle::color(&self.colour)
    }

    fn stroke_width(&self) -> u32 {
        (self.width * UNITS).round() as u32
    }
}

impl BackendTextStyle for Text {
    type FontError = Infallible;

    fn color(&self) -> BackendColor {
        BackendStyle::color(&self.colour)
    }

    fn size(&self) -> f64 {
        self.size
    }

    fn transform(&self) -> FontTransform {
        if self.upward { FontTransform::Rotate270 } else { FontTransform::None }
    }

    fn style(&self) -> FontStyle {
        if self.bold { FontStyle::Bold } else { FontStyle::Normal }
    }

    fn anchor(&self) -> Pos {
        let horizontal = match self.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        Pos::new(horizontal, VPos::Center)
    }

    fn family(&self) -> FontFamily<'_> {
        FontFamily::from(style::FONT)
    }

    fn layout_box(&self, words: &str) -> Result<(BackendCoord, BackendCoord), Infallible> {
        let wide = text::width(words, self.size, self.bold);
        Ok(((0, 0), ((wide * UNITS) as i32, (self.size * UNITS) as i32)))
    }

    /// Letters are the viewer's to draw.
    fn draw<E, F: FnMut(i32, i32, BackendColor) -> Result<(), E>>(
        &self,
        _: &str,
        _: BackendCoord,
        _: F,
    ) -> Result<Result<(), E>, Infallible> {
        Ok(Ok(()))
    }
}

fn line_look(style: &impl BackendStyle) -> String {
    format!("stroke=\"{}\" stroke-width=\"{}\"", hex(style.color()), width(style.stroke_width()))
}

/// A line without the points that lie on it all the same: within [`STRAY`] of the way between others (Ramer 1972; Douglas and
/// Peucker 1973).
fn simplified(points: &[BackendCoord]) -> Vec<BackendCoord> {
    let mut is_kept = vec![false; points.len()];
    let mut stretches = vec![(0, points.len().saturating_sub(1))];
    while let Some((first, last)) = stretches.pop() {
        (is_kept[first], is_kept[last]) = (true, true);
        let stray = |i: usize| distance(points[i], points[first], points[last]);
        let farthest = (first + 1..last).max_by(|a, b| stray(*a).total_cmp(&stray(*b)));
        if let Some(farthest) = farthest.filter(|i| stray(*i) > STRAY) {
            stretches.extend([(first, farthest), (farthest, last)]);
        }
    }
    points.iter().zip(is_kept).filter(|(_, is_kept)| *is_kept).map(|(point, _)| *point).collect()
}

/// Distance of a place from the stretch between two others.
fn distance(at: BackendCoord, from: BackendCoord, to: BackendCoord) -> f64 {
    let apart = |a: BackendCoord, b: BackendCoord| (f64::from(a.0 - b.0), f64::from(a.1 - b.1));
    let ((x, y), (dx, dy)) = (apart(at, from), apart(to, from));
    let square = dx * dx + dy * dy;
    let share = if square > 0.0 { ((x * dx + y * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (x - share * dx).hypot(y - share * dy)
}

/// A colour as `#rrggbb`, or `#rgb` where that is the same.
fn hex(colour: BackendColor) -> String {
    let (r, g, b) = colour.rgb;
    if [r, g, b].iter().all(|part| part % 17 == 0) {
        return format!("#{:x}{:x}{:x}", r / 17, g / 17, b / 17);
    }
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn width(units: u32) -> String {
    decimal(i32::try_from(units).unwrap_or(i32::MAX))
}

fn decimal(units: i32) -> String {
    let mut out = String::new();
    number(&mut out, units);
    out
}

/// Tenths of a pixel as pixels.
fn number(out: &mut String, units: i32) {
    let (whole, tenth) = (units.unsigned_abs() / 10, units.unsigned_abs() % 10);
    if units < 0 {
        out.push('-');
    }
    let _ = match (whole, tenth) {
        (_, 0) => write!(out, "{whole}"),
        (0, _) => write!(out, ".{tenth}"),
        _ => write!(out, "{whole}.{tenth}"),
    };
}

fn pair(out: &mut String, (x, y): BackendCoord) {
    number(out, x);
    if y >= 0 {
        out.push(' ');
    }
    number(out, y);
}

#[cfg(test)]
mod tests {
    use super::*;

    const RED: Pen = Pen::new(style::RUST, 3.2);

    #[test]
    fn lines_of_one_look_are_one_element_in_decimals() {
        let mut svg = Svg::new((1000, 1000));
        svg.draw_path([(0, 0), (10, -5), (25, 0), (25, 3), (5, 3)], &RED).unwrap();
        svg.draw_path([(100, 100), (200, 100), (200, 200), (100, 100)], &RED).unwrap();
        svg.set_dash(Some((4.0, 1.5)));
        svg.draw_line((0, 0), (100, 0), &RED).unwrap();
        svg.draw_path([(7, 7), (7, 7)], &RED).unwrap();
        assert_eq!(
            svg.into_elements(),
            "<path stroke=\"#b9540a\" stroke-width=\"3.2\" d=\"M0 0l1-.5 1.5 .5v.3h-2M10 10h10v10z\"/>\n\
             <path stroke=\"#b9540a\" stroke-width=\"3.2\" stroke-dasharray=\"4 1.5\" d=\"M0 0h10\"/>\n"
        );
    }

    #[test]
    fn a_line_keeps_its_corners_and_loses_what_lies_between() {
        let curve: Vec<BackendCoord> =
            (0..=1000).map(|x| (x, (300.0 * (f64::from(x) / 200.0).sin()).round() as i32)).collect();
        let fewer = simplified(&curve);
        assert!(fewer.len() < curve.len() / 5, "{}", fewer.len());
        for point in &curve {
            let off =
                fewer.windows(2).map(|pair| distance(*point, pair[0], pair[1])).fold(f64::MAX, f64::min);
            assert!(off <= STRAY, "{point:?}: {off}");
        }
        let corners = [(0, 0), (100, 0), (100, 100), (0, 0)];
        assert_eq!(simplified(&corners), corners);
        assert_eq!(simplified(&[(3, 4), (3, 5)]), [(3, 4), (3, 5)]);
    }

    #[test]
    fn shapes_and_circles_have_their_border_in_one_element() {
        let mut svg = Svg::new((1000, 1000));
        svg.bordered(&[(0, 0), (100, 0), (100, 50)], &style::PAPER, &RED);
        svg.bordered_circle((50, 60), 45, &style::PAPER, &RED);
        assert_eq!(
            svg.into_elements(),
            "<path fill=\"#fff\" stroke=\"#b9540a\" stroke-width=\"3.2\" d=\"M0 0h10v5z\"/>\n\
             <circle cx=\"5\" cy=\"6\" r=\"4.5\" fill=\"#fff\" stroke=\"#b9540a\" stroke-width=\"3.2\"/>\n"
        );
    }

    #[test]
    fn texts_have_classes_and_of_their_own_only_what_no_class_says() {
        let written = |text: &Text| {
            let mut svg = Svg::new((1000, 1000));
            svg.draw_text("<a>", text, (100, 100)).unwrap();
            svg.into_elements()
        };
        assert_eq!(written(&style::LABEL), "<text x=\"10\" y=\"14.7\">&lt;a&gt;</text>\n");
        assert_eq!(
            written(&style::TITLE_TEXT.end()),
            "<text x=\"10\" y=\"17\" class=\"t-title t-bold t-end\">&lt;a&gt;</text>\n"
        );
        let own = style::NOTE.sized(38.0).coloured(style::RUST);
        assert_eq!(
            written(&Text { upward: true, ..own }),
            "<text x=\"10\" y=\"19.9\" style=\"font-size:38px;fill:#b9540a\" transform=\"rotate(-90 10 10)\">\
             &lt;a&gt;</text>\n"
        );
    }

    #[test]
    fn the_sheet_says_what_the_styles_are() {
        let colours = [("fill:", &style::INK), (".t-grey{fill:", &style::GREY)];
        for (rule, colour) in colours {
            assert!(RULES.contains(&format!("{rule}{}", hex(BackendStyle::color(colour)))), "{rule}");
        }
        for (size, class) in CLASSES_OF_SIZES {
            let rule = if class.is_empty() { ";" } else { &format!(".{class}{{") };
            assert!(RULES.contains(&format!("{rule}font-size:{size}px")), "{class}");
        }
        assert!(RULES.contains(&format!("font-family:{};", style::FONT)));
    }
}
