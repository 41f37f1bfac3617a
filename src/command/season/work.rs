//! Measures the clips of a season that have no good results yet, several at a time.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;

use rayon::prelude::*;

use super::super::exit::{Exit, Failure, Result};
use super::super::measure;
use super::super::plan::{Job, Output};
use super::super::progress::Season as Progress;
use super::super::{interrupt, output};
use super::{Entry, Freshness, Plan};
use crate::analyse::Analyser;
use crate::error::in_full;
use crate::scene::Stature;
use crate::season::stature::{Height, Told};
use crate::season::{State, Statures};
use crate::table::{Staging, TableError};

/// What has become of the clips that have no results in the end, by name.
pub type Unmeasured = HashMap<String, State>;

/// A clip that has to be measured.
struct ToDo {
    job: Job,
    size: u64,
}

/// Measures what has no good results yet of the clips `mine` among `all`, and once more what was measured before other clips told how
/// tall its player is. Clips that failed, and those that hold the same as another, are in the answer.
///
/// # Errors
/// What stops all clips: interruption, missing networks, results that can't be written.
pub fn measure(mine: &[&Entry], all: &[&Entry], plan: &Plan) -> Result<Unmeasured> {
    for entry in mine {
        Staging::sweep(&entry.folder);
    }
    let mut unmeasured = Unmeasured::new();
    let known = statures(&heights(all, &unmeasured));
    let todo = to_do(mine, &known, plan, &mut unmeasured)?;
    work_through(&todo, plan, &mut unmeasured)?;
    let heights = heights(all, &unmeasured);
    let known = statures(&heights);
    for (player, words) in known.contradictions() {
        output::note(&format!("Warning: {}: {}", output::one_line(player), output::one_line(words)));
    }
    let height_of: HashMap<&str, &Height> =
        heights.iter().map(|(entry, height)| (entry.file.as_str(), height)).collect();
    let again = mine.iter().filter_map(|entry| {
        let stature = stature_of(entry, &known);
        let (job, size) =
            height_of.get(entry.file.as_str())?.is_behind(stature).then(|| entry.again(stature))??;
        Some(ToDo { job, size })
    });
    let again: Vec<ToDo> = again.collect();
    if !again.is_empty() && !plan.quiet {
        let (count, clips) = (again.len(), if again.len() == 1 { "clip" } else { "clips" });
        output::note(&format!(
            "The court tells how tall players are: {count} other {clips} measured again with that"
        ));
    }
    work_through(&again, plan, &mut unmeasured)?;
    Ok(unmeasured)
}

/// What the results of clips say of their players' statures.
fn heights<'a>(entries: &[&'a Entry], unmeasured: &Unmeasured) -> Vec<(&'a Entry, Height)> {
    let measured = entries.par_iter().filter(|entry| !unmeasured.contains_key(&entry.file));
    measured.filter_map(|entry| Some((*entry, entry.height()?))).collect()
}

fn statures(heights: &[(&Entry, Height)]) -> Statures {
    Statures::of(heights.iter().map(|(entry, height)| {
        let labels = &entry.details.labels;
        Told { file: &entry.file, player: labels.player.as_deref(), date: labels.date.as_deref(), height }
    }))
}

/// What other clips tell of the stature of a clip's player on its day.
fn stature_of(entry: &Entry, known: &Statures) -> Option<Stature> {
    let labels = &entry.details.labels;
    known.on(labels.player.as_deref(), labels.date.as_deref())
}

/// Measures clips, several at a time.
fn work_through(todo: &[ToDo], plan: &Plan, unmeasured: &mut Unmeasured) -> Result<()> {
    if todo.is_empty() {
        return Ok(());
    }
    let progress = Progress::new(todo.len(), todo.iter().map(|todo| todo.size).sum(), plan.quiet);
    let jobs = plan.jobs.min(todo.len());
    let next = AtomicUsize::new(0);
    let fatal: Mutex<Option<Failure>> = Mutex::new(None);
    let failed = Mutex::new(unmeasured);
    thread::scope(|scope| {
        for _ in 0..jobs {
            scope.spawn(|| {
                if let Err(error) = one_after_another(todo, &next, plan, &progress, &failed) {
                    // The others stop at their next clip.
                    next.store(todo.len(), Ordering::SeqCst);
                    fatal.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(error);
                }
            });
        }
    });
    progress.end();
    match fatal.into_inner().unwrap_or_else(PoisonError::into_inner) {
        Some(error) => Err(error),
        None => Ok(()),
    }
}

