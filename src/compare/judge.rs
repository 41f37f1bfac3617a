//! The verdict on one measure.

use super::matched::Matched;
use super::{ComparedMeasure, FEWEST_STROKES, Note};
use crate::measure::Measurement;
use crate::stats::{
    Between, Difference, Extra, Summary, TWO_SIDED_95, benjamini_hochberg, between_sessions, difference,
    hedges_g, holm, outliers, permutation_p,
};

/// What a measure comes to, in the order in which it is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// The interval of the difference does not include zero.
    Changed,
    /// The interval holds zero and more than the margin.
    Unclear,
    /// The whole interval lies within the coach's margin.
    Same,
    /// Too few strokes for more than a description.
    Described,
    /// Not comparable.
    Refused,
}

impl Verdict {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Changed, Self::Unclear, Self::Same, Self::Described, Self::Refused];

    /// The word used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Changed => "changed",
            Self::Unclear => "unclear",
            Self::Same => "same",
            Self::Described => "described",
            Self::Refused => "refused",
        }
    }
}

impl Verdict {
    /// What it says about the two sessions.
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Changed => {
                "The 95 % interval of the difference does not include zero. The interval covers the spread of the strokes, \
                 the similarity of consecutive strokes, the ± of the measurement, and the usual difference between \
                 sessions."
            }
            Self::Unclear => {
                "The difference could be chance, or the usual difference between sessions. The note says which, and how \
                 large a change would have to be."
            }
            Self::Same => "The whole interval lies within the margin that the targets allow.",
            Self::Described => "There are fewer than six strokes on one side: too few to judge.",
            Self::Refused => {
                "The sessions are not comparable in this measure: they differ in kind, hand, view or model. Times and speeds \
                 are not compared across different frame rates."
            }
        }
    }

    /// What a player reads.
    pub const fn in_plain_words(self) -> &'static str {
        match self {
            Self::Changed => "changed",
            Self::Unclear => "no clear change",
            Self::Same => "the same",
            Self::Described => "only described",
            Self::Refused => "not comparable",
        }
    }
}

/// What was found about a difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// The difference with its interval and the smallest change that could be told.
    pub difference: Difference,
    /// Hedges' g; `None` where the strokes don't differ.
    pub hedges_g: Option<f64>,
    /// Permutation p.
    pub p: f64,
    /// The p of the interval, widened by what sessions usually differ by where earlier ones don't tell.
    judged: f64,
    /// That p corrected for the primary measures together (Holm); for others the smallest false discovery rate at which it
    /// would still count. `None` for what the view doesn't show.
    pub q: Option<f64>,
}

/// Share of a ±'s variance that two sessions of one player, filmed alike, don't have in common.
///
/// Most of a ± is what the network's body points are off by on this player's body in this view, and so the same in both
/// sessions; camera, scale and the pose itself are not. Over pairs of rendered clips of one player, kind and view that other cameras had
/// filmed, near and far, high and low, tilted and panned (843 differences of mean errors), the share was 0.22 on average; with a third,
/// 96 % of the differences lie within the 95 % interval. The width of the stance fares worse.
const NOT_SHARED: f64 = 1.0 / 3.0;

/// Limit of Holm's p for primary measures. Some of them is then called changed in at most 10 of 100 pairs of sessions in
/// which none is: a few strokes tell their own dependence badly, so that p comes out too small (`null_tests`).
const FAMILY_RATE: f64 = 0.04;

/// False discovery rate over the measures that are not primary.
const DISCOVERY_RATE: f64 = 0.10;

/// Sessions of a player may well differ by this share of the strokes' spread when nothing is changed; a rule that is worth
/// as much as so many sessions.
const USUAL_BETWEEN: f64 = 0.5;
const USUAL_SESSIONS: usize = 4;

