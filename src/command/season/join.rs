//! Joins the results of all clips: tables, charts, page.

use std::collections::HashMap;
use std::fs;

use rayon::prelude::*;
use serde::Serialize;

use super::super::exit::{Exit, Result};
use super::super::next_time::NextTime;
use super::super::output;
use super::work::Unmeasured;
use super::{Entry, Freshness, Plan, charts, players};
use crate::page::season as page;
use crate::season::{ClipLine, Gathered, Group, State, group, tables};
use crate::table::{Placing, Recorded, TableError, Writer};

/// Joins the results that are there. `unmeasured` says of clips why they have none.
pub fn run(entries: &[Entry], unmeasured: Unmeasured, plan: &Plan) -> Result<Exit> {
    let gathered = Gathered::of(lines(entries, unmeasured))?;
    let groups = group::groups(&gathered.values);
    let pages = write(&gathered, &groups, plan)?;
    print_results(&gathered, &groups, &pages, plan)?;
    let count =
        |wanted: &dyn Fn(&State) -> bool| gathered.clips.iter().filter(|c| wanted(&c.line.state)).count();
    let failed = count(&|state| matches!(state, State::Failed(_)));
    let missing = count(&|state| *state == State::NotMeasured);
    if failed > 0 {
        output::note(&format!("toeline: {failed} of {} clips failed, see clips.csv", gathered.clips.len()));
    }
    if missing > 0 {
        output::note(&format!(
            "toeline: {missing} of {} clips are not measured yet, see clips.csv; run `toeline season` without --gather, or \
             the missing parts",
            gathered.clips.len()
        ));
    }
    let behind = gathered.clips.iter().filter(|clip| clip.is_behind()).count();
    if behind > 0 {
        output::note(&format!(
            "toeline: {behind} of {} clips were measured before other clips told how tall their players are, see clips.csv; run \
             `toeline season` without --gather to measure them again with that",
            gathered.clips.len()
        ));
    }
    Ok(match (failed + missing, gathered.strokes.is_empty()) {
        (0, false) => Exit::Done,
        (0, true) => Exit::NothingFound,
        _ => Exit::SomeFailed,
    })
}

/// What has become of each clip, in the order of their names.
fn lines(entries: &[Entry], mut unmeasured: Unmeasured) -> Vec<ClipLine> {
    let states: Vec<Option<Freshness>> = entries
        .par_iter()
        .map(|entry| if unmeasured.contains_key(&entry.file) { None } else { entry.freshness().ok() })
        .collect();
    let mut first: HashMap<String, &str> = HashMap::new();
    let mut lines = Vec::new();
    for (entry, state) in entries.iter().zip(&states) {
        let state = match (unmeasured.remove(&entry.file), state) {
            (Some(state), _) => state,
            (None, Some(state)) => match (first.get(state.sha256()), state) {
                (Some(other), _) => State::SameAs((*other).to_owned()),
                (None, Freshness::UpToDate { sha256 }) => {
                    first.insert(sha256.clone(), &entry.file);
                    State::Measured
                }
                (None, Freshness::Outdated { .. }) => State::NotMeasured,
            },
            (None, None) => State::Failed("cannot be read".to_owned()),
        };
        let labels = &entry.details.labels;
        lines.push(ClipLine {
            file: entry.file.clone(),
            player: labels.player.clone(),
            date: labels.date.clone(),
            drill: labels.drill.map(crate::table::Drill::name),
            state,
            folder: entry.folder.clone(),
            and: entry.and.clone(),
        });
    }
    lines
}

