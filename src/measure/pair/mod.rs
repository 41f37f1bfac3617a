//! Two cameras on one session: which strokes are the same, what both together give of these, and whose each number is.

mod both;
mod matching;

use rayon::prelude::*;
use serde::Serialize;

use super::clip::{ClipMeasures, MeasuredStroke};
use super::{Measurement, Missing};
use crate::scene::View;
use both::Clocks;
pub use matching::{Matching, Unmatched, by_times, matched};

/// Whose a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Origin {
    /// The clip's own.
    #[default]
    Own,
    /// The other clip's.
    Other,
    /// Of both together: measured in the motion that both give, or the mean of both, each by its ±.
    Both,
}

/// What of a clip's numbers comes from another clip of the same strokes.
#[derive(Debug, Clone, PartialEq)]
pub struct Second {
    /// The other clip's name.
    pub clip: String,
    /// From where its camera looks.
    pub view: View,
    /// From where the first clip's camera looks.
    pub own: View,
    /// How many strokes' motions were put together from both.
    pub joined: usize,
    /// How the clips' strokes belong together.
    pub matching: Matching,
    /// For each stroke of the first clip and each measure whose the value is.
    pub origins: Vec<Vec<Origin>>,
}

/// What is noted of the second camera.
#[derive(Debug, Clone, Serialize)]
pub struct SecondNote {
    clip: String,
    view: &'static str,
    strokes_matched: usize,
    strokes_joined: usize,
    offset_s: f64,
    drift: f64,
    values_of_second: usize,
    values_of_both: usize,
}

impl Second {
    /// The note.
    pub fn note(&self) -> SecondNote {
        let rounded = |value: f64, digits: i32| {
            let scale = 10_f64.powi(digits);
            (value * scale).round() / scale
        };
        SecondNote {
            clip: self.clip.clone(),
            view: self.view.name(),
            strokes_matched: self.matching.pairs.len(),
            strokes_joined: self.joined,
            offset_s: rounded(self.matching.offset.0, 3),
            drift: rounded(self.matching.drift, 6),
            values_of_second: self.count(|origin| origin == Origin::Other),
            values_of_both: self.count(|origin| origin == Origin::Both),
        }
    }

    fn count(&self, is_meant: impl Fn(Origin) -> bool) -> usize {
        self.origins.iter().flatten().filter(|origin| is_meant(**origin)).count()
    }

    /// Whose most of the values of a measure are, by its place in the catalogue.
    pub fn origin(&self, measure: usize) -> Origin {
        let count = |wanted: Origin| {
            self.origins.iter().filter(|origins| origins.get(measure) == Some(&wanted)).count()
        };
        [Origin::Own, Origin::Both, Origin::Other]
            .into_iter()
            .max_by_key(|origin| count(*origin))
            .unwrap_or_default()
    }

    /// Gives the first clip's strokes as its camera alone has them, whose lines its stills show, the numbers of `both`: a page shows one
    /// number. What only the second camera sees is left out.
    pub fn number_first(&self, own: &mut ClipMeasures, both: &ClipMeasures) {
        for ((own, both), origins) in own.strokes.iter_mut().zip(&both.strokes).zip(&self.origins) {
            let outcomes = own.measured.outcomes.iter_mut().zip(&both.measured.outcomes);
            for ((outcome, both), origin) in outcomes.zip(origins) {
                *outcome = if *origin == Origin::Other { Err(Missing::ViewUnsuitable) } else { *both };
            }
        }
    }

    /// The same of the second clip's strokes.
    pub fn number_second(&self, other: &mut ClipMeasures, both: &ClipMeasures) {
        for &(a, b) in &self.matching.pairs {
            let (Some(both), Some(other)) = (both.strokes.get(a), other.strokes.get_mut(b)) else { continue };
            let outcomes = other.measured.outcomes.iter_mut().zip(&both.measured.outcomes);
            for ((outcome, both), origin) in outcomes.zip(&self.origins[a]) {
                *outcome = if *origin == Origin::Own { Err(Missing::ViewUnsuitable) } else { *both };
            }
        }
    }

    /// What names the view beside a measure's name: where motions were put together, the view of the one camera that gives it all the same;
    /// else, what is not the clip's own.
    pub fn view_of(&self, measure: usize) -> Option<&'static str> {
        match (self.origin(measure), self.joined > 0) {
            (Origin::Own, false) | (Origin::Both, true) => None,
            (Origin::Own, true) => Some(self.own.name()),
            (Origin::Other, _) => Some(self.view.name()),
            (Origin::Both, false) => Some("both"),
        }
    }

    /// What the marks beside measures' names mean.
    pub fn legend(&self) -> String {
        let (own, view) = (self.own.name(), self.view.name());
        match self.joined {
            0 => format!("what the second sees better is marked ({view}), what both see (both)"),
            _ => format!("measured from both; what one of them shows better is marked ({own}) or ({view})"),
        }
    }
}

