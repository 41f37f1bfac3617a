//! Makes `src/targets/reference.csv`: what recorded players do, measure by measure, in every kind of stroke.
//!
//! usage: reference LABELS FOLDER [CHECKED]
//!
//! FOLDER holds recorded takes (BVH, lengths in cm), LABELS says of each file the player's level and the stroke. Measured is
//! the movement itself, seen square from the side without perspective, with hand and direction known; strokes that the
//! recogniser names otherwise than LABELS are left out. The table goes to standard output. With CHECKED, a folder of takes of
//! other players, standard error tells how many of their medians lie in the middle half of the bands, and how many players
//! of both folders each target of the set `club` would flag.

#![allow(clippy::unwrap_used, reason = "an example may stop where it stands")]

#[allow(dead_code, reason = "shared with tests that use other parts of it")]
#[path = "../tests/support/bvh.rs"]
mod bvh;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use bvh::Take;
use toeline::measure::clip::{self, Seen, Stated};
use toeline::measure::{CATALOGUE, Measure};
use toeline::model::Places;
use toeline::order::{median, quantile_of_sorted};
use toeline::pose::Side;
use toeline::recogniser::Recogniser;
use toeline::scene::{NetSide, View, direction};
use toeline::stroke::{Kind, Sort, Stance};
use toeline::targets::{Circumstances, Set, Shipped, Target};
use toeline::units::Metres;

/// A band of fewer players' medians tells little.
const FEWEST_PLAYERS: usize = 5;

/// A player's median of fewer strokes tells little of the player.
const FEWEST_STROKES: usize = 3;

/// Frames a second at which the movement is looked at: what the recogniser sees, too.
const RATE: f64 = 60.0;

/// The level that targets and bands are for.
const CLUB: &str = "club";

/// A recorded stroke. Values of the measures in the catalogue's order, in their own units.
struct Hit {
    player: String,
    level: &'static str,
    sort: Sort,
    stance: Option<Stance>,
    stature: f64,
    values: Vec<Option<f64>>,
}

/// The quartiles of the players' medians, each low, middle, high.
struct Band {
    players: usize,
    strokes: usize,
    quartiles: [f64; 3],
}

type Key = (Sort, &'static str, usize);

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [labels, folder, checked @ ..] = arguments.as_slice() else {
        return Err("usage: reference LABELS FOLDER [CHECKED]".into());
    };
    let labels = read_labels(Path::new(labels))?;
    let mut recogniser = Recogniser::load(&Places::usual())?;
    let known = hits(Path::new(folder), &labels, &mut recogniser)?;
    let bands = bands(&known);
    println!("kind,level,measure,unit,players,strokes,low_quartile,median,high_quartile");
    for ((sort, level, place), Band { players, strokes, quartiles: [low, middle, high] }) in &bands {
        let measure = &CATALOGUE[*place];
        let unit = if measure.is_length() { "stature" } else { measure.unit.ucum() };
        let (kind, id) = (sort.name(), measure.id);
        println!("{kind},{level},{id},{unit},{players},{strokes},{low:.4},{middle:.4},{high:.4}");
    }
    if let [checked] = checked {
        let others = hits(Path::new(checked), &labels, &mut recogniser)?;
        check(&others, &bands);
        flagged([&known, &others])?;
    }
    Ok(())
}

fn bands(hits: &[Hit]) -> BTreeMap<Key, Band> {
    let mut bands = BTreeMap::new();
    for (key, players) in medians(hits) {
        if players.len() < FEWEST_PLAYERS {
            continue;
        }
        let mut medians: Vec<f64> = players.iter().map(|(median, _)| *median).collect();
        medians.sort_by(f64::total_cmp);
        let quartiles = [0.25, 0.5, 0.75].map(|share| for_another(&medians, share));
        let strokes = players.iter().map(|(_, strokes)| strokes).sum();
        bands.insert(key, Band { players: players.len(), strokes, quartiles });
    }
    bands
}

/// The value under which another player lies with this chance. The k-th of n players has k of n + 1 others below him in the mean
/// (Hyndman and Fan 1996, type 6): between the quartiles of the few alone fewer than half of the others would lie.
fn for_another(sorted: &[f64], share: f64) -> f64 {
    let n = sorted.len() as f64;
    quantile_of_sorted(sorted, (share * (n + 1.0) - 1.0) / (n - 1.0)).unwrap_or(f64::NAN)
}

/// Each player's median with the number of strokes, lengths as shares of the stature.
fn medians(hits: &[Hit]) -> BTreeMap<Key, Vec<(f64, usize)>> {
    let mut values: BTreeMap<Key, BTreeMap<&str, Vec<f64>>> = BTreeMap::new();
    for hit in hits {
        for (place, measure) in CATALOGUE.iter().enumerate().filter(|(_, m)| is_compared(m)) {
            let Some(value) = hit.values[place] else { continue };
            let value = if measure.is_length() { value / (100.0 * hit.stature) } else { value };
            let players = values.entry((hit.sort, hit.level, place)).or_default();
            players.entry(&hit.player).or_default().push(value);
        }
    }
    let of_player = |values: Vec<f64>| {
        let strokes = values.len();
        median(values.into_iter()).filter(|_| strokes >= FEWEST_STROKES).map(|median| (median, strokes))
    };
    let of_key = |(key, players): (Key, BTreeMap<&str, Vec<f64>>)| {
        (key, players.into_values().filter_map(of_player).collect())
    };
    values.into_iter().map(of_key).collect()
}

/// What only a guess at depth shows from the side is nothing to compare with.
fn is_compared(measure: &Measure) -> bool {
    measure.views.contains(&View::Side)
}

