//! The short table on standard output.

use std::fmt::Write;
use std::path::Path;

use super::output;
use crate::draw::capitalised;
use crate::measure::clip::MeasuredStroke;
use crate::measure::pair::Second;
use crate::measure::{Grade, Measure};
use crate::order::median;
use crate::stroke::{Boundary, Sort};
use crate::table::notes::{Settings, Source};
use crate::table::{Headline, Notes, Results, counted, fixed, headlines};
use crate::targets::Finding;

/// What the signs in the tables mean.
const LEGEND: &str =
    "± is half a 95 % interval; ~ fair, ? low: rough guide only; – missing (measures.csv says why)\n\n";

/// A clip's results in a few lines.
pub fn of(results: &Results<'_>, folder: &Path, findings: &[Finding]) -> String {
    let notes = Notes::of(results);
    let mut text = String::new();
    // Writing into text doesn't fail.
    let _ = writeln!(text, "{}: {}", results.clip, found(&results.measures.strokes));
    if !results.measures.strokes.is_empty() {
        text.push_str(&settings(&notes.settings));
        for corrected in notes.corrections.iter().filter(|corrected| corrected.stroke.is_some()) {
            let _ = writeln!(text, "  {:9}  {}", "Corrected", corrected.line());
        }
        if let Some(second) = results.second {
            let (matched, all) = (second.matching.pairs.len(), results.measures.strokes.len());
            let (clip, legend) = (&second.clip, second.legend());
            let _ = writeln!(text, "  Second     {clip}: {matched} of {all} strokes matched; {legend}");
        }
        text.push('\n');
        for sort in Sort::ALL {
            let of_kind = results.measures.strokes.iter().filter(|stroke| stroke.stroke.sort() == sort);
            let strokes: Vec<&MeasuredStroke> = of_kind.collect();
            if !strokes.is_empty() {
                text.push_str(&table(&strokes, results.second));
                text.push('\n');
            }
        }
        text.push_str(LEGEND);
        text.push_str(&outside(findings));
    }
    let _ = writeln!(text, "Results: {}", output::path(&folder.join("")));
    text
}

/// What lies outside the coach's targets.
fn outside(findings: &[Finding]) -> String {
    if findings.is_empty() {
        return String::new();
    }
    let mixed = findings.iter().any(|finding| finding.middle.sort != findings[0].middle.sort);
    let whose = |finding: &Finding| {
        let sort = finding.middle.sort;
        if mixed { format!("{}: ", capitalised(sort.plural())) } else { String::new() }
    };
    let mut text = "Outside the targets (`toeline explain NAME` describes a drill):\n".to_owned();
    for (i, finding) in findings.iter().enumerate() {
        let measure = finding.measure();
        let value = cell(measure, finding.middle.median, finding.middle.plus_minus, finding.middle.grade);
        let range = finding.middle.target.range().unwrap_or_default();
        // Writing into text doesn't fail.
        let _ = writeln!(
            text,
            "  {}. {}{} {}{}, target {range}. {}",
            i + 1,
            whose(finding),
            measure.title,
            value.trim_end_matches([' ', '~', '?']),
            measure.suffix(),
            finding.words()
        );
        if let Some(drill) = finding.drill() {
            let _ = writeln!(text, "     Drill: {}.", drill.name.trim_end_matches('.'));
        }
    }
    text.push('\n');
    text
}

fn found(strokes: &[MeasuredStroke]) -> String {
    if strokes.is_empty() { "no stroke found".to_owned() } else { counted(strokes).join(", ") }
}

