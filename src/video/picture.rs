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

/// What scalers were built for; a picture that differs needs others.
type Key = (Pixel, u32, u32, ColourSpace);

/// FFmpeg's fast route from YCbCr to RGB cuts off fractions, which leaves it 1.1 grey levels too dark on average and
/// up to 2.8 (measured on random colours). This much more brightness, in 1/256 of a level, centres the error: at most
/// 2.0 then. The exact route takes ten times as long.
const FAST_ROUTE_BRIGHTNESS: i32 = 179;

/// Flags of the exact route (within half a level), for what the fast one cannot do.
const EXACT: Flags = Flags::BILINEAR.union(Flags::FULL_CHR_H_INT).union(Flags::ACCURATE_RND);

/// The fast route handles pixels eight at a time and may only write within a row's padding.
const FAST_ROUTE_PIXELS: u32 = 8;

/// Alignment in bytes of the rows that FFmpeg allocates here.
const ROW_ALIGNMENT: usize = 32;

/// The scalers from one kind of decoded picture to RGB.
struct Route {
    key: Key,
    /// From more bits to eight, which the fast route needs; rounding once more costs far less than the exact route.
    narrowing: Option<(Scaler, frame::Video)>,
    to_rgb: Scaler,
}

/// Turns decoded pictures into upright RGB of one size.
pub(super) struct Converter {
    /// Size before the turn, square pixels.
    width: u32,
    height: u32,
    orientation: Orientation,
    route: Option<Route>,
    rgb: frame::Video,
}

impl Converter {
    /// A converter to pictures that are `width` × `height` before they are turned upright.
    pub(super) fn new(width: u32, height: u32, orientation: Orientation) -> Self {
        Self { width, height, orientation, route: None, rgb: frame::Video::empty() }
    }

    /// The upright RGB picture of a decoded one, whatever its size and format.
    pub(super) fn convert(&mut self, decoded: &frame::Video) -> Result<Picture, Error> {
        let key = (decoded.format(), decoded.width(), decoded.height(), ColourSpace::of(decoded));
        let mut route = match self.route.take() {
            Some(route) if route.key == key => route,
            _ => self.find_route(key)?,
        };
        let eight_bit = match &mut route.narrowing {
            Some((scaler, narrow)) => {
                scaler.0.run(decoded, narrow)?;
                &*narrow
            }
            None => decoded,
        };
        // Rows that need no padding go where they stay.
        let (width, height) = (self.width, self.height);
        if self.orientation.is_upright()
            && (width as usize * CHANNELS).is_multiple_of(ROW_ALIGNMENT)
            && let Some(rgb) = route.to_rgb.packed_rgb(eight_bit, width, height)
        {
            self.route = Some(route);
            return Ok(Picture { width, height, rgb });
        }
        if !raw::has_memory(&self.rgb) {
            self.rgb = allocate(Pixel::RGB24, width, height)?;
        }
        route.to_rgb.0.run(eight_bit, &mut self.rgb)?;
        self.route = Some(route);
        Ok(lay_upright(
            self.rgb.data(0),
            self.rgb.stride(0),
            self.width as usize,
            self.height as usize,
            self.orientation,
        ))
    }

    fn find_route(&self, key: Key) -> Result<Route, Error> {
        let (format, width, height, colour) = key;
        let from = |format, flags| {
            let (to_width, to_height) = (self.width, self.height);
            scaling::Context::get(format, width, height, Pixel::RGB24, to_width, to_height, flags).map(Scaler)
        };
        let whole_row = width.next_multiple_of(FAST_ROUTE_PIXELS) as usize * CHANNELS;
        let suits_fast_route = (width, height) == (self.width, self.height)
            && height.is_multiple_of(2)
            && whole_row <= (width as usize * CHANNELS).next_multiple_of(ROW_ALIGNMENT);
        let eight_bits = match format {
            Pixel::YUV420P | Pixel::YUVJ420P => Some(format),
            Pixel::YUV420P10LE | Pixel::YUV420P12LE => Some(Pixel::YUV420P),
            _ => None,
        };
        let Some(eight_bits) = eight_bits.filter(|_| suits_fast_route) else {
            let mut to_rgb = from(format, EXACT)?;
            to_rgb.set_colour(colour.scaler_code(), colour.full_range(), 0);
            return Ok(Route { key, narrowing: None, to_rgb });
        };
        let narrowing = if eight_bits == format {
            None
        } else {
            let flags = Flags::BILINEAR;
            let scaler = scaling::Context::get(format, width, height, eight_bits, width, height, flags)?;
            Some((Scaler(scaler), allocate(eight_bits, width, height)?))
        };
        let mut to_rgb = from(eight_bits, Flags::BILINEAR)?;
        to_rgb.set_colour(colour.scaler_code(), colour.full_range(), FAST_ROUTE_BRIGHTNESS);
        Ok(Route { key, narrowing, to_rgb })
    }
}

/// A picture's memory in FFmpeg's layout.
fn allocate(format: Pixel, width: u32, height: u32) -> Result<frame::Video, Error> {
    let frame = frame::Video::new(format, width, height);
    if raw::has_memory(&frame) { Ok(frame) } else { Err(Error::Other { errno: ffmpeg_next::error::ENOMEM }) }
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
