//! The camera as it stood, drawn over one of its pictures: the horizon, the court's lines, the ground under the player and the
//! way to the net, so that a person sees at a glance whether it is right.

use std::io;

use super::canvas::Canvas;
use super::raster;
use super::style::{self, Pen, Text};
use crate::court::{Line, Reading};
use crate::geometry::{Camera, Point2};
use crate::scene::Stand;
use crate::units::{Degrees, Metres};
use crate::video::Picture;

/// The drawing is this wide whatever the picture is, pixels.
const WIDTH: f64 = 1280.0;

/// Radius of the ring around the player and length of the arrow to the net, metres.
const RING: f64 = 1.0;
const ARROW: f64 = 3.0;

/// A placed point is a cross with arms so long, pixels of the drawing.
const SIDE: f64 = 10.0;
/// About the width of a letter beside it.
const LETTER: f64 = 9.0;

/// Lines are drawn in so many pieces, so that a lens that bends them is followed.
const PIECES: usize = 60;

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The camera.
    pub stand: Stand,
    /// Its height over the ground.
    pub height: Metres,
    /// Where the net is; none where no stroke tells.
    pub net: Option<Degrees>,
    /// Where the player's feet are in the picture.
    pub foot: Point2,
    /// What the court's lines or points say, where they were read or placed.
    pub court: Option<&'a Reading>,
    /// The points of the court that were placed, with their names.
    pub points: &'a [(Point2, &'a str)],
}

/// Draws it over the picture.
///
/// # Errors
/// Where the drawing can't be made; the picture is then as it was.
pub fn over(picture: &mut Picture, ground: &Ground<'_>) -> io::Result<()> {
    let scale = f64::from(picture.width) / WIDTH;
    let at = |p: Point2| (p.x / scale, p.y / scale);
    let pen = |colour, width| Pen::new(colour, width);
    raster::over(picture, scale, |canvas| {
        for (line, seen) in court(ground) {
            let (colour, width) = if seen { (style::RUST, 4.0) } else { (style::PALE, 2.0) };
            path(canvas, &line.map(|p| p.map(at)), &pen(colour, width));
        }
        let horizon = piecewise(|share| {
            let (sin, cos) = ((share - 0.5) * 2.4).sin_cos();
            ground.stand.pixel(Camera::new(sin, 0.0, cos))
        });
        for (place, name) in ground.points {
            let (x, y) = at(*place);
            let cross = [(-SIDE, 0.0, SIDE, 0.0), (0.0, -SIDE, 0.0, SIDE)];
            for (left, up, right, down) in cross {
                canvas.path(&[(x + left, y + up), (x + right, y + down)], &pen(style::RUST, 3.0));
            }
            let words = Text { colour: style::RUST, ..style::LABEL };
            let name = name.replace('_', " ");
            // A name that would leave the picture stands on the other side.
            let room = LETTER * name.len() as f64;
            let left = if x + SIDE + room > WIDTH { x - SIDE - room } else { x + SIDE };
            canvas.patched_text((left, y - SIDE), &name, &words);
        }
        path(canvas, &horizon.map(|p| p.map(at)), &Pen { dash: Some((14.0, 8.0)), ..pen(style::BLUE, 3.0) });
        let Some(feet) = ground.feet() else { return };
        let ring = piecewise(|share| {
            let (sin, cos) = (share * std::f64::consts::TAU).sin_cos();
            ground.stand.pixel(feet + Camera::new(cos, 0.0, sin) * RING)
        });
        path(canvas, &ring.map(|p| p.map(at)), &pen(style::PAPER, 3.0));
        if let Some(net) = ground.net {
            let (sin, cos) = net.radians().sin_cos();
            let toward = Camera::new(cos, 0.0, sin);
            let arrow = piecewise(|share| ground.stand.pixel(feet + toward * (ARROW * share)));
            path(canvas, &arrow.map(|p| p.map(at)), &pen(style::BLUE, 6.0));
            if let Some(end) = arrow.iter().rev().flatten().next().map(|p| at(*p)) {
                canvas.dot(end, 8.0, style::BLUE);
                let words = Text { colour: style::BLUE, ..style::LABEL };
                canvas.patched_text((end.0 + 12.0, end.1 - 14.0), "net", &words.bold());
            }
        }
    })
}

impl Ground<'_> {
    /// Where on the ground the player stands, in the camera's frame held level; `None` above the horizon.
    fn feet(&self) -> Option<Camera> {
        let ray = self.stand.ray(self.foot);
        (ray.up < -1e-6).then(|| ray * (self.height.0 / -ray.up))
    }
}

/// The court's lines as the likeliest reading has them, and whether each was seen.
fn court(ground: &Ground<'_>) -> Vec<([Option<Point2>; PIECES], bool)> {
    let Some((reading, fit)) = ground.court.and_then(|court| Some((court, court.fits.first()?))) else {
        return Vec::new();
    };
    let camera = fit.camera(reading.foot);
    let of = |line: &Line| {
        let [(x0, y0), (x1, y1)] = line.ends();
        let points = piecewise(|share| camera.project([x0 + share * (x1 - x0), y0 + share * (y1 - y0), 0.0]));
        (points, fit.lines.contains(line))
    };
    Line::ALL.iter().map(of).collect()
}

fn piecewise(at: impl Fn(f64) -> Option<Point2>) -> [Option<Point2>; PIECES] {
    std::array::from_fn(|i| at(i as f64 / (PIECES - 1) as f64))
}

/// Draws a path where it is in sight.
fn path(canvas: &mut Canvas, points: &[Option<(f64, f64)>], pen: &Pen) {
    for part in points.split(Option::is_none) {
        let part: Vec<(f64, f64)> = part.iter().flatten().copied().collect();
        if part.len() > 1 {
            canvas.path(&part, pen);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Lens;

    #[test]
    fn the_way_to_the_net_lies_on_the_ground_beside_the_player() {
        let mut picture = Picture { width: 1280, height: 720, rgb: vec![100; 1280 * 720 * 3] };
        let stand = Stand { pitch: Degrees(-5.0), ..Stand::level(Lens::usual((1280, 720))) };
        let foot = stand.pixel(Camera::new(0.0, -1.3, 5.0)).unwrap();
        let ground =
            Ground { stand, height: Metres(1.3), net: Some(Degrees(0.0)), foot, court: None, points: &[] };
        over(&mut picture, &ground).unwrap();
        let on_the_way = stand.pixel(Camera::new(1.5, -1.3, 5.0)).unwrap();
        let seen = picture.pixel(on_the_way.x.round() as u32, on_the_way.y.round() as u32).unwrap();
        assert_eq!(seen, [style::BLUE.0, style::BLUE.1, style::BLUE.2]);
        // The other way nothing but the ring is drawn.
        let behind = stand.pixel(Camera::new(-1.5, -1.3, 5.0)).unwrap();
        assert_eq!(picture.pixel(behind.x.round() as u32, behind.y.round() as u32), Some([100; 3]));
    }
}
