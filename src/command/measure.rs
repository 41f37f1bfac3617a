//! `toeline measure`: from clips to folders of results.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::exit::{Exit, UsageError};
use super::interrupt::{self, Stoppable};
use super::networks::Networks;
use super::plan::{Job, Plan};
use super::progress::Progress;
use super::report::{self, ClipReportJson};
use super::{output, summary};
use crate::draw;
use crate::measure::clip::{self, Given};
use crate::pose::{Choice, Motion, NoSubject, People, Settings, Track, follow_clip};
use crate::sound::Heard;
use crate::table::{self, Results, Staging};
use crate::target::Observed;
use crate::video::{Clip, ClipInfo, ClipReport, Sound};

/// Said once a run, in the program's own words; the README says the same.
pub const CAUTIONS: [&str; 3] = [
    "The numbers describe movement in one camera's view. They diagnose nothing and prescribe nothing, and a larger lag \
     angle is no goal in itself.",
    "If hitting hurts, stop; see a doctor when the pain is strong or stays, or comes with numbness or swelling.",
    "Film under-18s only with their and a parent's agreement; keep clips private and delete them when done.",
];

/// Measures every clip of a plan.
///
/// # Errors
/// For one clip, whatever went wrong; for several, only what stops all of them.
pub fn run(plan: &Plan) -> Result<Exit> {
    interrupt::listen();
    let several = plan.jobs.len() > 1;
    let mut networks = None;
    let mut documents = Vec::new();
    let (mut failed, mut with_strokes) = (0, 0);
    for job in &plan.jobs {
        match measure(job, plan, &mut networks) {
            Ok(done) => {
                with_strokes += usize::from(done.strokes > 0);
                documents.push(done.document);
            }
            // Without networks, or when the user wants to stop, the other clips won't do any better.
            Err(error) if !several || matches!(Exit::of(&error), Exit::Interrupted | Exit::Model) => {
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
}

fn measure(job: &Job, plan: &Plan, networks: &mut Option<Networks>) -> Result<Done> {
    let clip = Clip::open(&job.clip, plan.capture_rate)?;
    let info = clip.info().clone();
    let name = clip_name(&job.clip);
    // Before the work: nobody should wait for results that can't be written.
    let staging = Staging::begin(&job.folder)?;
    let networks = match networks {
        Some(networks) => networks,
        None => networks.insert(Networks::load(&plan.model)?),
    };
    let sha256 = table::sha256(&job.clip)?;
    let (people, report) = follow(clip, networks, &name, plan.quiet)?;
    let seen = people.candidates.iter().filter(|candidate| candidate.seen > 0.0).count();
    let track = subject(people, &info, plan.subject)
        .map_err(|error| UsageError(format!("{name}: {error}; correct --subject")))?;
    let mut motion = Motion::from_track(&track);
    networks.lifter.lift(&mut motion)?;
    let sound = listen(&info, &report, plan.given.shadow);
    let given = Given {
        equivalent_mm: info.focal_length_35mm,
        body: networks.body.clone(),
        sound: sound.as_ref().ok().cloned(),
        ..plan.given.clone()
    };
    let measures = clip::measure(&motion, &given);
    let results = Results {
        clip: &name,
        sha256: &sha256,
        info: &info,
        report: &report,
        no_sound: sound.as_ref().err().map(String::as_str),
        labels: &plan.labels,
        given: &given,
        capture_rate_given: plan.capture_rate.is_some(),
        subject: plan.subject,
        people: seen,
        model: &networks.model,
        detectors: &networks.detectors,
        runtime: &networks.runtime,
        motion: &motion,
        measures: &measures,
    };
    write(staging.path(), &results, &track, &networks.fingerprint())?;
    interrupt::check()?;
    staging.finish()?;
    tell(job, plan, &results)
}

/// Writes everything into a clip's folder.
fn write(folder: &Path, results: &Results<'_>, track: &Track, networks: &str) -> Result<()> {
    table::write_all(folder, results)?;
    draw::write_all(&folder.join("charts"), results.motion, results.measures)?;
    track.save(&folder.join("motion.bin"), &motion_settings(results, networks))?;
    Ok(())
}

/// Everything that a kept motion depends on: measuring again may use it only where all of this is the same.
fn motion_settings(results: &Results<'_>, networks: &str) -> String {
    let subject = results.subject.map_or_else(|| "swinging".to_owned(), |p| format!("{},{}", p.x, p.y));
    format!(
        "clip {} capture {} subject {subject} networks {networks}",
        results.sha256, results.info.capture_rate
    )
}

fn follow(clip: Clip, networks: &mut Networks, name: &str, quiet: bool) -> Result<(People, ClipReport)> {
    let total = expected_frames(clip.info());
    let mut progress = Progress::new(name, total, quiet);
    let mut frames = clip.frames()?;
    let followed =
        follow_clip(&mut Stoppable(&mut frames), &mut networks.models, Settings::default(), |done| {
            progress.at(done)
        });
    progress.end();
    interrupt::check()?;
    let people = followed.with_context(|| format!("{name}: the player could not be followed"))?;
    Ok((people, frames.report()))
}

/// What there is to hear in the clip, or why nothing is listened to.
fn listen(info: &ClipInfo, report: &ClipReport, shadow: bool) -> std::result::Result<Heard, String> {
    if shadow {
        return Err("shadow swings have no hits".to_owned());
    }
    let sound = Sound::read(info, report).map_err(|reason| reason.to_string())?;
    Heard::listen(&sound).ok_or_else(|| "the sound track is silent".to_owned())
}

/// The track of the player; without any picture where nobody was seen.
fn subject(
    mut people: People,
    info: &ClipInfo,
    place: Option<crate::geometry::Point2>,
) -> Result<Track, NoSubject> {
    match people.subject(place.map_or(Choice::Swinging, Choice::At)) {
        Ok(index) => Ok(people.candidates.swap_remove(index).track),
        Err(NoSubject::Nobody) => Ok(Track { size: (info.width, info.height), frames: Vec::new() }),
        Err(error) => Err(error),
    }
}

/// Prints a clip's results, or keeps them for the one document at the end.
fn tell(job: &Job, plan: &Plan, results: &Results<'_>) -> Result<Done> {
    let document = ClipReportJson::of(&job.clip, &job.folder, results);
    if !plan.json {
        let drill = results.labels.drill.map(table::Drill::name);
        let observed: Vec<_> =
            results.measures.strokes.iter().map(|stroke| Observed::of(stroke, None, drill)).collect();
        output::print(&summary::of(results, &job.folder, &plan.targets.findings(&observed)))?;
    }
    for warning in document.warnings() {
        output::note(&format!("Warning: {}: {}", results.clip, output::one_line(warning)));
    }
    Ok(Done { strokes: results.measures.strokes.len(), document })
}

/// How many pictures a clip should have, by what it says of itself.
fn expected_frames(info: &ClipInfo) -> Option<u64> {
    let by_duration = || {
        let duration = info.stated_duration?.0;
        Some((duration * info.stored_rate).round() as u64).filter(|frames| *frames > 0)
    };
    info.stated_frames.or_else(by_duration)
}

fn clip_name(path: &Path) -> String {
    let name: PathBuf = path.file_name().map_or_else(|| path.to_owned(), PathBuf::from);
    output::one_line(&name.to_string_lossy())
}
