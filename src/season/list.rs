//! The clips of a folder, and what names and `season.csv` say of each.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::names;
use crate::pose::Side;
use crate::scene::View;
use crate::table::by_hand::{ByHand, ByHandError, Row};
use crate::table::{Drill, Grip};
use crate::video::is_clip;

/// The table beside the clips.
pub const TABLE: &str = "season.csv";

const COLUMNS: [&str; 9] =
    ["file", "player", "date", "view", "drill", "height_cm", "hand", "grip", "capture_fps"];

/// Folders below this are not looked into.
const DEEPEST: usize = 16;

/// Limits of what a table may say, as the options have them.
const HEIGHTS: std::ops::RangeInclusive<f64> = 80.0..=250.0;
const RATES: std::ops::RangeInclusive<f64> = 1.0..=10_000.0;

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
        }
    }
}

/// A clip of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Its path within the folder, `/` between names: its name in the season's tables.
    pub file: String,
    /// Where it lies.
    pub path: PathBuf,
    /// What `season.csv` says of it.
    pub by_table: Known,
    /// What names say of it.
    pub by_names: Known,
}

/// The clips of a season in order of their paths.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Season {
    /// The clips.
    pub clips: Vec<Listed>,
    /// What a person should know of the table.
    pub notes: Vec<String>,
}

/// The folder's clips can't be listed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ListError {
    /// The folder can't be read.
    #[error("{path}: cannot be read ({source}); check the folder's name", path = .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// The table beside the clips can't be used.
    #[error(transparent)]
    Table(#[from] ByHandError),
}

impl Season {
    /// Lists the clips of a folder and the folders below it. Hidden files, results, links to folders, and the folder
    /// `without` are left out.
    ///
    /// # Errors
    /// [`ListError`].
    pub fn list(folder: &Path, without: &Path) -> Result<Self, ListError> {
        let mut files = Vec::new();
        walk(folder, "", without, DEEPEST, &mut files)
            .map_err(|source| ListError::Folder { path: folder.to_owned(), source })?;
        files.sort();
        let path = folder.join(TABLE);
        let table = if path.is_file() { Some(Table::read(&path)?) } else { None };
        let mut used = vec![false; table.as_ref().map_or(0, |table| table.lines.len())];
        let clips = files
            .into_iter()
            .map(|file| {
                let said = names::Said::by(&file);
                let by_names =
                    Known { player: said.player, date: said.date, drill: said.drill, ..Known::default() };
                let by_table = table.as_ref().map(|table| table.of(&file, &mut used)).unwrap_or_default();
                Listed { path: folder.join(&file), by_table, by_names, file }
            })
            .collect();
        let unused = table.iter().flat_map(|table| &table.lines).zip(&used).filter(|(_, used)| !**used);
        let notes = unused
            .map(|(line, _)| {
                format!("{}, line {}: there is no clip or folder `{}`", path.display(), line.line, line.file)
            })
            .collect();
        Ok(Self { clips, notes })
    }
}

fn walk(
    folder: &Path,
    within: &str,
    without: &Path,
    deeper: usize,
    files: &mut Vec<String>,
) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        // A name that is no text can't stand in a table.
        let Ok(name) = entry.file_name().into_string() else { continue };
        if name.starts_with('.') {
            continue;
        }
        let path = entry.path();
        let file = if within.is_empty() { name.clone() } else { format!("{within}/{name}") };
        if entry.file_type()?.is_dir() {
            let results = path == without || path.join(crate::table::folder::MARKER).is_file();
            if !results && deeper > 0 {
                walk(&path, &file, without, deeper - 1, files)?;
            }
        } else if is_clip(&path) && path.is_file() {
            files.push(file);
        }
    }
    Ok(())
}

/// `season.csv`.
struct Table {
    lines: Vec<Line>,
}

struct Line {
    line: u64,
    file: String,
    known: Known,
}

