//! A player's sessions against each other, kind by kind: all that the player's page says of changes.

use std::collections::{BTreeMap, BTreeSet};

use super::player::{Day, follow_up};
use crate::compare::telling::headline;
use crate::compare::{Comparison, FEWEST_STROKES, Session, compare_as_one_of};
use crate::measure::Grade;
use crate::stroke::Sort;
use crate::table::{ReadStroke, Recorded};
use crate::targets::Set;

/// A player's strokes of fewer than this are no part of the page, unless there are no others.
const FEWEST_OF_A_SORT: usize = 3;

/// More parts than this nobody reads.
const MOST_SORTS: usize = 4;

/// Strokes of a player that may be set beside each other.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Filmed {
    /// Their kind.
    pub kind: Sort,
    /// The hitting hand.
    pub hand: String,
    /// From where the camera looked.
    pub view: String,
}

impl Filmed {
    /// That of a stroke.
    pub fn of(stroke: &ReadStroke) -> Self {
        Self { kind: stroke.sort(), hand: stroke.hand.clone(), view: stroke.view.clone() }
    }

    /// What a player has hit, most first.
    fn all(recorded: &Recorded) -> Vec<Self> {
        let mut counts: BTreeMap<Self, usize> = BTreeMap::new();
        for stroke in &recorded.strokes {
            *counts.entry(Self::of(stroke)).or_default() += 1;
        }
        let mut counted: Vec<(Self, usize)> = counts.into_iter().collect();
        counted.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let enough = counted.iter().filter(|(_, count)| *count >= FEWEST_OF_A_SORT).count();
        counted.truncate(enough.clamp(1, MOST_SORTS));
        counted.into_iter().map(|(filmed, _)| filmed).collect()
    }
}

/// The sessions of strokes that may be set beside each other.
#[derive(Debug)]
pub struct Year {
    /// Which strokes.
    pub filmed: Filmed,
    /// The sessions in order.
    pub days: Vec<Day>,
    /// The first session and the last, and the one before the last and the last.
    pub compared: Vec<(&'static str, Comparison)>,
}

impl Year {
    /// Compares the sessions of each sort of strokes that the player has hit, what there is most of first. All of them stand on one page,
    /// so each makes an equal part of the false alarms that one comparison may make.
    pub fn all(recorded: &Recorded, targets: &Set) -> Vec<Self> {
        let filmed = Filmed::all(recorded);
        let part = 1.0 / filmed.len().max(1) as f64;
        filmed.into_iter().map(|filmed| Self::of(recorded, filmed, targets, part)).collect()
    }

    fn of(recorded: &Recorded, filmed: Filmed, targets: &Set, part: f64) -> Self {
        let mine = recorded.only(|stroke| Filmed::of(stroke) == filmed);
        let dates: BTreeSet<&str> = mine.strokes.iter().map(day_of).collect();
        let of_day = |date: &&str| Session {
            name: (*date).to_owned(),
            recorded: mine.only(|stroke| day_of(stroke) == *date),
        };
        let sessions: Vec<Session> = dates.iter().map(of_day).collect();
        // The comparisons stand on one page: each session and the next share what first and last leave of the false alarms.
        let share = part * share_of_first_and_last(sessions.len());
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
                ("Since the previous session", before),
            ],
            _ => Vec::new(),
        };
        Self { filmed, days, compared }
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
            Year::all(&season, &targets).iter().any(|year| !year.changes().is_empty())
        });
        some.count() as f64 / seasons as f64
    }

    #[test]
    fn each_kind_has_its_part_and_a_stray_stroke_has_none() {
        let targets = Set::shipped(Shipped::Club).unwrap();
        let mut season = session(0, 12, 0.0, &targets, &mut Pcg64Mcg::seed_from_u64(1)).recorded;
        let kinds = |season: &Recorded| -> Vec<(Sort, usize)> {
            let strokes = |year: &Year| year.days.iter().map(|day| day.strokes).sum();
            Year::all(season, &targets).iter().map(|year| (year.filmed.kind, strokes(year))).collect()
        };
        for (place, kind) in [(0, "overhead"), (1, "backhand"), (2, "backhand"), (3, "backhand")] {
            season.strokes[place].kind = kind.to_owned();
        }
        assert_eq!(kinds(&season), [(Sort::Forehand, 8), (Sort::Backhand, 3)]);
        season.strokes.truncate(1);
        assert_eq!(kinds(&season), [(Sort::Overhead, 1)]);
        season.strokes.clear();
        assert_eq!(kinds(&season), []);
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
