//! `toeline measure`: from clips to folders of results.

use std::collections::VecDeque;
use std::fs;
use std::path::Path;

use super::exit::{Exit, Interrupted, Result};
use super::next_time::NextTime;
use super::plan::{Job, Output, Plan};
use super::progress::Progress;
use super::report::{self, ClipReportJson};
use super::second::SecondView;
use super::{interrupt, output, pictures, summary};
use crate::analyse::{Analyser, Analysis, Known, Observer, Part};
use crate::draw;
use crate::error::ErrorKind;
use crate::page::CAUTIONS;
use crate::table::marks::{self, Marks};
use crate::table::{self, Results, Staging};
use crate::video::Clip;

/// How much of the work measuring is where pictures are drawn as well.
const MEASURING: f64 = 0.7;

/// Measures every clip of a plan.
///
/// # Errors
/// For one clip, whatever went wrong; for several, only what stops all of them.
pub fn run(plan: &Plan) -> Result<Exit> {
    interrupt::listen();
    let several = plan.jobs.len() > 1;
    let mut analyser = Analyser::new(&plan.method)?;
    let mut documents = Vec::new();
    let (mut failed, mut with_strokes) = (0, 0);
    let mut jobs: VecDeque<Job> = plan.jobs.iter().cloned().collect();
    while let Some(job) = jobs.pop_front() {
        match measure_and_tell(&job, plan, &mut analyser) {
            Ok(done) => {
                jobs.extend(done.alone);
                with_strokes += usize::from(done.strokes > 0);
                documents.push(done.document);
            }
            // Without networks, or when the user wants to stop, the other clips won't do any better.
            Err(error) if !several || matches!(error.exit(), Exit::Interrupted | Exit::Model) => {
                return Err(error);
            }
            Err(error) => {
                output::error(&error);
                failed += 1;
                documents.push(ClipReportJson::failed(&job.clip, &error));
            }
        }
    }
    if plan.json {
        output::print(&report::document(&documents)?)?;
    }
    if several && failed > 0 {
        output::note(&format!("toeline: {failed} of {} clips failed, see above", plan.jobs.len()));
    }
    if !plan.quiet {
        for caution in CAUTIONS {
            output::note(&format!("Caution: {caution}"));
        }
    }
    Ok(match (failed, with_strokes) {
        (0, 0) => Exit::NothingFound,
        (0, _) => Exit::Done,
        _ => Exit::SomeFailed,
    })
}

/// What is left to tell of a clip that was measured.
struct Done {
    strokes: usize,
    document: ClipReportJson,
    /// The second clip, where its strokes are not the first one's.
    alone: Option<Job>,
}

fn measure_and_tell(job: &Job, plan: &Plan, analyser: &mut Analyser) -> Result<Done> {
    let mut progress = Progress::new(&job.name, plan.quiet);
    let filled_in = job.folder.join("marks.csv").exists();
    let measured = measure(job, plan.marks.as_ref(), &plan.output, analyser, &mut progress)?;
    progress.end();
    let mut done = print_results(job, plan, &measured.results(job))?;
    done.alone = measured.second.and_then(|second| second.alone(job, plan.out.as_deref()));
    if plan.output.marks_template && filled_in {
        let file = job.folder.join("marks.csv");
        output::note(&format!("{}: was already there and is kept as it is", file.display()));
    }
    Ok(done)
}

/// A clip that was measured, with the second one of the same strokes.
pub struct MeasuredClip {
    analysis: Analysis,
    second: Option<SecondView>,
}

impl MeasuredClip {
    /// How many strokes it has.
    pub fn strokes(&self) -> usize {
        self.analysis.strokes().len()
    }

    fn results<'a>(&'a self, job: &'a Job) -> Results<'a> {
        let second = self.second.as_ref().and_then(|second| second.combined.as_ref().ok());
        Results { second, ..self.analysis.results(&job.name, &job.details.labels) }
    }
}

/// Measures one clip: from the clip to the folder of its results.
///
/// # Errors
/// Whatever goes wrong; the folder is then as it was.
pub fn measure(
    job: &Job,
    marks: Option<&Marks>,
    wanted: &Output,
    analyser: &mut Analyser,
    observer: &mut dyn Observer,
) -> Result<MeasuredClip> {
    into_folder(job, marks, wanted, analyser, observer).map_err(|error| match error.kind() {
        ErrorKind::Cancelled => Interrupted.into(),
        _ => error,
    })
}

