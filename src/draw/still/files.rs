//! Stills as files.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, Cursor};
use std::path::Path;

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};

use super::super::moment::{Lines, MOMENTS};
use super::{Chosen, Role, Stills, index, pictures_needed};
use crate::draw::DrawError;
use crate::measure::clip::ClipMeasures;
use crate::pose::Motion;
use crate::video::Picture;

/// Numbers of the pictures that the stills of the chosen strokes need.
pub fn pictures_of(motion: &Motion, clip: &ClipMeasures, chosen: &[Chosen]) -> BTreeSet<usize> {
    let strokes = chosen.iter().map(|chosen| &clip.strokes[chosen.place].stroke);
    pictures_needed(motion, strokes.flat_map(|s| MOMENTS.map(|(instant, _)| (s, instant))))
}

impl Stills<'_> {
    /// Writes the stills of the chosen strokes into a folder, which is made if need be, with a table of them ([`index`])
    /// beside them. Nothing is written where there are none.
    ///
    /// # Errors
    /// [`DrawError`]: a still can't be drawn, the folder can't be made, a file can't be written.
    pub fn write(&self, dir: &Path, chosen: &[Chosen]) -> Result<usize, DrawError> {
        let mut lines = Vec::new();
        for chosen in chosen {
            let stroke = &self.clip.strokes[chosen.place];
            let roles: Vec<&str> = chosen.roles.iter().copied().map(Role::name).collect();
            for (place, (instant, name)) in MOMENTS.into_iter().enumerate() {
                if !instant.is_worth_it(stroke) {
                    continue;
                }
                let file = format!("stroke_{:02}_{}_{name}.png", stroke.number, place + 1);
                let failed = |source| DrawError::Chart { file: file.clone(), source };
                let still = self.of_chosen(stroke, instant, Lines::All, &chosen.roles).map_err(failed)?;
                let Some(still) = still else { continue };
                if lines.is_empty() {
                    fs::create_dir_all(dir)
                        .map_err(|source| DrawError::Folder { path: dir.to_owned(), source })?;
                }
                let path = dir.join(&file);
                fs::write(&path, png(&still.image).map_err(failed)?)
                    .map_err(|source| DrawError::File { path, source })?;
                lines.push(index::Line {
                    file,
                    stroke: stroke.number,
                    moment: name.to_owned(),
                    shown_for: roles.join(", "),
                    body_height: still.body_height,
                    words: still.alt,
                });
            }
        }
        if !lines.is_empty() {
            index::write(dir, &lines)?;
        }
        Ok(lines.len())
    }
}

/// A picture as PNG.
///
/// # Errors
/// Where it has no size or its bytes don't fit.
pub fn png(picture: &Picture) -> io::Result<Vec<u8>> {
    let mut bytes = Cursor::new(Vec::new());
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Fast, FilterType::Adaptive)
        .write_image(&picture.rgb, picture.width, picture.height, ExtendedColorType::Rgb8)
        .map_err(io::Error::other)?;
    Ok(bytes.into_inner())
}
