//! The clips of a folder, with what names and `season.csv` say of each.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::known::{Known, Table};
use super::names;
use super::settings::{Settings, SettingsError};
use crate::error::ErrorKind;
use crate::table::by_hand::ByHandError;
use crate::video::is_clip;

/// The table beside the clips.
pub const TABLE: &str = "season.csv";

/// Folders below this are not looked into.
const DEEPEST: usize = 16;

/// A clip of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Its path within the folder, `/` between names: its name in the season's tables.
    pub file: String,
    /// Where it lies.
    pub path: PathBuf,
    /// What `season.csv` says of it.
    pub by_table: Known,
    /// What the settings of its folder and of those above it say, the nearest first.
    pub settings: Vec<Settings>,
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
    /// Settings beside the clips can't be used.
    #[error(transparent)]
    Settings(#[from] SettingsError),
}

impl ListError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Folder { .. } => ErrorKind::Input,
            Self::Table(error) => error.kind(),
            Self::Settings(error) => error.kind(),
        }
    }
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
        let mut known = BTreeMap::new();
        let mut clips = Vec::new();
        for file in files {
            let details = names::NameDetails::of(&file);
            let by_names = Known {
                player: details.player,
                date: details.date,
                drill: details.drill,
                ..Known::default()
            };
            let by_table = table.as_ref().map(|table| table.of(&file, &mut used)).unwrap_or_default();
            let settings = settings_of(folder, &file, &mut known)?;
            clips.push(Listed { path: folder.join(&file), by_table, settings, by_names, file });
        }
        let unused = table.iter().flat_map(|table| &table.lines).zip(&used).filter(|(_, used)| !**used);
        let notes = unused
            .map(|(line, _)| {
                format!("{}, line {}: there is no clip or folder `{}`", path.display(), line.line, line.file)
            })
            .collect();
        Ok(Self { clips, notes })
    }
}

/// The settings beside a clip and in the folders above it, up to the season's. `known` holds those of folders already read.
fn settings_of(
    folder: &Path,
    file: &str,
    known: &mut BTreeMap<PathBuf, Option<Settings>>,
) -> Result<Vec<Settings>, SettingsError> {
    let mut found = Vec::new();
    for within in Path::new(file).ancestors().skip(1) {
        let place = folder.join(within);
        let settings = match known.get(&place) {
            Some(settings) => settings.clone(),
            None => known.entry(place.clone()).or_insert(Settings::of_folder(&place)?).clone(),
        };
        found.extend(settings);
    }
    Ok(found)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Drill;

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
