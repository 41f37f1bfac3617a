//! A comparison in one plain paragraph for the player.

use super::{ComparedMeasure, Comparison, Note, Verdict};
use crate::measure::{Measure, Measurement};
use crate::stats::Summary;

/// No more than so many changes are named; the table has the rest.
const MOST_NAMED: usize = 5;

/// The paragraph, one line without a line's end.
pub fn paragraph(comparison: &Comparison) -> String {
    let [before, after] = comparison.strokes;
    let mut sentences = Vec::new();
    if let Some(group) = &comparison.group {
        sentences.push(format!(
            "Compared: {} before and {} after, {} hand, {} view.",
            strokes(before, &group.kind),
            strokes(after, &group.kind),
            group.hand,
            group.view
        ));
    }
    if let Some(why) = &comparison.refused {
        sentences.push(format!("These sessions can't be compared: {why}."));
        return sentences.join(" ");
    }
    let of = |verdict: Verdict| -> Vec<&ComparedMeasure> {
        comparison.rows.iter().filter(|row| row.verdict == verdict).collect()
    };
    let (changed, unclear, same) = (of(Verdict::Changed), of(Verdict::Unclear), of(Verdict::Same));
    let described = of(Verdict::Described);
    if !described.is_empty() && changed.len() + unclear.len() + same.len() == 0 {
        let named: Vec<String> = described.iter().take(MOST_NAMED).map(|row| movement(row)).collect();
        sentences.push(format!(
            "There are too few strokes to tell a change from chance; they are only described: {}.",
            named.join("; ")
        ));
    } else if changed.is_empty() {
        sentences
            .push("No measure has changed by more than chance and measurement error can explain.".to_owned());
    } else {
        let named: Vec<String> = changed.iter().take(MOST_NAMED).map(|row| change(row)).collect();
        let more = changed.len().saturating_sub(MOST_NAMED);
        let more = if more > 0 { format!("; and {more} more, see compare.csv") } else { String::new() };
        sentences.push(format!("Changed: {}{more}.", named.join("; ")));
    }
    if !same.is_empty() {
        sentences.push(format!("Stayed the same: {}.", titles(&same)));
    }
    let open: Vec<&ComparedMeasure> = unclear.iter().filter(|row| row.primary).copied().collect();
    if !open.is_empty() {
        sentences.push(format!("Not clear yet: {}.", titles(&open)));
    }
    if unclear.len() > open.len() {
        let rest = unclear.len() - open.len();
        let other = if open.is_empty() { "" } else { "other " };
        let measures = if rest == 1 { "measure" } else { "measures" };
        sentences.push(format!(
            "For {rest} {other}{measures} the difference is too small or too uncertain to call a change."
        ));
    }
    for note in &comparison.notes {
        sentences.push(format!("Note: {note}."));
    }
    if let Some(sentence) = ordinary_change(&unclear) {
        sentences.push(sentence);
    }
    sentences.join(" ")
}

/// What differs no more than sessions ordinarily do, and what would tell more.
pub fn ordinary_change(rows: &[&ComparedMeasure]) -> Option<String> {
    let ordinary: Vec<&ComparedMeasure> =
        rows.iter().filter(|row| row.notes.contains(&Note::NotSeparable)).copied().collect();
    (!ordinary.is_empty()).then(|| {
        format!(
            "Sessions always differ a little, and {} may have changed no more than that; four earlier sessions would show it.",
            titles(&ordinary)
        )
    })
}

fn strokes(count: usize, kind: &str) -> String {
    match (kind, count) {
        ("unknown", 1) => "1 stroke".to_owned(),
        ("unknown", _) => format!("{count} strokes"),
        (_, 1) => format!("1 {kind}"),
        _ => format!("{count} {kind}s"),
    }
}

/// Names of measures as a list.
pub fn titles(rows: &[&ComparedMeasure]) -> String {
    rows.iter().map(|row| row.measure.title).collect::<Vec<_>>().join(", ")
}

/// A number; centimetres and degrees need no tenths on a page.
pub fn number(measure: &Measure, value: f64) -> String {
    crate::table::fixed(value, measure.short_decimals()).replace('-', "−")
}

/// A number with its unit.
pub fn amount(measure: &Measure, value: f64) -> String {
    format!("{}{}", number(measure, value), measure.unit.suffix())
}

/// `35 ± 8 cm`; the ± is never written as nothing.
pub fn within(measure: &Measure, value: f64, plus_minus: f64) -> String {
    let smallest = 10_f64.powi(-(measure.short_decimals() as i32));
    format!("{} ± {}", number(measure, value), amount(measure, plus_minus.max(smallest)))
}

/// `hand behind the shoulder from 33 to 13 cm`.
pub fn movement(row: &ComparedMeasure) -> String {
    let mean = |side: &[Measurement]| {
        Summary::of(&ComparedMeasure::values(side)).map_or(0.0, |summary| summary.mean)
    };
    let (before, after) = (number(row.measure, mean(&row.before)), amount(row.measure, mean(&row.after)));
    format!("{} from {before} to {after}", row.measure.title)
}

/// The same with the size of the change and whether it leads toward the target.
pub fn change(row: &ComparedMeasure) -> String {
    let Some(tested) = row.tested else { return movement(row) };
    let difference = tested.difference;
    let direction = if difference.value < 0.0 { "less" } else { "more" };
    let half = 0.5 * (difference.interval.high - difference.interval.low);
    let size = amount(row.measure, difference.value.abs());
    let toward = toward(row).map_or_else(String::new, |words| format!(", {words}"));
    let low = if row.is_low() { ", low grade" } else { "" };
    format!("{} ({size} {direction}, ± {}{low}{toward})", movement(row), amount(row.measure, half))
}

/// Whether the means came nearer to the target's range.
fn toward(row: &ComparedMeasure) -> Option<String> {
    let target = row.target.as_ref()?;
    let range = target.range()?;
    let away = |side: &[Measurement]| {
        let mean = Summary::of(&ComparedMeasure::values(side))?.mean;
        let below = target.low.map_or(0.0, |low| low - mean);
        let above = target.high.map_or(0.0, |high| mean - high);
        Some(below.max(above).max(0.0))
    };
    let (before, after) = (away(&row.before)?, away(&row.after)?);
    if after < before {
        let reached = if after == 0.0 { "into" } else { "toward" };
        Some(format!("{reached} the target of {range}"))
    } else if after > before {
        Some(format!("away from the target of {range}"))
    } else {
        None
    }
}
