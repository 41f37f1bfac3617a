//! `toeline explain`: what a measure or a boundary between phases is, and the lists of `topics`.

mod topics;

use std::fmt::Write;

use super::exit::{Exit, Result, UsageError};
use super::output;
use crate::measure::{CATALOGUE, Measure, Unit};
use crate::stroke::{Boundary, Sort};
use crate::table::{PHASES, definition};
use crate::targets::{Set, Shipped, reference};

pub use topics::exit_codes_in_short;

/// Names at least this alike (0 to 1) are suggested.
const ALIKE: f64 = 0.80;

/// No more suggestions than this.
const SUGGESTIONS: usize = 6;

/// The name under which the shipped targets are printed; the set's own name may follow.
const TARGETS: &str = "targets";

/// Stature for which lengths of recorded players are told, cm.
const TALL: f64 = 175.0;

/// Lines are broken at this width.
const WIDTH: usize = 96;

/// Explains a measure or boundary, or lists them all.
///
/// # Errors
/// [`UsageError`] for a name that there isn't.
pub fn run(name: Option<&str>) -> Result<Exit> {
    let text = match name {
        None => list(),
        Some(name) => explain(name)?,
    };
    output::print(&text)?;
    Ok(Exit::Done)
}

fn explain(name: &str) -> Result<String, UsageError> {
    let wanted = name.trim().to_lowercase().replace([' ', '-'], "_");
    if let Some(set) = wanted.strip_prefix(TARGETS) {
        let set = set.trim_start_matches('_');
        let set = if set.is_empty() { Some(Shipped::ALL[0]) } else { Shipped::named(set) };
        return set
            .map(Shipped::text)
            .ok_or_else(|| UsageError("there are two sets of targets: `club` and `drill`".to_owned()));
    }
    if let Some(text) = topics::of(&wanted) {
        return text;
    }
    if let Some(text) = of_drill(&wanted) {
        return Ok(text);
    }
    if let Some(measure) = Measure::find(&wanted) {
        return Ok(of_measure(measure));
    }
    let boundary =
        Boundary::ALL.into_iter().find(|b| b.name() == wanted || format!("{}_s", b.name()) == wanted);
    if let Some(boundary) = boundary {
        return Ok(of_boundary(boundary));
    }
    let near = suggestions(&wanted);
    let remedy = if near.is_empty() {
        "`toeline explain` lists all".to_owned()
    } else {
        format!("did you mean {}?", near.join(", "))
    };
    Err(UsageError(format!("there is no measure `{name}`; {remedy}")))
}

/// Names that hold what was typed, or look like it.
fn suggestions(wanted: &str) -> Vec<&'static str> {
    let names = || CATALOGUE.iter().map(|m| m.id).chain(Boundary::ALL.into_iter().map(Boundary::name));
    let mut near: Vec<&str> = names().filter(|name| wanted.len() >= 3 && name.contains(wanted)).collect();
    let mut alike: Vec<(f64, &str)> = names()
        .map(|name| (strsim::jaro_winkler(wanted, name), name))
        .filter(|(score, name)| *score >= ALIKE && !near.contains(name))
        .collect();
    alike.sort_by(|a, b| b.0.total_cmp(&a.0));
    near.extend(alike.into_iter().map(|(_, name)| name));
    near.truncate(SUGGESTIONS);
    near
}

fn of_measure(measure: &Measure) -> String {
    let unit = match measure.unit.symbol() {
        "" => "a plain number".to_owned(),
        symbol => format!("{symbol} (in tables: {})", measure.unit.ucum()),
    };
    let views = if measure.views.is_empty() {
        "none: it leans on depth that one camera only guesses, so its grade is low".to_owned()
    } else {
        let names: Vec<&str> = measure.views.iter().map(|view| view.name()).collect();
        format!("{} (elsewhere with a low grade, or missing)", names.join(", "))
    };
    let kinds = if measure.kinds.len() == Sort::ALL.len() {
        "all".to_owned()
    } else {
        let known = measure.kinds.iter().filter(|sort| **sort != Sort::Unknown);
        known.map(|sort| sort.name()).collect::<Vec<_>>().join(", ")
    };
    let (good, fair) = measure.grades;
    let symbol = match measure.unit {
        Unit::Degree => "°".to_owned(),
        Unit::One => String::new(),
        unit => format!(" {}", unit.symbol()),
    };
    let mut text = format!("{}\n{}\n\n", measure.id, measure.title);
    for (label, words) in [
        ("Definition", measure.definition.to_owned()),
        ("Sign", measure.sign.to_owned()),
        ("Unit", unit),
        ("Views", views),
        ("Kinds", kinds),
        (
            "Grades",
            format!("good up to ±{good} {symbol}, fair up to ±{fair} {symbol}, else low").replace(" ,", ","),
        ),
        ("Source", measure.source.to_owned()),
    ] {
        paragraph(&mut text, label, &words);
    }
    for (set, label) in [(Shipped::Club, "Target"), (Shipped::Drill, "Drill aim")] {
        for target in shipped(set).of(measure.id) {
            let Some(range) = target.range() else { continue };
            let tall = target.height_cm.map(|height| format!("for a player of {height} cm"));
            let when = Some(target.conditions.to_string()).filter(|when| !when.is_empty());
            let when: Vec<String> = when.into_iter().chain(tall).collect();
            let when = if when.is_empty() { String::new() } else { format!(" ({})", when.join("; ")) };
            paragraph(&mut text, label, &format!("{range}{when}. {}.", target.source));
        }
    }
    for kind in reference::kinds(measure) {
        let Some(found) = reference::reference(measure, &kind, TALL) else { continue };
        let [low, median, high] = [found.low, found.median, found.high].map(|v| measure.spoken(v));
        let tall =
            if measure.is_length() { format!(" (for a player of {TALL:.0} cm)") } else { String::new() };
        let words = format!(
            "{kind}: middle half of {} recorded club players from {low} to {high}, median {median}{tall}.",
            found.players
        );
        paragraph(&mut text, "Recorded", &words);
    }
    text
}