impl Table {
    fn read(path: &Path) -> Result<Self, ByHandError> {
        let table = ByHand::read(path, &COLUMNS[..1], &COLUMNS)?;
        let lines = table.rows.iter().map(|row| Line::read(&table, row)).collect::<Result<_, _>>()?;
        Ok(Self { lines })
    }

    /// What the lines that mean a clip say of it; a line for the clip counts more than one for its folder.
    fn of(&self, file: &str, used: &mut [bool]) -> Known {
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
    fn read(table: &ByHand, row: &Row) -> Result<Self, ByHandError> {
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
        let date = table.cell(row, "date").map(|date| match crate::season::names::whole_date(date) {
            true => Ok(date.to_owned()),
            false => {
                Err(table.wrong(row, format!("date is `{date}`; write it as YYYY-MM-DD, such as 2025-06-14")))
            }
        });
        let known = Known {
            player: table.cell(row, "player").map(str::to_owned),
            date: date.transpose()?,
            view: word(table, row, "view", &[View::Side, View::Back, View::Front, View::Diagonal], |v| {
                v.name()
            })?,
            drill: word(table, row, "drill", &Drill::ALL, Drill::name)?,
            height_cm: within("height_cm", HEIGHTS)?,
            hand: word(table, row, "hand", &[Side::Left, Side::Right], Side::name)?,
            grip: word(table, row, "grip", &Grip::ALL, Grip::name)?,
            capture_fps: within("capture_fps", RATES)?,
        };
        Ok(Self { line: row.line, file, known })
    }
}

/// A cell that holds one of several words.
fn word<T: Copy>(
    table: &ByHand,
    row: &Row,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_for_the_clip_counts_more_than_one_for_its_folder() {
        let place = tempfile::tempdir().unwrap();
        fs::create_dir_all(place.path().join("P01/old")).unwrap();
        fs::create_dir_all(place.path().join("season")).unwrap();
        for file in ["P01/a.mp4", "P01/old/b.MOV", "c.mkv", "notes.txt", ".hidden.mp4", "season/d.mp4"] {
            fs::write(place.path().join(file), "x").unwrap();
        }
        fs::write(
            place.path().join(TABLE),
            "\u{feff}file;player;date;height_cm;drill\r\nP01;;;181,5;rally\r\nb.MOV;P07;2025-06-14;;\r\nnone.mp4;;;;\r\n",
        )
        .unwrap();
        let season = Season::list(place.path(), &place.path().join("season")).unwrap();
        let files: Vec<&str> = season.clips.iter().map(|clip| clip.file.as_str()).collect();
        assert_eq!(files, ["P01/a.mp4", "P01/old/b.MOV", "c.mkv"]);
        let known = |i: usize| season.clips[i].by_table.clone().or(season.clips[i].by_names.clone());
        assert_eq!((known(0).player.as_deref(), known(0).height_cm), (Some("P01"), Some(181.5)));
        assert_eq!((known(1).player.as_deref(), known(1).drill), (Some("P07"), Some(Drill::Rally)));
        assert_eq!(known(1).date.as_deref(), Some("2025-06-14"));
        assert_eq!(known(2), Known::default());
        assert!(season.notes.len() == 1 && season.notes[0].contains("line 4"), "{:?}", season.notes);
    }

    #[test]
    fn wrong_cells_are_named_by_line() {
        let place = tempfile::tempdir().unwrap();
        for (cells, wanted) in [
            ("file,date\na.mp4,14.6.2025\n", "line 2: date"),
            ("file,hand\n\na.mp4,both\n", "line 3: hand"),
            ("file,height_cm\na.mp4,1.8\n", "height_cm must be"),
            ("file,size\na.mp4,3\n", "no use for a column `size`"),
            ("player\nP01\n", "no column `file`"),
            ("", "empty"),
        ] {
            fs::write(place.path().join(TABLE), cells).unwrap();
            let error = Season::list(place.path(), Path::new("")).unwrap_err().to_string();
            assert!(error.contains(wanted), "{error}");
        }
    }
}
