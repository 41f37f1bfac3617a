//! Cuts a region out of a picture and turns it into a network's input.

use std::ops::Range;

use super::Image;
use super::card::{Border, Channels, Input, Layout, Sampling};
use crate::geometry::Point2;

/// A rectangle of the picture that a network looks at, possibly turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    /// Its middle, pixels of the picture.
    pub centre: Point2,
    /// Length of its horizontal side before it is turned, pixels.
    pub width: f64,
    /// Length of its vertical side before it is turned, pixels.
    pub height: f64,
    /// Turn, radians; positive turns x toward y (clockwise as the picture is seen).
    pub rotation: f64,
}

impl Region {
    /// An upright square.
    pub const fn square(centre: Point2, side: f64) -> Self {
        Self { centre, width: side, height: side, rotation: 0.0 }
    }

    /// The map from pixels of a `width` × `height` input to pixels of the picture.
    pub fn map(&self, width: usize, height: usize, sampling: Sampling) -> Affine {
        let (sin, cos) = self.rotation.sin_cos();
        let (w, h) = (self.width, self.height);
        let map = Affine {
            x: [cos * w / width as f64, -sin * h / height as f64, self.centre.x - 0.5 * (cos * w - sin * h)],
            y: [sin * w / width as f64, cos * h / height as f64, self.centre.y - 0.5 * (sin * w + cos * h)],
        };
        match sampling {
            Sampling::Corner => map,
            Sampling::Centre => map.shifted_by_half(),
        }
    }
}

/// Maps a place (u, v) of a network's input to a place of the picture: x = x₀·u + x₁·v + x₂, likewise y; pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    /// Factors of u and v, and the constant, for x.
    pub x: [f64; 3],
    /// Factors of u and v, and the constant, for y.
    pub y: [f64; 3],
}

impl Affine {
    /// The place in the picture.
    pub fn apply(&self, u: f64, v: f64) -> Point2 {
        Point2::new(self.x[0] * u + self.x[1] * v + self.x[2], self.y[0] * u + self.y[1] * v + self.y[2])
    }

    /// The same map for coordinates that number the middles of pixels instead of their corners, on both sides.
    pub fn shifted_by_half(mut self) -> Self {
        self.x[2] += 0.5 * (self.x[0] + self.x[1]) - 0.5;
        self.y[2] += 0.5 * (self.y[0] + self.y[1]) - 0.5;
        self
    }
}

/// Fills one input of a network, `3·width·height` values in the card's layout, from the picture through `map`.
///
/// Bilinear between pixels. Only the first `area.0` columns and `area.1` rows are sampled; the rest is black.
///
/// # Panics
/// Where `out` has another length than the card's input.
pub fn sample(
    image: Image<'_>,
    map: &Affine,
    border: Border,
    area: (usize, usize),
    input: &Input,
    out: &mut [f32],
) {
    let (width, height) = (input.width, input.height);
    assert_eq!(out.len(), 3 * width * height, "the buffer has the input's size");
    // Channel c of the output is gain·byte + bias of the byte at order[c].
    let order = match input.channels {
        Channels::Rgb => [0, 1, 2],
        Channels::Bgr => [2, 1, 0],
    };
    let gain: [f32; 3] = std::array::from_fn(|c| (1.0 / input.std[c]) as f32);
    let bias: [f32; 3] = std::array::from_fn(|c| (-input.mean[c] / input.std[c]) as f32);
    let value = |pixel: &Pixel, c: usize| gain[c] * pixel[order[c]] + bias[c];
    let taps = Taps::new(image, border);
    let mut line = vec![Pixel::default(); width];
    for row in 0..height {
        let start = map.apply(0.0, row as f64);
        let sampled = if row < area.1 { area.0.min(width) } else { 0 };
        taps.read_line(start, (map.x[0], map.y[0]), &mut line[..sampled]);
        line[sampled..].fill(Pixel::default());
        let first = row * width;
        match input.layout {
            Layout::Nhwc => {
                for (out, pixel) in out[3 * first..].chunks_exact_mut(3).zip(&line) {
                    (0..3).for_each(|c| out[c] = value(pixel, c));
                }
            }
            Layout::Nchw => {
                for c in 0..3 {
                    let out = &mut out[c * width * height + first..][..width];
                    out.iter_mut().zip(&line).for_each(|(out, pixel)| *out = value(pixel, c));
                }
            }
        }
    }
}

/// Red, green and blue; a fourth value, which is of no use, makes four at a time for the processor.
type Pixel = [f32; 4];

