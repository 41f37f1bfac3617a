//! A picture made smaller.

/// Mean colours over the places of a grid, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Places in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Red, green, blue of each place.
    pub values: Vec<[u8; 3]>,
}

impl Map {
    /// A picture (8-bit RGB, row by row) of which each place shows a square of `step` pixels. Every second pixel of a square
    /// that is larger than that counts: what differs between neighbours is noise here.
    pub fn shrunk((width, height): (usize, usize), rgb: &[u8], step: usize) -> Self {
        let step = step.max(1);
        let stride = if step > 2 { 2 } else { 1 };
        let (columns, rows) = (width / step, height / step);
        let mut values = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                let (mut sum, mut count) = ([0_u32; 3], 0);
                for y in (0..step).step_by(stride) {
                    let start = 3 * ((row * step + y) * width + column * step);
                    let line = rgb.get(start..start + 3 * step).unwrap_or_default();
                    for pixel in line.chunks_exact(3).step_by(stride) {
                        (0..3).for_each(|c| sum[c] += u32::from(pixel[c]));
                        count += 1;
                    }
                }
                values.push(sum.map(|sum| (sum / count.max(1)) as u8));
            }
        }
        Self { columns, rows, values }
    }

    /// The colour at a place; `None` outside.
    #[inline]
    pub fn at(&self, x: i32, y: i32) -> Option<[u8; 3]> {
        let inside = x >= 0 && y >= 0 && (x as usize) < self.columns && (y as usize) < self.rows;
        inside.then(|| self.values[y as usize * self.columns + x as usize])
    }
}

#[cfg(test)]
mod tests {
    use super::Map;

    #[test]
    fn each_place_shows_its_own_square() {
        let (width, height, step) = (12, 8, 4);
        let rgb: Vec<u8> = (0..width * height)
            .flat_map(|k| [10 * (k % width / step) as u8, 0, 100 * (k / width / step) as u8])
            .collect();
        let map = Map::shrunk((width, height), &rgb, step);
        assert_eq!((map.columns, map.rows), (3, 2));
        assert_eq!(map.values, [[0, 0, 0], [10, 0, 0], [20, 0, 0], [0, 0, 100], [10, 0, 100], [20, 0, 100]]);
    }
}