/// Joins the strokes of two clips. Where both cameras show a stroke's motion, it is put together from both and measured
/// ([`both::stroke_of`]); what that doesn't give at least as well is taken from the camera that sees it better ([`better`]).
pub fn combine(
    first: &mut ClipMeasures,
    second: &ClipMeasures,
    clip: String,
    mut matching: Matching,
) -> Option<Second> {
    let (own_view, view) = (first.direction?.view, second.direction?.view);
    let mut origins: Vec<Vec<Origin>> =
        first.strokes.iter().map(|stroke| vec![Origin::Own; stroke.measured.outcomes.len()]).collect();
    // What another kind of stroke has was measured by other rules.
    let is_same = |(a, b): &&(usize, usize)| {
        let [a, b] = [&first.strokes[*a], &second.strokes[*b]].map(|found| &found.stroke);
        a.sort() == b.sort() && a.motion.hand == b.motion.hand
    };
    let pairs: Vec<(usize, usize)> = matching.pairs.iter().filter(is_same).copied().collect();
    let strokes: Vec<_> =
        pairs.iter().map(|&(a, b)| (&first.strokes[a].stroke, &second.strokes[b].stroke)).collect();
    let clocks = Clocks::of(&strokes, matching.clock());
    (matching.offset, matching.drift) = (clocks.clock.offset, clocks.clock.drift);
    let of = |&(a, b): &(usize, usize)| {
        both::stroke_of((first, &first.strokes[a]), (second, &second.strokes[b]), &clocks)
    };
    let joined: Vec<Option<MeasuredStroke>> = pairs.par_iter().map(of).collect();
    let count = joined.iter().flatten().count();
    for ((a, b), joined) in pairs.into_iter().zip(joined) {
        let (stroke, other) = (&mut first.strokes[a], &second.strokes[b]);
        let own = stroke.measured.outcomes.clone();
        if let Some(joined) = joined {
            *stroke = joined;
        } else {
            stroke.measured.outcomes.fill(Err(Missing::Hidden));
        }
        let alone = own.into_iter().zip(&other.measured.outcomes);
        for ((outcome, (own, others)), origin) in
            stroke.measured.outcomes.iter_mut().zip(alone).zip(&mut origins[a])
        {
            let alone = better(own.ok(), others.ok());
            let joined =
                outcome.ok().filter(|joined| alone.is_none_or(|(alone, _)| joined.grade >= alone.grade));
            (*outcome, *origin) = match (joined, alone) {
                (Some(joined), _) => (Ok(joined), Origin::Both),
                (None, Some((alone, whose))) => (Ok(alone), whose),
                (None, None) => (own, Origin::Own),
            };
        }
    }
    Some(Second { clip, view, own: own_view, joined: count, matching, origins })
}

/// The better of two cameras' values of one thing, or their mean; `None` where neither has one.
pub fn better(own: Option<Measurement>, other: Option<Measurement>) -> Option<(Measurement, Origin)> {
    Some(match (own, other) {
        (own, None) => (own?, Origin::Own),
        (None, Some(other)) => (other, Origin::Other),
        (Some(a), Some(b)) if a.grade > b.grade => (a, Origin::Own),
        (Some(a), Some(b)) if b.grade > a.grade => (b, Origin::Other),
        (Some(a), Some(b)) => {
            let weight = |found: &Measurement| found.plus_minus.max(f64::MIN_POSITIVE).powi(-2);
            let value = (weight(&a) * a.value + weight(&b) * b.value) / (weight(&a) + weight(&b));
            let plus_minus = a.plus_minus.min(b.plus_minus);
            (Measurement { value, plus_minus, grade: a.grade }, Origin::Both)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Grade;

    #[test]
    fn the_better_grade_counts_and_equals_are_weighed() {
        let found = |value, plus_minus, grade| Some(Measurement { value, plus_minus, grade });
        let (good, fair) = (found(10.0, 5.0, Grade::Good), found(30.0, 4.0, Grade::Fair));
        let whose = |own, other| better(own, other).map(|(value, whose)| (Some(value), whose));
        assert_eq!(whose(good, fair), Some((good, Origin::Own)));
        assert_eq!(whose(fair, good), Some((good, Origin::Other)));
        assert_eq!(whose(fair, None), Some((fair, Origin::Own)));
        assert_eq!(whose(None, fair), Some((fair, Origin::Other)));
        assert_eq!(whose(None, None), None);
        let (mean, origin) = better(found(10.0, 5.0, Grade::Low), found(20.0, 10.0, Grade::Low)).unwrap();
        assert!((mean.value - 12.0).abs() < 1e-9 && origin == Origin::Both, "{mean:?}");
        assert_eq!((mean.plus_minus, mean.grade), (5.0, Grade::Low));
    }
}
