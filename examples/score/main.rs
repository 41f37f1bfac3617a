//! Scores the program against clips whose truth is known.
//!
//! `cargo run --release --example score -- CLIPS [--keep DIR] [--each] [--only NAME]
//! [--held-out DIR] [--look-again]` measures every clip in the folder CLIPS that has a truth file `NAME.json.gz` beside it
//! and prints, per measure and view: number of strokes, bias (median error), spread (median distance of the errors from
//! their clip's median), median and 90th percentile of |error|, share missing with reasons, the share of values whose ±
//! holds the truth, the strain (root mean square of the errors over the standard deviations that their ± stand for: 1 where
//! these are right, more where they are too narrow), and the largest |error| of a value that is to be trusted, graded better
//! than low; the same for the phases; and for contact, by method and rate, what its error moves the hand by and how far the
//! hand's peak speed is off. The main columns use the true height, one nothing given. With recorded motion in `../mocap`
//! beside CLIPS, strokes are also looked for there. `--keep DIR` keeps followed motions between runs, `--each` adds a line
//! per clip (median error, median ±, grades). `--held-out DIR` takes card and depth network for a player P from DIR/P/models,
//! where they were made without that player. `--look-again` looks for rackets again in spite of what `--keep` kept, as after
//! a change of their network.
//!
//! `score --real DIR LABELS` measures clips of one stroke each, labelled by eye, as the program does with nothing given, and
//! prints per class in how many there is exactly one stroke, with the right kind, hand and view, how far contact is off in
//! frames, and the kinds found against those labelled. `score --none DIR` does so with clips in which no stroke may be found.

mod ball;
#[path = "../../tests/support/bvh.rs"]
mod bvh;
mod contact;
mod mocap;
mod racket;
mod real;
mod report;
mod truth;
mod unaided;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};

use toeline::ball::Looker;
use toeline::kept::Followed;
use toeline::measure::clip::{self, ClipMeasures, Given, Unmeasured};
use toeline::model::Places;
use toeline::pose::subject::Choice;
use toeline::pose::{Lifter, Models, Motion, Settings, Track, follow_clip};
use toeline::racket::Finder;
use toeline::scene::BodyPrior;
use toeline::sound::Heard;
use toeline::units::Metres;
use toeline::video::{Clip, ClipReport, Sound};

use report::Report;
use truth::Truth;

/// The pose model that is scored.
const MODEL: &str = "pose_landmark_full";

struct Arguments {
    clips: PathBuf,
    keep: Option<PathBuf>,
    each: bool,
    only: Option<String>,
    planar: bool,
    held_out: Option<PathBuf>,
    look_again: bool,
    /// Real clips and the file with their labels.
    real: Option<(PathBuf, PathBuf)>,
    /// Clips without tennis.
    none: Option<PathBuf>,
}

fn arguments() -> Result<Arguments, Box<dyn Error>> {
    let mut found = Arguments {
        clips: PathBuf::new(),
        keep: None,
        each: false,
        only: None,
        planar: false,
        held_out: None,
        look_again: false,
        real: None,
        none: None,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--keep" => found.keep = Some(words.next().ok_or("--keep needs a folder")?.into()),
            "--held-out" => found.held_out = Some(words.next().ok_or("--held-out needs a folder")?.into()),
            "--only" => found.only = Some(words.next().ok_or("--only needs a clip's name")?),
            "--real" => {
                let folder = words.next().ok_or("--real needs a folder and its labels")?;
                let labels = words.next().ok_or("--real needs the file with the labels after the folder")?;
                found.real = Some((folder.into(), labels.into()));
            }
            "--none" => found.none = Some(words.next().ok_or("--none needs a folder")?.into()),
            "--look-again" => found.look_again = true,
            "--each" => found.each = true,
            "--planar" => found.planar = true,
            _ => found.clips = word.into(),
        }
    }
    let others = found.real.is_some() || found.none.is_some();
    if found.clips.as_os_str().is_empty() && !others {
        return Err("give the folder with the clips and their truth files".into());
    }
    Ok(found)
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments = arguments()?;
    let (keep, only) = (arguments.keep.as_deref(), arguments.only.as_deref());
    if let Some((folder, labels)) = &arguments.real {
        real::print(folder, labels, keep, only, arguments.each)?;
    }
    if let Some(folder) = &arguments.none {
        real::print_none(folder, keep, only)?;
    }
    if arguments.clips.as_os_str().is_empty() { Ok(()) } else { score(&arguments) }
}

