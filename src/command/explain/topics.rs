//! Lists that `toeline explain` prints: files, columns, marks, verdicts, exit codes.

use std::fmt::Write;

use super::super::exit::{Exit, UsageError};
use super::{TARGETS, hanging};
use crate::compare::{Verdict, sheet as comparison};
use crate::court::Spot;
use crate::measure::Measure;
use crate::season::tables;
use crate::stroke::Boundary;
use crate::table::marks::SIDES;
use crate::table::sheet::{Field, Sheet};
use crate::table::{Writer, files_of, frames, marks, measures, phases, strokes};

/// The lists with what they hold; a set of targets and a table's columns may be asked for by name.
pub const ALL: [(&str, &str); 6] = [
    ("files", "what each file of the results holds"),
    ("columns", "the columns of all tables; `columns strokes` those of one"),
    ("marks", "what can be corrected with --marks, and how"),
    (TARGETS, "a set of targets as a file to change: `targets club`, `targets drill`"),
    ("verdicts", "what `compare` says of a measure"),
    ("exit-codes", "what the program's exit codes mean"),
];

/// Where words begin beside a name.
const INDENT: usize = 26;

/// The list that goes by a name (with `_` for spaces and hyphens); `None` where there is none.
pub fn of(name: &str) -> Option<Result<String, UsageError>> {
    if let Some(table) = name.strip_prefix("columns") {
        return Some(columns(table.trim_matches('_')));
    }
    Some(Ok(match name {
        "files" => files(),
        "marks" => marks(),
        "verdicts" => verdicts(),
        "exit_codes" => exit_codes(),
        _ => return None,
    }))
}

fn files() -> String {
    let mut text = String::new();
    for (writer, title) in [
        (Writer::Clip, "measure: the folder CLIP-toeline"),
        (Writer::Season, "season: the folder season"),
        (Writer::Comparison, "compare: the folder AFTER-compare"),
        (Writer::Inspection, "inspect: beside the clip"),
    ] {
        let _ = writeln!(text, "{}{title}", if text.is_empty() { "" } else { "\n" });
        for file in files_of(writer) {
            let option = match file.option {
                "" => String::new(),
                option => format!("[{option}] "),
            };
            hanging(&mut text, &format!("  {}", file.name), INDENT, &format!("{option}{}", file.content));
        }
    }
    text.push('\n');
    hanging(
        &mut text,
        "",
        0,
        "A file with an option in brackets is written only with that option. Tables are CSV in UTF-8 with one header row, a \
         point in numbers and empty cells for missing values. Text that a spreadsheet would take for a formula has an \
         apostrophe in front. Measuring again replaces the files above and keeps any others in the folder.",
    );
    text
}

fn marks() -> String {
    let mut text = String::from("Columns: ");
    text.push_str(&marks::COLUMNS.join(","));
    text.push_str("\n\n");
    hanging(
        &mut text,
        "",
        0,
        "One line per correction. `clip` may be empty where there is only one clip; `stroke` is the number in strokes.csv. \
         Frames count from 0, pixels from the top left. `--marks-template` writes a table to fill in; lines without an \
         answer change nothing.",
    );
    text.push_str("\nevent\n");
    for boundary in Boundary::ALL {
        let needs = if boundary == Boundary::Contact {
            "`time_s` or `frame`; without a number in `stroke`, it adds a stroke that was missed."
        } else {
            "`time_s` or `frame`."
        };
        hanging(&mut text, &format!("  {}", boundary.name()), INDENT, needs);
    }
    for other in marks::OTHERS {
        hanging(&mut text, &format!("  {}", other.event), INDENT, other.needs);
    }
    text.push_str("\nPoints of the court, on the ground\n");
    hanging(&mut text, "", 2, &format!("{}. {}{}.", Spot::names(), SIDES[..1].to_uppercase(), &SIDES[1..]));
    text.push_str("\nExample\n");
    let _ = writeln!(
        text,
        "  {}\n  practice.mp4,2,contact,,151,,,\n  practice.mp4,,contact,14.2,,,,",
        marks::COLUMNS.join(",")
    );
    for other in marks::OTHERS {
        let _ = writeln!(text, "  {}", other.example);
    }
    text
}

fn verdicts() -> String {
    let mut text = String::new();
    for verdict in Verdict::ALL {
        hanging(&mut text, verdict.name(), 12, verdict.meaning());
    }
    text
}

/// The exit codes in a few words, for `--help`.
pub fn exit_codes_in_short() -> String {
    let mut text = String::from("Exit codes\n");
    for exit in Exit::ALL {
        let _ = writeln!(text, "{:>5}  {}", exit as u8, exit.meaning().0);
    }
    text
}

