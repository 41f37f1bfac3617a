//! What is known of a clip beforehand, and what `season.csv` says of it.

use std::path::Path;

use super::names;
use crate::pose::Side;
use crate::scene::View;
use crate::table::by_hand::{ByHand, ByHandError, ByHandRow};
use crate::table::{Drill, Grip};

/// The columns of `season.csv`; all but the first may be missing.
pub const COLUMNS: [&str; 10] =
    ["file", "player", "date", "view", "drill", "height_cm", "hand", "grip", "capture_fps", "and"];

/// Words and limits of what a table or settings may say, as the options have them.
pub(super) const HEIGHTS: std::ops::RangeInclusive<f64> = 80.0..=250.0;
pub(super) const VIEWS: [View; 4] = [View::Side, View::Back, View::Front, View::Diagonal];
pub(super) const RATES: std::ops::RangeInclusive<f64> = 1.0..=10_000.0;
pub(super) const FIELDS_OF_VIEW: std::ops::RangeInclusive<f64> = 10.0..=150.0;
pub(super) const RACKETS: std::ops::RangeInclusive<f64> = 40.0..=75.0;

/// What is known of a clip beforehand.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Known {
    /// The player's code.
    pub player: Option<String>,
    /// The day, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// From where the camera looks.
    pub view: Option<View>,
    /// How the ball came.
    pub drill: Option<Drill>,
    /// The player's height, cm.
    pub height_cm: Option<f64>,
    /// The hitting hand.
    pub hand: Option<Side>,
    /// How the racket is held.
    pub grip: Option<Grip>,
    /// The camera's rate.
    pub capture_fps: Option<f64>,
    /// The lens's horizontal field of view, degrees.
    pub fov: Option<f64>,
    /// The racket's length, cm.
    pub racket_length_cm: Option<f64>,
    /// The coach's name.
    pub coach: Option<String>,
    /// The clip of a second camera on the same strokes: its path within the folder, or its name.
    pub and: Option<String>,
}

impl Known {
    /// What this says, and where it says nothing, what `other` says.
    pub fn or(self, other: Self) -> Self {
        Self {
            player: self.player.or(other.player),
            date: self.date.or(other.date),
            view: self.view.or(other.view),
            drill: self.drill.or(other.drill),
            height_cm: self.height_cm.or(other.height_cm),
            hand: self.hand.or(other.hand),
            grip: self.grip.or(other.grip),
            capture_fps: self.capture_fps.or(other.capture_fps),
            fov: self.fov.or(other.fov),
            racket_length_cm: self.racket_length_cm.or(other.racket_length_cm),
            coach: self.coach.or(other.coach),
            and: self.and.or(other.and),
        }
    }
}

/// `season.csv`.
pub(super) struct Table {
    pub(super) lines: Vec<Line>,
}

pub(super) struct Line {
    /// The line in the file.
    pub(super) line: u64,
    /// Clip or folder.
    pub(super) file: String,
    known: Known,
}

impl Table {
    pub(super) fn read(path: &Path) -> Result<Self, ByHandError> {
        let table = ByHand::read(path, &COLUMNS[..1], &COLUMNS)?;
        let lines = table.rows.iter().map(|row| Line::read(&table, row)).collect::<Result<_, _>>()?;
        Ok(Self { lines })
    }

    /// What the lines that mean a clip say of it; a line for the clip counts more than one for its folder.
    pub(super) fn of(&self, file: &str, used: &mut [bool]) -> Known {
        let name = file.rsplit('/').next().unwrap_or(file);
        let mut meant: Vec<(usize, &Line)> = Vec::new();
        for (line, used) in self.lines.iter().zip(used) {
            let inside = file.strip_prefix(line.file.as_str()).is_some_and(|rest| rest.starts_with('/'));
            let weight = match line.file.as_str() {
                whole if whole == file => usize::MAX,
                own if own == name => usize::MAX - 1,
                "." => 0,
                folder if inside => folder.len(),
                _ => continue,
            };
            *used = true;
            meant.push((weight, line));
        }
        meant.sort_by_key(|(weight, _)| std::cmp::Reverse(*weight));
        meant.into_iter().fold(Known::default(), |known, (_, line)| known.or(line.known.clone()))
    }
}

impl Line {
    fn read(table: &ByHand, row: &ByHandRow) -> Result<Self, ByHandError> {
        let file = table.cell(row, "file").ok_or_else(|| {
            table.wrong(row, "names no file; give a clip's path within the folder, or a folder's")
        })?;
        let file = file.replace('\\', "/").trim_start_matches("./").trim_end_matches('/').to_owned();
        let within =
            |column: &str, range: std::ops::RangeInclusive<f64>| match table.number(row, column)? {
                Some(value) if !range.contains(&value) => Err(table
                    .wrong(row, format!("{column} must be between {} and {}", range.start(), range.end()))),
                value => Ok(value),
            };
        let date = table.cell(row, "date").map(|date| match names::whole_date(date) {
            true => Ok(date.to_owned()),
            false => {
                Err(table.wrong(row, format!("date is `{date}`; write it as YYYY-MM-DD, such as 2025-06-14")))
            }
        });
        let known = Known {
            player: table.cell(row, "player").map(str::to_owned),
            date: date.transpose()?,
            view: word(table, row, "view", &VIEWS, |v| v.name())?,
            drill: word(table, row, "drill", &Drill::ALL, Drill::name)?,
            height_cm: within("height_cm", HEIGHTS)?,
            hand: word(table, row, "hand", &[Side::Left, Side::Right], Side::name)?,
            grip: word(table, row, "grip", &Grip::ALL, Grip::name)?,
            capture_fps: within("capture_fps", RATES)?,
            and: table.cell(row, "and").map(str::to_owned),
            ..Known::default()
        };
        Ok(Self { line: row.line, file, known })
    }
}

/// A cell that holds one of several words.
fn word<T: Copy>(
    table: &ByHand,
    row: &ByHandRow,
    column: &str,
    all: &[T],
    name: impl Fn(T) -> &'static str,
) -> Result<Option<T>, ByHandError> {
    let Some(cell) = table.cell(row, column) else { return Ok(None) };
    let found = all.iter().copied().find(|value| name(*value) == cell.to_lowercase());
    found.map(Some).ok_or_else(|| {
        let words: Vec<&str> = all.iter().map(|value| name(*value)).collect();
        table.wrong(row, format!("{column} is `{cell}`; use {}", words.join(", ")))
    })
}