/// Scores clips that have a truth file.
fn score(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(folder) = &arguments.keep {
        std::fs::create_dir_all(folder)?;
    }
    let places = Places::usual();
    let mut models = None;
    let mut finder = Finder::load(&places, 2)?;
    let mut report = Report::new(arguments.each);
    let mut balls = ball::Found::default();
    let mut names: Vec<PathBuf> = std::fs::read_dir(&arguments.clips)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "mp4"))
        .filter(|path| truth_file(path).exists())
        .filter(|path| {
            arguments.only.as_ref().is_none_or(|only| path.to_string_lossy().contains(only.as_str()))
        })
        .collect();
    names.sort();
    for path in &names {
        let truth = Truth::read(&truth_file(path))?;
        let mut kept = followed(path, arguments.keep.as_deref(), &places, &mut models)?;
        let track = kept.tracks.remove(0);
        // With `--held-out`, what was fitted and learnt comes from the other players.
        let places = match &arguments.held_out {
            Some(folder) => {
                let mut held_out = places.clone();
                held_out.folders.insert(0, folder.join(&truth.player));
                held_out
            }
            None => places.clone(),
        };
        let body = BodyPrior::from_card(&places.card(MODEL)?)?;
        let mut motion = Motion::from_track(&track);
        Lifter::load(&places)?.lift(&mut motion)?;
        let sound = listen(path, &track)?;
        let mut nothing = Given { body: body.clone(), planar: arguments.planar, sound, ..Given::default() };
        let kept_racket = kept.rackets.remove(&0).filter(|_| !arguments.look_again);
        let kept_balls = kept.balls.remove(&0).filter(|_| !arguments.look_again);
        nothing.racket = Some(kept_racket.unwrap_or_default());
        nothing.balls = Some(kept_balls.unwrap_or_default());
        look(path, &motion, &mut nothing, &mut finder)?;
        if let Some(folder) = &arguments.keep {
            let rackets = nothing.racket.iter().map(|racket| (0, racket.clone())).collect();
            let balls = nothing.balls.iter().map(|balls| (0, balls.clone())).collect();
            let kept = Followed { tracks: vec![track.clone()], rackets, balls, ..kept };
            kept.save(&kept_file(folder, path), MODEL)?;
        }
        let given = Given { height: Some(Metres(truth.height)), ..nothing.clone() };
        let measured: ClipMeasures = clip::measure(&motion, &given);
        let ungiven = clip::measure(&motion, &nothing);
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        report.add(&name, &truth, &measured, &ungiven);
        racket::print(&name, &truth.rackets, &measured, arguments.each);
        balls.add(&name, &truth, &measured);
        if arguments.each {
            let contacts: Vec<f64> = truth.strokes.iter().map(|stroke| stroke.contact).collect();
            racket::print_lag(&truth.json, truth.hand as usize, &contacts, &measured);
        }
    }
    report.print();
    balls.print();
    let real = arguments.clips.join("../real-forehand-front");
    if arguments.only.as_ref().is_none_or(|only| "real-forehand-front".contains(only.as_str()))
        && real.exists()
    {
        let clip = real.join("clip.mp4");
        let track = followed(&clip, arguments.keep.as_deref(), &places, &mut models)?.tracks.remove(0);
        let mut motion = Motion::from_track(&track);
        Lifter::load(&places)?.lift(&mut motion)?;
        let body = BodyPrior::from_card(&places.card(MODEL)?)?;
        let mut given = Given { body, ..Given::default() };
        look(&clip, &motion, &mut given, &mut finder)?;
        let truth = racket::of_labels(&real.join("racket_labels.csv"))?;
        let measured = clip::measure(&motion, &given);
        racket::print("real-forehand-front", &truth, &measured, true);
        ball::describe(&measured);
    }
    let recorded = arguments.clips.join("../mocap");
    if arguments.only.is_none() && recorded.join("peaks.csv").exists() {
        mocap::print(&recorded)?;
    }
    Ok(())
}

fn truth_file(clip: &Path) -> PathBuf {
    clip.with_extension("json.gz")
}

/// What there is to hear in a clip, whose pictures may have been followed in an earlier run.
fn listen(path: &Path, track: &Track) -> Result<Option<Heard>, Box<dyn Error>> {
    let clip = Clip::open(path, None)?;
    let stored_end = track.frames.last().map(|frame| frame.time).unwrap_or_default();
    let report = ClipReport { stored_end, ..ClipReport::default() };
    Ok(Sound::read(clip.info(), &report).ok().and_then(|sound| Heard::listen(&sound)))
}

/// Whether there are strokes in which nobody has looked for racket or ball.
fn is_anything_unseen(motion: &Motion, given: &Given) -> bool {
    let strokes = Unmeasured::of(motion, given);
    let racket = given.racket.clone().unwrap_or_default();
    let balls = given.balls.clone().unwrap_or_default();
    !strokes.to_look_at(motion, &racket).is_empty() || !strokes.to_watch(&balls).is_empty()
}

/// Looks for racket and ball in the strokes in which nobody has looked.
fn look(path: &Path, motion: &Motion, given: &mut Given, finder: &mut Finder) -> Result<(), Box<dyn Error>> {
    let strokes = Unmeasured::of(motion, given);
    let racket = given.racket.get_or_insert_default();
    let balls = given.balls.get_or_insert_default();
    let wanted = strokes.to_look_at(motion, racket);
    let mut looker = Looker::new(motion, &strokes.to_watch(balls));
    if !wanted.is_empty() || looker.is_waiting() {
        let mut frames = Clip::open(path, None)?.frames()?;
        racket.join(finder.look_through(looker.beside(&mut frames), motion, &wanted)?);
        balls.join(looker.look_on(&mut frames)?);
    }
    Ok(())
}

fn kept_file(folder: &Path, clip: &Path) -> PathBuf {
    folder.join(clip.file_stem().unwrap_or_default()).with_extension("bin")
}

/// The subject's track: kept from an earlier run, or followed now.
fn followed(
    path: &Path,
    keep: Option<&Path>,
    places: &Places,
    models: &mut Option<Models>,
) -> Result<Followed, Box<dyn Error>> {
    if let Some(folder) = keep
        && let Ok((kept, _)) = Followed::load_any(&kept_file(folder, path))
        && !kept.tracks.is_empty()
    {
        return Ok(kept);
    }
    eprintln!("following {}", path.display());
    let models = match models {
        Some(models) => models,
        None => models.insert(Models::load(places, MODEL, 2)?),
    };
    let mut frames = Clip::open(path, None)?.frames()?;
    let mut people = follow_clip(&mut frames, models, Settings::default(), |_| {})?;
    let subject = people.subject(Choice::Swinging)?;
    let track = people.candidates.swap_remove(subject).track;
    Ok(Followed {
        tracks: vec![track],
        depths: Vec::new(),
        rackets: BTreeMap::new(),
        report: frames.report(),
        runtime: String::new(),
        balls: BTreeMap::new(),
    })
}
