//! The court that was read, drawn over the picture it was read from.

use image::{Rgb, RgbImage};
use toeline::court::{Camera, Empty, Line, Reading};
use toeline::geometry::Point2;

/// Points along a line.
const STEPS: usize = 400;
const COURT: Rgb<u8> = Rgb([255, 0, 0]);
const NET: Rgb<u8> = Rgb([255, 0, 255]);

/// The empty court with the lines as they would lie.
pub fn draw(empty: &Empty, reading: &Reading) -> RgbImage {
    let (width, height) = (empty.picture.width, empty.picture.height);
    let mut image = RgbImage::from_raw(width, height, empty.picture.rgb.clone())
        .unwrap_or_else(|| RgbImage::new(width, height));
    let Some(camera) = reading.best() else { return image };
    for line in Line::ALL {
        trace(&mut image, &camera, line);
    }
    image
}

fn trace(image: &mut RgbImage, camera: &Camera, line: Line) {
    let [(x0, y0), (x1, y1)] = line.ends();
    let colour = if line == Line::Net { NET } else { COURT };
    let mut last: Option<Point2> = None;
    for step in 0..=STEPS {
        let t = step as f64 / STEPS as f64;
        let here = camera.project([x0 + t * (x1 - x0), y0 + t * (y1 - y0), line.height()]);
        if let (Some(from), Some(to)) = (last, here) {
            stroke(image, from, to, colour);
        }
        last = here;
    }
}

fn stroke(image: &mut RgbImage, from: Point2, to: Point2, colour: Rgb<u8>) {
    let steps = from.distance(to).ceil();
    if !steps.is_finite() || steps > 4000.0 {
        return;
    }
    for k in 0..=steps as usize {
        let p = from.lerp(to, k as f64 / steps.max(1.0));
        let inside =
            p.x >= 0.0 && p.y >= 0.0 && p.x < f64::from(image.width()) && p.y < f64::from(image.height());
        if inside {
            image.put_pixel(p.x as u32, p.y as u32, colour);
        }
    }
}
