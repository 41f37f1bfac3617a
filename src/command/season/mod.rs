//! `toeline season`: a folder of clips measured one by one, whatever happens in between, and joined.

mod charts;
mod entry;
mod join;
mod players;
mod work;

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};

use super::args::{Part, SeasonArgs};
use super::exit::{Exit, Failure, Result};
use super::plan::{self, Output, Pictures};
use super::{interrupt, output};
use crate::analyse::{Analyser, MOST_THREADS, Method};
use crate::error::ErrorKind;
use crate::season::{Season, Settings, State};
use crate::table::TableError;
use crate::table::marks::Marks;
use crate::table::notes::PROGRAM;
use crate::targets;
use entry::{Entry, Freshness};

/// The folder of the results, within the clips' folder or `--out`.
const RESULTS: &str = "season";

/// The file by which that folder is known as ours.
const MARKER: &str = "toeline.json";

/// Everything that `season` is to do.
pub struct Plan {
    /// The folder of the clips.
    clips: PathBuf,
    /// The folder of the results.
    results: PathBuf,
    jobs: usize,
    method: Method,
    marks: Option<Marks>,
    output: Output,
    targets: targets::Set,
    quiet: bool,
    json: bool,
}

/// Measures what is to be measured of a folder and joins the results.
///
/// # Errors
/// What stops all of it; a clip that fails is told of, and the others are done.
pub fn run(args: SeasonArgs) -> Result<Exit> {
    interrupt::listen();
    let results = args.out.as_ref().unwrap_or(&args.folder).join(RESULTS);
    let jobs = args.jobs.map_or_else(usual_jobs, usize::from);
    let season = Season::list(&args.folder, &results)?;
    let named = Settings::of_folder(&args.folder)?.and_then(|settings| settings.targets);
    let targets = targets::Set::asked_for(args.method.targets.as_deref().or(named.as_deref()))?;
    let mut wanted = plan::output_of(&args.output);
    wanted.pictures = Pictures {
        contact_alone: true,
        blur_faces: args.blur_faces,
        targets: targets.clone(),
        ..Pictures::default()
    };
    let plan = Plan {
        clips: args.folder.clone(),
        jobs,
        method: plan::method(&args.method, jobs),
        marks: args.method.marks.as_deref().map(Marks::read).transpose()?,
        output: wanted,
        targets,
        quiet: args.output.quiet,
        json: args.output.json,
        results,
    };
    for note in &season.notes {
        output::note(&format!("Warning: {}", output::one_line(note)));
    }
    if season.clips.is_empty() {
        output::note(&format!("toeline: there is no clip in {}", args.folder.display()));
        return Ok(Exit::NothingFound);
    }
    begin(&plan.results)?;
    let mut analyser = Analyser::new(&plan.method)?;
    let details = plan::details(&args.input, args.method.planar);
    let marks = plan.marks.as_ref();
    let entries = season
        .clips
        .into_iter()
        .map(|clip| Entry::new(clip, &details, &plan.results, analyser.networks(), marks, args.blur_faces))
        .collect::<Result<Vec<_>>>()?;
    match args.part {
        Some(part) => measure_part(&entries, part, &plan),
        None if args.gather => join::run(&entries, HashMap::new(), &plan),
        None => {
            let all: Vec<&Entry> = entries.iter().collect();
            let failed = work::measure(&all, &all, &plan).map_err(with_remedy)?;
            join::run(&entries, failed, &plan)
        }
    }
}

/// So many clips at the same time that each has the cores that the networks can use.
fn usual_jobs() -> usize {
    (std::thread::available_parallelism().map_or(1, usize::from) / MOST_THREADS).max(1)
}

/// Every so many-th clip: shares of one size that stay the same as long as the folder does.
fn share(entries: &[Entry], part: Part) -> Vec<&Entry> {
    entries.iter().skip(part.number - 1).step_by(part.of).collect()
}

fn measure_part(all: &[Entry], part: Part, plan: &Plan) -> Result<Exit> {
    let entries = share(all, part);
    let failed = work::measure(&entries, &all.iter().collect::<Vec<_>>(), plan).map_err(with_remedy)?;
    let count = failed.values().filter(|state| matches!(state, State::Failed(_))).count();
    output::print(&format!(
        "Part {}/{}: {} of {} clips measured; when all parts are done, join them with --gather\n",
        part.number,
        part.of,
        entries.len() - failed.len(),
        entries.len()
    ))?;
    Ok(if count > 0 { Exit::SomeFailed } else { Exit::Done })
}

/// Makes the folder of the results, or sees that it is ours.
fn begin(results: &Path) -> Result<(), TableError> {
    let fail = |source| TableError::Write { path: results.to_owned(), source };
    let marker = results.join(MARKER);
    let is_empty = match fs::read_dir(results) {
        Ok(mut entries) => entries.next().is_none(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => true,
        Err(error) => return Err(fail(error)),
    };
    if !is_empty && !marker.is_file() {
        return Err(TableError::NotOurs(results.to_owned()));
    }
    if !marker.is_file() {
        fs::create_dir_all(results).map_err(fail)?;
        fs::write(&marker, format!("{{\"program\": \"{PROGRAM}\"}}\n")).map_err(fail)?;
    }
    Ok(())
}

/// An interrupted run is no loss: say so.
fn with_remedy(error: Failure) -> Failure {
    if error.kind() == ErrorKind::Cancelled { Failure::SeasonInterrupted } else { error }
}
