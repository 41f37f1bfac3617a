//! Before and after.

use super::words::title;
use super::{PageError, Pair};
use crate::compare::telling::{MOST_NAMED, Named, headline};
use crate::compare::{ComparedMeasure, Comparison, Verdict, words as compared};
use crate::draw;

/// An earlier session beside this one.
#[derive(Debug, Clone)]
pub struct Before {
    /// What the rules of comparing say of both.
    pub comparison: Comparison,
    /// Pictures of the same moment in both.
    pub pairs: Vec<Pair>,
}

/// The section.
pub struct Change<'a> {
    pub names: &'a [String; 2],
    pub lead: String,
    /// What changed (or, with few strokes, what is only described), what matters most first.
    pub named: Vec<Named>,
    /// The pictures that the player sees, and those for the coach.
    pub first: Option<&'a Pair>,
    pub others: &'a [Pair],
    /// What else there is to know.
    pub notes: Vec<String>,
    /// Every measure, for the coach.
    pub rows: Vec<Line>,
    pub chart: Option<String>,
}

/// A measure in both sessions.
pub struct Line {
    pub title: String,
    pub before: String,
    pub after: String,
    pub verdict: &'static str,
}

impl<'a> Change<'a> {
    pub fn of(before: &'a Before) -> Result<Self, PageError> {
        let Before { comparison, pairs } = before;
        let (first, others) =
            pairs.split_first().map_or((None, &[][..]), |(first, rest)| (Some(first), rest));
        let mut change = Self {
            names: &comparison.names,
            lead: String::new(),
            named: Vec::new(),
            first,
            others,
            notes: Vec::new(),
            rows: Vec::new(),
            chart: None,
        };
        (change.lead, change.named) = headline(comparison, MOST_NAMED);
        if comparison.refused.is_some() {
            return Ok(change);
        }
        change.notes.extend(comparison.notes.iter().map(|note| format!("Please note: {note}.")));
        let unclear: Vec<&ComparedMeasure> =
            comparison.rows.iter().filter(|row| row.verdict == Verdict::Unclear).collect();
        change.notes.extend(compared::ordinary_change(&unclear));
        change.rows = comparison.rows.iter().filter(|row| row.seen).filter_map(line).collect();
        change.chart = Some(draw::comparison(comparison)?.svg);
        Ok(change)
    }
}

fn line(row: &ComparedMeasure) -> Option<Line> {
    let [before, after] = row.medians()?.map(|value| row.measure.amount(value));
    Some(Line { title: title(row.measure), before, after, verdict: row.verdict.in_plain_words() })
}