/// Pixels are averaged over this share of the distance between two samples before they are sampled: enough against
/// patterns that the picture doesn't have, and not so much that thin things fade.
const AVERAGED: f64 = 0.7;

/// Fills one input of a network like [`sample`], through an upright map that may shrink the picture: what lies between two
/// samples is averaged first.
///
/// # Panics
/// As [`sample`].
pub fn sample_smaller(image: Image<'_>, map: &Affine, border: Border, input: &Input, out: &mut [f32]) {
    let area = (input.width, input.height);
    let block = (AVERAGED * map.x[0].max(map.y[1])).round() as i64;
    if block < 2 {
        return sample(image, map, border, area, input, out);
    }
    let from = map.apply(0.0, 0.0);
    let to = map.apply(input.width as f64, input.height as f64);
    let (left, top) = (floor(from.x) - block, floor(from.y) - block);
    let blocks = |from: i64, to: f64| (floor(to) + 2 * block - from).max(block).div_euclid(block);
    let (columns, rows) = (blocks(left, to.x), blocks(top, to.y));
    let taps = Taps::new(image, border);
    let mut small = vec![0_u8; 3 * (columns * rows) as usize];
    for (row, line) in small.chunks_exact_mut(3 * columns as usize).enumerate() {
        for (column, pixel) in line.chunks_exact_mut(3).enumerate() {
            let (x, y) = (left + column as i64 * block, top + row as i64 * block);
            pixel.copy_from_slice(&taps.mean(x, y, block));
        }
    }
    let Ok(small) = Image::new(columns as u32, rows as u32, &small) else { return };
    // The middle of the first block is at the first pixel of the smaller picture.
    let (step, middle) = (block as f64, 0.5 * (block - 1) as f64);
    let shrunk = |axis: [f64; 3], first: i64| {
        [axis[0] / step, axis[1] / step, (axis[2] - first as f64 - middle) / step]
    };
    let map = Affine { x: shrunk(map.x, left), y: shrunk(map.y, top) };
    // The border is in the smaller picture already.
    sample(small, &map, Border::Replicate, area, input, out);
}

/// Reads between pixels.
struct Taps<'a> {
    rgb: &'a [u8],
    width: i64,
    height: i64,
    /// Up to here, to the right and down, a place has two pixels after its own, and a row below it.
    inner: (f64, f64),
    border: Border,
}

/// Where the border begins is told this surely, pixels.
const ROUNDING: f64 = 1e-5;

/// A place along a line of pixels in steps of 2⁻³²: whole pixels and the way to the next one.
#[derive(Clone, Copy)]
struct Fixed(i64);

impl Fixed {
    const ONE: f64 = (1_u64 << 32) as f64;

    fn of(place: f64) -> Self {
        Self((place * Self::ONE) as i64)
    }

    #[inline]
    fn whole(self) -> usize {
        (self.0 >> 32) as usize
    }

    #[inline]
    fn rest(self) -> f32 {
        // As many digits as the result has.
        (((self.0 as u32) >> 8) as i32) as f32 * (1.0 / (1 << 24) as f32)
    }
}

impl<'a> Taps<'a> {
    fn new(image: Image<'a>, border: Border) -> Self {
        let (width, height) = (i64::from(image.width()), i64::from(image.height()));
        let inner = ((width - 2) as f64 - ROUNDING, (height - 1) as f64 - ROUNDING);
        Self { rgb: image.rgb(), width, height, inner, border }
    }

    /// Reads places in a line, each a `step` to the right and down from the one before.
    fn read_line(&self, start: Point2, (right, down): (f64, f64), out: &mut [Pixel]) {
        let place = |i: usize| (start.x + right * i as f64, start.y + down * i as f64);
        let (across, along) =
            (within(start.x, right, self.inner.0, out.len()), within(start.y, down, self.inner.1, out.len()));
        let first = across.start.max(along.start);
        let inside = first..across.end.min(along.end).max(first);
        for i in (0..inside.start).chain(inside.end..out.len()) {
            let (x, y) = place(i);
            out[i] = self.between(x, y);
        }
        let (x, y) = place(inside.start);
        let (mut x, mut y) = (Fixed::of(x), Fixed::of(y));
        let (right, down) = (Fixed::of(right), Fixed::of(down));
        let row = 3 * self.width as usize;
        for pixel in &mut out[inside] {
            let at = y.whole() * row + 3 * x.whole();
            *pixel = mean(self.eight(at), self.eight(at + row), x.rest(), y.rest());
            (x.0, y.0) = (x.0 + right.0, y.0 + down.0);
        }
    }

