//! Measures clips as the program does where nothing is given.

use std::error::Error;
use std::path::{Path, PathBuf};

use toeline::analyse::{Analyser, Analysis, Method};
use toeline::measure::clip::{ClipMeasures, Stated};
use toeline::pose::Motion;
use toeline::table::{Labels, Notes};

/// What came out for a clip.
pub struct Unaided {
    /// The clip's name without its ending.
    pub name: String,
    /// The subject's motion; without any pictures where nobody was seen.
    pub motion: Motion,
    pub measures: ClipMeasures,
    /// What the program says a person should know.
    pub warnings: Vec<String>,
}

/// The program's own way to measure, and the folder of kept motions.
pub struct Measurer<'a> {
    keep: Option<&'a Path>,
    analyser: Analyser,
}

impl<'a> Measurer<'a> {
    pub fn new(keep: Option<&'a Path>) -> Result<Self, Box<dyn Error>> {
        if let Some(folder) = keep {
            std::fs::create_dir_all(folder)?;
        }
        Ok(Self { keep, analyser: Analyser::new(&Method::default())? })
    }

    /// Measures a clip.
    pub fn measure(&mut self, path: &Path) -> Result<Unaided, Box<dyn Error>> {
        let analysis = crate::analysed(path, &Stated::default(), &mut self.analyser, self.keep, false)?;
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let warnings = Notes::of(&analysis.results(&name, &Labels::default())).warnings;
        let Analysis { motion, measures, .. } = analysis;
        Ok(Unaided { name, motion, measures, warnings })
    }
}

/// The clips of a folder in order of their names, those whose path contains `only`.
pub fn clips(folder: &Path, only: Option<&str>) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut clips: Vec<PathBuf> = std::fs::read_dir(folder)
        .map_err(|error| format!("{}: {error}", folder.display()))?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "mp4"))
        .filter(|path| only.is_none_or(|only| path.to_string_lossy().contains(only)))
        .collect();
    clips.sort();
    if clips.is_empty() {
        return Err(format!("{}: no clip (.mp4) to measure", folder.display()).into());
    }
    Ok(clips)
}
