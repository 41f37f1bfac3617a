//! `toeline measure`: from clips to folders of results.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use anyhow::{Context, Result};

use super::exit::{Exit, UsageError};
use super::interrupt::{self, Stoppable};
use super::networks::{Networks, runtime_build};
use super::plan::{Job, Output, Plan};
use super::progress::Progress;
use super::report::{self, ClipReportJson};
use super::{output, pictures, summary};
use crate::ball::Looker;
use crate::draw;
use crate::kept::Followed;
use crate::measure::clip::{Given, Unmeasured};
use crate::page::CAUTIONS;
use crate::pose::{Choice, Motion, NoSubject, Settings, Track, follow_clip};
use crate::sound::Heard;
use crate::table::marks::{self, Marks};
use crate::table::{self, Results, Staging};
use crate::video::{Clip, ClipInfo, ClipReport, Sound};

/// Measures every clip of a plan.
///
/// # Errors
/// For one clip, whatever went wrong; for several, only what stops all of them.
pub fn run(plan: &Plan) -> Result<Exit> {
    interrupt::listen();
    let several = plan.jobs.len() > 1;
    let mut networks = Networks::describe(&plan.model, 1)?;
    let mut documents = Vec::new();
    let (mut failed, mut with_strokes) = (0, 0);
    for job in &plan.jobs {
        match measure_and_tell(job, plan, &mut networks) {
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

fn measure_and_tell(job: &Job, plan: &Plan, networks: &mut Networks) -> Result<Done> {
    let mut progress = None;
    let mut watch = |done: usize, info: &ClipInfo| {
        progress.get_or_insert_with(|| Progress::new(&job.name, expected_frames(info), plan.quiet)).at(done);
    };
    let filled_in = job.folder.join("marks.csv").exists();
    let done = measure(job, plan.marks.as_ref(), &plan.output, networks, &mut watch, |results| {
        tell(job, plan, results)
    })?;
    if plan.output.marks_template && filled_in {
        let file = job.folder.join("marks.csv");
        output::note(&format!("{}: was there already and is left as it is", file.display()));
    }
    Ok(done)
}

/// Hears how many pictures of a clip have been looked at.
pub type Watch<'w> = dyn FnMut(usize, &ClipInfo) + 'w;

/// Measures one clip: from the clip to the folder of its results. `watch` hears how many pictures have been looked at;
/// `tell` gets the results once they are written.
///
/// # Errors
/// Whatever goes wrong; the folder is then as it was.
pub fn measure<T>(
    job: &Job,
    marks: Option<&Marks>,
    how: &Output,
    networks: &mut Networks,
    watch: &mut Watch<'_>,
    tell: impl FnOnce(&Results<'_>) -> Result<T>,
) -> Result<T> {
    let said = &job.said;
    let clip = Clip::open(&job.clip, said.capture_rate)?;
    let info = clip.info().clone();
    let names = names(job);
    let marks = marks.map(|marks| marks.of_clip(&names.each_ref().map(String::as_str))).transpose()?;
    if let Some(marks) = marks.as_ref().filter(|marks| marks.is_empty() && job.sha256.is_none()) {
        let file = marks.path().display();
        output::note(&format!("Warning: {}: no line of {file} corrects anything in it", job.name));
    }
    // Before the work: nobody should wait for results that can't be written.
    let staging = Staging::begin(&job.folder)?;
    let sha256 = match &job.sha256 {
        Some(known) => known.clone(),
        None => table::sha256(&job.clip)?,
    };
    let settings = motion_settings(&sha256, &info, networks);
    let mut followed = match kept(job, &settings) {
        Some(followed) => followed,
        None => follow(clip, networks, &job.name, watch)?,
    };
    let seen = followed.people().candidates.iter().filter(|candidate| candidate.seen > 0.0).count();
    let subject = marks.as_ref().and_then(|marks| marks.subject_place()).or(said.subject);
    let choice = marks.as_ref().and_then(|marks| marks.subject(info.capture_rate));
    let choice = choice.or(said.subject.map(Choice::At)).unwrap_or(Choice::Swinging);
    let (person, motion) = subject_of(&followed, &info, choice)
        .map_err(|error| UsageError(format!("{}: {error}; correct --subject", job.name)))?;
    let sound = listen(&info, &followed.report, said.given.shadow);
    let corrections = marks.as_ref().map(|marks| marks.corrections(&motion)).transpose()?.unwrap_or_default();
    let mut given = Given {
        equivalent_mm: info.focal_length_35mm,
        body: networks.body.clone(),
        sound: sound.as_ref().ok().cloned(),
        corrections,
        ..said.given.clone()
    };
    let tell_seen = |given: &mut Given, followed: &Followed| {
        given.racket = person.and_then(|person| followed.rackets.get(&person).cloned());
        given.balls = person.and_then(|person| followed.balls.get(&person).cloned());
    };
    tell_seen(&mut given, &followed);
    let mut strokes = Unmeasured::of(&motion, &given);
    let mut left_out = None;
    if let Some(person) = person {
        let look = look_again(job, person, &motion, &strokes, &mut followed, networks)?;
        tell_seen(&mut given, &followed);
        match look {
            Look::Known => {}
            Look::LeftOut(warning) => left_out = Some(warning),
            // A ball that is seen moves the contact.
            Look::New => strokes = Unmeasured::of(&motion, &given),
        }
    }
    let measures = strokes.measure(&motion, &given);
    if let Some(marks) = &marks {
        marks.check(&given.corrections, &measures)?;
    }
    if let Some(warning) = left_out {
        output::note(&warning);
    }
    let (model, detectors) = (networks.model.clone(), networks.detectors.clone());
    let results = Results {
        clip: &job.name,
        sha256: &sha256,
        info: &info,
        report: &followed.report,
        no_sound: sound.as_ref().err().map(String::as_str),
        labels: &said.labels,
        given: &given,
        capture_rate_given: said.capture_rate.is_some(),
        subject,
        people: seen,
        model: &model,
        detectors: &detectors,
        runtime: &followed.runtime,
        motion: &motion,
        measures: &measures,
    };
    let charts = write(staging.path(), &results, how)?;
    let also = how.review.as_ref().map(|review| review.pictures_needed(&results)).unwrap_or_default();
    let heads = pictures::heads(job, &followed, &how.pictures, networks)?;
    let seen = pictures::draw(staging.path(), job, &results, &how.pictures, heads.as_ref(), &also, watch)?;
    if let Some(review) = &how.review {
        review.write(staging.path(), &results, &charts, &seen)?;
    }
    followed.save(&staging.path().join(MOTION), &settings)?;
    for (name, text) in &job.beside {
        let path = staging.path().join(name);
        fs::write(&path, text).map_err(|source| table::TableError::Write { path, source })?;
    }
    interrupt::check()?;
    staging.finish()?;
    tell(&results)
}

/// The file of the kept motion.
pub const MOTION: &str = "motion.bin";

/// By which names marks may mean a clip: its name in the tables and its file's name.
fn names(job: &Job) -> [String; 2] {
    let file = job.clip.file_name().unwrap_or_default().to_string_lossy().into_owned();
    [job.name.clone(), file]
}

/// Writes everything that needs no picture into a clip's folder, and answers with the charts.
fn write(folder: &Path, results: &Results<'_>, how: &Output) -> Result<Vec<draw::Chart>> {
    table::write_all(folder, results, how.decimal)?;
    if how.workbook {
        table::write_workbook(folder, results)?;
    }
    if how.marks_template {
        marks::template().write(folder, marks::lines(results), how.decimal)?;
    }
    for exchange in &how.exchange {
        exchange.write(folder, results)?;
    }
    let charts = draw::charts(results.motion, results.measures)?;
    draw::write_all(&folder.join("charts"), &charts)?;
    Ok(charts)
}

/// Everything that a kept motion depends on: measuring again uses it only where all of this is the same.
fn motion_settings(sha256: &str, info: &ClipInfo, networks: &Networks) -> String {
    format!("clip {sha256} capture {} networks {}", info.capture_rate, networks.fingerprint())
}

/// What was kept of the clip, if it was measured before with all that matters the same. A file that can't be used is no
/// reason to stop: the clip is looked at again.
fn kept(job: &Job, settings: &str) -> Option<Followed> {
    let own = job.folder.join(MOTION);
    [&own].into_iter().chain(&job.motions).find_map(|file| Followed::load(file, settings).ok())
}

fn follow(clip: Clip, networks: &mut Networks, name: &str, watch: &mut Watch<'_>) -> Result<Followed> {
    let info = clip.info().clone();
    let models = networks.models()?;
    let mut frames = clip.frames()?;
    let followed =
        follow_clip(&mut Stoppable(&mut frames), models, Settings::default(), |done| watch(done, &info));
    interrupt::check()?;
    let people = followed.with_context(|| format!("{name}: the player could not be followed"))?;
    let tracks: Vec<Track> = people.candidates.into_iter().map(|candidate| candidate.track).collect();
    let lifter = networks.lifter()?;
    let depths = tracks.iter().map(|track| lifter.depths(track)).collect::<Result<_, _>>()?;
    let (rackets, balls) = (BTreeMap::new(), BTreeMap::new());
    Ok(Followed { tracks, depths, rackets, report: frames.report(), runtime: runtime_build(), balls })
}

/// What another look at the clip's pictures has brought.
enum Look {
    /// Nothing: what there is to see was seen before.
    Known,
    /// Nothing: it could not be had, as the warning says.
    LeftOut(String),
    /// More of racket and ball.
    New,
}

/// Looks for racket and ball in the strokes in which nobody has looked for them yet: the clip is read again for that, because
/// before its strokes are known most of it would be looked at in vain.
fn look_again(
    job: &Job,
    person: usize,
    motion: &Motion,
    strokes: &Unmeasured,
    followed: &mut Followed,
    networks: &mut Networks,
) -> Result<Look> {
    let seen = followed.rackets.entry(person).or_default();
    let balls = followed.balls.entry(person).or_default();
    let wanted = strokes.to_look_at(motion, seen);
    let mut looker = Looker::new(motion, &strokes.to_watch(balls));
    if wanted.is_empty() && !looker.is_waiting() {
        return Ok(Look::Known);
    }
    let from_kept = !networks.is_loaded();
    let finder = match networks.finder() {
        Ok(finder) => finder,
        // What was kept can be measured again without any network, then without the racket in strokes that are new.
        Err(error) if from_kept => {
            let left_out = "the racket was not looked for in some strokes";
            return Ok(Look::LeftOut(format!("Warning: {}: {left_out}: {error}", job.name)));
        }
        Err(error) => return Err(error.into()),
    };
    let mut frames = Clip::open(&job.clip, job.said.capture_rate)?.frames()?;
    let mut frames = Stoppable(&mut frames);
    let found = finder.look_through(looker.beside(&mut frames), motion, &wanted);
    let found = found.and_then(|found| Ok((found, looker.look_on(&mut frames)?)));
    interrupt::check()?;
    let (rackets, watches) =
        found.with_context(|| format!("{}: racket and ball could not be looked for", job.name))?;
    seen.join(rackets);
    balls.join(watches);
    Ok(Look::New)
}

/// What there is to hear in the clip, or why nothing is listened to.
fn listen(info: &ClipInfo, report: &ClipReport, shadow: bool) -> std::result::Result<Heard, String> {
    if shadow {
        return Err("shadow swings have no hits".to_owned());
    }
    let sound = Sound::read(info, report).map_err(|reason| reason.to_string())?;
    Heard::listen(&sound).ok_or_else(|| "the sound track is silent".to_owned())
}

/// The player among those who were followed, and their motion; without any picture where nobody was seen.
fn subject_of(
    followed: &Followed,
    info: &ClipInfo,
    choice: Choice,
) -> Result<(Option<usize>, Motion), NoSubject> {
    let subject = match followed.people().subject(choice) {
        Ok(index) => Some(index),
        Err(NoSubject::Nobody) => None,
        Err(error) => return Err(error),
    };
    let nobody = || Track { size: (info.width, info.height), frames: Vec::new() };
    let motion = subject.and_then(|index| followed.motion(index));
    Ok((subject, motion.unwrap_or_else(|| Motion::from_track(&nobody()))))
}

/// Prints a clip's results, or keeps them for the one document at the end.
fn tell(job: &Job, plan: &Plan, results: &Results<'_>) -> Result<Done> {
    let findings = plan.targets.findings(&results.observed());
    let document = ClipReportJson::of(&job.clip, &job.folder, results, &findings);
    if !plan.json {
        output::print(&summary::of(results, &job.folder, &findings))?;
    }
    for warning in document.warnings() {
        output::note(&format!("Warning: {}: {}", results.clip, output::one_line(warning)));
    }
    Ok(Done { strokes: results.measures.strokes.len(), document })
}

/// How many pictures a clip should have, by what it says of itself.
pub fn expected_frames(info: &ClipInfo) -> Option<u64> {
    let by_duration = || {
        let duration = info.stated_duration?.0;
        Some((duration * info.stored_rate).round() as u64).filter(|frames| *frames > 0)
    };
    info.stated_frames.or_else(by_duration)
}
