//! `toeline compare`: from two sessions to what changed.

use std::ffi::OsString;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use super::args::CompareArgs;
use super::exit::{Exit, Failure, Result};
use super::sessions::Sessions;
use super::summary::aligned;
use super::{output, sessions};
use crate::compare::{Comparison, Verdict, compare, sheet, words};
use crate::draw;
use crate::error::in_full;
use crate::table::{Decimal, Package, Placing, Recorded, TableError, Writer, write_json};
use crate::targets::Set;

/// So many measures are shown on standard output.
const SHOWN: usize = 12;

/// Compares two sessions and writes `compare.csv` with its dictionary, `compare.svg` and `compare.txt`.
///
/// # Errors
/// Where a session can't be read or measured, targets are wrong, or results can't be written.
pub fn run(args: &CompareArgs) -> Result<Exit> {
    let targets = Set::asked_for(args.targets.as_deref())?;
    let season = args.season.as_deref().map(Recorded::at).transpose()?;
    let folder = folder(args);
    // Before the work: nobody should wait for results that can't be written.
    let placing = Placing::begin(&folder, Writer::Comparison)?;
    let part = placing.part();
    let Sessions { both: [before, after], failed } =
        sessions::read([&args.before, &args.after], season.as_ref(), args.quiet)?;
    let targets = match after.recorded.height_cm() {
        Some(height) => targets.for_height(height),
        None => targets,
    };
    let comparison = compare(&before, &after, &season.unwrap_or_default(), &targets);
    let paragraph = words::paragraph(&comparison);
    let sheet = sheet::sheet();
    sheet.write(&part, &comparison.rows, Decimal::Point)?;
    write_json(&part.join("compare.json"), &Package::of_comparison(&sheet))?;
    for (name, text) in
        [("compare.svg", draw::comparison(&comparison)?.svg), ("compare.txt", format!("{paragraph}\n"))]
    {
        let path = part.join(name);
        fs::write(&path, text).map_err(|source| TableError::Write { path, source })?;
    }
    placing.finish()?;
    if args.json {
        output::print(&document(&comparison, &paragraph, &folder, &failed)?)?;
    } else {
        output::print(&results_in_words(&comparison, &paragraph, &folder))?;
    }
    if !failed.is_empty() {
        let count = failed.len();
        output::note(&format!(
            "toeline: {count} of the clips could not be measured and are not compared, see above"
        ));
        return Ok(Exit::SomeFailed);
    }
    let could =
        comparison.refused.is_none() && comparison.rows.iter().any(|row| row.verdict != Verdict::Refused);
    Ok(if could { Exit::Done } else { Exit::NothingFound })
}

/// The folder of the results: as given, or beside the later session with its name.
fn folder(args: &CompareArgs) -> PathBuf {
    if let Some(out) = &args.out {
        return out.clone();
    }
    let is_path = args.after.exists();
    let name = args.after.file_stem().unwrap_or_default().to_string_lossy();
    let name = OsString::from(format!("{}-compare", name.trim_end_matches("-toeline").replace(':', "-")));
    match &args.season {
        Some(season) if !is_path => season.join(name),
        _ => fs::canonicalize(&args.after).unwrap_or_else(|_| args.after.clone()).with_file_name(name),
    }
}

/// The JSON document of `--json`.
fn document(
    comparison: &Comparison,
    paragraph: &str,
    folder: &Path,
    failed: &[(PathBuf, Failure)],
) -> serde_json::Result<String> {
    let sheet = sheet::sheet();
    let document = serde_json::json!({
        "folder": folder.display().to_string(),
        "paragraph": paragraph,
        "refused": comparison.refused,
        "measures": comparison.rows.iter().map(|row| sheet.object(&row)).collect::<Vec<_>>(),
        "failed": failed
            .iter()
            .map(|(clip, error)| {
                let why = output::one_line(&in_full(error));
                serde_json::json!({
                    "clip": clip.display().to_string(),
                    "error": why,
                    "exit_code": error.exit() as u8,
                })
            })
            .collect::<Vec<_>>(),
    });
    let mut text = serde_json::to_string_pretty(&document)?;
    text.push('\n');
    Ok(text)
}

/// The results on standard output.
fn results_in_words(comparison: &Comparison, paragraph: &str, folder: &Path) -> String {
    let mut text = String::new();
    let shown: Vec<_> =
        comparison.rows.iter().filter(|row| row.verdict < Verdict::Described).take(SHOWN).collect();
    if !shown.is_empty() {
        let mut rows: Vec<Vec<String>> = vec![
            ["measure", "median before", "median after", "difference of means", "95 %", "verdict"]
                .map(str::to_owned)
                .to_vec(),
        ];
        for row in shown {
            let [before, after] = row.medians().map_or_else(<[String; 2]>::default, |medians| {
                medians.map(|value| row.measure.amount(value))
            });
            let difference = row.difference().unwrap_or_default();
            let interval = row.tested.map(|tested| tested.difference.interval);
            let end = |value: f64| row.measure.number(value);
            rows.push(vec![
                row.measure.title.to_owned(),
                before,
                after,
                row.measure.amount(difference),
                interval.map_or_else(String::new, |i| format!("{} to {}", end(i.low), end(i.high))),
                row.verdict.name().to_owned(),
            ]);
        }
        text.push_str(&aligned(&rows, &[0, 5]));
        text.push('\n');
    }
    // Writing into text doesn't fail.
    let _ = writeln!(text, "{paragraph}\n\nResults: {}", output::path(&folder.join("")));
    text
}
