//! A player's sessions against each other: all that the player's page says of changes.

use std::collections::{BTreeMap, BTreeSet};

use super::player::{Day, follow_up};
use crate::compare::telling::headline;
use crate::compare::{Comparison, FEWEST_STROKES, Session, compare_as_one_of};
use crate::measure::Grade;
use crate::table::{ReadStroke, Recorded};
use crate::targets::Set;

/// Kind, hand and view of a stroke.
pub type Sort = (&'static str, String, String);

/// The sessions of a player's usual stroke.
#[derive(Debug)]
pub struct Year {
    /// What the player has hit most of.
    pub sort: Sort,
    /// The sessions in order.
    pub days: Vec<Day>,
    /// The first session and the last, and the one before the last and the last.
    pub compared: Vec<(&'static str, Comparison)>,
}

impl Year {
    /// Compares the sessions of what the player has hit most of; `None` without a stroke.
    pub fn of(recorded: &Recorded, targets: &Set) -> Option<Self> {
        let sort = usual(recorded)?;
        let mine = recorded.only(|stroke| key(stroke) == sort);
        let dates: BTreeSet<&str> = mine.strokes.iter().map(day_of).collect();
        let of_day = |date: &&str| Session {
            name: (*date).to_owned(),
            recorded: mine.only(|stroke| day_of(stroke) == *date),
        };
        let sessions: Vec<Session> = dates.iter().map(of_day).collect();
        // The comparisons stand on one page: each session and the next share what first and last leave of the false alarms.
        let share = share_of_first_and_last(sessions.len());
        let between = |before: &Session, after: &Session, share: f64| {
            compare_as_one_of(before, after, &mine, targets, share)
        };
        let next = share / (sessions.len().max(2) - 1) as f64;
        let days = sessions.iter().enumerate().map(|(i, session)| {
            let grip = session.recorded.clips.first().and_then(|clip| clip.grip.clone());
            let observed: Vec<_> =
                session.recorded.strokes.iter().map(|stroke| stroke.observed(grip.as_deref())).collect();
            let mut values = observed.iter().flat_map(|stroke| &stroke.values).flatten();
            Day {
                date: session.name.clone(),
                strokes: observed.len(),
                is_fit: values.any(|value| value.grade > Grade::Low),
                findings: targets.findings(&observed),
                since: i.checked_sub(1).map(|before| between(&sessions[before], session, next)),
            }
        });
        let days: Vec<Day> = days.collect();
        let before = days.last().and_then(|day| day.since.clone());
        let compared = match (sessions.as_slice(), before) {
            // Of two sessions the first is the one before.
            ([_, _], Some(before)) => vec![("Since the first session", before)],
            ([first, .., last], Some(before)) => vec![
                ("Since the first session", between(first, last, share)),
                ("Since the session before", before),
            ],
            _ => Vec::new(),
        };
        Some(Self { sort, days, compared })
    }

    /// The changes that the page tells: of two sessions' measures, and of what a session had asked for. Sessions of so few strokes
    /// that they are only described tell none.
    pub fn changes(&self) -> Vec<String> {
        let few = |comparison: &Comparison| comparison.strokes.iter().any(|n| *n < FEWEST_STROKES);
        let compared = self.compared.iter().filter(|(_, comparison)| !few(comparison));
        let told = compared.flat_map(|(when, comparison)| {
            let (_, named) = headline(comparison, usize::MAX);
            named.into_iter().map(move |named| format!("{when}: {}: {}", named.measure.title, named.words))
        });
        let asked = self.days.windows(2).filter_map(|pair| follow_up(&pair[0], &pair[1]));
        let asked = asked.filter(|line| line.is_change);
        told.chain(asked.map(|line| format!("{}: {}: {}", line.next_date, line.title, line.outcome)))
            .collect()
    }
}

/// The part of a season's false alarms that comparing its first with its last session may make: half of them where there are others to be
/// compared.
pub const fn share_of_first_and_last(sessions: usize) -> f64 {
    if sessions > 2 { 0.5 } else { 1.0 }
}

/// The session of a stroke: its day, or where nobody knows that its clip.
fn day_of(stroke: &ReadStroke) -> &str {
    stroke.date.as_deref().unwrap_or(&stroke.clip)
}

/// Kind, hand and view of a stroke.
pub fn key(stroke: &ReadStroke) -> Sort {
    (stroke.sort().name(), stroke.hand.clone(), stroke.view.clone())
}

/// What the player has hit most of.
pub fn usual(recorded: &Recorded) -> Option<Sort> {
    let mut counts = BTreeMap::new();
    for stroke in &recorded.strokes {
        *counts.entry(key(stroke)).or_insert(0) += 1;
    }
    counts.into_iter().max_by_key(|(_, count)| *count).map(|(key, _)| key)
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_pcg::Pcg64Mcg;

    use super::*;
    use crate::compare::null_tests::session;
    use crate::targets::Shipped;

    /// Share of so many seasons of twelve sessions in which the page tells a change; the last session lies `shift` of the strokes' spread
    /// from the others.
    fn told(seasons: usize, shift: f64) -> f64 {
        let targets = Set::shipped(Shipped::Club).unwrap();
        let mut rng = Pcg64Mcg::seed_from_u64(29);
        let some = (0..seasons).filter(|_| {
            let mut season = Recorded::default();
            for day in 0..12 {
                let shift = if day == 11 { shift } else { 0.0 };
                let mut recorded = session(day, 10, shift, &targets, &mut rng).recorded;
                recorded.strokes.iter_mut().for_each(|stroke| stroke.source = day);
                season.clips.append(&mut recorded.clips);
                season.strokes.append(&mut recorded.strokes);
            }
            !Year::of(&season, &targets).unwrap().changes().is_empty()
        });
        some.count() as f64 / seasons as f64
    }

    #[test]
    fn a_season_without_a_change_rarely_tells_one() {
        let some = told(100, 0.0);
        println!("seasons of a player who has not changed that tell a change: {some:.2}");
        assert!(some <= 0.05, "{some}");
    }

    #[test]
    fn a_season_with_a_large_change_tells_it() {
        let some = told(10, 5.0);
        assert!(some >= 0.8, "{some}");
    }
}
