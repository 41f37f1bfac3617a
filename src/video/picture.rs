//! Upright RGB pictures, and how a decoded picture becomes one.

use std::fmt;

use ffmpeg_next::Error;
use ffmpeg_next::format::Pixel;
use ffmpeg_next::frame;
use ffmpeg_next::software::scaling::{self, Flags};

use super::colour::ColourSpace;
use super::raw::{self, Scaler};
use super::rotation::Orientation;

/// Bytes of an RGB pixel.
const CHANNELS: usize = 3;

/// Side of the tiles in which pictures are turned, so that reads and writes both stay in the cache.
const TILE: usize = 32;

/// An upright picture in 8-bit RGB, rows from the top without padding: `rgb` has `width · height · 3` bytes.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// Red, green, blue of each pixel, row by row.
    pub rgb: Vec<u8>,
}

impl Picture {
    /// Red, green, blue at a place counted from the top left, or `None` outside the picture.
    pub fn pixel(&self, x: u32, y: u32) -> Option<[u8; 3]> {
        if x >= self.width || y >= self.height {
            return None;
        }
        let start = (y as usize * self.width as usize + x as usize) * CHANNELS;
        self.rgb.get(start..start + CHANNELS)?.try_into().ok()
    }
}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Picture({} x {})", self.width, self.height)
    }
}

/// What a scaler was built for; a picture that differs needs another one.
type ScalerKey = (Pixel, u32, u32, ColourSpace);

/// Turns decoded pictures into upright RGB of one size.
pub(super) struct Converter {
    /// Size before the turn, square pixels.
    width: u32,
    height: u32,
    orientation: Orientation,
    scaler: Option<(ScalerKey, Scaler)>,
    rgb: frame::Video,
}

impl Converter {
    /// A converter to pictures that are `width` × `height` before they are turned upright.
    pub(super) fn new(width: u32, height: u32, orientation: Orientation) -> Self {
        Self { width, height, orientation, scaler: None, rgb: frame::Video::empty() }
    }

    /// The upright RGB picture of a decoded one, whatever its size and format.
    pub(super) fn convert(&mut self, decoded: &frame::Video) -> Result<Picture, Error> {
        let key = (decoded.format(), decoded.width(), decoded.height(), ColourSpace::of(decoded));
        let mut scaler = match self.scaler.take() {
            Some((made_for, scaler)) if made_for == key => scaler,
            _ => self.scaler_for(key)?,
        };
        if !raw::has_memory(&self.rgb) {
            self.rgb = frame::Video::new(Pixel::RGB24, self.width, self.height);
            if !raw::has_memory(&self.rgb) {
                return Err(Error::Other { errno: ffmpeg_next::error::ENOMEM });
            }
        }
        let outcome = scaler.0.run(decoded, &mut self.rgb);
        self.scaler = Some((key, scaler));
        outcome?;
        Ok(lay_upright(
            self.rgb.data(0),
            self.rgb.stride(0),
            self.width as usize,
            self.height as usize,
            self.orientation,
        ))
    }

    fn scaler_for(&self, (format, width, height, colour): ScalerKey) -> Result<Scaler, Error> {
        let (to_width, to_height) = (self.width, self.height);
        let flags = Flags::BICUBIC;
        let context = scaling::Context::get(format, width, height, Pixel::RGB24, to_width, to_height, flags)?;
        let mut scaler = Scaler(context);
        scaler.set_colour(colour.scaler_code(), colour.full_range());
        Ok(scaler)
    }
}

/// Copies a stored RGB picture without its row padding, turned upright.
fn lay_upright(
    stored: &[u8],
    stride: usize,
    width: usize,
    height: usize,
    orientation: Orientation,
) -> Picture {
    let (to_width, to_height) = if orientation.swaps_sides() { (height, width) } else { (width, height) };
    let row = width * CHANNELS;
    let rgb = if orientation.is_upright() {
        let mut rgb = Vec::with_capacity(row * height);
        if stride == row {
            rgb.extend_from_slice(stored.get(..row * height).unwrap_or(stored));
        } else {
            for line in stored.chunks(stride.max(1)).take(height) {
                rgb.extend_from_slice(line.get(..row).unwrap_or(line));
            }
        }
        rgb
    } else {
        let mut rgb = vec![0; row * height];
        let walk = orientation.walk(width, height, stride, CHANNELS);
        for top in (0..to_height).step_by(TILE) {
            for left in (0..to_width).step_by(TILE) {
                let right = (left + TILE).min(to_width);
                for y in top..(top + TILE).min(to_height) {
                    let mut from = walk.start + left as isize * walk.right + y as isize * walk.down;
                    let (begin, end) = ((y * to_width + left) * CHANNELS, (y * to_width + right) * CHANNELS);
                    for pixel in rgb.get_mut(begin..end).unwrap_or_default().chunks_exact_mut(CHANNELS) {
                        if let Some(source) = stored.get(from as usize..from as usize + CHANNELS) {
                            pixel.copy_from_slice(source);
                        }
                        from += walk.right;
                    }
                }
            }
        }
        rgb
    };
    Picture { width: to_width as u32, height: to_height as u32, rgb }
}