/// How many medians of other players lie within the bands.
fn check(others: &[Hit], bands: &BTreeMap<Key, Band>) {
    let medians = medians(others);
    let mut sums: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for ((sort, level, place), Band { quartiles: [low, _, high], .. }) in bands {
        let found = medians.get(&(*sort, *level, *place)).map_or(&[][..], Vec::as_slice);
        let inside = found.iter().filter(|(median, _)| (*low..=*high).contains(median)).count();
        eprintln!("{} {level} {}: {inside} of {}", sort.name(), CATALOGUE[*place].id, found.len());
        for name in [sort.name(), "all"] {
            let sum = sums.entry(name).or_default();
            *sum = (sum.0 + inside, sum.1 + found.len());
        }
    }
    for (name, (inside, all)) in sums {
        let share = 100.0 * inside as f64 / all.max(1) as f64;
        eprintln!("{name}: {inside} of {all} medians of other players in the middle half ({share:.0} %)");
    }
}

/// How many club players have a median outside each of the usual targets, and where the medians are.
fn flagged(folders: [&[Hit]; 2]) -> Result<(), Box<dyn Error>> {
    let set = Set::shipped(Shipped::ALL[0])?;
    for target in set.targets().iter().filter(|target| target.low.or(target.high).is_some()) {
        for sort in Sort::ALL {
            let [known, others] = folders.map(|hits| medians_for(target, sort, &set, hits));
            let all = [known.as_slice(), others.as_slice()].concat();
            if all.is_empty() {
                continue;
            }
            let outside =
                |medians: &[f64]| medians.iter().filter(|median| target.away(**median) > 0.0).count();
            let share = 100.0 * outside(&all) as f64 / all.len() as f64;
            let listed: Vec<String> = known.iter().map(|median| format!("{median:.2}")).collect();
            eprintln!(
                "target {} {}, {}: flags {} of {} and {} of {} others ({share:.0} %); medians {}",
                target.measure.id,
                target.range().unwrap_or_default(),
                sort.name(),
                outside(&known),
                known.len(),
                outside(&others),
                others.len(),
                listed.join(" ")
            );
        }
    }
    Ok(())
}

/// The medians of club players' strokes to which a target applies, in rising order, as they would be were the players as tall as
/// the target's.
fn medians_for(target: &Target, sort: Sort, set: &Set, hits: &[Hit]) -> Vec<f64> {
    let mut players: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for hit in hits.iter().filter(|hit| hit.sort == sort && hit.level == CLUB) {
        let stance = hit.stance.map(Stance::name);
        let circumstances = Circumstances { kind: sort.name(), stance, ..Circumstances::default() };
        let fits = set.for_stroke(target.measure.id, &circumstances);
        let value = Measure::place(target.measure.id).and_then(|place| hit.values[place]);
        if let (true, Some(value)) = (fits.is_some_and(|fits| std::ptr::eq(fits, target)), value) {
            let scale = target.height_cm.map_or(1.0, |height| height / (100.0 * hit.stature));
            players.entry(&hit.player).or_default().push(scale * value);
        }
    }
    let known = players.into_values().filter(|values| values.len() >= FEWEST_STROKES);
    let mut medians: Vec<f64> = known.filter_map(|values| median(values.into_iter())).collect();
    medians.sort_by(f64::total_cmp);
    medians
}

struct Label {
    level: &'static str,
    sort: Sort,
}

fn read_labels(path: &Path) -> Result<BTreeMap<String, Label>, Box<dyn Error>> {
    let mut reader = csv::ReaderBuilder::new().delimiter(b';').from_path(path)?;
    let mut labels = BTreeMap::new();
    for record in reader.records() {
        let record = record?;
        let sort = match record[4].trim() {
            "2" => Sort::of(Kind::Forehand, false),
            "3" => Sort::of(Kind::Forehand, true),
            "4" => Sort::of(Kind::Backhand, false),
            "5" => Sort::of(Kind::Backhand, true),
            _ => Sort::of(Kind::Overhead, false),
        };
        let level = if record[1].trim() == "1" { "high" } else { CLUB };
        labels.insert(record[0].to_owned(), Label { level, sort });
    }
    Ok(labels)
}

fn hits(
    folder: &Path,
    labels: &BTreeMap<String, Label>,
    recogniser: &mut Recogniser,
) -> Result<Vec<Hit>, Box<dyn Error>> {
    let mut hits = Vec::new();
    let mut files: Vec<_> = std::fs::read_dir(folder)?.collect::<Result<_, _>>()?;
    files.sort_by_key(std::fs::DirEntry::file_name);
    for file in files {
        let name = file.file_name().to_string_lossy().into_owned();
        let Some(label) = labels.get(&name) else { continue };
        let player = name.split('_').next().unwrap_or_default().to_owned();
        let take = Take::read(&file.path())?.at_rate(RATE);
        let stature = take.stature();
        let motion = take.seen_from_side();
        let stated = Stated {
            hand: Some(Side::Right),
            height: Some(Metres(stature)),
            direction: direction::Stated { view: Some(View::Side), net: Some(NetSide::Right) },
            planar: true,
            shadow: true,
            ..Stated::default()
        };
        let seen = Seen { chances: recogniser.read(&motion, None)?, ..Seen::default() };
        let measured = clip::measure(&motion, &stated, &seen);
        let mine = measured.strokes.iter().filter(|stroke| stroke.stroke.sort() == label.sort);
        hits.extend(mine.map(|stroke| Hit {
            player: player.clone(),
            level: label.level,
            sort: label.sort,
            stance: stroke.stroke.stance,
            stature,
            values: stroke.measured.outcomes.iter().map(|outcome| Some(outcome.ok()?.value)).collect(),
        }));
    }
    Ok(hits)
}