fn into_folder(
    job: &Job,
    marks: Option<&Marks>,
    wanted: &Output,
    analyser: &mut Analyser,
    observer: &mut dyn Observer,
) -> Result<MeasuredClip> {
    let marks = marks.map(|marks| marks.of_clip(&names(job).each_ref().map(String::as_str))).transpose()?;
    if let Some(marks) = marks.as_ref().filter(|marks| marks.is_empty() && job.sha256.is_none()) {
        let file = marks.path().display();
        output::note(&format!("Warning: {}: no line of {file} is about this clip", job.name));
    }
    // Before the work: nobody should wait for results that can't be written, nor find a folder for a clip that isn't one.
    Clip::open(&job.clip, job.details.stated.capture_rate)?;
    let staging = Staging::begin(&job.folder)?;
    let motions = [job.folder.join(MOTION)].into_iter().chain(job.motions.clone()).collect();
    let known = Known {
        sha256: job.sha256.clone(),
        motions,
        stature: job.stature,
        marks: marks.as_ref(),
        ..Known::default()
    };
    let measuring = if wanted.pictures.are_wanted() { MEASURING } else { 1.0 };
    let first = if job.and.is_some() { 0.5 * measuring } else { measuring };
    let mut part = Part::new(observer, 0.0, first);
    let mut analysis = analyser.measure_knowing(&job.clip, &job.details.stated, known, &mut part)?;
    // Its stills show what its own camera sees.
    let mut own = job.and.is_some().then(|| analysis.measures.clone());
    let second = match &job.and {
        Some(clip) => {
            let mut part = Part::new(observer, first, measuring);
            Some(SecondView::measure(clip, job, &mut analysis, analyser, &mut part)?)
        }
        None => None,
    };
    if let (Some(own), Some(Ok(combined))) = (&mut own, second.as_ref().map(|second| &second.combined)) {
        combined.number_first(own, &analysis.measures);
    }
    for warning in &analysis.warnings {
        output::note(&format!("Warning: {}: {warning}", job.name));
    }
    let measured = MeasuredClip { analysis, second };
    let (results, analysis) = (measured.results(job), &measured.analysis);
    let drawn = Results { measures: own.as_ref().unwrap_or(results.measures), ..results };
    let folder = staging.path();
    let (charts, kept) =
        rayon::join(|| write(folder, &results, wanted), || analysis.keep(&folder.join(MOTION)));
    let charts = charts?;
    kept?;
    let next_time = wanted.wants_advice().then(|| NextTime::of(analysis)).flatten();
    let also = wanted.review.as_ref().map(|review| review.pictures_needed(&results)).unwrap_or_default();
    let mut part = Part::new(observer, measuring, 1.0);
    let seen =
        pictures::draw(staging.path(), analysis, &drawn, &wanted.pictures, &also, analyser, &mut part)?;
    if let Some(review) = &wanted.review {
        let second = match &measured.second {
            Some(second) => {
                let blur = wanted.pictures.blur_faces;
                Some(review.second(staging.path(), &results, second, blur, analyser, &mut part)?)
            }
            None => None,
        };
        review.write(
            staging.path(),
            &results,
            &charts,
            &seen,
            second.unwrap_or_default(),
            next_time.as_ref().map(NextTime::sentence),
        )?;
    }
    if let Some(next_time) = next_time.as_ref().filter(|_| wanted.review.is_none()) {
        next_time.write(staging.path())?;
    }
    if let Some(second) = &measured.second {
        second.keep(staging.path())?;
    }
    for (name, text) in &job.beside {
        let path = staging.path().join(name);
        fs::write(&path, text).map_err(|source| table::TableError::Write { path, source })?;
    }
    interrupt::check()?;
    staging.finish()?;
    Ok(measured)
}

/// The file of the kept motion.
pub const MOTION: &str = "motion.bin";

/// By which names marks may mean a clip: its name in the tables and its file's name.
fn names(job: &Job) -> [String; 2] {
    let file = job.clip.file_name().unwrap_or_default().to_string_lossy().into_owned();
    [job.name.clone(), file]
}

/// Writes everything that needs no picture into a clip's folder, and answers with the charts.
fn write(folder: &Path, results: &Results<'_>, wanted: &Output) -> Result<Vec<draw::Chart>> {
    table::write_all(folder, results, wanted.decimal)?;
    if wanted.workbook {
        table::write_workbook(folder, results)?;
    }
    if wanted.marks_template {
        marks::template().write(folder, marks::lines(results), wanted.decimal)?;
    }
    for exchange in &wanted.exchange {
        exchange.write(folder, results)?;
    }
    let charts = draw::charts(results.motion, results.measures)?;
    draw::write_all(&folder.join("charts"), &charts)?;
    Ok(charts)
}

/// Prints a clip's results, or keeps them for the one document at the end.
fn print_results(job: &Job, plan: &Plan, results: &Results<'_>) -> Result<Done> {
    let findings = plan.targets.for_height(results.height_cm()).findings(&results.observed());
    let document = ClipReportJson::of(&job.clip, &job.folder, results, &findings);
    if !plan.json {
        output::print(&summary::of(results, &job.folder, &findings))?;
    }
    for warning in document.warnings() {
        output::note(&format!("Warning: {}: {}", results.clip, output::one_line(warning)));
    }
    Ok(Done { strokes: results.measures.strokes.len(), document, alone: None })
}
