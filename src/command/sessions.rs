//! Finding and reading the sessions that are to be compared; clips without results are measured first.

use std::path::{Path, PathBuf};

use super::exit::{Exit, Failure, Result, UsageError};
use super::measure::measure;
use super::plan::{Job, Output, folder_of, settings_beside};
use super::progress::Progress;
use super::{interrupt, output};
use crate::analyse::{Analyser, Method};
use crate::compare::Session;
use crate::table::read::{is_result, results_in};
use crate::table::{ReadError, Recorded, sha256};
use crate::video::is_clip;

/// What a session's name stands for.
enum Place {
    /// Tables, or a folder of results.
    Results(PathBuf),
    /// A clip.
    Clip(PathBuf),
    /// A folder of clips.
    Clips(PathBuf, Vec<PathBuf>),
    /// A day of the season, perhaps one player's.
    Day(Option<String>, String),
}

/// The sessions that are to be compared.
#[derive(Debug)]
pub struct Sessions {
    /// The earlier and the later one.
    pub both: [Session; 2],
    /// Clips of theirs that had to be measured and could not be, with the reason.
    pub failed: Vec<(PathBuf, Failure)>,
}

/// Reads the sessions of these names; `season` holds all results of the season.
///
/// # Errors
/// [`UsageError`] for a name that stands for nothing, [`ReadError`], and what stops all measuring.
pub fn read(names: [&Path; 2], season: Option<&Recorded>, quiet: bool) -> Result<Sessions> {
    let places = [place(names[0], season.is_some())?, place(names[1], season.is_some())?];
    let mut missing: Vec<&Path> = Vec::new();
    for place in &places {
        let clips = match place {
            Place::Clip(clip) => std::slice::from_ref(clip),
            Place::Clips(_, clips) => clips.as_slice(),
            Place::Results(_) | Place::Day(..) => &[],
        };
        for clip in clips {
            if !missing.contains(&clip.as_path()) && !is_measured(clip)? {
                missing.push(clip);
            }
        }
    }
    let mut failed = measure_first(&missing, quiet)?;
    // A session that is no more than a clip that failed can't be compared at all.
    let alone = |(clip, _): &(PathBuf, Failure)| {
        places.iter().any(|place| matches!(place, Place::Clip(only) if only == clip))
    };
    if let Some(at) = failed.iter().position(alone) {
        return Err(failed.swap_remove(at).1);
    }
    failed.iter().for_each(|(_, error)| output::error(error));
    let [before, after] = places;
    Ok(Sessions { both: [session(names[0], before, season)?, session(names[1], after, season)?], failed })
}

/// Measures clips with everything estimated, as `toeline measure` does; those that fail are in the answer.
fn measure_first(clips: &[&Path], quiet: bool) -> Result<Vec<(PathBuf, Failure)>> {
    let mut failed = Vec::new();
    if clips.is_empty() {
        return Ok(failed);
    }
    interrupt::listen();
    let mut analyser = Analyser::new(&Method::default())?;
    for clip in clips {
        let mut job = Job::of(clip, folder_of(clip, None, false));
        job.details = job.details.with_settings(settings_beside(clip)?.as_ref());
        let mut progress = Progress::new(&job.name, quiet);
        match measure(&job, None, &Output::default(), &mut analyser, &mut progress) {
            Ok(_) => {}
            // Without networks, or when the user wants to stop, the other clips won't do any better.
            Err(error) if matches!(error.exit(), Exit::Interrupted | Exit::Model) => return Err(error),
            Err(error) => failed.push(((*clip).to_owned(), error)),
        }
    }
    Ok(failed)
}

fn session(name: &Path, place: Place, season: Option<&Recorded>) -> Result<Session> {
    let recorded = match place {
        Place::Results(path) => Recorded::at(&path)?,
        Place::Clip(clip) => Recorded::at(&folder_of(&clip, None, false))?,
        Place::Clips(folder, _) => Recorded::of_folders(&results_in(&folder)?)?,
        Place::Day(player, day) => {
            let of_day = season.map_or_else(Recorded::default, |season| {
                season.only(|stroke| {
                    stroke.date.as_ref() == Some(&day) && (player.is_none() || stroke.player == player)
                })
            });
            if of_day.strokes.is_empty() {
                return Err(UsageError(format!(
                    "{}: no such file or folder, and no strokes of that player on that day in the season",
                    name.display()
                ))
                .into());
            }
            of_day
        }
    };
    let name = name.file_name().unwrap_or(name.as_os_str()).to_string_lossy();
    Ok(Session { name: output::one_line(name.trim_end_matches("-toeline")), recorded })
}

fn place(name: &Path, has_season: bool) -> Result<Place> {
    let metadata = match std::fs::metadata(name) {
        Ok(metadata) => metadata,
        Err(_) if has_season => return day(name).ok_or_else(|| nothing(name)),
        Err(source) => return Err(ReadError::Open { path: name.to_owned(), source }.into()),
    };
    if metadata.is_file() {
        let is_table = name.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"));
        return Ok(if is_table { Place::Results(name.to_owned()) } else { Place::Clip(name.to_owned()) });
    }
    let has_tables = ["strokes.csv", "season/strokes.csv"].iter().any(|table| name.join(table).is_file());
    let clips = if has_tables { Vec::new() } else { clips_in(name)? };
    Ok(if clips.is_empty() { Place::Results(name.to_owned()) } else { Place::Clips(name.to_owned(), clips) })
}

fn nothing(name: &Path) -> Failure {
    UsageError(format!(
        "{}: no such file or folder, and not a day in the season (2025-06-14 or PLAYER:2025-06-14)",
        name.display()
    ))
    .into()
}

/// `2025-06-14` or `P01:2025-06-14`.
fn day(name: &Path) -> Option<Place> {
    let text = name.to_str()?;
    let (player, day) = match text.rsplit_once(':') {
        Some((player, day)) => (Some(player.to_owned()), day),
        None => (None, text),
    };
    super::args::day(day).ok().map(|day| Place::Day(player, day))
}

fn clips_in(folder: &Path) -> Result<Vec<PathBuf>, ReadError> {
    let fail = |source| ReadError::Open { path: folder.to_owned(), source };
    let mut clips = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        if path.is_file() && is_clip(&path) {
            clips.push(path);
        }
    }
    clips.sort();
    Ok(clips)
}

/// Whether results of this very clip lie beside it.
fn is_measured(clip: &Path) -> Result<bool> {
    let folder = folder_of(clip, None, false);
    if !is_result(&folder) {
        return Ok(false);
    }
    let known = Recorded::at(&folder)?.clips.iter().find_map(|clip| clip.sha256.clone());
    let same = known == Some(sha256(clip)?);
    if !same {
        output::note(&format!("{}: the clip has changed since its results were written", clip.display()));
    }
    Ok(same)
}
