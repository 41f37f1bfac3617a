//! Finding the strokes of recorded motion, seen from the side.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use toeline::measure::clip::{self, Seen, Stated};
use toeline::model::Places;
use toeline::recogniser::Recogniser;
use toeline::stroke::Kind;
use toeline::units::Metres;

use crate::bvh::Take;

/// A stroke is found when its contact lies this near after a peak of the hand's speed, seconds.
const SAME_STROKE: f64 = 0.4;

/// Prints recall, kinds and invented strokes over all takes that peaks are listed for.
pub fn print(folder: &Path) -> Result<(), Box<dyn Error>> {
    let mut peaks: BTreeMap<String, (String, Vec<(f64, bool)>)> = BTreeMap::new();
    for record in csv::Reader::from_path(folder.join("peaks.csv"))?.records() {
        let record = record?;
        let entry = peaks.entry(record[0].to_owned()).or_insert_with(|| (record[1].to_owned(), Vec::new()));
        entry.1.push((record[2].parse()?, &record[4] == "yes"));
    }
    let (mut listed, mut found, mut right_kind, mut invented, mut strokes) = (0, 0, 0, 0, 0);
    let mut recogniser = Recogniser::load(&Places::usual())?;
    println!("\nrecorded motion from the side");
    for (file, (kind, peaks)) in &peaks {
        let kind = match kind.as_str() {
            "forehand" => Kind::Forehand,
            "backhand" => Kind::Backhand,
            _ => Kind::Overhead,
        };
        let take = Take::read(&folder.join(file))?;
        let motion = take.seen_from_side();
        let stated = Stated { height: Some(Metres(take.stature())), ..Stated::default() };
        let chances = recogniser.read(&motion, None)?;
        let clip = clip::measure(&motion, &stated, &Seen { chances, ..Seen::default() });
        strokes += clip.strokes.len();
        let mut line = (0, 0, 0);
        for (time, cut) in peaks {
            let hit =
                clip.strokes.iter().find(|s| (s.stroke.phases.contact.time.0 - time).abs() < SAME_STROKE);
            if *cut {
                continue;
            }
            line.0 += 1;
            if let Some(stroke) = hit {
                line.1 += 1;
                line.2 += usize::from(stroke.stroke.kind == kind);
            }
        }
        let extra: Vec<String> = clip
            .strokes
            .iter()
            .map(|s| &s.stroke)
            .filter(|s| peaks.iter().all(|(t, _)| (s.phases.contact.time.0 - t).abs() >= SAME_STROKE))
            .map(|s| format!("{} at {:.2} s", s.kind.name(), s.phases.contact.time.0))
            .collect();
        println!(
            "  {file:<28} listed {:>2} found {:>2} right kind {:>2} invented {} {extra:?} (hand {:?}, net {:?})",
            line.0,
            line.1,
            line.2,
            extra.len(),
            clip.hitting.map(|h| h.hand),
            clip.direction.map(|d| d.angle.0.round())
        );
        listed += line.0;
        found += line.1;
        right_kind += line.2;
        invented += extra.len();
    }
    println!(
        "  all: listed {listed}, found {found}, right kind {right_kind}, invented {invented} of {strokes}"
    );
    Ok(())
}
