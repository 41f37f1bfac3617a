//! A borrowed picture.

use super::ModelError;

/// An upright picture, borrowed from whoever decoded it.
#[derive(Debug, Clone, Copy)]
pub struct Image<'a> {
    width: u32,
    height: u32,
    rgb: &'a [u8],
}

impl<'a> Image<'a> {
    /// A picture of `width` × `height` pixels from rows of RGB bytes without padding, `3·width·height` in all.
    ///
    /// # Errors
    /// [`ModelError::Picture`] where a side is 0 or the number of bytes doesn't fit.
    pub fn new(width: u32, height: u32, rgb: &'a [u8]) -> Result<Self, ModelError> {
        let expected = 3 * width as usize * height as usize;
        if expected == 0 || rgb.len() != expected {
            return Err(ModelError::Picture { width, height, expected, found: rgb.len() });
        }
        Ok(Self { width, height, rgb })
    }

    /// Width, pixels; at least 1.
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Height, pixels; at least 1.
    pub fn height(&self) -> u32 {
        self.height
    }

    /// The bytes, row by row from the top, red green blue.
    pub fn rgb(&self) -> &'a [u8] {
        self.rgb
    }

    /// Red, green and blue of the pixel nearest to a place; places outside read the border.
    pub fn nearest(&self, x: f64, y: f64) -> [u8; 3] {
        let column = x.round().clamp(0.0, f64::from(self.width - 1)) as usize;
        let row = y.round().clamp(0.0, f64::from(self.height - 1)) as usize;
        let at = 3 * (row * self.width as usize + column);
        [self.rgb[at], self.rgb[at + 1], self.rgb[at + 2]]
    }
}
