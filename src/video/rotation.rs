//! How the stored pictures must be turned to stand upright, read from the container's display matrix.

/// Bytes of a display matrix: nine 32-bit numbers, row by row.
const MATRIX_BYTES: usize = 36;

/// One of the eight ways to lay a picture: first mirrored left to right if `mirrored`, then turned clockwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Orientation {
    /// Quarter turns clockwise, 0 to 3.
    pub quarter_turns: u8,
    /// Whether left and right are exchanged before the turn.
    pub mirrored: bool,
}

/// Where to read the stored picture while the upright one is written, row by row: byte offset of the first pixel and
/// the offset's steps to the right and down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Walk {
    pub start: isize,
    pub right: isize,
    pub down: isize,
}

impl Orientation {
    /// Reads a display matrix as FFmpeg stores it. It maps a stored point (x, y), y downwards, to the upright point
    /// (a·x + c·y, b·x + d·y), with a, b first and c, d second among its rows. Turns are rounded to quarters; a matrix
    /// that is too short or collapses the picture counts as upright.
    pub(super) fn from_display_matrix(bytes: &[u8]) -> Self {
        if bytes.len() < MATRIX_BYTES {
            return Self::default();
        }
        let number = |position: usize| {
            bytes
                .get(position * 4..position * 4 + 4)
                .and_then(|four| four.try_into().ok())
                .map_or(0.0, |four| f64::from(i32::from_ne_bytes(four)))
        };
        let (a, b, c, d) = (number(0), number(1), number(3), number(4));
        let determinant = a * d - b * c;
        if determinant == 0.0 {
            return Self::default();
        }
        let mirrored = determinant < 0.0;
        // What remains once the mirroring of x is taken off is a turn; its first column is the image of "right".
        let sign = if mirrored { -1.0 } else { 1.0 };
        let quarters = ((sign * b).atan2(sign * a) / std::f64::consts::FRAC_PI_2).round();
        let quarter_turns = if quarters < 0.0 { quarters + 4.0 } else { quarters } as u8 % 4;
        Self { quarter_turns, mirrored }
    }

    /// Whether width and height change places.
    pub(super) fn swaps_sides(self) -> bool {
        self.quarter_turns % 2 == 1
    }

    /// Whether the stored picture already stands upright.
    pub(super) fn is_upright(self) -> bool {
        self == Self::default()
    }

    /// The walk through a stored picture of `width` × `height` pixels of `pixel` bytes, rows `stride` bytes apart.
    pub(super) fn walk(self, width: usize, height: usize, stride: usize, pixel: usize) -> Walk {
        let (last_x, last_y) = (width.saturating_sub(1) as isize, height.saturating_sub(1) as isize);
        let offset = |x: isize, y: isize| {
            let (stored_x, stored_y) = match self.quarter_turns {
                0 => (x, y),
                1 => (y, last_y - x),
                2 => (last_x - x, last_y - y),
                _ => (last_x - y, x),
            };
            let stored_x = if self.mirrored { last_x - stored_x } else { stored_x };
            stored_x * pixel as isize + stored_y * stride as isize
        };
        let start = offset(0, 0);
        Walk { start, right: offset(1, 0) - start, down: offset(0, 1) - start }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: i32 = 1 << 16;

    fn read(a: i32, b: i32, c: i32, d: i32) -> Orientation {
        let matrix = [a, b, 0, c, d, 0, 0, 0, 1 << 30];
        let bytes: Vec<u8> = matrix.iter().flat_map(|number| number.to_ne_bytes()).collect();
        Orientation::from_display_matrix(&bytes)
    }

    #[test]
    fn quarter_turns_and_mirrors() {
        let way = |quarter_turns, mirrored| Orientation { quarter_turns, mirrored };
        assert_eq!(read(ONE, 0, 0, ONE), way(0, false));
        assert_eq!(read(0, ONE, -ONE, 0), way(1, false));
        assert_eq!(read(-ONE, 0, 0, -ONE), way(2, false));
        assert_eq!(read(0, -ONE, ONE, 0), way(3, false));
        assert_eq!(read(-ONE, 0, 0, ONE), way(0, true));
        assert_eq!(read(ONE, 0, 0, -ONE), way(2, true));
    }

    #[test]
    fn a_senseless_matrix_leaves_the_picture_alone() {
        assert!(read(0, 0, 0, 0).is_upright());
        assert!(Orientation::from_display_matrix(&[1, 2, 3]).is_upright());
    }

    /// Letters of a 2 × 3 picture, row by row, as they stand after the walk.
    fn laid(orientation: Orientation) -> String {
        let stored = b"abcdef";
        let (width, height) = if orientation.swaps_sides() { (3, 2) } else { (2, 3) };
        let walk = orientation.walk(2, 3, 2, 1);
        let mut text = String::new();
        for y in 0..height {
            for x in 0..width {
                text.push(char::from(stored[(walk.start + x * walk.right + y * walk.down) as usize]));
            }
        }
        text
    }

    #[test]
    fn walks_lay_the_letters() {
        let way = |quarter_turns, mirrored| laid(Orientation { quarter_turns, mirrored });
        assert_eq!(way(0, false), "abcdef");
        assert_eq!(way(1, false), "ecafdb");
        assert_eq!(way(2, false), "fedcba");
        assert_eq!(way(3, false), "bdface");
        assert_eq!(way(0, true), "badcfe");
        assert_eq!(way(2, true), "efcdab");
    }
}
