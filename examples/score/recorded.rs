//! Strokes of recorded players through cameras all around them: found, named, timed, without sound.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use toeline::measure::clip::{MeasuredStroke, Stated};
use toeline::pose::Side;
use toeline::stroke::{Boundary, Kind};

use crate::bvh::Take;
use crate::film::{Film, filmed};
use crate::reader::Reader;
use crate::report::quantile;

/// Cameras for each take.
const CAMERAS: u64 = 12;

/// Frames a second.
const RATE: f64 = 60.0;

/// A stroke is found when its contact lies this near, seconds.
const SAME_STROKE: f64 = 0.4;

/// A peak of the hand's speed of which nobody knows whether it is a stroke excuses a stroke this near, seconds.
const DOUBTFUL: f64 = 0.6;

/// Smallest and largest values of a camera that is drawn: metres to the player, metres over the ground, focal length in widths of
/// the picture (long lenses stand far away), noise of landmarks in statures.
const DISTANCE: (f64, f64) = (3.5, 14.0);
const HEIGHT: (f64, f64) = (0.4, 3.2);
const NOISE: (f64, f64) = (0.002, 0.006);

/// Focal length in widths of the picture for each metre to the player, who is then of one size in all pictures.
pub const FOCAL: f64 = 0.16;

/// A line of the table of contacts that `scripts/recogniser/takes.py` writes.
#[derive(Debug, serde::Deserialize)]
struct Line {
    file: String,
    kind: String,
    volley: String,
    hands: usize,
    contact_s: f64,
    /// Whether it is a stroke for sure; else a peak of the hand's speed that may be one.
    sure: String,
}

/// How strokes came out.
#[derive(Default)]
struct Tally {
    listed: usize,
    found: usize,
    kind: usize,
    hand: usize,
    both: usize,
    volley: usize,
    hands: usize,
    strokes: usize,
    invented: usize,
    inside: usize,
    /// Found minus true, milliseconds.
    errors: Vec<f64>,
}

impl Tally {
    fn add(&mut self, line: &Line, stroke: &MeasuredStroke) {
        let is_kind = stroke.stroke.kind.name() == line.kind;
        let is_hand = stroke.stroke.motion.hand == Side::Right;
        self.found += 1;
        self.kind += usize::from(is_kind);
        self.hand += usize::from(is_hand);
        self.both += usize::from(is_kind && is_hand);
        self.volley += usize::from(stroke.stroke.volley == (line.volley == "yes"));
        self.hands += usize::from(stroke.stroke.hands.count() == line.hands);
        let off = stroke.stroke.phases.contact.time.0 - line.contact_s;
        let half = stroke.measured.boundaries[Boundary::Contact as usize].map_or(0.0, |half| half.0);
        self.inside += usize::from(off.abs() <= half);
        self.errors.push(1000.0 * off);
    }

    fn print(&self, name: &str) {
        let share = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
        let off: Vec<f64> = self.errors.iter().map(|e| e.abs()).collect();
        let (median, ninety) = (quantile(&off, 0.5), quantile(&off, 0.9));
        println!(
            "  {name:<18} listed {:>5} found {:5.1} % | of these kind {:5.1} hand {:5.1} both {:5.1} volley {:5.1} hands {:5.1} % | contact: \
             median {:+4.0} ms, off {median:3.0}, 90 % within {ninety:3.0}, inside its ± {:5.1} %",
            self.listed,
            share(self.found, self.listed),
            share(self.kind, self.found),
            share(self.hand, self.found),
            share(self.both, self.found),
            share(self.volley, self.found),
            share(self.hands, self.found),
            quantile(&self.errors, 0.5),
            share(self.inside, self.found),
        );
    }
}

/// Films every take that `contacts` lists, found in `folder`, and prints what is found in it.
pub fn print(folder: &Path, contacts: &Path, only: Option<&str>, each: bool) -> Result<(), Box<dyn Error>> {
    let mut lines: BTreeMap<String, Vec<Line>> = BTreeMap::new();
    for line in csv::Reader::from_path(contacts)?.deserialize::<Line>() {
        let line = line?;
        lines.entry(line.file.clone()).or_default().push(line);
    }
    let mut reader = Reader::load()?;
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    println!("\nrecorded movement through {CAMERAS} cameras, {RATE} frames a second, without sound");
    for (number, (file, lines)) in lines.iter().enumerate() {
        if only.is_some_and(|only| !file.contains(only)) {
            continue;
        }
        let take = Take::read(&folder.join(file))?.at_rate(RATE);
        let volley = if lines[0].volley == "yes" { " volley" } else { "" };
        let sort = format!("{}{volley}", lines[0].kind);
        for camera in 0..CAMERAS {
            let seed = number as u64 * CAMERAS + camera;
            let film = drawn(seed);
            let measured = reader.measured(filmed(&take, &film), &Stated::default())?;
            let away = |stroke: &MeasuredStroke, line: &Line| {
                (stroke.stroke.phases.contact.time.0 - line.contact_s).abs()
            };
            let mut tally = Tally { strokes: measured.strokes.len(), ..Tally::default() };
            for line in lines.iter().filter(|line| line.sure == "yes") {
                tally.listed += 1;
                let nearest = measured.strokes.iter().min_by(|a, b| away(a, line).total_cmp(&away(b, line)));
                if let Some(stroke) = nearest.filter(|stroke| away(stroke, line) < SAME_STROKE) {
                    tally.add(line, stroke);
                }
            }
            let excused = |stroke: &MeasuredStroke| {
                let reach = |line: &Line| if line.sure == "yes" { SAME_STROKE } else { DOUBTFUL };
                lines.iter().any(|line| away(stroke, line) < reach(line))
            };
            tally.invented = measured.strokes.iter().filter(|stroke| !excused(stroke)).count();
            if each {
                println!(
                    "  {file} from {:4.0} degrees, {:4.1} m, {:3.1} m high: listed {} found {} kind {} hand {} invented {}, unknown {}",
                    film.yaw,
                    film.distance,
                    film.height,
                    tally.listed,
                    tally.found,
                    tally.kind,
                    tally.hand,
                    tally.invented,
                    measured.strokes.iter().filter(|s| s.stroke.kind == Kind::Unknown).count(),
                );
            }
            for name in [sort.as_str(), "all"] {
                tallies.entry(name.to_owned()).or_default().join(&tally);
            }
        }
    }
    for (name, tally) in &tallies {
        tally.print(name);
    }
    if let Some(all) = tallies.get("all") {
        println!("  invented {} of {} strokes", all.invented, all.strokes);
    }
    Ok(())
}

impl Tally {
    fn join(&mut self, other: &Self) {
        self.listed += other.listed;
        self.found += other.found;
        self.kind += other.kind;
        self.hand += other.hand;
        self.both += other.both;
        self.volley += other.volley;
        self.hands += other.hands;
        self.strokes += other.strokes;
        self.invented += other.invented;
        self.inside += other.inside;
        self.errors.extend(&other.errors);
    }
}

/// A camera somewhere around the player.
fn drawn(seed: u64) -> Film {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let distance = DISTANCE.0 * (DISTANCE.1 / DISTANCE.0).powf(rng.random::<f64>());
    Film {
        yaw: rng.random_range(-180.0..180.0),
        distance,
        height: rng.random_range(HEIGHT.0..HEIGHT.1),
        focal: FOCAL * distance,
        noise: rng.random_range(NOISE.0..NOISE.1),
        seed,
    }
}
