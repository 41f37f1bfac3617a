//! A clip's strokes at a glance: how many of which kind, and the few measures that a short table shows.

use crate::measure::clip::MeasuredStroke;
use crate::measure::pair::{Origin, Second};
use crate::measure::{CATALOGUE, Measure, Measurement};
use crate::stroke::Sort;

/// Measures that are shown where they have values, the most telling first, with two lines of heading each.
const HEADLINES: [(&str, &str, &str); 15] = [
    ("hand_behind_shoulder_cm", "hand behind", "shoulder"),
    ("hand_ahead_of_front_toe_cm", "hand ahead", "of toe"),
    ("pelvis_over_base_at_finish", "hips over feet", "at finish"),
    ("trunk_lean_at_contact_deg", "trunk lean", "at contact"),
    ("forward_swing_ms", "forward", "swing"),
    ("hand_speed_peak_mps", "hand speed", "peak"),
    ("hand_to_body_in_drop_cm", "hand to body", "in drop"),
    ("elbow_off_ribs_deg", "elbow", "off body"),
    ("hand_above_shoulder_cm", "hand above", "shoulder"),
    ("contact_over_stature", "contact by", "stature"),
    ("contact_ahead_of_front_toe_cm", "contact ahead", "of toe"),
    ("knee_bend_deg", "knee", "bend"),
    ("toss_arm_up_ms", "toss arm", "up"),
    ("trunk_side_lean_at_contact_deg", "side lean", "at contact"),
    ("stance_width_cm", "stance", "width"),
];

/// So many measures fit on a line, and fewer than so many make no table.
const MOST: usize = 6;
const FEWEST: usize = 3;

/// A measure that is shown.
#[derive(Debug, Clone)]
pub struct Headline {
    /// Its place in the catalogue.
    pub index: usize,
    /// Its entry in the catalogue.
    pub measure: &'static Measure,
    /// The column's heading in two lines; the second ends with the unit.
    pub heading: [String; 2],
}

impl Headline {
    /// The strokes' values, as many as there are.
    pub fn values(&self, strokes: &[&MeasuredStroke]) -> Vec<Measurement> {
        strokes.iter().filter_map(|stroke| stroke.measured.outcomes.get(self.index)?.ok()).collect()
    }
}

/// How many strokes of each kind there are: `4 forehands`.
pub fn counted(strokes: &[MeasuredStroke]) -> Vec<String> {
    let mut parts = Vec::new();
    for sort in Sort::ALL {
        match strokes.iter().filter(|stroke| stroke.stroke.sort() == sort).count() {
            0 => {}
            1 => parts.push(format!("1 {}", sort.spoken())),
            count => parts.push(format!("{count} {}", sort.plural())),
        }
    }
    parts
}

/// The measures to show of some strokes. What can be read from the clip's view comes first; what can't only fills a table that
/// is nearly empty. What a second camera shows better says so in its heading.
pub fn headlines(strokes: &[&MeasuredStroke], pair: Option<&Second>) -> Vec<Headline> {
    let view = strokes.first().map(|stroke| stroke.stroke.motion.direction.view);
    let mut columns: Vec<(bool, Headline)> = HEADLINES
        .iter()
        .filter_map(|(id, first, second)| {
            let index = Measure::place(id)?;
            let measure = &CATALOGUE[index];
            let unit = measure.symbol();
            let second = if unit.is_empty() { (*second).to_owned() } else { format!("{second} {unit}") };
            let view_of = pair.and_then(|pair| pair.view_of(index));
            let second = match view_of {
                Some(view) => format!("{second} ({view})"),
                None => second,
            };
            let other = pair.map(|pair| (pair.origin(index), pair.view));
            let seen_from = match other {
                None | Some((Origin::Own, _)) => [view, None],
                Some((Origin::Other, other)) => [None, Some(other)],
                Some((Origin::Both, other)) => [view, Some(other)],
            };
            let suits = seen_from.into_iter().flatten().any(|view| measure.views.contains(&view));
            Some((suits, Headline { index, measure, heading: [(*first).to_owned(), second] }))
        })
        // What the strokes' kinds don't have is no column, and one that is empty in most of those that have it says little.
        .filter(|(_, shown)| {
            let having = strokes.iter().filter(|s| shown.measure.kinds.contains(&s.stroke.sort())).count();
            having > 0 && 2 * shown.values(strokes).len() >= having
        })
        .collect();
    columns.sort_by_key(|(suits, _)| !suits);
    columns
        .into_iter()
        .enumerate()
        .filter(|(i, (suits, _))| *i < FEWEST || (*suits && *i < MOST))
        .map(|(_, (_, shown))| shown)
        .collect()
}