/// Which values were used, by where they come from, with the options that replace guesses.
fn settings(settings: &Settings) -> String {
    let mut values: Vec<(Source, String, &str)> = Vec::new();
    let mut add = |source: Option<Source>, value: Option<String>, option: &'static str| {
        values.extend(source.zip(value).map(|(source, value)| (source, value, option)));
    };
    let Settings { height_cm, hand, view, net, field_of_view_deg: field, .. } = settings;
    // A height that was measured is only as good as its ±.
    let is_measured = matches!(height_cm.source, Some(Source::Lines | Source::Points | Source::Season));
    let within = height_cm.plus_minus.filter(|_| is_measured);
    let within = within.map_or(String::new(), |half| format!(" ± {}", fixed(half, 0)));
    add(
        height_cm.source,
        height_cm.value.map(|height| format!("height {}{within} cm", fixed(height, 0))),
        "--height",
    );
    add(hand.source, hand.value.map(|hand| format!("{hand} hand")), "--hand");
    add(view.source, view.value.map(|view| format!("{view} view")), "--view");
    add(net.source, net.value.map(|net| format!("net on the {net}")), "--net");
    add(field.source, field.value.map(|angle| format!("field of view {}°", fixed(angle, 0))), "--fov");
    let mut text = String::new();
    for (source, label, remedy) in [
        (Source::Given, "Given", None),
        (Source::Marked, "Corrected", None),
        (Source::File, "From file", None),
        (Source::Estimated, "Estimated", Some("if wrong: ")),
        (Source::Lines, "Court", Some("if wrong: ")),
        (Source::Points, "Court", Some("if wrong: ")),
        (Source::Season, "Season", Some("if wrong: ")),
        (Source::Player, "Player", Some("if wrong: ")),
        (Source::Assumed, "Assumed", Some("better: ")),
    ] {
        let of_source = || values.iter().filter(|(from, _, _)| *from == source);
        if of_source().next().is_none() {
            continue;
        }
        let words: Vec<&str> = of_source().map(|(_, value, _)| value.as_str()).collect();
        let options: Vec<&str> = of_source().map(|(_, _, option)| *option).collect();
        let remedy = remedy.map_or_else(String::new, |remedy| format!(" ({remedy}{})", options.join(", ")));
        // Writing into text doesn't fail.
        let _ = writeln!(text, "  {label:9}  {}{remedy}", words.join(", "));
    }
    text
}

/// The table of the strokes of one kind.
fn table(strokes: &[&MeasuredStroke], second: Option<&Second>) -> String {
    let shown = headlines(strokes, second);
    let mut rows: Vec<Vec<String>> = vec![
        ["", "contact", "", ""].into_iter().map(str::to_owned).collect(),
        ["stroke", "s", "kind", "hand"].into_iter().map(str::to_owned).collect(),
    ];
    for column in &shown {
        for (row, heading) in rows.iter_mut().zip(&column.heading) {
            row.push(heading.clone());
        }
    }
    for stroke in strokes {
        let contact = Boundary::ALL.iter().position(|b| *b == Boundary::Contact);
        let plus_minus = contact.and_then(|i| stroke.measured.boundaries[i]);
        let time = fixed(stroke.stroke.phases.contact.time.0, 2);
        let mut row = vec![
            stroke.number.to_string(),
            plus_minus.map_or_else(|| time.clone(), |p| format!("{time} ±{}", fixed(p.0.max(0.01), 2))),
            stroke.stroke.sort().name().to_owned(),
            stroke.stroke.motion.hand.name().to_owned(),
        ];
        row.extend(shown.iter().map(|column| match stroke.measured.outcomes[column.index] {
            Ok(found) => cell(column.measure, found.value, found.plus_minus, found.grade),
            Err(_) => "–  ".to_owned(),
        }));
        rows.push(row);
    }
    rows.push(medians(strokes, &shown));
    aligned(&rows, &[2, 3])
}

fn medians(strokes: &[&MeasuredStroke], shown: &[Headline]) -> Vec<String> {
    let mut row = vec!["median".to_owned(), String::new(), String::new(), String::new()];
    row.extend(shown.iter().map(|column| {
        let value = median(column.values(strokes).iter().map(|found| found.value));
        // Most of what is uncertain is the same in all strokes of a clip, so their median is hardly surer than one.
        let plus_minus = median(column.values(strokes).iter().map(|found| found.plus_minus));
        let grade = column.values(strokes).iter().map(|found| found.grade).min();
        match (value, plus_minus, grade) {
            (Some(value), Some(plus_minus), Some(grade)) => cell(column.measure, value, plus_minus, grade),
            _ => "–  ".to_owned(),
        }
    }));
    row
}

fn cell(measure: &Measure, value: f64, plus_minus: f64, grade: Grade) -> String {
    let mark = match grade {
        Grade::Good => " ",
        Grade::Fair => "~",
        Grade::Low => "?",
    };
    format!("{} {mark}", measure.number_within(value, plus_minus).replace("± ", "±"))
}

/// Columns of even width: those named in `words` to the left, numbers to the right.
pub fn aligned(rows: &[Vec<String>], words: &[usize]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (column, cell) in row.iter().enumerate() {
            let gap = " ".repeat(widths[column] - cell.chars().count());
            if words.contains(&column) {
                line.push_str(&format!("  {cell}{gap}"));
            } else {
                line.push_str(&format!("  {gap}{cell}"));
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
