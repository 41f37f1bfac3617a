//! What changed from one session to another, what did not, and what is uncertain.
//!
//! A session is a set of strokes read back from tables. Only like is compared with like ([`matched`]); each measure's
//! difference is judged by [`judge`], and [`telling`] says which changes matter most, and [`words`] puts
//! the outcome into a paragraph that a player can read.

mod judge;
mod matched;
mod note;
#[cfg(test)]
pub(crate) mod null_tests;
pub mod sheet;
pub mod telling;
pub mod words;

use crate::measure::{CATALOGUE, Grade, Measure, Measurement};
use crate::order::median;
use crate::stats::Summary;
use crate::table::{ReadStroke, Recorded};
use crate::targets::{Set, Target};

pub use judge::{Tested, Verdict};
pub use matched::Group;
pub use note::Note;

/// Fewer strokes than this on a side are only described.
pub const FEWEST_STROKES: usize = 6;

/// One of the two sessions.
#[derive(Debug, Clone)]
pub struct Session {
    /// What it is called in charts and messages: the name that was typed.
    pub name: String,
    /// Its strokes.
    pub recorded: Recorded,
}

/// A measure in both sessions.
#[derive(Debug, Clone)]
pub struct ComparedMeasure {
    /// The measure.
    pub measure: &'static Measure,
    /// Values before, in the order of the strokes.
    pub before: Vec<Measurement>,
    /// Values after.
    pub after: Vec<Measurement>,
    /// The target that most of the strokes after have, if there is one.
    pub target: Option<Target>,
    /// Whether the measure was named beforehand as one to look at.
    pub primary: bool,
    /// Whether the strokes' view shows it, and not only by guessed depth.
    pub seen: bool,
    /// The difference with what was found about it, where it could be tested.
    pub tested: Option<Tested>,
    /// What it comes to.
    pub verdict: Verdict,
    /// What else is to be known.
    pub notes: Vec<Note>,
}

impl ComparedMeasure {
    /// Values of a side without their uncertainty.
    pub fn values(side: &[Measurement]) -> Vec<f64> {
        side.iter().map(|m| m.value).collect()
    }

    /// Takes a change back.
    fn withdraw(&mut self, why: Note) {
        self.verdict = Verdict::Unclear;
        self.notes.push(why);
    }

    /// Whether most values of a side have a low grade.
    pub fn is_low(&self) -> bool {
        let low =
            |side: &[Measurement]| 2 * side.iter().filter(|m| m.grade == Grade::Low).count() > side.len();
        low(&self.before) || low(&self.after)
    }

    /// The medians of both sides.
    pub fn medians(&self) -> Option<[f64; 2]> {
        let of = |side: &[Measurement]| median(side.iter().map(|found| found.value));
        Some([of(&self.before)?, of(&self.after)?])
    }

    /// Mean after minus mean before.
    pub fn difference(&self) -> Option<f64> {
        let mean = |side: &[Measurement]| Summary::of(&Self::values(side)).map(|summary| summary.mean);
        Some(mean(&self.after)? - mean(&self.before)?)
    }

    /// How much the difference matters beside others: in margins, without one in limits of a good ±.
    pub fn weight(&self) -> f64 {
        let margin = self.target.as_ref().and_then(|target| target.margin).unwrap_or(self.measure.grades.0);
        self.difference().unwrap_or_default().abs() / margin
    }
}

/// Two sessions compared.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Names of the sessions.
    pub names: [String; 2],
    /// Which strokes were compared; `None` where the sessions have none of the same sort.
    pub group: Option<Group>,
    /// Why nothing can be compared.
    pub refused: Option<String>,
    /// How many strokes there are on each side.
    pub strokes: [usize; 2],
    /// What holds for all measures, in short sentences without a full stop.
    pub notes: Vec<String>,
    /// The measures that have a value in both sessions, the most telling first.
    pub rows: Vec<ComparedMeasure>,
}

impl Comparison {
    /// The measures with a verdict.
    pub fn with(&self, verdict: Verdict) -> Vec<&ComparedMeasure> {
        self.rows.iter().filter(|row| row.verdict == verdict).collect()
    }
}

/// Compares two sessions. `earlier` are sessions of this player from which ordinary change is known; those that are
/// compared don't count among them.
pub fn compare(before: &Session, after: &Session, earlier: &Recorded, targets: &Set) -> Comparison {
    compare_as_one_of(before, after, earlier, targets, 1.0)
}

/// Compares two of several sessions whose comparisons are read together: this one may make `share` of the false alarms that a single one may,
/// so that all of them together make no more.
pub fn compare_as_one_of(
    before: &Session,
    after: &Session,
    earlier: &Recorded,
    targets: &Set,
    share: f64,
) -> Comparison {
    let matched = matched::pair(&before.recorded, &after.recorded);
    let known = matched.group.as_ref().map_or_else(Vec::new, |group| {
        matched::earlier_sessions(earlier, group, [&before.recorded, &after.recorded])
    });
    let mut rows: Vec<ComparedMeasure> = CATALOGUE
        .iter()
        .enumerate()
        .filter_map(|(place, measure)| {
            let values = |strokes: &[&ReadStroke]| -> Vec<Measurement> {
                strokes.iter().filter_map(|stroke| *stroke.values.get(place)?).collect()
            };
            let (before, after) = (values(&matched.before), values(&matched.after));
            if before.is_empty() || after.is_empty() {
                return None;
            }
            let target = matched.target(targets, measure.id).cloned();
            let mut row = ComparedMeasure {
                measure,
                before,
                after,
                target,
                primary: targets.is_primary(measure.id),
                seen: matched.shows(measure),
                tested: None,
                verdict: Verdict::Described,
                notes: Vec::new(),
            };
            let earlier: Vec<Vec<f64>> =
                known.iter().map(|session| ComparedMeasure::values(&values(session))).collect();
            judge::judge(&mut row, &matched, &earlier);
            Some(row)
        })
        .collect();
    judge::withdraw_chance_finds(&mut rows, share);
    rows.sort_by(|a, b| {
        a.verdict.cmp(&b.verdict).then(b.primary.cmp(&a.primary)).then(b.weight().total_cmp(&a.weight()))
    });
    Comparison {
        names: [before.name.clone(), after.name.clone()],
        strokes: [matched.before.len(), matched.after.len()],
        group: matched.group,
        refused: matched.refused,
        notes: matched.notes,
        rows,
    }
}
