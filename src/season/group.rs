//! Strokes that may be set beside each other: one player's strokes of one kind in one view, session by session.

use std::collections::BTreeMap;

use super::gather::GatheredStroke;
use crate::measure::{CATALOGUE, Grade, Measurement};
use crate::order::median;
use crate::stats::{Interval, MEDIAN_OVER_MEAN, Summary, mean_interval};
use crate::table::Drill;

/// One player's strokes of one kind in one view.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The player's code, or nothing.
    pub player: String,
    /// The view.
    pub view: String,
    /// The kind of the strokes.
    pub kind: String,
    /// Its sessions by day, those of one day from the first drill to the last; those without a day come first.
    pub sessions: Vec<Session>,
}

/// Strokes of one day and one drill.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// The day, or nothing.
    pub date: String,
    /// The drill, or nothing.
    pub drill: String,
    /// How many strokes.
    pub strokes: usize,
    /// The values of each entry of the catalogue, in the order of the strokes.
    pub values: Vec<Vec<f64>>,
    measured: Vec<Vec<Measurement>>,
}

/// A session's values of one measure, described.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Described {
    /// Number, mean, median, standard deviation.
    pub summary: Summary,
    /// 95 % interval of the mean: the strokes' scatter and what the measurement is off by in all of them; none for a single
    /// value.
    pub interval: Option<Interval>,
    /// The same of the median.
    pub median_interval: Option<Interval>,
    /// The grade that most values have, the lower of two.
    pub grade: Grade,
}

impl Session {
    fn new(date: &str, drill: &str) -> Self {
        let empty = CATALOGUE.len();
        Self {
            date: date.to_owned(),
            drill: drill.to_owned(),
            strokes: 0,
            values: vec![Vec::new(); empty],
            measured: vec![Vec::new(); empty],
        }
    }

    fn add(&mut self, stroke: &GatheredStroke) {
        self.strokes += 1;
        for (measure, value) in stroke.values.iter().enumerate() {
            if let Some(measured) = value {
                self.values[measure].push(measured.value);
                self.measured[measure].push(*measured);
            }
        }
    }

    /// Describes the values of an entry of the catalogue; `None` where there are none.
    pub fn describe(&self, measure: usize) -> Option<Described> {
        let summary = Summary::of(&self.values[measure])?;
        let measured = &self.measured[measure];
        let count = |grade: Grade| measured.iter().filter(|found| found.grade == grade).count();
        let most = [Grade::Good, Grade::Fair, Grade::Low].into_iter().max_by_key(|grade| count(*grade));
        // All strokes of a session share what camera and network are off by, and the next session's camera stands elsewhere.
        let own = median(measured.iter().map(|found| found.plus_minus)).unwrap_or(0.0);
        let interval = mean_interval(&self.values[measure]).map(|strokes| {
            let half = (0.5 * (strokes.high - strokes.low)).hypot(own);
            Interval { low: summary.mean - half, high: summary.mean + half }
        });
        let median_interval = mean_interval(&self.values[measure]).map(|strokes| {
            let half = (0.5 * MEDIAN_OVER_MEAN * (strokes.high - strokes.low)).hypot(own);
            Interval { low: summary.median - half, high: summary.median + half }
        });
        Some(Described { summary, interval, median_interval, grade: most.unwrap_or(Grade::Low) })
    }
}

/// Groups strokes: players, views and kinds in the order of their names.
pub fn groups(strokes: &[GatheredStroke]) -> Vec<Group> {
    type Key<'a> = (&'a str, &'a str, &'a str);
    let mut found: BTreeMap<Key<'_>, BTreeMap<(&str, usize, &str), Session>> = BTreeMap::new();
    for stroke in strokes {
        let drill =
            Drill::ALL.iter().position(|drill| drill.name() == stroke.drill).unwrap_or(Drill::ALL.len());
        found
            .entry((&stroke.player, &stroke.view, &stroke.kind))
            .or_default()
            .entry((&stroke.date, drill, &stroke.drill))
            .or_insert_with(|| Session::new(&stroke.date, &stroke.drill))
            .add(stroke);
    }
    found
        .into_iter()
        .map(|((player, view, kind), sessions)| Group {
            player: player.to_owned(),
            view: view.to_owned(),
            kind: kind.to_owned(),
            sessions: sessions.into_values().collect(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stroke(date: &str, drill: &str, kind: &str, value: Option<(f64, Grade)>) -> GatheredStroke {
        let mut values = vec![None; CATALOGUE.len()];
        values[1] = value.map(|(value, grade)| Measurement { value, plus_minus: 3.0, grade });
        let text = str::to_owned;
        GatheredStroke {
            player: text("P01"),
            date: text(date),
            drill: text(drill),
            view: text("side"),
            kind: text(kind),
            values,
        }
    }

    #[test]
    fn sessions_are_in_order_and_hold_their_own_strokes() {
        let strokes = [
            stroke("2025-06-14", "rally", "forehand", Some((3.0, Grade::Good))),
            stroke("2025-06-14", "drop", "forehand", Some((1.0, Grade::Low))),
            stroke("2025-06-14", "rally", "forehand", Some((5.0, Grade::Low))),
            stroke("2025-05-01", "rally", "forehand", None),
            stroke("2025-06-14", "rally", "backhand", Some((9.0, Grade::Good))),
        ];
        let groups = groups(&strokes);
        let names: Vec<&str> = groups.iter().map(|group| group.kind.as_str()).collect();
        assert_eq!(names, ["backhand", "forehand"]);
        let sessions: Vec<(&str, &str, usize)> =
            groups[1].sessions.iter().map(|s| (s.date.as_str(), s.drill.as_str(), s.strokes)).collect();
        assert_eq!(
            sessions,
            [("2025-05-01", "rally", 1), ("2025-06-14", "drop", 1), ("2025-06-14", "rally", 2)]
        );
        assert_eq!(groups[1].sessions[0].describe(1), None);
        let rally = groups[1].sessions[2].describe(1).unwrap();
        assert_eq!((rally.summary.n, rally.summary.mean, rally.grade), (2, 4.0, Grade::Low));
        let strokes = mean_interval(&[3.0, 5.0]).unwrap();
        let half = 0.5 * (strokes.high - strokes.low);
        let whole = rally.interval.unwrap();
        assert!(
            (whole.high - 4.0 - half.hypot(3.0)).abs() < 1e-9 && (whole.low + whole.high - 8.0).abs() < 1e-9
        );
    }
}
