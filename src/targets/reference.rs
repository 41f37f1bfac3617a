//! What recorded players do: quartiles per measure, kind and level (`reference.csv`).
//!
//! Each player counts once, with the median of his strokes. Lengths are shares of the stature, so that tall and small players
//! can be compared. No measure is among them that rests on a racket, because the recordings have none.

use std::sync::LazyLock;

use crate::measure::Measure;

const TABLE: &str = include_str!("reference.csv");

/// The level that ordinary players are compared with.
const LEVEL: &str = "club";

/// The middle half of some recorded players.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reference {
    /// A quarter of the players lie below, in the measure's unit.
    pub low: f64,
    /// Half of them do.
    pub median: f64,
    /// Three quarters of them do.
    pub high: f64,
    /// How many players those are.
    pub players: usize,
    /// Of how many strokes.
    pub strokes: usize,
}

struct Line {
    kind: String,
    level: String,
    measure: String,
    reference: Reference,
}

/// What club players do in a kind of stroke, as tables name it (`forehand`, `backhand volley`), for a player of a stature in cm;
/// `None` where that was not recorded.
pub fn reference(measure: &Measure, kind: &str, height_cm: f64) -> Option<Reference> {
    static LINES: LazyLock<Vec<Line>> = LazyLock::new(|| lines(TABLE));
    let line = LINES.iter().find(|l| l.kind == kind && l.level == LEVEL && l.measure == measure.id)?;
    let scale = if measure.is_length() { height_cm } else { 1.0 };
    let found = line.reference;
    Some(Reference {
        low: scale * found.low,
        median: scale * found.median,
        high: scale * found.high,
        ..found
    })
}

/// The kinds of strokes for which a measure was recorded.
pub fn kinds(measure: &Measure) -> Vec<String> {
    let mut kinds: Vec<String> = lines(TABLE)
        .into_iter()
        .filter(|l| l.measure == measure.id && l.level == LEVEL)
        .map(|l| l.kind)
        .collect();
    kinds.dedup();
    kinds
}

impl Reference {
    /// How a measure's median with its ± stands beside the recorded players; never more surely than the ± allows.
    pub fn beside(&self, measure: &Measure, value: f64, plus_minus: f64) -> String {
        let players = self.players;
        let [larger, smaller] = measure.comparatives();
        let than =
            |how: &str| format!("That is {how} than about three of four of {players} recorded club players.");
        if value - plus_minus > self.high {
            than(larger)
        } else if value + plus_minus < self.low {
            than(smaller)
        } else if (self.low..=self.high).contains(&value) {
            format!("That is within the middle half of {players} recorded club players.")
        } else {
            format!("That is near the edge of what is usual for {players} recorded club players.")
        }
    }
}

fn lines(text: &str) -> Vec<Line> {
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.filter_map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        let [kind, level, measure, _, players, strokes, low, median, high] = cells.as_slice() else {
            return None;
        };
        let reference = Reference {
            low: low.parse().ok()?,
            median: median.parse().ok()?,
            high: high.parse().ok()?,
            players: players.parse().ok()?,
            strokes: strokes.parse().ok()?,
        };
        Some(Line {
            kind: (*kind).to_owned(),
            level: (*level).to_owned(),
            measure: (*measure).to_owned(),
            reference,
        })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::CATALOGUE;

    #[test]
    fn every_line_is_read_and_orders_its_quartiles() {
        let rows = TABLE.lines().filter(|line| !line.starts_with('#')).count() - 1;
        let lines = lines(TABLE);
        assert!(rows == lines.len() && rows > 15, "{rows}");
        for Line { kind, measure, reference, .. } in &lines {
            assert!(CATALOGUE.iter().any(|m| m.id == measure), "{measure}");
            assert!(
                reference.low <= reference.median && reference.median <= reference.high,
                "{kind} {measure}"
            );
            assert!(reference.players >= 5 && reference.strokes >= reference.players, "{kind} {measure}");
            let of_racket = [
                "lag_",
                "contact_ahead",
                "contact_height",
                "contact_level",
                "ready_tip",
                "tip_",
                "swing_slope",
            ];
            assert!(of_racket.iter().all(|name| !measure.starts_with(name)), "{measure} rests on a racket");
        }
    }

    #[test]
    fn lengths_grow_with_the_player() {
        let measure = Measure::find("stance_width_cm").unwrap();
        let of = |height| reference(measure, "forehand", height).unwrap().median;
        assert!((of(190.0) / of(160.0) - 190.0 / 160.0).abs() < 1e-9);
        assert!(reference(measure, "lob", 180.0).is_none());
    }

    #[test]
    fn nothing_is_said_more_surely_than_the_number() {
        let reference = Reference { low: 10.0, median: 15.0, high: 20.0, players: 8, strokes: 80 };
        let lean = Measure::find("trunk_lean_at_finish_deg").unwrap();
        let beside = |value, plus_minus| reference.beside(lean, value, plus_minus);
        assert!(beside(30.0, 8.0).contains("farther forward than about three of four"));
        assert!(beside(5.0, 1.0).contains("farther back than about three of four"));
        assert!(beside(12.0, 30.0).contains("middle half"));
        assert!(beside(22.0, 8.0).contains("near the edge"));
    }
}