    /// A pixel and the one after it, and what follows.
    #[inline]
    fn eight(&self, at: usize) -> [u8; 8] {
        self.rgb.get(at..).and_then(<[u8]>::first_chunk).copied().unwrap_or_default()
    }

    /// A place that may be outside.
    fn between(&self, x: f64, y: f64) -> Pixel {
        let (column, row) = (floor(x), floor(y));
        let (fx, fy) = ((x - column as f64) as f32, (y - row as f64) as f32);
        let corners = [
            self.pixel(column, row),
            self.pixel(column + 1, row),
            self.pixel(column, row + 1),
            self.pixel(column + 1, row + 1),
        ];
        std::array::from_fn(|c| {
            let a = corners[0][c] + fx * (corners[1][c] - corners[0][c]);
            let b = corners[2][c] + fx * (corners[3][c] - corners[2][c]);
            a + fy * (b - a)
        })
    }

    /// Mean of a square of `side` pixels from its upper left one.
    fn mean(&self, column: i64, row: i64, side: i64) -> [u8; 3] {
        let mut sum = [0_u32; 3];
        let inside = column >= 0 && row >= 0 && column + side <= self.width && row + side <= self.height;
        for y in row..row + side {
            if inside {
                let at = 3 * (y * self.width + column) as usize;
                for pixel in self.rgb[at..at + 3 * side as usize].chunks_exact(3) {
                    (0..3).for_each(|c| sum[c] += u32::from(pixel[c]));
                }
            } else {
                for x in column..column + side {
                    let pixel = self.pixel(x, y);
                    (0..3).for_each(|c| sum[c] += pixel[c] as u32);
                }
            }
        }
        let count = (side * side) as u32;
        sum.map(|sum| ((sum + count / 2) / count) as u8)
    }

    fn pixel(&self, column: i64, row: i64) -> Pixel {
        let outside = column < 0 || row < 0 || column >= self.width || row >= self.height;
        if outside && self.border == Border::Zero {
            return Pixel::default();
        }
        let column = column.clamp(0, self.width - 1);
        let row = row.clamp(0, self.height - 1);
        let at = 3 * (row * self.width + column) as usize;
        let [red, green, blue] = [0, 1, 2].map(|c| f32::from(self.rgb[at + c]));
        [red, green, blue, 0.0]
    }
}

/// Which of so many places, each a `step` after the one before, lie between 0 and `end`.
fn within(start: f64, step: f64, end: f64, count: usize) -> Range<usize> {
    let (a, b) = ((ROUNDING - start) / step, (end - start) / step);
    match step == 0.0 {
        true if start >= ROUNDING && start <= end => 0..count,
        true => 0..0,
        false => {
            let first = (a.min(b).ceil().max(0.0) as usize).min(count);
            first..((a.max(b) + 1.0).floor().max(0.0) as usize).clamp(first, count)
        }
    }
}

/// Four pixels weighed, those above and below each given as two that follow one another.
#[inline]
fn mean(above: [u8; 8], below: [u8; 8], right: f32, down: f32) -> Pixel {
    std::array::from_fn(|c| {
        let along = |line: [u8; 8]| {
            let (a, b) = (f32::from(line[c]), f32::from(line[c + 3]));
            a + right * (b - a)
        };
        let (a, b) = (along(above), along(below));
        a + down * (b - a)
    })
}

