//! A page for each pupil: what was asked over the year, what came of it, charts and notes.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::super::exit::Result;
use super::super::next_time::NextTime;
use crate::draw::still::{self, index, index::Line};
use crate::page::Image;
use crate::page::player::{Part, Player};
use crate::page::season::Shown;
use crate::page::year::{Filmed, Year};
use crate::season::{Gathered, GatheredClip, Group, State};
use crate::table::{ReadStroke, Recorded, TableError};
use crate::targets::Set;

/// The page of a player without a code.
const NO_CODE: &str = "player";

/// The folder of the pages.
pub const FOLDER: &str = "players";

/// So many pictures of contact stand in a row; two rows of four print beside the charts.
const MOST_CONTACTS: usize = 8;

/// Width of a picture in the row, pixels: twice what it is shown with.
const CONTACT_WIDTH: u32 = 520;

/// More charts than this nobody looks through.
const MOST_TRENDS: usize = 6;

/// A note longer than this (bytes) is some other file.
const LONGEST_NOTE: u64 = 64 * 1024;

/// Writes the pages of all players, those without a code as one, into `players` within a folder in which the charts of `groups` stand already;
/// answers with code and file of each.
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
) -> Result<Vec<(String, String)>> {
    let mut pages = Vec::new();
    let mut players: BTreeMap<Option<&str>, Vec<&GatheredClip>> = BTreeMap::new();
    for clip in gathered.clips.iter().filter(|clip| clip.line.state == State::Measured) {
        players.entry(clip.line.player.as_deref()).or_default().push(clip);
    }
    for (code, clips_of) in players {
        let folders: Vec<PathBuf> = clips_of.iter().map(|clip| clip.line.folder.clone()).collect();
        let recorded = Recorded::of_folders(&folders)?;
        let places =
            clips_of.iter().filter_map(|clip| Some(clips.join(&clip.line.file).parent()?.to_owned()));
        let notes = notes(&places.collect(), clips);
        let targets =
            &recorded.height_cm().map_or_else(|| targets.clone(), |height| targets.for_height(height));
        let years = Year::all(&recorded, targets);
        // The charts don't tell hands apart.
        let filmed: Vec<Filmed> = years.iter().map(|year| year.filmed.clone()).collect();
        let has_both_hands = |mine: &Filmed| {
            filmed.iter().any(|f| f.kind == mine.kind && f.view == mine.view && f.hand != mine.hand)
        };
        let parts = years.into_iter().map(|year| {
            let trends = if has_both_hands(&year.filmed) {
                Vec::new()
            } else {
                trends(folder, code, (groups, charts), &year.filmed, targets)
            };
            Ok(Part { contacts: contacts(&clips_of, &recorded, &year.filmed)?, year, trends })
        });
        let parts = parts.collect::<Result<Vec<_>>>()?;
        let next_time = NextTime::of_most(folders.iter());
        // Whoever coached last.
        let coach = clips_of
            .iter()
            .filter_map(|clip| Some((clip.line.date.as_deref(), clip.about.as_ref()?.coach.as_deref()?)));
        let player = Player {
            code,
            parts: &parts,
            coach: coach.max_by_key(|(date, _)| *date).map(|(_, coach)| coach),
            height_cm: recorded.height_cm().unwrap_or_default(),
            next_time: next_time.as_ref().map(NextTime::sentence),
            notes: &notes,
        };
        let Some(page) = player.page()? else { continue };
        let file = format!("{FOLDER}/{}.html", file_name(code.unwrap_or(NO_CODE)));
        let path = folder.join(&file);
        let fail = |source| TableError::Write { path: path.clone(), source };
        fs::create_dir_all(folder.join(FOLDER)).map_err(fail)?;
        fs::write(&path, page).map_err(fail)?;
        pages.push((code.unwrap_or("Player without a code").to_owned(), file));
    }
    Ok(pages)
}

/// Charts of the measures that the targets name as those to look at, in the order of a stroke.
fn trends(
    folder: &Path,
    code: Option<&str>,
    (groups, charts): (&[Group], &[Vec<Shown>]),
    filmed: &Filmed,
    targets: &Set,
) -> Vec<(String, String)> {
    let is_mine = |group: &Group| {
        group.player == code.unwrap_or_default()
            && group.kind == filmed.kind.name()
            && group.view == filmed.view
    };
    let mine = groups.iter().zip(charts).filter(|(group, _)| is_mine(group));
    mine.flat_map(|(_, charts)| charts)
        .filter(|chart| chart.is_told && targets.is_primary(chart.measure))
        // A chart that can't be read back is missing from the page, and still lies beside it.
        .filter_map(|chart| Some((chart.title.clone(), fs::read_to_string(folder.join(&chart.file)).ok()?)))
        .take(MOST_TRENDS)
        .collect()
}

/// Contact in the most typical stroke, of sessions from the first to the last.
fn contacts(clips: &[&GatheredClip], recorded: &Recorded, filmed: &Filmed) -> Result<Vec<(String, Image)>> {
    let mut shown: BTreeMap<&str, (&Path, Line)> = BTreeMap::new();
    for clip in clips {
        let date = clip.line.date.as_deref().unwrap_or(&clip.line.file);
        let is_wanted = |line: &Line| {
            let of_line =
                |stroke: &&ReadStroke| stroke.clip == clip.line.file && stroke.number == line.stroke;
            recorded.strokes.iter().find(of_line).is_some_and(|stroke| Filmed::of(stroke) == *filmed)
        };
        let stills = clip.line.folder.join(still::FOLDER);
        let contact =
            index::read(&stills)?.into_iter().find(|line| line.moment == "contact" && is_wanted(line));
        if let Some(line) = contact {
            shown.entry(date).or_insert((&clip.line.folder, line));
        }
    }
    evenly(shown.len(), MOST_CONTACTS)
        .filter_map(|place| shown.iter().nth(place))
        .map(|(date, (folder, line))| {
            let picture = line.picture(&folder.join(still::FOLDER))?;
            Ok(((*date).to_owned(), Image::within(&picture, &line.words, CONTACT_WIDTH)?))
        })
        .collect()
}

/// So many places at most of a list, the first and the last among them, evenly apart.
fn evenly(length: usize, most: usize) -> impl Iterator<Item = usize> {
    let count = length.min(most);
    (0..count).map(move |i| if count < 2 { 0 } else { (i * (length - 1) + (count - 1) / 2) / (count - 1) })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_evenly_apart_and_hold_both_ends() {
        let places = |length, most| evenly(length, most).collect::<Vec<_>>();
        assert_eq!(places(3, 8), [0, 1, 2]);
        assert_eq!(places(12, 4), [0, 4, 7, 11]);
        assert_eq!((places(0, 8), places(1, 8), places(5, 1)), (vec![], vec![0], vec![0]));
    }
}
