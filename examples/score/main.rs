//! Scores the program against clips whose truth is known.
//!
//! `cargo run --release --example score -- CLIPS [--keep DIR] [--each] [--only NAME]
//! [--held-out DIR] [--look-again] [--told] [--points] [--coarse] [--values FILE]` measures every clip in the folder CLIPS that has a truth file `NAME.json.gz` beside it
//! and prints, per measure and view: number of strokes, bias (median error), spread (median distance of the errors from
//! their clip's median), median and 90th percentile of |error|, share missing with reasons, the share of values whose ±
//! holds the truth, the strain (root mean square of the errors over the standard deviations that their ± stand for: 1 where
//! these are right, more where they are too narrow), and the largest |error| of a value that is to be trusted, graded better
//! than low; the same for the phases; and for contact, by method and rate, what its error moves the hand by and how far the
//! hand's peak speed is off; how far the camera is off; and how often the ± holds the truth by measure, view and grade.
//! The main columns use the true height, one nothing given. With recorded motion in `../mocap`
//! beside CLIPS, strokes are also looked for there. `--keep DIR` keeps followed motions between runs, `--each` adds a line
//! per clip (median error, median ±, grades). `--held-out DIR` takes card and depth network for a player P from DIR/P/models,
//! where they were made without that player. `--look-again` looks for rackets again in spite of what `--keep` kept, as after
//! a change of their network. `--told` gives each clip's hand, kind and view as a person could, so that measures are scored apart
//! from the recognition of strokes. `--values FILE` writes every compared value into a table: clip, contact, view, measure, true and
//! measured value, ± and grade. `--points` also measures each clip with two, three and four points of the court placed in it, and with one of them
//! named wrongly, and prints how far the camera is off then. `--coarse` looks at each clip as at a long one: at single frames first, and
//! at all of them only around strokes.
//!
//! `score --real DIR LABELS` measures clips of one stroke each, labelled by eye, as the program does with nothing given, and
//! prints per class in how many there is exactly one stroke, with the right kind, hand and view, how far contact is off in
//! frames, the kinds found against those labelled, and how far the direction to the net, where lines tell it, is from the one that was read by
//! hand (`tests/court/by_hand.csv`). `score --none DIR` does so with clips in which no stroke may be found.
//!
//! `score --recorded DIR CONTACTS` films recorded takes (BVH) with twelve cameras each, placed at random all around the player, and
//! prints how many of the strokes listed in CONTACTS (written by `scripts/recogniser/takes.py`) are found, with the right kind, hand,
//! volley and number of hands, how far contact is off without sound, and how many strokes are invented.
//!
//! `score --pair FIRST SECOND` measures two clips of the same strokes and prints per measure the errors of each alone and of both together;
//! `score --pairs DIR` films each recorded take in DIR from the side and from elsewhere at once and prints how far the joints are off.
//!
//! `score --season DIR` films each recorded take in DIR with strokes enough for a session many times, each time with another
//! camera at its side, makes seasons of them, and prints in how many of these the player's page tells a change where there is none.

mod ball;
#[path = "../../tests/support/bvh.rs"]
mod bvh;
#[path = "../../tests/court/by_hand.rs"]
mod by_hand;
mod camera;
mod contact;
mod coverage;
mod direction;
#[path = "../../tests/support/film.rs"]
mod film;
mod mocap;
mod pair;
mod points;
mod racket;
mod reader;
mod real;
mod recorded;
mod report;
mod season;
mod truth;
mod unaided;

use std::error::Error;
use std::path::{Path, PathBuf};

use toeline::analyse::{Analyser, Analysis, Known, Method, Unobserved, Way};
use toeline::kept::Followed;
use toeline::measure::clip::{self, ClipMeasures, Stated};
use toeline::model::Places;
use toeline::units::Metres;

use camera::Cameras;
use report::Report;
use truth::Truth;

