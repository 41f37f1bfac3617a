//! A page for each pupil: what was asked over the year, what came of it, charts and notes.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::super::exit::Result;
use crate::compare::{Comparison, Session, compare};
use crate::page::player::{Day, Player};
use crate::page::season::Shown;
use crate::season::{Gathered, Group, State};
use crate::table::{ReadStroke, Recorded, TableError};
use crate::targets::Set;

/// The folder of the pages.
pub const FOLDER: &str = "players";

/// More charts than this nobody looks through.
const MOST_TRENDS: usize = 6;

/// A note longer than this (bytes) is some other file.
const LONGEST_NOTE: u64 = 64 * 1024;

/// Writes the pages of all players who have a code, into `players` within a folder in which the charts of `groups` stand already.
/// `clips` is the folder of the clips, in which the coach's notes are looked for.
///
/// # Errors
/// Results that can't be read, pages that can't be written.
pub fn write_all(
    folder: &Path,
    clips: &Path,
    gathered: &Gathered,
    (groups, charts): (&[Group], &[Vec<Shown>]),
    targets: &Set,
) -> Result<()> {
    let mut players: BTreeMap<&str, Vec<&crate::season::GatheredClip>> = BTreeMap::new();
    for clip in gathered.clips.iter().filter(|clip| clip.line.state == State::Measured) {
        if let Some(player) = clip.line.player.as_deref() {
            players.entry(player).or_default().push(clip);
        }
    }
    for (code, clips_of) in players {
        let folders: Vec<PathBuf> = clips_of.iter().map(|clip| clip.line.folder.clone()).collect();
        let recorded = Recorded::of_folders(&folders)?;
        let places =
            clips_of.iter().filter_map(|clip| Some(clips.join(&clip.line.file).parent()?.to_owned()));
        let notes = notes(&places.collect(), clips);
        let trends = trends(folder, code, (groups, charts), &recorded, targets);
        let Some(page) = page(code, &recorded, trends, &notes, targets)? else { continue };
        let path = folder.join(FOLDER).join(format!("{}.html", file_name(code)));
        let fail = |source| TableError::Write { path: path.clone(), source };
        fs::create_dir_all(folder.join(FOLDER)).map_err(fail)?;
        fs::write(&path, page).map_err(fail)?;
    }
    Ok(())
}

fn page(
    code: &str,
    recorded: &Recorded,
    trends: Vec<(String, String)>,
    notes: &[(String, String)],
    targets: &Set,
) -> Result<Option<String>> {
    let Some(sort) = usual(recorded) else { return Ok(None) };
    let mine = recorded.only(|stroke| key(stroke) == sort && stroke.date.is_some());
    let dates: BTreeSet<&str> = mine.strokes.iter().filter_map(|stroke| stroke.date.as_deref()).collect();
    let sessions: Vec<Session> = dates
        .iter()
        .map(|date| Session {
            name: (*date).to_owned(),
            recorded: mine.only(|stroke| stroke.date.as_deref() == Some(date)),
        })
        .collect();
    let between =
        |before: &Session, after: &Session| -> Comparison { compare(before, after, &mine, targets) };
    let mut days = Vec::new();
    for (i, session) in sessions.iter().enumerate() {
        let grip = session.recorded.clips.first().and_then(|clip| clip.grip.clone());
        let observed: Vec<_> =
            session.recorded.strokes.iter().map(|stroke| stroke.observed(grip.as_deref())).collect();
        days.push(Day {
            date: &session.name,
            strokes: observed.len(),
            findings: targets.findings(&observed),
            since: i.checked_sub(1).map(|before| between(&sessions[before], session)),
        });
    }
    let mut compared = Vec::new();
    if let [first, .., last] = sessions.as_slice() {
        compared.push(("Since the first session", between(first, last)));
    }
    if let [_, .., before, last] = sessions.as_slice() {
        compared.push(("Since the session before", between(before, last)));
    }
    let height_cm = mine.clips.iter().filter_map(|clip| clip.height_cm).map(|(height, _)| height).next_back();
    let (kind, view) = (&sort.0, &sort.2);
    let kind = format!("{kind}s, filmed from the {view}").replace("from the back", "from behind");
    let player = Player {
        code,
        kind: &kind.replace("from the diagonal", "at a slant"),
        sessions: &days,
        compared: &compared,
        height_cm: height_cm.unwrap_or_default(),
        trends: &trends,
        notes,
    };
    Ok(player.page()?)
}

/// Kind, hand and view of a stroke.
fn key(stroke: &ReadStroke) -> (&'static str, String, String) {
    (stroke.sort().name(), stroke.hand.clone(), stroke.view.clone())
}

/// What the player has hit most of.
fn usual(recorded: &Recorded) -> Option<(&'static str, String, String)> {
    let mut counts = BTreeMap::new();
    for stroke in &recorded.strokes {
        *counts.entry(key(stroke)).or_insert(0) += 1;
    }
    counts.into_iter().max_by_key(|(_, count)| *count).map(|(key, _)| key)
}

/// Charts of the measures that the targets name as those to look at, in the order of a stroke.
fn trends(
    folder: &Path,
    code: &str,
    (groups, charts): (&[Group], &[Vec<Shown>]),
    recorded: &Recorded,
    targets: &Set,
) -> Vec<(String, String)> {
    let Some((kind, _, view)) = usual(recorded) else { return Vec::new() };
    let mine =
        groups.iter().zip(charts).filter(|(g, _)| g.player == code && g.kind == kind && g.view == view);
    let is_primary = |file: &str| {
        crate::measure::CATALOGUE
            .iter()
            .any(|measure| targets.is_primary(measure.id) && file.ends_with(&format!("_{}.svg", measure.id)))
    };
    mine.flat_map(|(_, charts)| charts)
        .filter(|chart| is_primary(&chart.file))
        // A chart that can't be read back is missing from the page, and still lies beside it.
        .filter_map(|chart| Some((chart.title.clone(), fs::read_to_string(folder.join(&chart.file)).ok()?)))
        .take(MOST_TRENDS)
        .collect()
}

/// The coach's notes `notes/DAY.txt` in the folders of the clips and those above them, by day.
fn notes(folders: &BTreeSet<PathBuf>, top: &Path) -> Vec<(String, String)> {
    let mut places: BTreeSet<PathBuf> = BTreeSet::new();
    for folder in folders {
        let above = folder.ancestors().take_while(|place| place.starts_with(top) && *place != top);
        places.extend(above.map(|place| place.join("notes")));
    }
    let files = places.iter().filter_map(|place| fs::read_dir(place).ok()).flatten().flatten();
    let mut notes: Vec<(String, String)> = files
        .filter_map(|file| {
            let path = file.path();
            let is_text = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("txt"));
            let day = path.file_stem()?.to_str()?.to_owned();
            let mut text = String::new();
            fs::File::open(&path).ok()?.take(LONGEST_NOTE).read_to_string(&mut text).ok()?;
            is_text.then_some((day, text))
        })
        .collect();
    notes.sort();
    notes
}

/// A code as it can stand in a file's name.
fn file_name(code: &str) -> String {
    code.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '_' }).collect()
}
