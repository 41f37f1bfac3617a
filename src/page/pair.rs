//! The same moment in two sessions, side by side at the same scale.

use image::imageops::{self, FilterType};
use image::{Rgb, RgbImage};

use super::{Image, PageError};
use crate::video::Picture;

/// What surrounds the smaller of two pictures: the page's own ground.
const GROUND: Rgb<u8> = Rgb([0xf4, 0xf5, 0xf2]);

/// Pictures whose scales differ by less are left as they are.
const SAME_SCALE: f64 = 0.005;

/// A picture with its scale.
#[derive(Debug, Clone)]
pub struct Scaled {
    /// The picture.
    pub picture: Picture,
    /// What it shows, for those who don't see it.
    pub alt: String,
    /// How many of its pixels the player stands high, where that is known.
    pub body_height: Option<f64>,
}

/// The same moment before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// The moment.
    pub moment: String,
    /// The earlier session.
    pub before: Image,
    /// This one.
    pub after: Image,
    /// Whether the player is as tall in both.
    pub same_scale: bool,
}

impl Pair {
    /// Brings two pictures to one scale, by making the larger one smaller, and to one size, with their upper edges level.
    ///
    /// # Errors
    /// [`PageError::Image`] where a picture is damaged.
    pub fn of(moment: &str, before: &Scaled, after: &Scaled) -> Result<Self, PageError> {
        let scales = before.body_height.zip(after.body_height);
        let scales = scales.filter(|(a, b)| a.min(*b) > 0.0 && (a / b).is_finite());
        let mut images = [whole(before)?, whole(after)?];
        if let Some((a, b)) = scales {
            for (image, factor) in images.iter_mut().zip([b / a, a / b]) {
                if factor < 1.0 - SAME_SCALE {
                    let part = |length: u32| ((f64::from(length) * factor).round() as u32).max(1);
                    let size = (part(image.width()), part(image.height()));
                    *image = imageops::resize(image, size.0, size.1, FilterType::CatmullRom);
                }
            }
        }
        let size = [RgbImage::width, RgbImage::height].map(|of| images.iter().map(of).max().unwrap_or(1));
        let [one, other] = images.map(|image| on_ground(&image, size));
        Ok(Self {
            moment: moment.to_owned(),
            before: Image::of(&one, &before.alt)?,
            after: Image::of(&other, &after.alt)?,
            same_scale: scales.is_some(),
        })
    }
}

fn whole(scaled: &Scaled) -> Result<RgbImage, PageError> {
    super::image::whole(&scaled.picture, &scaled.alt)
}

fn on_ground(image: &RgbImage, [width, height]: [u32; 2]) -> Picture {
    let mut ground = RgbImage::from_pixel(width, height, GROUND);
    let left = i64::from((width - image.width()) / 2);
    imageops::overlay(&mut ground, image, left, 0);
    Picture { width, height, rgb: ground.into_raw() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scaled(width: u32, height: u32, body_height: Option<f64>) -> Scaled {
        let rgb = vec![10; (3 * width * height) as usize];
        Scaled { picture: Picture { width, height, rgb }, alt: "x".to_owned(), body_height }
    }

    #[test]
    fn the_player_is_as_tall_in_both() {
        let pair =
            Pair::of("Contact", &scaled(400, 300, Some(200.0)), &scaled(400, 320, Some(100.0))).unwrap();
        // The first shrinks to 200 × 150 and stands in the second's size.
        assert_eq!((pair.before.width, pair.before.height), (400, 320));
        assert_eq!((pair.after.width, pair.after.height), (400, 320));
        assert!(pair.same_scale);
        let before = image::load_from_memory(pair.before.jpeg()).unwrap().to_rgb8();
        let is_dark = |x: u32, y: u32| before.get_pixel(x, y).0[0] < 100;
        assert!(is_dark(200, 10) && is_dark(105, 140), "the picture stands at the top");
        assert!(!is_dark(90, 10) && !is_dark(200, 160), "ground around it");
        let unknown = Pair::of("Contact", &scaled(40, 30, None), &scaled(40, 30, Some(1.0))).unwrap();
        assert!(!unknown.same_scale);
    }
}