/// The largest whole number not above `x`. The standard library's takes a function call on processors that are taken for
/// old ones.
#[inline]
fn floor(x: f64) -> i64 {
    let toward_zero = x as i64;
    toward_zero - i64::from(toward_zero as f64 > x)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(width: usize, height: usize, layout: Layout, channels: Channels) -> Input {
        Input { name: "image".into(), layout, width, height, channels, mean: [0.0; 3], std: [1.0; 3] }
    }

    /// 4 × 3 pixels: red counts columns, green rows, blue is 7.
    fn ramp() -> Vec<u8> {
        (0..12).flat_map(|i| [10 * (i % 4) as u8, 10 * (i / 4) as u8, 7]).collect()
    }

    #[test]
    fn identity_crop_repeats_the_picture() {
        let bytes = ramp();
        let image = Image::new(4, 3, &bytes).unwrap();
        let region = Region { centre: Point2::new(2.0, 1.5), width: 4.0, height: 3.0, rotation: 0.0 };
        for sampling in [Sampling::Corner, Sampling::Centre] {
            let card = input(4, 3, Layout::Nhwc, Channels::Rgb);
            let mut out = vec![0.0; 36];
            sample(image, &region.map(4, 3, sampling), Border::Zero, (4, 3), &card, &mut out);
            let expected: Vec<f32> = bytes.iter().map(|b| f32::from(*b)).collect();
            assert_eq!(out, expected, "{sampling:?}");
        }
    }

    #[test]
    fn planar_bgr_swaps_channels() {
        let bytes = ramp();
        let image = Image::new(4, 3, &bytes).unwrap();
        let region = Region { centre: Point2::new(2.0, 1.5), width: 4.0, height: 3.0, rotation: 0.0 };
        let card = input(4, 3, Layout::Nchw, Channels::Bgr);
        let mut out = vec![0.0; 36];
        sample(image, &region.map(4, 3, Sampling::Corner), Border::Zero, (4, 3), &card, &mut out);
        assert_eq!(out[0..12], [7.0; 12]);
        assert_eq!(out[24..28], [0.0, 10.0, 20.0, 30.0]);
    }

    #[test]
    fn borders_differ_outside() {
        let bytes = ramp();
        let image = Image::new(4, 3, &bytes).unwrap();
        let taps = |border| Taps::new(image, border).between(-0.5, 1.0);
        assert_eq!(taps(Border::Replicate), [0.0, 10.0, 7.0, 0.0]);
        assert_eq!(taps(Border::Zero), [0.0, 5.0, 3.5, 0.0]);
    }

    #[test]
    fn shrinking_averages_what_lies_between_samples() {
        // Columns of 0 and 200 in turn: every sample of a crop four times smaller must see their mean.
        let stripes: Vec<u8> = (0..64 * 64).flat_map(|i| [if i % 2 == 0 { 0 } else { 200 }; 3]).collect();
        let image = Image::new(64, 64, &stripes).unwrap();
        let card = input(8, 8, Layout::Nhwc, Channels::Rgb);
        let mut out = vec![0.0; 192];
        let map = Region::square(Point2::new(32.0, 32.0), 32.0).map(8, 8, Sampling::Centre);
        sample_smaller(image, &map, Border::Zero, &card, &mut out);
        assert!(out.iter().all(|v| (v - 100.0).abs() < 35.0), "{out:?}");
        // A ramp stays where it is.
        let ramp: Vec<u8> = (0..64 * 64).flat_map(|i| [(3 * (i % 64)) as u8; 3]).collect();
        sample_smaller(Image::new(64, 64, &ramp).unwrap(), &map, Border::Zero, &card, &mut out);
        for u in 0..8 {
            let expected = 3.0 * map.apply(u as f64, 0.0).x;
            assert!((f64::from(out[3 * u]) - expected).abs() < 1.1, "{u}: {} {expected}", out[3 * u]);
        }
    }

    #[test]
    fn a_crop_that_reaches_beyond_the_picture_shows_what_single_places_show() {
        let bytes: Vec<u8> = (0..40 * 30 * 3).map(|i| (i * 7919 % 251) as u8).collect();
        let image = Image::new(40, 30, &bytes).unwrap();
        for border in [Border::Zero, Border::Replicate] {
            let taps = Taps::new(image, border);
            for turn in 0..24 {
                let (sin, cos) = (f64::from(turn) * std::f64::consts::PI / 12.0).sin_cos();
                let start = Point2::new(20.0 - 40.3 * cos, 15.2 - 40.3 * sin);
                let mut line = vec![Pixel::default(); 100];
                taps.read_line(start, (0.8 * cos, 0.8 * sin), &mut line);
                for (i, pixel) in line.iter().enumerate() {
                    let along = 0.8 * i as f64;
                    let alone = taps.between(start.x + along * cos, start.y + along * sin);
                    assert!(
                        (0..3).all(|c| (pixel[c] - alone[c]).abs() < 1e-3),
                        "{turn}, {i}: {pixel:?} {alone:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_quarter_turn_reads_columns_as_rows() {
        let region =
            Region { rotation: std::f64::consts::FRAC_PI_2, ..Region::square(Point2::new(5.0, 5.0), 4.0) };
        let map = region.map(4, 4, Sampling::Corner);
        let corner = map.apply(0.0, 0.0);
        assert!(corner.distance(Point2::new(7.0, 3.0)) < 1e-9, "{corner:?}");
    }
}
