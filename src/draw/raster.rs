//! Drawings in pixels: what a [`Canvas`] draws, over a picture.

use std::io;
use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::canvas::Canvas;
use super::style;
use super::svg;
use crate::video::Picture;

/// Draws over a picture; `scale` is how many of its pixels one of the drawing becomes.
///
/// # Errors
/// Where the drawing can't be made; the picture is then as it was.
pub fn over(picture: &mut Picture, scale: f64, paint: impl FnOnce(&mut Canvas)) -> io::Result<()> {
    let drawn = |pixels: u32| (f64::from(pixels) / scale).ceil() as u32;
    let drawing = svg::overlay((drawn(picture.width), drawn(picture.height)), paint)?;
    let options = Options { fontdb: fonts(), font_family: FAMILY.to_owned(), ..Options::default() };
    let tree = Tree::from_str(&drawing, &options).map_err(io::Error::other)?;
    let mut pixels = Pixmap::new(picture.width, picture.height)
        .ok_or_else(|| io::Error::other("the picture has no size"))?;
    resvg::render(&tree, Transform::from_scale(scale as f32, scale as f32), &mut pixels.as_mut());
    for (under, over) in picture.rgb.chunks_exact_mut(3).zip(pixels.data().chunks_exact(4)) {
        // Colours come multiplied by their opacity.
        let through = u16::from(255 - over[3]);
        if through < 255 {
            for (under, over) in under.iter_mut().zip(over) {
                *under = over.saturating_add(((u16::from(*under) * through + 127) / 255) as u8);
            }
        }
    }
    Ok(())
}

const FAMILY: &str = "DejaVu Sans";

/// The one family that is drawn with, whatever the machine has: its widths are those of [`super::text::width`].
fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let load = || {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_data(dejavu::sans::regular().to_vec());
        fonts.load_font_data(dejavu::sans::bold().to_vec());
        fonts.set_sans_serif_family(FAMILY);
        Arc::new(fonts)
    };
    debug_assert_eq!(style::FONT, "sans-serif");
    Arc::clone(FONTS.get_or_init(load))
}

#[cfg(test)]
mod tests {
    use super::super::style::Pen;
    use super::*;

    fn grey() -> Picture {
        Picture { width: 200, height: 60, rgb: vec![100; 200 * 60 * 3] }
    }

    #[test]
    fn only_what_is_drawn_on_changes() {
        let mut picture = grey();
        over(&mut picture, 1.0, |canvas| canvas.fill((10.0, 10.0), (20.0, 20.0), style::RUST)).unwrap();
        assert_eq!(picture.pixel(15, 15), Some([style::RUST.0, style::RUST.1, style::RUST.2]));
        assert_eq!(picture.pixel(30, 15), Some([100; 3]));
        let changed = picture.rgb.chunks(3).filter(|p| *p != [100; 3]).count();
        assert_eq!(changed, 100);
    }

    #[test]
    fn text_is_as_wide_as_it_is_taken_to_be() {
        for (words, bold) in [("13 ± 10 cm", true), ("hand ahead of the front toe", false), ("−0.86", false)]
        {
            let mut picture = Picture { width: 600, height: 60, rgb: vec![255; 600 * 60 * 3] };
            let style = if bold { style::LABEL.bold() } else { style::LABEL };
            over(&mut picture, 1.0, |canvas| canvas.text((0.0, 30.0), words, &style)).unwrap();
            let dark = |x: &u32| (0..60).any(|y| picture.pixel(*x, y).unwrap()[0] < 128);
            let right = (0..600).rev().find(dark).unwrap();
            let width = super::super::text::width(words, style.size, bold);
            assert!(f64::from(right) <= width && f64::from(right) > 0.8 * width, "{words}: {right} {width}");
        }
    }

    #[test]
    fn lines_are_where_they_are_wanted() {
        let mut picture = grey();
        over(&mut picture, 1.0, |canvas| {
            canvas.line((50.0, 0.0), (50.0, 60.0), &Pen::new(style::PAPER, 2.0))
        })
        .unwrap();
        assert_eq!(picture.pixel(50, 30), Some([255; 3]));
        assert_eq!(picture.pixel(53, 30), Some([100; 3]));
    }
}
