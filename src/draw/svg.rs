//! The file around a drawing: its size, title and description.

use std::io;

pub use super::backend::RULES;
use super::canvas::{Canvas, UNITS};
use super::style;

/// Draws a chart of [`style::WIDTH`] and the given height and wraps it: title and description come first, for readers who
/// don't see the picture.
pub fn document(
    title: &str,
    description: &str,
    height: f64,
    paint: impl FnOnce(&mut Canvas),
) -> io::Result<String> {
    sized(title, description, (style::WIDTH, height), paint)
}

/// The same with a width of its own.
pub fn sized(
    title: &str,
    description: &str,
    (width, height): (f64, f64),
    paint: impl FnOnce(&mut Canvas),
) -> io::Result<String> {
    let head = format!("<title>{}</title>\n<desc>{}</desc>\n", escaped(title), escaped(description));
    root((width, height.round()), "role=\"img\" stroke-linejoin=\"round\"", &head, |canvas| {
        canvas.fill((0.0, 0.0), (width, height), style::PAPER);
        paint(canvas);
    })
}

/// Draws what is to lie over a picture of so many pixels.
pub fn overlay((width, height): (u32, u32), paint: impl FnOnce(&mut Canvas)) -> io::Result<String> {
    let size = (f64::from(width), f64::from(height));
    root(size, "stroke-linejoin=\"round\" stroke-linecap=\"round\"", "", paint)
}

/// An SVG document of a size in pixels.
fn root(
    (width, height): (f64, f64),
    attributes: &str,
    head: &str,
    paint: impl FnOnce(&mut Canvas),
) -> io::Result<String> {
    let mut canvas = Canvas::new((units(width), units(height)));
    paint(&mut canvas);
    let elements = canvas.finish()?;
    Ok(format!(
        "<svg width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" xmlns=\"http://www.w3.org/2000/svg\" \
         {attributes} fill=\"none\">\n{head}{}{elements}</svg>\n",
        sheet()
    ))
}

/// [`RULES`] as an element of a drawing that stands alone.
fn sheet() -> String {
    format!("<style>{RULES}</style>\n")
}

/// A page in which drawings stand, without the rules that each of them brings: the page has them once.
pub fn with_one_sheet(page: &str) -> String {
    page.replace(&sheet(), "")
}

fn units(pixels: f64) -> u32 {
    (pixels.round() * UNITS) as u32
}

/// The text of what [`escaped`] has made.
pub fn plain(text: &str) -> String {
    [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&apos;", "'"), ("&#39;", "'"), ("&amp;", "&")]
        .iter()
        .fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// Text as it may stand in an element; characters that XML can't hold are left out.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            '\n' | '\t' => out.push(' '),
            '\u{fffe}' | '\u{ffff}' => {}
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_can_not_leave_its_element() {
        assert_eq!(escaped("a < b & \"c\"\u{0} 'd'>"), "a &lt; b &amp; &quot;c&quot; &apos;d&apos;&gt;");
        let svg = document("<script>", "]]> & more", 100.0, |c| {
            c.text((0.0, 0.0), "<b>", &style::BODY);
        })
        .unwrap();
        assert!(!svg.contains("<script>") && !svg.contains("<b>"), "{svg}");
    }
}
