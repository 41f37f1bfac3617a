//! Pictures inside a page.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::{ExtendedColorType, ImageError, RgbImage};

use super::PageError;
use crate::video::Picture;

/// Pictures are no wider than this in a page, pixels: twice what a column shows.
const WIDEST: u32 = 900;

/// Quality of their JPEG: lines stay clean, and a page of twenty stays under 3 MB.
const QUALITY: u8 = 80;

/// A picture as it stands in a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Image {
    /// What it shows, for those who don't see it.
    pub alt: String,
    /// Its width, pixels.
    pub width: u32,
    /// Its height, pixels.
    pub height: u32,
    jpeg: Vec<u8>,
}

impl Image {
    /// Packs a picture; one wider than 900 pixels is made smaller.
    ///
    /// # Errors
    /// [`PageError::Image`] where its size doesn't fit its pixels or it can't be encoded.
    pub fn of(picture: &Picture, alt: &str) -> Result<Self, PageError> {
        Self::within(picture, alt, WIDEST)
    }

    /// Packs a picture; one wider than so many pixels is made smaller.
    ///
    /// # Errors
    /// As [`Image::of`].
    pub fn within(picture: &Picture, alt: &str, widest: u32) -> Result<Self, PageError> {
        let whole = whole(picture, alt)?;
        let height = (f64::from(widest) * f64::from(whole.height()) / f64::from(whole.width())).round();
        let small = if whole.width() <= widest {
            whole
        } else {
            image::imageops::resize(&whole, widest, (height as u32).max(1), FilterType::CatmullRom)
        };
        let mut jpeg = Vec::new();
        JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
            .encode(&small, small.width(), small.height(), ExtendedColorType::Rgb8)
            .map_err(|source| PageError::Image { what: alt.to_owned(), source })?;
        Ok(Self { alt: alt.to_owned(), width: small.width(), height: small.height(), jpeg })
    }

    /// The picture as a JPEG file.
    pub fn jpeg(&self) -> &[u8] {
        &self.jpeg
    }

    /// The picture as a data URI.
    pub fn uri(&self) -> String {
        format!("data:image/jpeg;base64,{}", STANDARD.encode(&self.jpeg))
    }
}

/// A picture's pixels; `what` says what it shows.
///
/// # Errors
/// [`PageError::Image`] where its size doesn't fit them.
pub(super) fn whole(picture: &Picture, what: &str) -> Result<RgbImage, PageError> {
    RgbImage::from_raw(picture.width, picture.height, picture.rgb.clone()).ok_or_else(|| {
        let source = ImageError::IoError(std::io::Error::other("its size does not fit its pixels"));
        PageError::Image { what: what.to_owned(), source }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_pictures_become_smaller_and_keep_their_shape() {
        let picture = |width, height| Picture { width, height, rgb: vec![90; (3 * width * height) as usize] };
        let image = Image::of(&picture(1800, 1000), "x").unwrap();
        assert_eq!((image.width, image.height), (900, 500));
        assert!(image.uri().starts_with("data:image/jpeg;base64,/9j/"));
        let image = Image::of(&picture(400, 300), "x").unwrap();
        assert_eq!((image.width, image.height), (400, 300));
        assert!(Image::of(&Picture { width: 10, height: 10, rgb: vec![0; 5] }, "x").is_err());
    }
}
