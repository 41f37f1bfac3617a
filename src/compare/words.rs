//! A comparison in one plain paragraph for the player.

use super::telling::{MOST_NAMED, headline};
use super::{ComparedMeasure, Comparison, Note, Verdict};

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
    let (unclear, same) = (comparison.with(Verdict::Unclear), comparison.with(Verdict::Same));
    let (lead, named) = headline(comparison, MOST_NAMED);
    sentences.push(match named.as_slice() {
        [] => lead,
        named => {
            let named: Vec<String> =
                named.iter().map(|named| format!("{}, {}", named.measure.title, named.words)).collect();
            format!("{lead} {}.", named.join("; "))
        }
    });
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
