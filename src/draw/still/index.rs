//! `stills.csv`: what each still in a folder shows, for those who don't see it and for setting it beside another.

use std::path::Path;

use crate::table::read::Table;
use crate::table::sheet::{Column, Kind, Sheet};
use crate::table::{Cell, Decimal, ReadError, TableError};
use crate::video::Picture;

/// A still as the table has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its file in the folder.
    pub file: String,
    /// The stroke's number.
    pub stroke: usize,
    /// The moment, as in [`MOMENTS`](crate::draw::moment::MOMENTS).
    pub moment: String,
    /// What the stroke is shown for.
    pub shown_for: String,
    /// How high the player stands in it, pixels.
    pub body_height: f64,
    /// What it shows, with its numbers.
    pub words: String,
}

fn sheet() -> Sheet<Line> {
    let columns = vec![
        Column::new("file", Kind::String, "The still's file.", |line: &Line| Cell::text(line.file.as_str())),
        Column::new("stroke", Kind::Integer, "The stroke's number.", |line: &Line| Cell::whole(line.stroke)),
        Column::new("moment", Kind::String, "The moment of the stroke.", |line: &Line| {
            Cell::text(line.moment.as_str())
        }),
        Column::new("shown_for", Kind::String, "What the stroke is shown for.", |line: &Line| {
            Cell::text(line.shown_for.as_str())
        }),
        Column::new("body_height_px", Kind::Number, "How high the player stands in it.", |line: &Line| {
            Cell::number(line.body_height, 1)
        }),
        Column::new("words", Kind::String, "What it shows.", |line: &Line| Cell::text(line.words.as_str())),
    ];
    Sheet {
        name: "stills",
        title: "Stills",
        description: "One row per still.",
        key: &["file"],
        of_strokes: false,
        columns,
    }
}

/// Writes the table into the stills' folder.
///
/// # Errors
/// [`TableError::Write`].
pub fn write(dir: &Path, lines: &[Line]) -> Result<(), TableError> {
    sheet().write(dir, lines.iter().cloned(), Decimal::Point)
}

/// Reads the table of a folder of stills; nothing where there is none.
///
/// # Errors
/// [`ReadError`] where it can't be read.
pub fn read(dir: &Path) -> Result<Vec<Line>, ReadError> {
    let path = dir.join(sheet().file());
    if !path.exists() {
        return Ok(Vec::new());
    }
    let mut table = Table::open(path)?;
    let mut lines = Vec::new();
    while let Some(row) = table.next_row()? {
        let file = row.need("file")?;
        // A name that leads out of the folder is none of ours.
        if Path::new(&file).components().count() != 1 {
            return Err(row.wrong(format!("`{file}` is no still of this folder")));
        }
        let body_height = row.number("body_height_px")?;
        lines.push(Line {
            file,
            stroke: row.whole("stroke")?,
            moment: row.need("moment")?,
            shown_for: row.text("shown_for").unwrap_or_default(),
            body_height: body_height.ok_or_else(|| row.wrong("no body_height_px".to_owned()))?,
            words: row.text("words").unwrap_or_default(),
        });
    }
    Ok(lines)
}

impl Line {
    /// The still's picture.
    ///
    /// # Errors
    /// [`ReadError::Form`] where the file is missing or damaged.
    pub fn picture(&self, dir: &Path) -> Result<Picture, ReadError> {
        let path = dir.join(&self.file);
        let image = image::open(&path)
            .map_err(|error| ReadError::Form { path: path.clone(), why: error.to_string() })?
            .into_rgb8();
        Ok(Picture { width: image.width(), height: image.height(), rgb: image.into_raw() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_written_is_read() {
        let place = tempfile::tempdir().unwrap();
        assert_eq!(read(place.path()).unwrap(), []);
        let line = Line {
            file: "stroke_01_5_contact.png".to_owned(),
            stroke: 1,
            moment: "contact".to_owned(),
            shown_for: "most typical stroke".to_owned(),
            body_height: 512.5,
            words: "Contact, \"hand\" 13 ± 10 cm".to_owned(),
        };
        write(place.path(), std::slice::from_ref(&line)).unwrap();
        assert_eq!(read(place.path()).unwrap(), std::slice::from_ref(&line));
        let error = line.picture(place.path()).unwrap_err().to_string();
        assert!(error.contains("stroke_01_5_contact.png"), "{error}");
        let outside = Line { file: "../x.png".to_owned(), ..line };
        write(place.path(), &[outside]).unwrap();
        assert!(read(place.path()).is_err());
    }
}
