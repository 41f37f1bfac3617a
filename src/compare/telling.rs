//! What a reader should hear of two sessions first, in words.

use super::{ComparedMeasure, Comparison, Verdict};
use crate::measure::Measure;

/// No more changes than this are named of two sessions; the table has all.
pub const MOST_NAMED: usize = 5;

/// A change in words.
#[derive(Debug, Clone)]
pub struct Named {
    /// The measure that has changed.
    pub measure: &'static Measure,
    /// Both medians, and what they are to the aim.
    pub words: String,
}

/// What a player should hear of two sessions: a sentence, and the changes that matter most, so many at most.
pub fn headline(comparison: &Comparison, most: usize) -> (String, Vec<Named>) {
    if let Some(why) = &comparison.refused {
        return (format!("The two sessions can't be compared: {why}."), Vec::new());
    }
    let (changed, same, unclear) = (
        comparison.with(Verdict::Changed),
        comparison.with(Verdict::Same),
        comparison.with(Verdict::Unclear),
    );
    let is_described = changed.is_empty() && unclear.is_empty() && same.is_empty();
    let described =
        || comparison.with(Verdict::Described).into_iter().filter(|row| row.weight() >= 1.0).collect();
    let has_changed = !changed.is_empty();
    let worth_telling = worth_telling(&if is_described { described() } else { changed }, comparison);
    let lead = match worth_telling.len() {
        0 if is_described => {
            "There are too few strokes to tell a change from chance, and no difference is large.".to_owned()
        }
        _ if is_described => {
            "There are too few strokes to tell a change from chance. The largest differences are only described:"
                .to_owned()
        }
        0 if has_changed => "No measure that is more than a rough guide has clearly changed.".to_owned(),
        0 => "No measure has clearly changed.".to_owned(),
        1 => "One thing has clearly changed:".to_owned(),
        count if count <= most => format!("{} things have clearly changed:", number(count)),
        _ => format!("The {} changes that matter most:", number(most).to_lowercase()),
    };
    (lead, worth_telling.iter().take(most).filter_map(|row| named(row)).collect())
}

/// The measures whose pictures show the changes, what matters most first.
pub fn telling(comparison: &Comparison) -> impl Iterator<Item = &'static str> + '_ {
    let rows = [Verdict::Changed, Verdict::Described, Verdict::Unclear, Verdict::Same];
    let rows = rows.map(|verdict| by_weight(&comparison.with(verdict)));
    rows.into_iter().flatten().map(|row| row.measure.id)
}

/// Those that a player should hear of: no value of a low grade, and not the same thing twice.
fn worth_telling<'a>(rows: &[&'a ComparedMeasure], comparison: &Comparison) -> Vec<&'a ComparedMeasure> {
    let is_known = |id: &str| comparison.rows.iter().any(|row| row.measure.id == id && !row.is_low());
    let says_new = |row: &&ComparedMeasure| {
        let better = row.target.as_ref().and_then(|target| target.unless);
        !row.is_low() && better.is_none_or(|better| !is_known(better.id))
    };
    by_weight(&rows.iter().copied().filter(says_new).collect::<Vec<_>>())
}

/// What the coach named beforehand first, then what has a target; among those the largest difference in margins.
fn by_weight<'a>(rows: &[&'a ComparedMeasure]) -> Vec<&'a ComparedMeasure> {
    let mut rows = rows.to_vec();
    let has_range =
        |row: &ComparedMeasure| row.target.as_ref().is_some_and(|target| target.range().is_some());
    let rank = |row: &ComparedMeasure| (row.primary && has_range(row), has_range(row));
    rows.sort_by(|a, b| rank(b).cmp(&rank(a)).then(b.weight().total_cmp(&a.weight())));
    rows
}

fn named(row: &ComparedMeasure) -> Option<Named> {
    let [before, after] = row.medians()?;
    let measure = row.measure;
    let mut words = measure.spoken_pair(before, after).join(", now ");
    if let Some(target) = &row.target
        && let Some(aim) = measure.spoken_range(target.low, target.high)
    {
        let toward = match (target.away(before), target.away(after)) {
            (from, to) if to < from && to == 0.0 => "now inside the aim",
            (from, to) if to < from => "nearer to the aim",
            (from, to) if to > from => "farther from the aim",
            (0.0, _) => "inside the aim both times",
            _ => "as far from the aim as before",
        };
        words = format!("{words}: {toward} ({aim})");
    }
    Some(Named { measure, words })
}

