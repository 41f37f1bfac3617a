//! Makes `src/targets/reference.csv`: what recorded players do, measure by measure.
//!
//! usage: reference LABELS FOLDER [CHECKED]
//!
//! FOLDER holds recorded takes (BVH, lengths in cm), LABELS says of each file the player's level and the stroke. Measured is
//! the movement itself, seen square from the side without perspective, with kind, hand and direction known. The table goes to
//! standard output. With CHECKED, a folder of takes of other players, standard error tells how many of their medians lie in the
//! middle half of the bands.

#![allow(clippy::unwrap_used, reason = "an example may stop where it stands")]

#[allow(dead_code, reason = "shared with tests that use other parts of it")]
#[path = "../tests/support/bvh.rs"]
mod bvh;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use bvh::Take;
use toeline::measure::CATALOGUE;
use toeline::measure::clip::{self, Seen, Stated};
use toeline::order::median;
use toeline::pose::Side;
use toeline::scene::{NetSide, View, direction};
use toeline::stroke::{Corrections, Kind};
use toeline::units::Metres;

/// A band of fewer players' medians tells little.
const FEWEST_PLAYERS: usize = 5;

/// Values by kind, level and measure, then by player.
type Values = BTreeMap<(String, &'static str, &'static str), BTreeMap<String, Vec<f64>>>;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [labels, folder, checked @ ..] = arguments.as_slice() else {
        return Err("usage: reference LABELS FOLDER [CHECKED]".into());
    };
    let labels = read_labels(Path::new(labels))?;
    let known = values(Path::new(folder), &labels)?;
    println!("kind,level,measure,unit,players,strokes,low_quartile,median,high_quartile");
    let mut bands = BTreeMap::new();
    for (key, players) in &known {
        if players.len() < FEWEST_PLAYERS {
            continue;
        }
        let mut medians: Vec<f64> = players.values().filter_map(|v| median(v.iter().copied())).collect();
        medians.sort_by(f64::total_cmp);
        let [low, middle, high] = [0.25, 0.5, 0.75].map(|share| quantile(&medians, share));
        let measure = CATALOGUE.iter().find(|m| m.id == key.2).ok_or("no such measure")?;
        let unit = if measure.is_length() { "stature" } else { measure.unit.ucum() };
        let strokes: usize = players.values().map(Vec::len).sum();
        println!(
            "{},{},{},{unit},{},{strokes},{low:.4},{middle:.4},{high:.4}",
            key.0,
            key.1,
            key.2,
            players.len()
        );
        bands.insert(key.clone(), (low, high));
    }
    if let [checked] = checked {
        check(&values(Path::new(checked), &labels)?, &bands);
    }
    Ok(())
}

/// The value under which a new player lies with this chance, from some players in rising order (Hyndman and Fan 1996, type 6): of
/// few players the usual quartiles lie too near together for that.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let last = (sorted.len() - 1) as f64;
    let place = (share * (sorted.len() + 1) as f64 - 1.0).clamp(0.0, last);
    let (below, above) = (sorted[place.floor() as usize], sorted[place.ceil() as usize]);
    below + place.fract() * (above - below)
}

/// How many medians of other players lie within the bands.
fn check(others: &Values, bands: &BTreeMap<(String, &'static str, &'static str), (f64, f64)>) {
    let (mut inside, mut all) = (0, 0);
    for ((kind, level, measure), (low, high)) in bands {
        let medians: Vec<f64> = others
            .iter()
            .filter(|((k, l, m), _)| k == kind && l == level && m == measure)
            .flat_map(|(_, players)| players.values().filter_map(|v| median(v.iter().copied())))
            .collect();
        let held = medians.iter().filter(|v| (*low..=*high).contains(*v)).count();
        eprintln!("{kind} {level} {measure}: {held} of {}", medians.len());
        inside += held;
        all += medians.len();
    }
    eprintln!("all: {inside} of {all} medians in the middle half");
}

struct Label {
    level: &'static str,
    kind: Kind,
    volley: bool,
}

fn read_labels(path: &Path) -> Result<BTreeMap<String, Label>, Box<dyn Error>> {
    let mut reader = csv::ReaderBuilder::new().delimiter(b';').from_path(path)?;
    let mut labels = BTreeMap::new();
    for record in reader.records() {
        let record = record?;
        let (kind, volley) = match record[4].trim() {
            "2" => (Kind::Forehand, false),
            "3" => (Kind::Forehand, true),
            "4" => (Kind::Backhand, false),
            "5" => (Kind::Backhand, true),
            _ => (Kind::Overhead, false),
        };
        let level = if record[1].trim() == "1" { "high" } else { "club" };
        labels.insert(record[0].to_owned(), Label { level, kind, volley });
    }
    Ok(labels)
}

fn values(folder: &Path, labels: &BTreeMap<String, Label>) -> Result<Values, Box<dyn Error>> {
    let mut values = Values::new();
    let mut files: Vec<_> = std::fs::read_dir(folder)?.collect::<Result<_, _>>()?;
    files.sort_by_key(std::fs::DirEntry::file_name);
    for file in files {
        let name = file.file_name().to_string_lossy().into_owned();
        // Of the other kinds front foot and rear shoulder are not those that the measures were defined for.
        let Some(label) = labels.get(&name).filter(|l| l.kind == Kind::Forehand && !l.volley) else {
            continue;
        };
        let player = name.split('_').next().unwrap_or_default().to_owned();
        let take = Take::read(&file.path())?;
        let stature = take.stature();
        let stated = Stated {
            hand: Some(Side::Right),
            height: Some(Metres(stature)),
            direction: direction::Stated { view: Some(View::Side), net: Some(NetSide::Right) },
            planar: true,
            shadow: true,
            corrections: Corrections { kind: Some(label.kind), ..Corrections::default() },
            ..Stated::default()
        };
        let measured = clip::measure(&take.seen_from_side(), &stated, &Seen::default());
        for stroke in &measured.strokes {
            let kind = match (stroke.stroke.kind, label.volley) {
                (kind, true) => format!("{} volley", kind.name()),
                (kind, false) => kind.name().to_owned(),
            };
            for (measure, outcome) in CATALOGUE.iter().zip(&stroke.measured.outcomes) {
                // What only a guess at depth shows is nothing to compare with.
                let (Ok(found), true) = (outcome, measure.views.contains(&View::Side)) else { continue };
                let value = if measure.is_length() { found.value / (100.0 * stature) } else { found.value };
                let key = (kind.clone(), label.level, measure.id);
                values.entry(key).or_default().entry(player.clone()).or_default().push(value);
            }
        }
    }
    Ok(values)
}
