//! How single strokes stand against the targets: which one is worth showing as the best, which as the farthest off.

use super::finding::{is_fit, outside};
use super::{Observed, Set};
use crate::measure::CATALOGUE;

impl Set {
    /// How far a stroke lies outside its targets: the mean over all targets that apply to it, in margins (without a margin,
    /// limits of a good ±), 0 = inside all of them. `None` where none can be judged: values of a low grade don't count.
    pub fn distance(&self, stroke: &Observed<'_>) -> Option<f64> {
        let distances: Vec<f64> = CATALOGUE
            .iter()
            .zip(&stroke.values)
            .filter_map(|(measure, value)| {
                let target = self.for_stroke(measure.id, &stroke.circumstances)?;
                target.low.or(target.high)?;
                let value = value.filter(|value| is_fit(*value))?;
                let far = outside(target, value.value).map_or(0.0, |(_, far)| far);
                Some(far / target.margin.unwrap_or(measure.grades.0))
            })
            .collect();
        (!distances.is_empty()).then(|| distances.iter().sum::<f64>() / distances.len() as f64)
    }

    /// Places of the strokes that lie nearest to their targets and farthest from them, the first where several are equal;
    /// `None` where no stroke can be judged.
    pub fn best_and_farthest(&self, strokes: &[Observed<'_>]) -> Option<(usize, usize)> {
        let judged: Vec<(usize, f64)> =
            strokes.iter().enumerate().filter_map(|(i, s)| Some((i, self.distance(s)?))).collect();
        let best = judged.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let farthest = judged.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((best.0, farthest.0))
    }
}

#[cfg(test)]
mod tests {
    use super::super::Circumstances;
    use super::*;
    use crate::measure::{Grade, Measurement};

    fn stroke(value: f64, grade: Grade) -> Observed<'static> {
        let values = CATALOGUE
            .iter()
            .map(|m| {
                (m.id == "hand_behind_shoulder_cm").then_some(Measurement { value, plus_minus: 5.0, grade })
            })
            .collect();
        Observed { circumstances: Circumstances { kind: "forehand", ..Circumstances::default() }, values }
    }

    #[test]
    fn strokes_are_told_apart_by_their_distance_in_margins() {
        let set = Set::parse("[hand_behind_shoulder_cm]\nhigh = 10\nmargin = 5\nsource = 'x'", "x").unwrap();
        let strokes = [(12.0, Grade::Good), (30.0, Grade::Fair), (5.0, Grade::Good), (90.0, Grade::Low)]
            .map(|(value, grade)| stroke(value, grade));
        let distances: Vec<Option<f64>> = strokes.iter().map(|s| set.distance(s)).collect();
        assert_eq!(distances, [Some(0.4), Some(4.0), Some(0.0), None]);
        assert_eq!(set.best_and_farthest(&strokes), Some((2, 1)));
        assert_eq!(set.best_and_farthest(&strokes[3..]), None);
        assert_eq!(Set::default().distance(&strokes[0]), None);
    }
}