/// Judges a row; `earlier` holds its values in earlier sessions.
pub fn judge(row: &mut ComparedMeasure, matched: &Matched<'_>, earlier: &[Vec<f64>]) {
    if let Some(why) = matched.refusal(row.measure) {
        row.verdict = Verdict::Refused;
        row.notes.push(Note::Refused(why.to_owned()));
        return;
    }
    let (before, after) = (ComparedMeasure::values(&row.before), ComparedMeasure::values(&row.after));
    for (values, when) in [(&before, "before"), (&after, "after")] {
        let middle = Summary::of(values).map_or(0.0, |summary| summary.median);
        // Among values that hardly differ, one that differs by less than could be told apart is nothing to look at.
        let least = 0.5 * row.measure.grades.0;
        match outliers(values).into_iter().filter(|place| (values[*place] - middle).abs() > least).count() {
            0 => {}
            count => row.notes.push(Note::Outliers(count, when)),
        }
    }
    if before.len().min(after.len()) < FEWEST_STROKES {
        row.notes.push(Note::FewStrokes);
        return;
    }
    let measurement = own_error(&row.before, &row.after, matched.shares_error);
    let usual = usual_between(&before, &after);
    // Earlier sessions were measured as these are; the usual spread is the players' alone.
    let with_error = usual.hypot(measurement / std::f64::consts::SQRT_2);
    let between = between_sessions(earlier.iter().map(Vec::as_slice))
        .map(|between| between.joined(with_error, USUAL_SESSIONS));
    let known = Extra { measurement, between, usual: None };
    let Some(found) = difference(&before, &after, known) else { return };
    // Where no earlier sessions tell, sessions are taken to differ as they usually do.
    let usual = Between { sd: usual, sessions: USUAL_SESSIONS + 1 };
    let ordinary = match between {
        Some(_) => Some(found),
        None => difference(&before, &after, Extra { usual: Some(usual), ..known }),
    };
    row.tested = permutation_p(&before, &after).zip(ordinary).map(|(p, ordinary)| Tested {
        difference: found,
        hedges_g: hedges_g(&before, &after),
        p,
        judged: ordinary.p,
        q: None,
    });
    let margin = row.target.as_ref().and_then(|target| target.margin);
    row.verdict = if margin.is_some_and(|margin| found.interval.is_within(margin)) {
        Verdict::Same
    } else if found.interval.holds(0.0) {
        Verdict::Unclear
    } else if ordinary.is_some_and(|ordinary| ordinary.interval.holds(0.0)) {
        row.notes.push(Note::NotSeparable);
        Verdict::Unclear
    } else {
        Verdict::Changed
    };
    explain(row, &found, between);
}

/// Puts what else is to be known into the row's notes, and takes back what the view can't carry.
fn explain(row: &mut ComparedMeasure, found: &Difference, between: Option<Between>) {
    if !row.seen && row.verdict < Verdict::Same {
        row.withdraw(Note::GuessedDepth);
        return;
    }
    if row.notes.contains(&Note::NotSeparable) {
        return;
    }
    match row.verdict {
        Verdict::Unclear => {
            let needed = row.measure.amount(found.minimal);
            row.notes.push(Note::Needed(needed));
        }
        Verdict::Changed => {
            if row.is_low() {
                row.notes.push(Note::LowGrade);
            }
            if let Some(between) = between {
                row.notes.push(Note::Sessions(between.sessions - USUAL_SESSIONS));
            }
        }
        Verdict::Same | Verdict::Described | Verdict::Refused => {}
    }
}

/// What sessions usually differ by (1 standard deviation).
fn usual_between(before: &[f64], after: &[f64]) -> f64 {
    let variance = |values: &[f64]| Summary::of(values).and_then(|s| s.sd).unwrap_or_default().powi(2);
    USUAL_BETWEEN * (0.5 * (variance(before) + variance(after))).sqrt()
}

/// Standard deviation of the measurement's own error in the difference of two sessions: each session has its strokes'
/// root mean square ± in common, of which one player's sessions share what [`NOT_SHARED`] leaves.
fn own_error(before: &[Measurement], after: &[Measurement], shares_error: bool) -> f64 {
    let mean_square = |side: &[Measurement]| {
        side.iter().map(|m| m.plus_minus.powi(2)).sum::<f64>() / side.len().max(1) as f64
    };
    let share = if shares_error { NOT_SHARED } else { 1.0 };
    (share * (mean_square(before) + mean_square(after))).sqrt() / TWO_SIDED_95
}

/// Looks at measures together: the more of them there are, the more seem changed by chance. Those that were named
/// beforehand are few and each matters, so that none of them may be wrong; of the others a share may be. This can only take
/// a `changed` back. `share` is the part of the false alarms that these may make where more is compared.
pub fn withdraw_chance_finds(rows: &mut [ComparedMeasure], share: f64) {
    for (primary, corrected, limit) in
        [(true, holm as fn(&[f64]) -> Vec<f64>, FAMILY_RATE), (false, benjamini_hochberg, DISCOVERY_RATE)]
    {
        let together =
            |row: &&mut ComparedMeasure| row.primary == primary && row.seen && row.tested.is_some();
        let mut rows: Vec<&mut ComparedMeasure> = rows.iter_mut().filter(together).collect();
        let p: Vec<f64> = rows.iter().filter_map(|row| Some(row.tested?.judged)).collect();
        for (row, q) in rows.iter_mut().zip(corrected(&p)) {
            if let Some(tested) = &mut row.tested {
                tested.q = Some(q);
            }
            if row.verdict == Verdict::Changed && q > limit * share {
                row.withdraw(Note::ByChance);
            }
        }
    }
}
