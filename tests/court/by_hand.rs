//! What a person has read in the pictures of clips without a truth.

use std::error::Error;
use std::path::Path;

use toeline::geometry::Point2;

/// A row of the table.
pub struct ByHand {
    pub file: String,
    /// The picture that was read.
    pub frame: usize,
    /// The player's feet and nose in it, pixels.
    pub player: [Point2; 2],
    /// Direction to the net against the line of sight to the feet, and its standard deviation, degrees; absent where no line tells
    /// it.
    pub bearing: Option<(f64, f64)>,
}

/// Reads the table.
pub fn read(path: &Path) -> Result<Vec<ByHand>, Box<dyn Error>> {
    let mut rows = Vec::new();
    let mut table = csv::Reader::from_path(path).map_err(|error| format!("{}: {error}", path.display()))?;
    for row in table.records() {
        let row = row?;
        let number = |column: usize| row.get(column).unwrap_or_default().parse::<f64>();
        let point =
            |column: usize| Ok::<_, Box<dyn Error>>(Point2::new(number(column)?, number(column + 1)?));
        rows.push(ByHand {
            file: row.get(0).unwrap_or_default().to_owned(),
            frame: number(1)? as usize,
            player: [point(2)?, point(4)?],
            bearing: number(6).ok().zip(number(7).ok()),
        });
    }
    Ok(rows)
}
