//! Reading results back: strokes with their measures, and what is known of the clips that they come from.

mod clip;
mod find;
mod rows;
mod stroke;

use std::path::{Path, PathBuf};

use crate::error::ErrorKind;
use crate::order::median;

pub use clip::ReadClip;
pub use find::{is_result, results_in};
pub(crate) use rows::Table;
pub use stroke::ReadStroke;

/// Results can't be read. Commands end with exit code 3 on it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// A file or folder can't be opened.
    #[error("{path}: cannot be read ({source}); check the name", path = .path.display())]
    Open {
        /// The file or folder.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// A folder has no results in it.
    #[error("{path}: no results of toeline in it; measure the clips first with `toeline measure`", path = .0.display())]
    NoResults(PathBuf),
    /// A table or note is not what this program writes.
    #[error("{path}: {why}; measure the clip again with `toeline measure`", path = .path.display())]
    Form {
        /// The file.
        path: PathBuf,
        /// What is wrong, with its line.
        why: String,
    },
}

impl ReadError {
    /// What is wrong with a file, without its name and without what to do.
    pub(crate) fn why(&self) -> String {
        match self {
            Self::Open { source, .. } => source.to_string(),
            Self::NoResults(_) => "no results of toeline in it".to_owned(),
            Self::Form { why, .. } => why.clone(),
        }
    }

    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Open { .. } | Self::NoResults(_) | Self::Form { .. } => ErrorKind::Input,
        }
    }
}

/// Strokes of one clip or of several, as the tables hold them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recorded {
    /// The clips in order of date, then of folder.
    pub clips: Vec<ReadClip>,
    /// The strokes in order of clips, then of time.
    pub strokes: Vec<ReadStroke>,
}

impl Recorded {
    /// Reads what lies at a path: a folder with `strokes.csv` and `measures.csv` (a clip's results, or the tables of a
    /// season), one of these tables, a folder with a `season` in it, or a folder with several results in it or below.
    ///
    /// # Errors
    /// [`ReadError`].
    pub fn at(path: &Path) -> Result<Self, ReadError> {
        let metadata =
            std::fs::metadata(path).map_err(|source| ReadError::Open { path: path.to_owned(), source })?;
        if metadata.is_file() {
            return Self::tables(path.parent().unwrap_or(Path::new("")));
        }
        let season = path.join("season");
        if find::has_tables(path) {
            Self::tables(path)
        } else if find::has_tables(&season) {
            let mut all = Self::tables(&season)?;
            all.look_up_clips(&results_in(path)?)?;
            Ok(all)
        } else {
            Self::of_folders(&results_in(path)?).and_then(|all| {
                if all.clips.is_empty() { Err(ReadError::NoResults(path.to_owned())) } else { Ok(all) }
            })
        }
    }

    /// Reads several folders of results as one.
    ///
    /// # Errors
    /// [`ReadError`].
    pub fn of_folders(folders: &[PathBuf]) -> Result<Self, ReadError> {
        let mut all = Self::default();
        for folder in folders {
            all.append(Self::tables(folder)?);
        }
        all.in_order_of_dates();
        Ok(all)
    }

    /// Reads `strokes.csv`, `measures.csv` and, where there is one, `clip.json` of a folder.
    fn tables(folder: &Path) -> Result<Self, ReadError> {
        let note = clip::read(&folder.join(super::folder::MARKER))?;
        let mut all = Self::default();
        stroke::read(folder, &note, &mut all)?;
        if all.clips.is_empty() {
            // A clip without strokes is still a clip.
            all.clips.extend(note);
        }
        Ok(all)
    }

    /// A season's tables don't say how its clips were measured; the clips' own results do, where they lie in the same folder
    /// and no two clips have one name.
    fn look_up_clips(&mut self, folders: &[PathBuf]) -> Result<(), ReadError> {
        let mut notes = Vec::new();
        for folder in folders {
            notes.extend(clip::read(&folder.join(super::folder::MARKER))?);
        }
        for known in &mut self.clips {
            let mut same = notes.iter().filter(|note| note.file == known.file);
            if let (Some(note), None) = (same.next(), same.next()) {
                *known = note.clone();
            }
        }
        Ok(())
    }

    fn append(&mut self, mut other: Self) {
        let first = self.clips.len();
        other.strokes.iter_mut().for_each(|stroke| stroke.source += first);
        self.clips.append(&mut other.clips);
        self.strokes.append(&mut other.strokes);
    }

    /// Sessions follow one another by their dates, where they are known.
    fn in_order_of_dates(&mut self) {
        self.strokes
            .sort_by(|a, b| a.date.cmp(&b.date).then(a.source.cmp(&b.source)).then(a.number.cmp(&b.number)));
    }

    /// The player's height, cm: the median of what the clips were measured with.
    pub fn height_cm(&self) -> Option<f64> {
        median(self.clips.iter().filter_map(|clip| clip.height_cm).map(|(height, _)| height))
    }

    /// The clip of a stroke.
    pub fn clip_of(&self, stroke: &ReadStroke) -> Option<&ReadClip> {
        self.clips.get(stroke.source)
    }

    /// Only the strokes that are wanted, and the clips that they come from.
    pub fn only(&self, wanted: impl Fn(&ReadStroke) -> bool) -> Self {
        let mut kept = Self { clips: Vec::new(), strokes: Vec::new() };
        let mut places: Vec<Option<usize>> = vec![None; self.clips.len()];
        for stroke in self.strokes.iter().filter(|stroke| wanted(stroke)) {
            let place = *places[stroke.source].get_or_insert_with(|| {
                kept.clips.push(self.clips[stroke.source].clone());
                kept.clips.len() - 1
            });
            kept.strokes.push(ReadStroke { source: place, ..stroke.clone() });
        }
        kept
    }
}