struct Arguments {
    clips: PathBuf,
    keep: Option<PathBuf>,
    each: bool,
    only: Option<String>,
    planar: bool,
    held_out: Option<PathBuf>,
    look_again: bool,
    told: bool,
    points: bool,
    coarse: bool,
    /// Where every compared value goes.
    values: Option<PathBuf>,
    /// Real clips and the file with their labels.
    real: Option<(PathBuf, PathBuf)>,
    /// Clips without tennis.
    none: Option<PathBuf>,
    recorded: Option<(PathBuf, PathBuf)>,
    /// Recorded takes that make seasons.
    season: Option<PathBuf>,
    /// Two clips of the same strokes.
    pair: Option<(PathBuf, PathBuf)>,
    /// Recorded takes that two cameras film.
    pairs: Option<PathBuf>,
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
        told: false,
        points: false,
        coarse: false,
        values: None,
        real: None,
        none: None,
        recorded: None,
        season: None,
        pair: None,
        pairs: None,
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
            "--recorded" => {
                let folder = words.next().ok_or("--recorded needs a folder and its contacts")?;
                let contacts =
                    words.next().ok_or("--recorded needs the file with the contacts after the folder")?;
                found.recorded = Some((folder.into(), contacts.into()));
            }
            "--pair" => {
                let first = words.next().ok_or("--pair needs two clips")?;
                let second = words.next().ok_or("--pair needs the second clip after the first")?;
                found.pair = Some((first.into(), second.into()));
            }
            "--pairs" => found.pairs = Some(words.next().ok_or("--pairs needs a folder")?.into()),
            "--season" => found.season = Some(words.next().ok_or("--season needs a folder")?.into()),
            "--none" => found.none = Some(words.next().ok_or("--none needs a folder")?.into()),
            "--look-again" => found.look_again = true,
            "--told" => found.told = true,
            "--points" => found.points = true,
            "--coarse" => found.coarse = true,
            "--values" => found.values = Some(words.next().ok_or("--values needs a file")?.into()),
            "--each" => found.each = true,
            "--planar" => found.planar = true,
            _ => found.clips = word.into(),
        }
    }
    let others = found.real.is_some()
        || found.none.is_some()
        || found.recorded.is_some()
        || found.season.is_some()
        || found.pair.is_some()
        || found.pairs.is_some();
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
    if let Some((folder, contacts)) = &arguments.recorded {
        recorded::print(folder, contacts, only, arguments.each)?;
    }
    if let Some((first, second)) = &arguments.pair {
        pair::print([first, second], keep)?;
    }
    if let Some(folder) = &arguments.pairs {
        pair::print_recorded(folder, only)?;
    }
    if let Some(folder) = &arguments.season {
        season::print(folder, only, arguments.each)?;
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
    let way = if arguments.coarse { Way::Coarse } else { Way::default() };
    let method = Method { way, ..Method::default() };
    let mut analyser = Analyser::new(&method)?;
    let (keep, again) = (arguments.keep.as_deref(), arguments.look_again);
    let mut report = Report::new(arguments.each);
    let mut balls = ball::Found::default();
    let mut placed = points::PlacedByHand::new();
    let mut cameras = [Cameras::new("height given"), Cameras::new("nothing given")];
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
        // With `--held-out`, what was fitted and learnt comes from the other players.
        let mut held_out = match &arguments.held_out {
            Some(folder) => {
                let mut places = Places::usual();
                places.folders.insert(0, folder.join(&truth.player));
                Some(Analyser::new(&Method { places, ..method.clone() })?)
            }
            None => None,
        };
        let mut nothing = Stated { planar: arguments.planar, ..Stated::default() };
        if arguments.told {
            state_what_is_known(&truth, &mut nothing);
        }
        let analysis = analysed(path, &nothing, held_out.as_mut().unwrap_or(&mut analyser), keep, again)?;
        let given = Stated { height: Some(Metres(truth.height)), ..nothing.clone() };
        let measured: ClipMeasures = clip::measure(&analysis.motion, &given, &analysis.seen);
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        if arguments.points {
            placed.add(&name, &truth.json, truth.height, &analysis);
        }
        let ungiven = analysis.measures;
        report.add(&name, &truth, &measured, &ungiven);
        for (cameras, measured) in cameras.iter_mut().zip([&measured, &ungiven]) {
            cameras.add(&name, &truth.json, truth.height, measured);
        }
        racket::print(&name, &truth.rackets, &measured, arguments.each);
        balls.add(&name, &truth, &measured);
        if arguments.each {
            let contacts: Vec<f64> = truth.strokes.iter().map(|stroke| stroke.contact).collect();
            racket::print_lag(&truth.json, truth.hand as usize, &contacts, &measured);
        }
    }
    report.print();
    if let Some(file) = &arguments.values {
        report.write_values(file)?;
    }
    cameras.iter().for_each(Cameras::print);
    if arguments.points {
        placed.print();
    }
    balls.print();
    let real = arguments.clips.join("../real-forehand-front");
    if arguments.only.as_ref().is_none_or(|only| "real-forehand-front".contains(only.as_str()))
        && real.exists()
    {
        let clip = real.join("clip.mp4");
        let truth = racket::of_labels(&real.join("racket_labels.csv"))?;
        let measured = analysed(&clip, &Stated::default(), &mut analyser, keep, again)?.measures;
        racket::print("real-forehand-front", &truth, &measured, true);
        ball::describe(&measured);
    }
    let recorded = arguments.clips.join("../mocap");
    if arguments.only.is_none() && recorded.join("peaks.csv").exists() {
        mocap::print(&recorded)?;
    }
    Ok(())
}

/// Gives what a person could say of a clip: hand, view, and the kind where all strokes have one.
fn state_what_is_known(truth: &Truth, given: &mut Stated) {
    given.hand = Some(truth.hand);
    given.direction.view = Some(truth.seen_from());
    let mut kinds = truth.strokes.iter().map(|stroke| stroke.kind());
    given.corrections.kind = kinds.next().filter(|first| kinds.all(|kind| kind == *first));
}

fn truth_file(clip: &Path) -> PathBuf {
    clip.with_extension("json.gz")
}

fn kept_file(folder: &Path, clip: &Path) -> PathBuf {
    folder.join(clip.file_stem().unwrap_or_default()).with_extension("bin")
}

/// Measures a clip, from what an earlier run has kept in the folder `keep` where it can be used; `again` looks for racket,
/// ball and lines again all the same.
fn analysed(
    path: &Path,
    stated: &Stated,
    analyser: &mut Analyser,
    keep: Option<&Path>,
    again: bool,
) -> Result<Analysis, Box<dyn Error>> {
    let keep = keep.map(|folder| kept_file(folder, path));
    let mut followed = keep.as_deref().and_then(|file| Followed::load_any(file).ok()).map(|(kept, _)| kept);
    if let Some(followed) = &mut followed {
        // These networks may be others.
        followed.depths.clear();
        followed.chances.clear();
        if again {
            followed.rackets.clear();
            followed.balls.clear();
            followed.lines.clear();
            followed.uprights.clear();
        }
    } else {
        eprintln!("following {}", path.display());
    }
    let known = Known { followed, ..Known::default() };
    let analysis = analyser.measure_knowing(path, stated, known, &mut Unobserved)?;
    if let Some(file) = keep {
        analysis.keep(&file)?;
    }
    Ok(analysis)
}
