//! What a person has read in the pictures of clips without a truth.

use std::error::Error;
use std::path::Path;

use toeline::court::Hidden;
use toeline::geometry::Point2;

use super::report::True;

/// The head reaches above the nose, arms to the sides, by this share of the height from nose to heels.
const ABOVE: f64 = 0.2;
const BESIDE: f64 = 0.3;

/// A row of the table.
pub struct ByHand {
    pub file: String,
    /// The picture that was read.
    frame: usize,
    player: [Point2; 2],
    /// Direction to the net against the line of sight to the feet, and its standard deviation, degrees; absent where no line tells
    /// it.
    bearing: Option<(f64, f64)>,
}

/// Reads the table.
pub fn read(path: &Path) -> Result<Vec<ByHand>, Box<dyn Error>> {
    let mut rows = Vec::new();
    for row in csv::Reader::from_path(path)?.records() {
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

impl ByHand {
    /// The pictures that are looked at: as many before the one that was read as after it.
    pub fn wanted(&self) -> Vec<usize> {
        let half = super::PICTURES / 2;
        (0..super::PICTURES).map(|k| k * self.frame / half).collect()
    }

    /// Where the player is in a picture: known in the one that was read.
    pub fn seen(&self, frame: usize) -> super::Seen {
        let [foot, head] = self.player;
        if frame != self.frame {
            return (Vec::new(), None);
        }
        let tall = foot.y - head.y;
        let corners = [
            Point2::new(head.x - BESIDE * tall, head.y - ABOVE * tall),
            Point2::new(foot.x + BESIDE * tall, foot.y),
        ];
        (Hidden::around(corners, 0.0).into_iter().collect(), Some(self.player))
    }

    pub fn truth(&self) -> True {
        True { camera: None, bearing: self.bearing, lines: self.bearing.is_some() }
    }
}