/// Writes everything aside and then puts it in its place together; answers with the players and their pages.
fn write(gathered: &Gathered, groups: &[Group], plan: &Plan) -> Result<Vec<(String, String)>> {
    let placing = Placing::begin(&plan.results, Writer::Season)?;
    let part = placing.part();
    let charts_folder = part.join("charts");
    fs::create_dir_all(&charts_folder)
        .map_err(|source| TableError::Write { path: charts_folder.clone(), source })?;
    tables::write_all(&part, gathered, groups, plan.output.decimal, plan.output.workbook)?;
    let measured = gathered.clips.iter().filter(|clip| clip.line.state == State::Measured);
    let folders: Vec<_> = measured.map(|clip| clip.line.folder.clone()).collect();
    let recorded = Recorded::of_folders(&folders)?;
    let next_time = NextTime::of_most(folders.iter());
    let charts = charts::write_all(&part, groups, &recorded, &plan.targets)?;
    let pages = players::write_all(&part, &plan.clips, gathered, (groups, &charts), &plan.targets)?;
    let html = part.join("season.html");
    let text = page::text(gathered, groups, &charts, &pages, next_time.as_ref().map(NextTime::sentence))?;
    fs::write(&html, text).map_err(|source| TableError::Write { path: html, source })?;
    placing.finish()?;
    Ok(pages)
}

fn print_results(
    gathered: &Gathered,
    groups: &[Group],
    pages: &[(String, String)],
    plan: &Plan,
) -> Result<()> {
    if plan.json {
        return Ok(output::print(&document(gathered, groups)?)?);
    }
    let mut rows: Vec<[String; 6]> =
        vec![["player", "date", "drill", "view", "kind", "strokes"].map(str::to_owned)];
    for group in groups {
        for session in &group.sessions {
            let cells = [&group.player, &session.date, &session.drill, &group.view, &group.kind];
            let [player, date, drill, view, kind] =
                cells.map(|text| if text.is_empty() { "–".to_owned() } else { text.clone() });
            rows.push([player, date, drill, view, kind, session.strokes.to_string()]);
        }
    }
    let mut text = String::new();
    for row in &rows {
        let mut line = String::new();
        for (column, cell) in row.iter().enumerate() {
            let wide = rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
            let gap = " ".repeat(wide - cell.chars().count());
            let (before, after) =
                if column + 1 == row.len() { (gap.as_str(), "") } else { ("", gap.as_str()) };
            line.push_str(&format!("  {before}{cell}{after}"));
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    let undated = groups.iter().flat_map(|group| &group.sessions).filter(|session| session.date.is_empty());
    let undated: usize = undated.map(|session| session.strokes).sum();
    if undated > 0 {
        output::note(&format!(
            "Warning: {undated} strokes are from clips without a date and are not in the trends; put the date into the names of \
             files or folders (2025-06-14), or into season.csv"
        ));
    }
    text.push_str(&format!("\nResults: {}\n", output::path(&plan.results.join(""))));
    for (player, file) in pages {
        text.push_str(&format!(
            "Page of {}: {}\n",
            output::one_line(player),
            output::path(&plan.results.join(file))
        ));
    }
    Ok(output::print(&text)?)
}

/// The JSON document of `--json`.
fn document(gathered: &Gathered, groups: &[Group]) -> serde_json::Result<String> {
    #[derive(Serialize)]
    struct Clip<'a> {
        clip: &'a str,
        state: &'static str,
        strokes: usize,
        #[serde(skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    }
    #[derive(Serialize)]
    struct Document<'a> {
        clips: Vec<Clip<'a>>,
        sessions: Vec<HashMapRow>,
    }
    type HashMapRow = serde_json::Map<String, serde_json::Value>;
    let clips = gathered.clips.iter().map(|clip| Clip {
        clip: &clip.line.file,
        state: clip.line.state.name(),
        strokes: clip.strokes,
        note: clip.line.state.note(),
    });
    let sheet = tables::sessions();
    let sessions = tables::session_rows(groups).map(|row| sheet.object(&row));
    let document = Document { clips: clips.collect(), sessions: sessions.collect() };
    let mut text = serde_json::to_string_pretty(&document)?;
    text.push('\n');
    Ok(text)
}