fn number(count: usize) -> String {
    const WORDS: [&str; 6] = ["No", "One", "Two", "Three", "Four", "Five"];
    WORDS.get(count).map_or_else(|| count.to_string(), |word| (*word).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Grade, Measurement};
    use crate::targets::{Set, Shipped};

    /// A measure that was so before and is so after, in values of a grade.
    fn row(id: &str, [before, after]: [f64; 2], grade: Grade, verdict: Verdict) -> ComparedMeasure {
        let target = Set::shipped(Shipped::Club).unwrap().of(id).next().cloned();
        let values = |value| vec![Measurement { value, plus_minus: 1.0, grade }; 3];
        ComparedMeasure {
            measure: Measure::find(id).unwrap(),
            before: values(before),
            after: values(after),
            target,
            primary: false,
            seen: true,
            tested: None,
            verdict,
            notes: Vec::new(),
        }
    }

    fn compared(rows: Vec<ComparedMeasure>) -> Comparison {
        Comparison {
            names: ["before".to_owned(), "after".to_owned()],
            group: None,
            refused: None,
            strokes: [3; 2],
            notes: Vec::new(),
            rows,
        }
    }

    fn told(comparison: &Comparison, most: usize) -> (String, Vec<&'static str>) {
        let (lead, named) = headline(comparison, most);
        (lead, named.iter().map(|change| change.measure.id).collect())
    }

    #[test]
    fn the_largest_sure_changes_are_named_first_and_rough_guesses_not_at_all() {
        let stance = |after, grade| row("stance_width_cm", [60.0, after], grade, Verdict::Changed);
        let reach = row("contact_reach_cm", [70.0, 71.0], Grade::Good, Verdict::Changed);
        let both = compared(vec![reach.clone(), stance(90.0, Grade::Good)]);
        let (lead, named) = told(&both, MOST_NAMED);
        assert_eq!(lead, "Two things have clearly changed:");
        assert_eq!(named, ["stance_width_cm", "contact_reach_cm"]);
        assert_eq!(told(&both, 1).1, ["stance_width_cm"]);
        let rough = compared(vec![stance(90.0, Grade::Low)]);
        let none = "No measure that is more than a rough guide has clearly changed.";
        assert_eq!(told(&rough, MOST_NAMED), (none.to_owned(), vec![]));
        let same = compared(vec![row("contact_reach_cm", [70.0, 70.0], Grade::Good, Verdict::Same)]);
        assert_eq!(told(&same, MOST_NAMED), ("No measure has clearly changed.".to_owned(), vec![]));
    }

    #[test]
    fn of_too_few_strokes_only_large_differences_are_told_and_none_as_a_change() {
        let reach = |after| row("contact_reach_cm", [70.0, after], Grade::Good, Verdict::Described);
        let (lead, named) = told(&compared(vec![reach(70.5)]), MOST_NAMED);
        assert!(lead.ends_with("no difference is large.") && named.is_empty(), "{lead} {named:?}");
        let (lead, named) = told(&compared(vec![reach(95.0)]), MOST_NAMED);
        assert!(lead.ends_with("are only described:") && named == ["contact_reach_cm"], "{lead} {named:?}");
    }

    #[test]
    fn a_change_is_told_against_its_aim() {
        let hand = |values| row("hand_behind_shoulder_cm", values, Grade::Good, Verdict::Changed);
        let target = hand([0.0; 2]).target.unwrap();
        let high = target.high.unwrap();
        let words = |values| {
            let (_, named) = headline(&compared(vec![hand(values)]), MOST_NAMED);
            named[0].words.clone()
        };
        assert!(words([high + 30.0, high + 10.0]).contains("nearer to the aim"));
        assert!(words([high + 30.0, high - 1.0]).contains("now inside the aim"));
        assert!(words([high + 10.0, high + 30.0]).contains("farther from the aim"));
    }
}
