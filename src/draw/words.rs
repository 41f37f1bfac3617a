//! Names and values as a coach reads them.

use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::measure::{CATALOGUE, Measure, Measurement, Missing, Outcome};
use crate::stroke::Sort;

/// The kinds that occur among the strokes.
pub fn kinds(clip: &ClipMeasures) -> Vec<Sort> {
    Sort::ALL.into_iter().filter(|kind| clip.strokes.iter().any(|s| s.stroke.sort() == *kind)).collect()
}

/// The letter beside a stroke's number where kinds are mixed.
pub fn letter(kind: Sort) -> &'static str {
    match kind {
        Sort::Forehand => "F",
        Sort::Backhand => "B",
        Sort::ForehandVolley => "FV",
        Sort::BackhandVolley => "BV",
        Sort::Overhead => "O",
        Sort::Unknown => "?",
    }
}

/// What the letters of [`letter`] stand for, where kinds are mixed.
pub fn letters_key(kinds: &[Sort]) -> Option<String> {
    let key: Vec<String> = kinds.iter().map(|k| format!("{} {}", letter(*k), k.spoken())).collect();
    (kinds.len() > 1).then(|| format!("{}.", key.join(" · ")))
}

/// A panel's heading.
pub fn heading(stroke: &MeasuredStroke) -> String {
    format!("Stroke {} · {}", stroke.number, stroke.stroke.sort().spoken())
}

/// A measure's title with its unit.
pub fn title(measure: &Measure) -> String {
    let unit = match measure.symbol() {
        "" => String::new(),
        "°" => ", degrees".to_owned(),
        symbol => format!(", {symbol}"),
    };
    format!("{}{unit}", super::text::capitalised(measure.title))
}

/// A value with its ± and unit.
pub fn amount(measure: &Measure, m: &Measurement) -> String {
    measure.within(m.value, m.plus_minus)
}

/// A catalogue's entry with a stroke's outcome.
pub fn outcome(stroke: &MeasuredStroke, id: &str) -> Option<(&'static Measure, Outcome)> {
    let place = Measure::place(id)?;
    Some((
        &CATALOGUE[place],
        stroke.measured.outcomes.get(place).copied().unwrap_or(Err(Missing::PhaseAbsent)),
    ))
}

/// Numbers of strokes as a list: "1, 2 and 5".
pub fn listed(numbers: &[usize]) -> String {
    let words: Vec<String> = numbers.iter().map(usize::to_string).collect();
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}
