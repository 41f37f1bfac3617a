//! Before and after.

use super::words::{capitalised, title};
use super::{PageError, Pair};
use crate::compare::{Comparison, Note, Row, Verdict, words};
use crate::draw;

/// No more changes than this are spelled out; the chart shows all.
const MOST_NAMED: usize = 5;

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
    /// What changed (or, with few strokes, what is only described), the largest first.
    pub named: Vec<Named>,
    /// What else there is to say.
    pub rest: Vec<String>,
    pub pairs: &'a [Pair],
    pub chart: Option<String>,
}

/// A change.
pub struct Named {
    pub title: String,
    pub words: String,
}

impl<'a> Change<'a> {
    pub fn of(before: &'a Before) -> Result<Self, PageError> {
        let Before { comparison, pairs } = before;
        let mut change = Self {
            names: &comparison.names,
            lead: String::new(),
            named: Vec::new(),
            rest: Vec::new(),
            pairs,
            chart: None,
        };
        if let Some(why) = &comparison.refused {
            change.lead = format!("The two sessions can't be compared: {why}.");
            return Ok(change);
        }
        let of = |verdict: Verdict| -> Vec<&Row> {
            comparison.rows.iter().filter(|row| row.verdict == verdict).collect()
        };
        let (changed, same, unclear) = (of(Verdict::Changed), of(Verdict::Same), of(Verdict::Unclear));
        let told = by_weight(&changed);
        change.lead = match (changed.len(), unclear.len() + same.len()) {
            (0, 0) => "There are too few strokes to tell a change from chance. The largest differences are only described:".to_owned(),
            (0, _) => "No measure has changed by more than chance and the measurement's own error explain.".to_owned(),
            (1, _) => "One measure has changed:".to_owned(),
            (count, _) => format!("{count} measures have changed, the largest first, measured by what matters to its target:"),
        };
        let told = if changed.is_empty() && unclear.is_empty() && same.is_empty() {
            by_weight(&of(Verdict::Described))
        } else {
            told
        };
        change.named = told.iter().take(MOST_NAMED).map(|row| named(row)).collect();
        if changed.len() > MOST_NAMED {
            change
                .rest
                .push(format!("Smaller changes: {}.", words::titles(&by_weight(&changed)[MOST_NAMED..])));
        }
        for (label, rows) in [("Stayed the same", &same), ("Can't be told from chance", &unclear)] {
            if !rows.is_empty() {
                change.rest.push(format!("{label}: {}.", words::titles(rows)));
            }
        }
        change.rest.extend(comparison.notes.iter().map(|note| format!("Mind: {note}.")));
        if changed.iter().any(|row| row.notes.contains(&Note::NotSeparable)) {
            change.rest.push(
                "Sessions always differ a little: how much of the smaller changes is that, nobody can say without four \
                 earlier sessions."
                    .to_owned(),
            );
        }
        change.chart = Some(draw::comparison(comparison)?.svg);
        Ok(change)
    }
}

/// The measures whose pictures show the changes, the largest first.
pub fn telling(comparison: &Comparison) -> impl Iterator<Item = &'static str> + '_ {
    let of = |verdict: Verdict| -> Vec<&Row> {
        comparison.rows.iter().filter(|row| row.verdict == verdict).collect()
    };
    let rows =
        [Verdict::Changed, Verdict::Described, Verdict::Unclear, Verdict::Same].map(|v| by_weight(&of(v)));
    rows.into_iter().flatten().map(|row| row.measure.id)
}

/// Those with the largest difference, in margins of their targets, first; what has no target comes after.
fn by_weight<'a>(rows: &[&'a Row]) -> Vec<&'a Row> {
    let mut rows = rows.to_vec();
    let has_range = |row: &Row| row.target.as_ref().is_some_and(|target| target.range().is_some());
    rows.sort_by(|a, b| has_range(b).cmp(&has_range(a)).then(b.weight().total_cmp(&a.weight())));
    rows
}

fn named(row: &Row) -> Named {
    // The title stands before it already.
    let words = words::change(row);
    let rest = words.strip_prefix(row.measure.title).unwrap_or(&words).trim_start();
    Named { title: title(row.measure), words: capitalised(rest) }
}
