//! Scores the reading of the court's lines: `cargo run --release --example court -- CLIPS [--draw DIR] [--only NAME]`.
//!
//! Of clips with their truth beside them (`NAME.json.gz`) the errors of direction, pitch, roll, focal length and height are
//! printed with their ±; the player's true landmarks stand in for the followed ones. `score --real` compares clips without a truth with
//! directions that were read by hand.

mod overlay;
mod report;
mod truth;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::Instant;

use report::Report;
use toeline::court::{Assumptions, Camera, Empty, Hidden, Shot, Standing, read};
use toeline::geometry::Point2;
use toeline::video::Clip;

/// Pictures that are looked at, spread over the clip.
const PICTURES: usize = 11;

struct Arguments {
    clips: PathBuf,
    draw: Option<PathBuf>,
    only: Option<String>,
}

fn arguments() -> Result<Arguments, Box<dyn Error>> {
    let mut found = Arguments { clips: PathBuf::new(), draw: None, only: None };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        match word.as_str() {
            "--draw" => found.draw = Some(value()?.into()),
            "--only" => found.only = Some(value()?),
            _ => found.clips = word.into(),
        }
    }
    if found.clips.as_os_str().is_empty() {
        return Err("give the folder with the clips".into());
    }
    Ok(found)
}

/// Where people are in a picture, and the player's feet and nose.
type Seen = (Vec<Hidden>, Option<[Point2; 2]>);

/// The pictures of a clip that are looked at, with who is in them.
fn shots(path: &Path, wanted: &[usize], seen: impl Fn(usize) -> Seen) -> Result<Vec<Shot>, Box<dyn Error>> {
    let mut shots = Vec::new();
    for frame in Clip::open(path, None)?.frames()? {
        let frame = frame?;
        if wanted.contains(&frame.index.0) {
            let (people, player) = seen(frame.index.0);
            shots.push(Shot { frame: frame.index, picture: frame.picture, people, player });
        }
    }
    Ok(shots)
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments = arguments()?;
    if let Some(folder) = &arguments.draw {
        std::fs::create_dir_all(folder)?;
    }
    let wanted = |name: &str| arguments.only.as_ref().is_none_or(|only| name.contains(only.as_str()));
    let mut report = Report::default();
    let mut names: Vec<PathBuf> =
        std::fs::read_dir(&arguments.clips)?.filter_map(|entry| Some(entry.ok()?.path())).collect();
    names.sort();
    for path in names.iter().filter(|path| path.extension().is_some_and(|e| e == "mp4")) {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let Some(truth) = truth::Truth::read(&path.with_extension("json.gz"))? else { continue };
        if !wanted(&name) {
            continue;
        }
        let empty = Empty::of(&shots(path, &truth.wanted(), |frame| truth.seen(frame))?);
        let Some(empty) = empty else { continue };
        let camera = truth.camera(empty.frame);
        look(&name, &empty, &mut report, &camera, &arguments)?;
    }
    report.print();
    Ok(())
}

/// Reads one court and adds what came out.
fn look(
    name: &str,
    empty: &Empty,
    report: &mut Report,
    truth: &Camera,
    arguments: &Arguments,
) -> Result<(), Box<dyn Error>> {
    let begin = Instant::now();
    let standing = empty.player.map(|[foot, head]| Standing::unknown(foot, head));
    let size = (empty.picture.width, empty.picture.height);
    let reading = read(empty, standing, &Assumptions::of_size(size));
    report.add(name, &reading, truth, begin.elapsed().as_secs_f64());
    if let Some(folder) = &arguments.draw {
        overlay::draw(empty, &reading).save(folder.join(name).with_extension("png"))?;
    }
    Ok(())
}
