//! Which YCbCr matrix and range a picture was made with, and what to take where the file does not say.

use std::fmt;

use ffmpeg_next::ffi;
use ffmpeg_next::format::Pixel;
use ffmpeg_next::frame;

use super::raw;

/// From this many lines on (short side) an untagged picture is taken for HD and its matrix for BT.709, as players do.
const HD_LINES: u32 = 600;

/// Codes of ITU-T H.273 for the matrix, shared by all codecs and by FFmpeg.
mod code {
    pub const RGB: i32 = 0;
    pub const BT709: i32 = 1;
    pub const FCC: i32 = 4;
    pub const BT470BG: i32 = 5;
    pub const SMPTE170M: i32 = 6;
    pub const SMPTE240M: i32 = 7;
    pub const BT2020_NCL: i32 = 9;
    pub const BT2020_CL: i32 = 10;
    /// FFmpeg's code of the full range.
    pub const FULL_RANGE: i32 = 2;
    /// FFmpeg's code of the limited range.
    pub const LIMITED_RANGE: i32 = 1;
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Matrix {
    Rgb,
    Bt601,
    Bt709,
    Bt2020,
    Fcc,
    Smpte240m,
}

/// The colour space of a picture: matrix, range, and whether the file says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ColourSpace {
    matrix: Matrix,
    full_range: bool,
    assumed: bool,
}

impl ColourSpace {
    /// The colour space of a decoded picture.
    pub(super) fn of(frame: &frame::Video) -> Self {
        let (matrix, range) = raw::colour_codes(frame);
        let lines = frame.width().min(frame.height());
        Self::from_codes(matrix, range, frame.format(), lines)
    }

    fn from_codes(matrix: i32, range: i32, format: Pixel, lines: u32) -> Self {
        let stated = match matrix {
            code::RGB => Some(Matrix::Rgb),
            code::BT709 => Some(Matrix::Bt709),
            code::FCC => Some(Matrix::Fcc),
            code::BT470BG | code::SMPTE170M => Some(Matrix::Bt601),
            code::SMPTE240M => Some(Matrix::Smpte240m),
            code::BT2020_NCL | code::BT2020_CL => Some(Matrix::Bt2020),
            _ => None,
        };
        let assumed = if lines >= HD_LINES { Matrix::Bt709 } else { Matrix::Bt601 };
        // The old `yuvj` formats carry the full range in their name.
        let full_by_format =
            matches!(format, Pixel::YUVJ420P | Pixel::YUVJ422P | Pixel::YUVJ444P | Pixel::YUVJ440P);
        let full_range = match range {
            code::FULL_RANGE => true,
            code::LIMITED_RANGE => false,
            _ => full_by_format || stated == Some(Matrix::Rgb),
        };
        Self { matrix: stated.unwrap_or(assumed), full_range, assumed: stated.is_none() }
    }

    /// Code for FFmpeg's scaler.
    pub(super) fn scaler_code(self) -> i32 {
        match self.matrix {
            Matrix::Bt709 => ffi::SWS_CS_ITU709,
            Matrix::Bt2020 => ffi::SWS_CS_BT2020,
            Matrix::Fcc => ffi::SWS_CS_FCC,
            Matrix::Smpte240m => ffi::SWS_CS_SMPTE240M,
            Matrix::Bt601 | Matrix::Rgb => ffi::SWS_CS_ITU601,
        }
    }

    /// Whether black is 0 and white the largest code, rather than 16 and 235 (of 255).
    pub(super) fn full_range(self) -> bool {
        self.full_range
    }
}

impl fmt::Display for ColourSpace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let matrix = match self.matrix {
            Matrix::Rgb => "RGB",
            Matrix::Bt601 => "BT.601",
            Matrix::Bt709 => "BT.709",
            Matrix::Bt2020 => "BT.2020",
            Matrix::Fcc => "FCC",
            Matrix::Smpte240m => "SMPTE 240M",
        };
        let assumed = if self.assumed { " (assumed)" } else { "" };
        let range = if self.full_range { "full" } else { "limited" };
        write!(f, "{matrix}{assumed}, {range} range")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn untagged_pictures_follow_their_size() {
        let space = |lines| ColourSpace::from_codes(2, 0, Pixel::YUV420P, lines).to_string();
        assert_eq!(space(480), "BT.601 (assumed), limited range");
        assert_eq!(space(720), "BT.709 (assumed), limited range");
    }

    #[test]
    fn codes_outside_the_list_are_taken_as_unknown() {
        let space = ColourSpace::from_codes(200, -7, Pixel::YUVJ420P, 1080);
        assert_eq!(space.to_string(), "BT.709 (assumed), full range");
    }
}
