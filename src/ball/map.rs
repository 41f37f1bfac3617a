//! Part of a picture made smaller, each value the mean over a square of a ball's size.

use crate::geometry::Point2;
use crate::video::{Map, Picture};

/// Pixels that a ball's diameter keeps.
const DIAMETER: f64 = 7.0;

/// Side of the square over which colour is averaged, diameters.
const AVERAGED: f64 = 0.75;

/// The part of the pictures that is looked at, and how much smaller it is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Grid {
    left: usize,
    top: usize,
    /// Pixels of the picture that make one.
    pub(super) step: usize,
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// A ball's diameter after shrinking, pixels.
    pub(super) diameter: f64,
}

impl Grid {
    /// The square around `centre` that reaches `reach` pixels, as far as it is in a picture of `size`; `None` where that
    /// is too little to look at.
    pub(super) fn new(size: (u32, u32), centre: Point2, reach: f64, diameter: f64) -> Option<Self> {
        let step = (diameter / DIAMETER).round().max(1.0) as usize;
        let within = |from: f64, to: f64, size: u32| {
            let from = from.clamp(0.0, f64::from(size)) as usize;
            (from, (to.clamp(0.0, f64::from(size)) as usize).saturating_sub(from) / step)
        };
        let (left, columns) = within(centre.x - reach, centre.x + reach, size.0);
        let (top, rows) = within(centre.y - reach, centre.y + reach, size.1);
        let grid = Self { left, top, step, columns, rows, diameter: diameter / step as f64 };
        let least = 4 * grid.averaged();
        (columns >= least && rows >= least).then_some(grid)
    }

    /// Upper left and lower right corner, pixels of the picture.
    pub(super) fn corners(&self) -> [Point2; 2] {
        let corner = |x: usize, y: usize| Point2::new(x as f64 - 0.5, y as f64 - 0.5);
        [
            corner(self.left, self.top),
            corner(self.left + self.columns * self.step, self.top + self.rows * self.step),
        ]
    }

    /// The place in the picture of a place in the grid.
    pub(super) fn place(&self, x: f64, y: f64) -> Point2 {
        let along = |from: usize, at: f64| from as f64 + (at + 0.5) * self.step as f64 - 0.5;
        Point2::new(along(self.left, x), along(self.top, y))
    }

    /// Side of the averaged square, odd.
    fn averaged(&self) -> usize {
        ((AVERAGED * self.diameter).round() as usize).max(3) | 1
    }

    /// Means of a picture over squares around each place of the grid.
    pub(super) fn means(&self, picture: &Picture) -> Map {
        let small = self.shrunk(picture);
        let (columns, rows) = (self.columns, self.rows);
        let half = self.averaged() / 2;
        // Sums of all values above and left.
        let wide = columns + 1;
        let mut sums = vec![[0_u32; 3]; wide * (rows + 1)];
        for y in 0..rows {
            let mut line = [0_u32; 3];
            for x in 0..columns {
                for c in 0..3 {
                    line[c] += u32::from(small[y * columns + x][c]);
                    sums[(y + 1) * wide + x + 1][c] = sums[y * wide + x + 1][c] + line[c];
                }
            }
        }
        let mut values = Vec::with_capacity(columns * rows);
        for y in 0..rows {
            let (top, bottom) = (y.saturating_sub(half), (y + half + 1).min(rows));
            for x in 0..columns {
                let (left, right) = (x.saturating_sub(half), (x + half + 1).min(columns));
                let count = ((bottom - top) * (right - left)) as u32;
                let at = |y: usize, x: usize| sums[y * wide + x];
                let (a, b, c, d) = (at(top, left), at(top, right), at(bottom, left), at(bottom, right));
                values.push(std::array::from_fn(|k| ((d[k] + a[k] - b[k] - c[k] + count / 2) / count) as u8));
            }
        }
        Map { columns, rows, values }
    }

    /// The part of a picture, each value the mean of `step` × `step` pixels. Outside of the picture it is black.
    fn shrunk(&self, picture: &Picture) -> Vec<[u8; 3]> {
        let mut sums = vec![[0_u32; 3]; self.columns];
        let mut small = Vec::with_capacity(self.columns * self.rows);
        let line = 3 * picture.width as usize;
        let count = (self.step * self.step) as u32;
        for row in 0..self.rows {
            sums.fill([0; 3]);
            for y in 0..self.step {
                let start = (self.top + row * self.step + y) * line + 3 * self.left;
                let pixels = picture.rgb.get(start..start + 3 * self.columns * self.step).unwrap_or_default();
                for (sum, block) in sums.iter_mut().zip(pixels.chunks_exact(3 * self.step)) {
                    for pixel in block.chunks_exact(3) {
                        (0..3).for_each(|c| sum[c] += u32::from(pixel[c]));
                    }
                }
            }
            small.extend(sums.iter().map(|sum| sum.map(|s| (s / count) as u8)));
        }
        small
    }
}

/// Square of the distance between two colours, grey levels squared.
#[inline]
pub(super) fn apart(a: [u8; 3], b: [u8; 3]) -> i32 {
    (0..3).map(|c| (i32::from(a[c]) - i32::from(b[c])).pow(2)).sum()
}