/// Shipped targets; a test reads them, so none is missing.
fn shipped(set: Shipped) -> Set {
    Set::shipped(set).unwrap_or_default()
}

/// An exercise of the shipped targets.
fn of_drill(wanted: &str) -> Option<String> {
    let set = shipped(Shipped::Drill);
    let mut drills = set.targets().iter().filter_map(|target| target.drill.as_ref());
    let drill = drills.find(|drill| drill.name.replace([' ', '-'], "_") == wanted)?;
    let mut text = format!("{}\ndrill\n\n", drill.name);
    paragraph(&mut text, "", &drill.text);
    Some(text)
}

fn of_boundary(boundary: Boundary) -> String {
    let mut text = format!("{}\nboundary between phases of a stroke, in seconds\n\n", boundary.name());
    paragraph(&mut text, "Definition", definition(boundary));
    text
}

fn list() -> String {
    let mut text =
        String::from("Measures, in the order of a stroke; `toeline explain NAME` says what one is.\n");
    let width = CATALOGUE.iter().map(|measure| measure.id.len()).max().unwrap_or(0);
    let mut family = None;
    for measure in CATALOGUE {
        if family != Some(measure.family) {
            family = Some(measure.family);
            // Writing into text doesn't fail.
            let _ = writeln!(text, "\n{}", measure.family.title());
        }
        let unit = measure.unit.symbol();
        let unit = if unit.is_empty() { String::new() } else { format!(", {unit}") };
        let _ = writeln!(text, "  {:width$}  {}{unit}", measure.id, measure.title);
    }
    text.push_str("\nPhases\n");
    for (name, words) in PHASES {
        hanging(&mut text, &format!("  {name}"), width + 4, words);
    }
    text.push_str("\nBoundaries between phases\n");
    for boundary in Boundary::ALL {
        // The first sentence; a point within a number ends none.
        let words = definition(boundary);
        let end = [". ", ": ", ";"].iter().filter_map(|end| words.find(end)).min();
        let first = words[..end.unwrap_or(words.len())].trim_end_matches('.');
        hanging(&mut text, &format!("  {}", boundary.name()), width + 4, first);
    }
    text.push_str("\nLists\n");
    for (name, words) in topics::ALL {
        hanging(&mut text, &format!("  {name}"), width + 4, words);
    }
    text
}

/// A label and words beside it, broken into lines.
fn paragraph(text: &mut String, label: &str, words: &str) {
    hanging(text, label, 12, words);
}

/// A label, and words in a column that begins at `indent`, broken into lines. A label that is too long has a line of its own.
fn hanging(text: &mut String, label: &str, indent: usize, words: &str) {
    let mut line = format!("{label:indent$}");
    if label.chars().count() >= indent && indent > 0 {
        let _ = writeln!(text, "{}", label.trim_end());
        line = " ".repeat(indent);
    }
    let mut is_first = true;
    for word in words.split_whitespace() {
        if !is_first && line.chars().count() + 1 + word.chars().count() > WIDTH {
            let _ = writeln!(text, "{}", line.trim_end());
            line = " ".repeat(indent);
            is_first = true;
        }
        if !is_first {
            line.push(' ');
        }
        line.push_str(word);
        is_first = false;
    }
    let _ = writeln!(text, "{}", line.trim_end());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_can_be_explained() {
        for measure in CATALOGUE {
            let text = explain(measure.id).unwrap();
            assert!(text.starts_with(measure.id) && text.contains("Definition"), "{}", measure.id);
            assert!(list().contains(measure.id));
        }
        for (name, _) in topics::ALL {
            assert!(list().contains(name) && explain(name).is_ok(), "{name}");
        }
        for boundary in Boundary::ALL {
            assert!(explain(boundary.name()).unwrap().contains("Definition"));
        }
        let list = list();
        assert!(list.lines().all(|line| line.chars().count() <= WIDTH), "{list}");
        let words = list.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("is at most 25 % of the peak"), "a sentence is given whole: {list}");
    }

    #[test]
    fn close_misses_are_suggested() {
        for (typed, meant) in [
            ("hand_behind_sholder_cm", "hand_behind_shoulder_cm"),
            ("lag", "lag_peak_deg"),
            ("trunk lean", "trunk_lean_at_contact_deg"),
            ("contct", "contact"),
        ] {
            let message = explain(typed).unwrap_err().to_string();
            assert!(message.contains(meant), "{message}");
        }
        assert!(explain("zzz").unwrap_err().to_string().contains("lists all"));
    }
}
