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
        let small = match self.step {
            1 => self.shrunk::<1>(picture),
            2 => self.shrunk::<2>(picture),
            3 => self.shrunk::<3>(picture),
            4 => self.shrunk::<4>(picture),
            _ => self.shrunk::<0>(picture),
        };
        let (columns, rows) = (self.columns, self.rows);
        let half = self.averaged() / 2;
        let line = |y: usize| small[y * columns..(y + 1) * columns].as_flattened();
        // Sums over the rows that count, column by column.
        let mut sums = vec![0_u32; 3 * columns];
        let add = |sums: &mut [u32], y: usize| {
            sums.iter_mut().zip(line(y)).for_each(|(sum, value)| *sum += u32::from(*value));
        };
        (0..half.min(rows)).for_each(|y| add(&mut sums, y));
        let mut values = Vec::with_capacity(columns * rows);
        for y in 0..rows {
            if y + half < rows {
                add(&mut sums, y + half);
            }
            if y > half {
                let gone = line(y - half - 1);
                sums.iter_mut().zip(gone).for_each(|(sum, value)| *sum -= u32::from(*value));
            }
            let height = (y + half + 1).min(rows) - y.saturating_sub(half);
            let (columns_of, mut here) = (sums.as_chunks::<3>().0, [0_u32; 3]);
            let mut share = Share::of(0);
            columns_of[..half.min(columns)].iter().for_each(|sum| (0..3).for_each(|c| here[c] += sum[c]));
            for x in 0..columns {
                if let Some(next) = columns_of.get(x + half) {
                    (0..3).for_each(|c| here[c] += next[c]);
                }
                if x > half {
                    let gone = columns_of[x - half - 1];
                    (0..3).for_each(|c| here[c] -= gone[c]);
                }
                let width = (x + half + 1).min(columns) - x.saturating_sub(half);
                if share.count != (height * width) as u32 {
                    share = Share::of((height * width) as u32);
                }
                values.push(here.map(|sum| share.rounded(sum)));
            }
        }
        Map { columns, rows, values }
    }

    /// The part of a picture, each value the mean of `step` × `step` pixels. Outside of the picture it is black. `STEP` is the step, or 0
    /// for any: a step that is known beforehand is worked through faster.
    fn shrunk<const STEP: usize>(&self, picture: &Picture) -> Vec<[u8; 3]> {
        let step = if STEP > 0 { STEP } else { self.step };
        let mut sums = vec![[0_u32; 3]; self.columns];
        let mut small = Vec::with_capacity(self.columns * self.rows);
        let line = 3 * picture.width as usize;
        let count = (step * step) as u32;
        for row in 0..self.rows {
            sums.fill([0; 3]);
            for y in 0..step {
                let start = (self.top + row * step + y) * line + 3 * self.left;
                let pixels = picture.rgb.get(start..start + 3 * self.columns * step).unwrap_or_default();
                for (sum, block) in sums.iter_mut().zip(pixels.chunks_exact(3 * step)) {
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

/// Division by a count that is the same many times: by multiplication, which is faster.
#[derive(Clone, Copy)]
struct Share {
    count: u32,
    reciprocal: u64,
}

impl Share {
    fn of(count: u32) -> Self {
        Self { count, reciprocal: (1 << 32) / u64::from(count.max(1)) + 1 }
    }

    /// The mean of so many grey levels with this sum, rounded. Exact as long as the count is below 4000: a sum is below 256 counts.
    #[inline]
    fn rounded(self, sum: u32) -> u8 {
        ((u64::from(sum + self.count / 2) * self.reciprocal) >> 32) as u8
    }
}

/// Square of the distance between two colours, grey levels squared.
#[inline]
pub(super) fn apart(a: [u8; 3], b: [u8; 3]) -> i32 {
    (0..3).map(|c| (i32::from(a[c]) - i32::from(b[c])).pow(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_are_those_of_the_squares_around() {
        let (width, height) = (57_usize, 43_usize);
        let rgb: Vec<u8> = (0..width * height * 3).map(|i| (i * 7919 % 251) as u8).collect();
        let picture = Picture { width: width as u32, height: height as u32, rgb };
        for step in 1..6 {
            let (columns, rows) = (40 / step, 35 / step);
            let grid = Grid { left: 5, top: 3, step, columns, rows, diameter: 4.0 };
            let small = grid.shrunk::<0>(&picture);
            let found = grid.means(&picture);
            for (y, x) in (0..rows).flat_map(|y| (0..columns).map(move |x| (y, x))) {
                let near = |at: usize, end: usize| at.saturating_sub(1)..(at + 2).min(end);
                let expected: [u8; 3] = std::array::from_fn(|c| {
                    let square = near(y, rows).flat_map(|v| near(x, columns).map(move |u| (v, u)));
                    let values: Vec<u32> =
                        square.map(|(v, u)| u32::from(small[v * columns + u][c])).collect();
                    let count = values.len() as u32;
                    ((values.iter().sum::<u32>() + count / 2) / count) as u8
                });
                assert_eq!(found.values[y * columns + x], expected, "{step} {x} {y}");
            }
        }
    }

    #[test]
    fn shares_are_exact() {
        for count in (1..4000_u32).step_by(7) {
            let share = Share::of(count);
            for sum in (0..=255 * count).step_by(97) {
                assert_eq!(u32::from(share.rounded(sum)), (sum + count / 2) / count, "{sum} {count}");
            }
        }
    }
}