fn one_after_another(
    todo: &[ToDo],
    next: &AtomicUsize,
    plan: &Plan,
    progress: &Progress,
    failed: &Mutex<&mut Unmeasured>,
) -> Result<()> {
    let mut analyser = Analyser::new(&plan.method)?;
    loop {
        interrupt::check()?;
        let Some(ToDo { job, size }) = todo.get(next.fetch_add(1, Ordering::SeqCst)) else { return Ok(()) };
        let mut share = progress.share(*size);
        let marks = plan.marks.as_ref();
        // A clip's own tables stay as other programs read them; the season's are written as they are wanted.
        let plain = Output { pictures: plan.output.pictures.clone(), ..Output::default() };
        match measure::measure(job, marks, &plain, &mut analyser, &mut share) {
            Ok(measured) => {
                let strokes = measured.strokes();
                let word = if strokes == 1 { "stroke" } else { "strokes" };
                share.end(&format!("{}: {strokes} {word}", job.name));
            }
            Err(error) if matches!(error.exit(), Exit::Interrupted | Exit::Model | Exit::Output) => {
                return Err(error);
            }
            Err(error) => {
                let why = why(&error, job);
                share.end(&format!("toeline: {}: {why}", job.name));
                let mut failed = failed.lock().unwrap_or_else(PoisonError::into_inner);
                failed.insert(job.name.clone(), State::Failed(why));
            }
        }
    }
}

/// Why a clip failed, without its name.
fn why(error: &Failure, job: &Job) -> String {
    let text = output::one_line(&in_full(error));
    let path = job.clip.display().to_string();
    let file = job.clip.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let without =
        |text: &str, name: &str| text.strip_prefix(name).map(|rest| rest.trim_start_matches(": ").to_owned());
    [path.as_str(), &job.name, &file].iter().find_map(|name| without(&text, name)).unwrap_or(text)
}

/// The clips that have to be measured, each content once.
fn to_do(
    entries: &[&Entry],
    known: &Statures,
    plan: &Plan,
    unmeasured: &mut Unmeasured,
) -> Result<Vec<ToDo>> {
    let states: Vec<Result<Freshness, TableError>> = entries
        .par_iter()
        .map(|entry| {
            if interrupt::check().is_ok() {
                entry.freshness()
            } else {
                Ok(Freshness::UpToDate { sha256: String::new() })
            }
        })
        .collect();
    interrupt::check()?;
    let motions = kept_motions(&plan.results.join("clips"));
    let mut first: HashMap<String, &str> = HashMap::new();
    let mut todo = Vec::new();
    for (entry, state) in entries.iter().copied().zip(states) {
        let state = match state {
            Ok(state) => state,
            Err(error) => {
                output::note(&format!("toeline: {}: {}", entry.file, output::one_line(&error.to_string())));
                unmeasured.insert(entry.file.clone(), State::Failed("cannot be read".to_owned()));
                continue;
            }
        };
        if let Some(other) = first.get(state.sha256()) {
            output::note(&format!("{}: the same content as {other}, counted once", entry.file));
            unmeasured.insert(entry.file.clone(), State::SameAs((*other).to_owned()));
            continue;
        }
        first.insert(state.sha256().to_owned(), &entry.file);
        if let Freshness::Outdated { sha256, size, stamp } = state {
            let motions = motions.get(&sha256).cloned().unwrap_or_default();
            let job = Job { stature: stature_of(entry, known), ..entry.job(&sha256, &stamp, motions) };
            todo.push(ToDo { job, size });
        }
    }
    Ok(todo)
}

/// Kept motions of clips that were measured under another name, by the clips' checksums.
fn kept_motions(folder: &Path) -> HashMap<String, Vec<PathBuf>> {
    let mut found: HashMap<String, Vec<PathBuf>> = HashMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        // What can't be looked into has nothing to offer.
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for path in entries.flatten().map(|entry| entry.path()).filter(|path| path.is_dir()) {
            match Entry::sha256_of(&path) {
                Some(sha256) => found.entry(sha256).or_default().push(path.join(measure::MOTION)),
                None => folders.push(path),
            }
        }
    }
    found
}
