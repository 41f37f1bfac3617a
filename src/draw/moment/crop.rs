//! The part of a picture that a still shows.

use image::imageops::{self, FilterType};
use image::{ImageBuffer, Rgb};

use super::super::canvas::At;
use crate::geometry::Point2;
use crate::video::Picture;

/// Width of every still, pixels. Letters of [`super::label::TEXT`] are 13 pixels high where it is shown 390 wide.
pub const WIDTH: u32 = 1080;

/// Room around a player, in body heights: the picture's least width and height, and what is kept free beside, over and under
/// the body for labels, racket and shadow.
const LEAST_WIDTH: f64 = 1.4;
const LEAST_HEIGHT: f64 = 1.35;
const BESIDE: f64 = 0.45;
const OVER: f64 = 0.20;
const UNDER: f64 = 0.12;
/// Neither lower nor higher than this, as shares of the width.
const SHAPES: (f64, f64) = (0.75, 1.35);

/// A rectangle of the picture and how much it is enlarged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crop {
    left: u32,
    top: u32,
    width: u32,
    height: u32,
    /// Pixels of what is shown for one of the picture.
    scale: f64,
}

impl Crop {
    /// The whole of a picture, shown so much larger.
    pub fn whole(size: (u32, u32), scale: f64) -> Self {
        Self { left: 0, top: 0, width: size.0, height: size.1, scale }
    }

    /// The part around a body: its points in pixels, its standing height in pixels, the picture's size.
    pub fn around(points: &[Point2], body: f64, size: (u32, u32)) -> Self {
        let (wide, high) = (f64::from(size.0), f64::from(size.1));
        let ends = |f: fn(&Point2) -> f64, most: f64| {
            let values = || points.iter().map(f);
            let (low, high) = (values().fold(f64::MAX, f64::min), values().fold(f64::MIN, f64::max));
            if low <= high { (low.clamp(0.0, most), high.clamp(0.0, most)) } else { (0.0, most) }
        };
        let (left, right) = ends(|p| p.x, wide);
        let (top, bottom) = ends(|p| p.y, high);
        let (top, bottom) = (top - OVER * body, bottom + UNDER * body);
        let width = (right - left + 2.0 * BESIDE * body).max(LEAST_WIDTH * body).clamp(2.0, wide);
        let height = (bottom - top).max(LEAST_HEIGHT * body);
        let height = height.clamp(SHAPES.0 * width, SHAPES.1 * width).clamp(2.0, high);
        let place = |middle: f64, length: f64, most: f64| (middle - 0.5 * length).clamp(0.0, most - length);
        Self {
            left: place(0.5 * (left + right), width, wide) as u32,
            // What is to spare goes above the head, where rackets are.
            top: (bottom - height).clamp(0.0, high - height) as u32,
            width: width as u32,
            height: height as u32,
            scale: f64::from(WIDTH) / f64::from(width as u32),
        }
    }

    /// How many pixels of the still one of the picture becomes.
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// Height of the part in the still, pixels.
    pub fn shown_height(&self) -> u32 {
        (f64::from(self.height) * self.scale()).round().max(1.0) as u32
    }

    /// Where a point of the picture is in the part as it is shown.
    pub fn at(&self, point: Point2) -> At {
        let scaled = |at: f64, start: u32| (at + 0.5 - f64::from(start)) * self.scale();
        (scaled(point.x, self.left), scaled(point.y, self.top))
    }

    /// The part, enlarged or shrunk to [`WIDTH`].
    pub fn cut(&self, picture: &Picture) -> Picture {
        let whole: Option<ImageBuffer<Rgb<u8>, &[u8]>> =
            ImageBuffer::from_raw(picture.width, picture.height, picture.rgb.as_slice());
        let height = self.shown_height();
        let rgb = whole.map_or_else(Vec::new, |whole| {
            let part = imageops::crop_imm(&whole, self.left, self.top, self.width, self.height);
            imageops::resize(&*part, WIDTH, height, FilterType::CatmullRom).into_raw()
        });
        Picture { width: WIDTH, height, rgb }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_part_lies_in_the_picture_and_holds_the_body(
            x in 0.0..1279.0f64, y in 0.0..719.0f64, wide in 0.0..400.0f64, high in 10.0..600.0f64,
            portrait in any::<bool>(),
        ) {
            let size = if portrait { (720, 1280) } else { (1280, 720) };
            let points = [Point2::new(x, y), Point2::new(x + wide, y + high)];
            let crop = Crop::around(&points, high, size);
            prop_assert!(crop.left + crop.width <= size.0 && crop.top + crop.height <= size.1);
            for point in points {
                let inside = point.x < f64::from(size.0) && point.y < f64::from(size.1);
                let (x, y) = crop.at(point);
                let most = (f64::from(WIDTH), f64::from(crop.shown_height()));
                let slack = 2.0 * crop.scale();
                let across = (-slack..=most.0 + slack).contains(&x);
                prop_assert!(!inside || across && (-slack..=most.1 + slack).contains(&y), "{:?} {x} {y}", crop);
            }
        }
    }

    #[test]
    fn points_stay_on_what_they_mark() {
        let mut picture = Picture { width: 300, height: 200, rgb: vec![0; 300 * 200 * 3] };
        let at = (100 * 300 + 140) * 3;
        picture.rgb[at..at + 3].fill(255);
        let crop = Crop::around(&[Point2::new(120.0, 60.0), Point2::new(160.0, 150.0)], 90.0, (300, 200));
        let shown = crop.cut(&picture);
        let (x, y) = crop.at(Point2::new(140.0, 100.0));
        assert!(shown.pixel(x as u32, y as u32).unwrap()[0] > 200, "{crop:?} {x} {y}");
        assert_eq!((shown.width, shown.height), (WIDTH, crop.shown_height()));
    }
}