fn exit_codes() -> String {
    let mut text = String::new();
    for exit in Exit::ALL {
        let (short, more) = exit.meaning();
        let words = if more.is_empty() { short.to_owned() } else { format!("{short}. {more}") };
        hanging(&mut text, &format!("{:>3}", exit as u8), 5, &words);
    }
    text
}

/// A table: its name and its columns.
struct Table {
    name: &'static str,
    place: &'static str,
    description: &'static str,
    fields: Vec<Field>,
}

fn table<R>(sheet: &Sheet<R>, place: &'static str) -> Table {
    let fields = sheet.columns.iter().map(|column| column.field.clone()).collect();
    Table { name: sheet.name, place, description: sheet.description, fields }
}

fn all_tables() -> [Table; 7] {
    [
        table(&strokes::sheet(), "measure, season"),
        table(&measures::sheet(), "measure, season"),
        table(&phases::sheet(), "measure"),
        table(&frames::sheet(), "measure"),
        table(&tables::sessions(), "season"),
        table(&tables::clips(), "season"),
        table(&comparison::sheet(), "compare"),
    ]
}

fn columns(wanted: &str) -> Result<String, UsageError> {
    let wanted = wanted.trim_end_matches(".csv");
    let tables = all_tables();
    let names: Vec<&str> = tables.iter().map(|table| table.name).collect();
    if !wanted.is_empty() && !names.contains(&wanted) {
        return Err(UsageError(format!("there is no table `{wanted}`; the tables are {}", names.join(", "))));
    }
    let mut text = String::new();
    for table in tables.iter().filter(|table| wanted.is_empty() || table.name == wanted) {
        let _ =
            writeln!(text, "{}{}.csv ({})", if text.is_empty() { "" } else { "\n" }, table.name, table.place);
        hanging(&mut text, "", 0, table.description);
        of_table(&mut text, &table.fields);
    }
    Ok(text)
}

fn of_table(text: &mut String, fields: &[Field]) {
    let mut measures_are_told = false;
    let mut rest = fields;
    while let [field, after @ ..] = rest {
        rest = after;
        if Measure::find(&field.name).is_some() {
            if !measures_are_told {
                hanging(
                    text,
                    "  (measures)",
                    INDENT,
                    "One column per measure; `toeline explain` lists them.",
                );
                measures_are_told = true;
            }
            continue;
        }
        if let (Some(point), [down, chance, after @ ..]) = (field.name.strip_suffix("_x"), after) {
            // A point of the body or the racket: two places and how sure they are.
            if let (Some(y), Some(ending)) = (down.name.strip_prefix(point), chance.name.strip_prefix(point))
            {
                let words = format!("Pixels to the right and down. {}", chance.description);
                hanging(text, &format!("  {point}_x {y} {ending}"), INDENT, &words);
                rest = after;
                continue;
            }
        }
        let unit = match field.unit {
            None | Some("1") => String::new(),
            Some(unit) => format!(" [{unit}]"),
        };
        hanging(text, &format!("  {}", field.name), INDENT, &format!("{}{unit}", field.description));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_is_explained() {
        let text = columns("").unwrap();
        let words: Vec<&str> = text.split_whitespace().collect();
        for table in all_tables() {
            for field in &table.fields {
                let ending = field.name.rfind('_').map_or("", |place| &field.name[place..]);
                let told = words.contains(&field.name.as_str())
                    || Measure::find(&field.name).is_some()
                    || words.contains(&format!("{}_x", field.name.trim_end_matches(ending)).as_str())
                        && words.contains(&ending);
                assert!(told, "{} of {}", field.name, table.name);
            }
        }
        assert!(columns("strokes.csv").unwrap().len() < text.len());
        assert!(columns("swings").unwrap_err().to_string().contains("strokes, measures"));
    }

    #[test]
    fn exit_codes_stand_in_help_and_list() {
        for exit in Exit::ALL {
            let code = (exit as u8).to_string();
            for text in [exit_codes(), exit_codes_in_short()] {
                let line = text.lines().find(|line| line.split_whitespace().next() == Some(&code));
                assert!(line.is_some_and(|line| line.contains(exit.meaning().0)), "{code}");
            }
        }
    }

    #[test]
    fn every_verdict_and_event_is_in_its_list() {
        for verdict in Verdict::ALL {
            assert!(verdicts().contains(verdict.name()));
        }
        for event in Boundary::ALL.map(Boundary::name).into_iter().chain(marks::OTHERS.map(|o| o.event)) {
            assert!(marks().contains(&format!("  {event}")), "{event}");
        }
    }
}
