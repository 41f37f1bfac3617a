//! In which measures strokes lie outside their targets.

use super::{Circumstances, Exercise, Set, Target};
use crate::measure::clip::MeasuredStroke;
use crate::measure::{Grade, Measure, Measurement};
use crate::order::median;
use crate::stats::dependence::inflation;
use crate::stats::{MEDIAN_OVER_MEAN, Summary, TWO_SIDED_95, normal_cdf, t_quantile};
use crate::stroke::{Sort, Stance};

/// Nobody works on more than this at once.
pub const MOST_FINDINGS: usize = 3;

/// Fewer strokes than this are no habit.
const FEWEST_STROKES: usize = 3;

/// A finding is told when the player's true value lies outside with at least this probability.
const SURE_ENOUGH: f64 = 0.9;

/// A stroke with its circumstances.
#[derive(Debug, Clone)]
pub struct Observed<'a> {
    /// Under what circumstances it was hit.
    pub circumstances: Circumstances<'a>,
    /// One value per entry of the catalogue, in its order; `None` where it is missing.
    pub values: Vec<Option<Measurement>>,
}

impl<'a> Observed<'a> {
    /// A stroke as it was measured, with what the player says of grip and drill.
    pub fn of(stroke: &MeasuredStroke, grip: Option<&'a str>, drill: Option<&'a str>) -> Self {
        let kind = stroke.stroke.sort().name();
        let stance = stroke.stroke.stance.map(Stance::name);
        Self {
            circumstances: Circumstances { kind, stance, grip, drill },
            values: stroke.measured.outcomes.iter().map(|outcome| outcome.ok()).collect(),
        }
    }
}

/// On which side of its target a value lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below the least value.
    Low,
    /// Above the largest value.
    High,
}

/// The middle of the strokes to which a target applies.
#[derive(Debug, Clone)]
pub struct Middle {
    /// The target.
    pub target: Target,
    /// Which strokes are judged: one kind, volleys apart from ground strokes.
    pub sort: Sort,
    /// Median of the strokes to which the target applies and whose grade is not low.
    pub median: f64,
    /// Half width of its 95 % interval: the strokes' median ± (most of it is the same in all of them) and, squared and
    /// added, that of the median by their spread.
    pub plus_minus: f64,
    /// The lowest grade among those strokes: good or fair.
    pub grade: Grade,
    /// How many strokes those are.
    pub strokes: usize,
}

impl Middle {
    /// The measure.
    pub fn measure(&self) -> &'static Measure {
        self.target.measure
    }

    /// Whether the whole interval of the median lies inside the target.
    fn is_inside(&self) -> bool {
        self.target.low.is_none_or(|low| self.median - self.plus_minus >= low)
            && self.target.high.is_none_or(|high| self.median + self.plus_minus <= high)
    }
}

/// A measure that lies outside its target.
#[derive(Debug, Clone)]
pub struct Finding {
    /// The strokes' middle.
    pub middle: Middle,
    /// How many of its strokes lie outside.
    pub outside: usize,
    /// On which side.
    pub side: Side,
    /// How far outside the median lies, in the measure's unit; above 0.
    pub distance: f64,
    /// Probability that the true median lies outside.
    pub sure: f64,
}

impl Finding {
    /// The measure.
    pub fn measure(&self) -> &'static Measure {
        self.middle.measure()
    }

    /// What to say to the player.
    pub fn words(&self) -> String {
        let words = match self.side {
            Side::Low => &self.middle.target.too_low,
            Side::High => &self.middle.target.too_high,
        };
        words.clone().unwrap_or_else(|| match self.side {
            Side::Low => format!("{} is less than wanted.", self.measure().title),
            Side::High => format!("{} is more than wanted.", self.measure().title),
        })
    }

    /// The kind of the strokes.
    pub fn kind(&self) -> &'static str {
        self.middle.sort.name()
    }

    /// What to practise.
    pub fn drill(&self) -> Option<&Exercise> {
        self.middle.target.drill.as_ref()
    }

    /// How much the finding matters: how many margins outside (without a margin, limits of a good ±), times how sure.
    fn weight(&self) -> f64 {
        self.sure * self.distance / self.middle.target.margin.unwrap_or(self.measure().grades.0)
    }
}

impl Set {
    /// In which measures the strokes lie outside, the most telling first, at most [`MOST_FINDINGS`]: primary
    /// measures before others, then how many margins outside times how sure. Values of a low grade don't count, and at least half of a target's strokes, and
    /// three of them, must have others. In a session of several kinds each kind is judged by itself
    /// and has so many findings; the same measure is told once for each.
    pub fn findings(&self, strokes: &[Observed<'_>]) -> Vec<Finding> {
        let of_one_kind = |(sort, strokes): (Sort, Vec<&Observed<'_>>)| {
            let mut findings: Vec<Finding> =
                self.targets.iter().filter_map(|target| self.finding(target, sort, &strokes)).collect();
            findings.sort_by(most_telling);
            let mut told: Vec<&str> = Vec::new();
            findings.retain(|finding| {
                let is_new = !told.contains(&finding.measure().id);
                told.push(finding.measure().id);
                is_new
            });
            findings.truncate(MOST_FINDINGS);
            findings
        };
        let mut all: Vec<Finding> = by_kind(strokes).flat_map(of_one_kind).collect();
        all.sort_by(most_telling);
        all
    }

    /// Which targets the strokes surely meet, in the order of a stroke: the whole interval of the median lies inside. Values
    /// count as they do in [`Set::findings`].
    pub fn met(&self, strokes: &[Observed<'_>]) -> Vec<Middle> {
        let of_one_kind = |(sort, strokes): (Sort, Vec<&Observed<'_>>)| {
            let ranges = self.targets.iter().filter(|target| target.low.is_some() || target.high.is_some());
            let middles = ranges.filter_map(|target| Some(self.middle(target, sort, &strokes)?.0));
            middles.filter(Middle::is_inside).collect::<Vec<_>>()
        };
        by_kind(strokes).flat_map(of_one_kind).collect()
    }

    /// What one or two strokes of a kind show of what targets ask for, in the order of a stroke: too few for a finding, and for
    /// praise. Values of a low grade don't count. Empty for three strokes and more.
    pub fn shown_by_few(&self, strokes: &[Observed<'_>]) -> Vec<Middle> {
        let of_one_kind = |(sort, strokes): (Sort, Vec<&Observed<'_>>)| {
            let few = strokes.len() < FEWEST_STROKES;
            let ranges = self.targets.iter().filter(move |t| few && (t.low.is_some() || t.high.is_some()));
            let of_target = |target: &Target| {
                let fit = self.fit(target, &strokes)?;
                let median_of = |of: fn(&Measurement) -> f64| median(fit.iter().map(of));
                Some(Middle {
                    target: target.clone(),
                    sort,
                    median: median_of(|found| found.value)?,
                    plus_minus: median_of(|found| found.plus_minus)?,
                    grade: fit.iter().map(|found| found.grade).min()?,
                    strokes: fit.len(),
                })
            };
            ranges.filter_map(of_target).collect::<Vec<_>>()
        };
        by_kind(strokes).flat_map(of_one_kind).collect()
    }

    /// The middle of the strokes to which a target applies; `None` where too few of them have a value that counts.
    /// With it the values that count.
    fn middle(&self, target: &Target, sort: Sort, strokes: &[&Observed<'_>]) -> Option<(Middle, Vec<f64>)> {
        let fit = self.fit(target, strokes)?;
        if fit.len() < FEWEST_STROKES {
            return None;
        }
        let values: Vec<f64> = fit.iter().map(|m| m.value).collect();
        let summary = Summary::of(&values)?;
        let shared = Summary::of(&fit.iter().map(|m| m.plus_minus).collect::<Vec<_>>())?.median;
        let variance = summary.variance_of_mean(inflation(&values))?;
        let own = t_quantile(0.975, values.len() as f64 - 1.0)? * MEDIAN_OVER_MEAN * variance.sqrt();
        let middle = Middle {
            target: target.clone(),
            sort,
            median: summary.median,
            plus_minus: shared.hypot(own),
            grade: fit.iter().map(|m| m.grade).min().unwrap_or(Grade::Low),
            strokes: values.len(),
        };
        Some((middle, values))
    }

    /// The values that count of the strokes to which a target applies; `None` where another measure says the same better or most
    /// of those strokes have no such value.
    fn fit(&self, target: &Target, strokes: &[&Observed<'_>]) -> Option<Vec<Measurement>> {
        let place = Measure::place(target.measure.id)?;
        let mine: Vec<&Observed<'_>> = strokes
            .iter()
            .copied()
            .filter(|stroke| {
                self.for_stroke(target.measure.id, &stroke.circumstances)
                    .is_some_and(|fits| std::ptr::eq(fits, target))
            })
            .collect();
        if let Some(better) = target.unless {
            let better = Measure::place(better.id)?;
            let has_better = |s: &&Observed<'_>| s.values.get(better).is_some_and(|v| v.is_some_and(is_fit));
            if 2 * mine.iter().filter(|s| has_better(s)).count() >= mine.len() {
                return None;
            }
        }
        let fit: Vec<Measurement> =
            mine.iter().filter_map(|s| *s.values.get(place)?).filter(|value| is_fit(*value)).collect();
        (!fit.is_empty() && 2 * fit.len() >= mine.len()).then_some(fit)
    }

    fn finding(&self, target: &Target, sort: Sort, strokes: &[&Observed<'_>]) -> Option<Finding> {
        let (middle, values) = self.middle(target, sort, strokes)?;
        let (side, distance) = outside(target, middle.median)?;
        let sure = normal_cdf(TWO_SIDED_95 * distance / middle.plus_minus.max(f64::MIN_POSITIVE));
        let lies_outside = |value: &&f64| outside(target, **value).is_some_and(|o| o.0 == side);
        let outside = values.iter().filter(lies_outside).count();
        (sure >= SURE_ENOUGH).then_some(Finding { middle, outside, side, distance, sure })
    }
}

/// Primary measures before others, then by weight.
fn most_telling(a: &Finding, b: &Finding) -> std::cmp::Ordering {
    let rank = |finding: &Finding| finding.middle.target.primary;
    rank(b).cmp(&rank(a)).then(b.weight().total_cmp(&a.weight()))
}

/// Strokes by their kind, in the order in which kinds are listed.
fn by_kind<'a, 's>(
    strokes: &'a [Observed<'s>],
) -> impl Iterator<Item = (Sort, Vec<&'a Observed<'s>>)> + use<'a, 's> {
    let sort = |stroke: &Observed<'_>| Sort::from_name(stroke.circumstances.kind).unwrap_or(Sort::Unknown);
    Sort::ALL
        .into_iter()
        .map(move |kind| (kind, strokes.iter().filter(|stroke| sort(stroke) == kind).collect::<Vec<_>>()))
        .filter(|(_, strokes)| !strokes.is_empty())
}

pub(super) fn is_fit(value: Measurement) -> bool {
    value.grade > Grade::Low
}

/// How far a value lies outside and on which side.
pub(super) fn outside(target: &Target, value: f64) -> Option<(Side, f64)> {
    match (target.low, target.high) {
        (Some(low), _) if value < low => Some((Side::Low, low - value)),
        (_, Some(high)) if value > high => Some((Side::High, value - high)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::CATALOGUE;

    const SET: &str = "
        [hand_behind_shoulder_cm]
        high = 10
        margin = 5
        words = 'Shorter.'
        source = 'x'
        [trunk_lean_at_finish_deg]
        low = -3
        margin = 4
        source = 'x'
        [back_heel_lift_cm]
        low = 5
        margin = 3
        source = 'x'
        [stance_width_cm]
        high = 50
        margin = 5
        source = 'x'
        conditions.stance = 'neutral'";

    fn strokes(values: &[(&str, f64, f64, Grade)]) -> Vec<Observed<'static>> {
        (0..5)
            .map(|i| Observed {
                circumstances: Circumstances { kind: "forehand", ..Circumstances::default() },
                values: CATALOGUE
                    .iter()
                    .map(|m| {
                        let (_, value, plus_minus, grade) = values.iter().find(|v| v.0 == m.id)?;
                        let value = value + 0.1 * f64::from(i - 2);
                        Some(Measurement { value, plus_minus: *plus_minus, grade: *grade })
                    })
                    .collect(),
            })
            .collect()
    }

    fn found(values: &[(&str, f64, f64, Grade)]) -> Vec<&'static str> {
        let set = Set::parse(SET, "x").unwrap();
        set.findings(&strokes(values)).iter().map(|finding| finding.measure().id).collect()
    }

    #[test]
    fn kinds_are_judged_apart_and_a_serve_by_no_ground_strokes_target() {
        let far = [
            ("hand_behind_shoulder_cm", 30.0, 4.0, Grade::Good),
            ("stance_width_cm", 90.0, 4.0, Grade::Good),
        ];
        let near = [("hand_behind_shoulder_cm", 0.0, 4.0, Grade::Good)];
        let of_kind = |kind: &'static str, values: &[(&str, f64, f64, Grade)]| {
            let mut strokes = strokes(values);
            for stroke in &mut strokes {
                stroke.circumstances.kind = kind;
                stroke.circumstances.stance = Some("neutral");
            }
            strokes
        };
        let mixed =
            [of_kind("backhand", &far), of_kind("forehand", &near), of_kind("overhead", &far)].concat();
        let set = Set::parse(SET, "x").unwrap();
        let mut found: Vec<(Sort, &str)> =
            set.findings(&mixed).iter().map(|f| (f.middle.sort, f.measure().id)).collect();
        found.sort_unstable();
        assert_eq!(found, [(Sort::Backhand, "hand_behind_shoulder_cm"), (Sort::Backhand, "stance_width_cm")]);
        let met: Vec<(Sort, &str)> = set.met(&mixed).iter().map(|m| (m.sort, m.measure().id)).collect();
        assert_eq!(met, [(Sort::Forehand, "hand_behind_shoulder_cm")]);
        // Even the target that names no kind is none for a serve; one that names it is.
        let named = Set::parse(
            "[stance_width_cm]\nhigh = 50\nmargin = 5\nsource = 'x'\nconditions.kind = 'overhead'",
            "x",
        );
        assert_eq!(
            named.unwrap().findings(&mixed).iter().map(|f| f.middle.sort).collect::<Vec<_>>(),
            [Sort::Overhead]
        );
    }

    #[test]
    fn the_farthest_and_surest_comes_first() {
        let all = [
            ("hand_behind_shoulder_cm", 20.0, 8.0, Grade::Good),
            ("trunk_lean_at_finish_deg", -20.0, 8.0, Grade::Fair),
            ("back_heel_lift_cm", 2.0, 3.0, Grade::Good),
        ];
        assert_eq!(found(&all), ["trunk_lean_at_finish_deg", "hand_behind_shoulder_cm", "back_heel_lift_cm"]);
        let set = Set::parse(SET, "x").unwrap();
        let first = &set.findings(&strokes(&all))[1];
        let Finding { middle, outside, side, distance, sure } = first;
        assert_eq!((middle.median, *distance, middle.strokes, *outside), (20.0, 10.0, 5, 5));
        assert!(middle.plus_minus > 8.0 && middle.plus_minus < 8.1 && *sure > 0.99);
        assert_eq!((first.words().as_str(), *side), ("Shorter.", Side::High));
    }

    #[test]
    fn nothing_is_told_that_is_low_unsure_inside_or_not_asked_for() {
        assert!(found(&[("hand_behind_shoulder_cm", 40.0, 8.0, Grade::Low)]).is_empty());
        assert!(found(&[("hand_behind_shoulder_cm", 12.0, 8.0, Grade::Good)]).is_empty(), "unsure");
        assert!(found(&[("hand_behind_shoulder_cm", 9.0, 0.1, Grade::Good)]).is_empty(), "inside");
        assert!(found(&[("stance_width_cm", 90.0, 5.0, Grade::Good)]).is_empty(), "stance unknown");
        let set = Set::parse(SET, "x").unwrap();
        let two = &strokes(&[("hand_behind_shoulder_cm", 40.0, 8.0, Grade::Good)])[..2];
        assert!(set.findings(two).is_empty(), "two strokes are no habit");
    }

    #[test]
    fn one_stroke_is_shown_against_its_targets_and_is_no_finding() {
        let set = Set::parse(SET, "x").unwrap();
        let all = [
            ("hand_behind_shoulder_cm", 40.0, 8.0, Grade::Good),
            ("trunk_lean_at_finish_deg", 2.0, 8.0, Grade::Low),
        ];
        let strokes = strokes(&all);
        let shown: Vec<(&str, usize)> =
            set.shown_by_few(&strokes[..1]).iter().map(|m| (m.measure().id, m.strokes)).collect();
        assert_eq!(shown, [("hand_behind_shoulder_cm", 1)]);
        assert!(set.shown_by_few(&strokes).is_empty(), "five strokes are judged");
    }

    #[test]
    fn only_what_lies_surely_inside_is_met() {
        let met = |values: &[(&str, f64, f64, Grade)]| -> Vec<&'static str> {
            let set = Set::parse(SET, "x").unwrap();
            set.met(&strokes(values)).iter().map(|met| met.measure().id).collect()
        };
        assert_eq!(met(&[("hand_behind_shoulder_cm", 2.0, 6.0, Grade::Fair)]), ["hand_behind_shoulder_cm"]);
        assert!(met(&[("hand_behind_shoulder_cm", 5.0, 6.0, Grade::Good)]).is_empty(), "reaches outside");
        assert!(met(&[("hand_behind_shoulder_cm", 2.0, 6.0, Grade::Low)]).is_empty(), "low");
        assert!(met(&[("hand_behind_shoulder_cm", 20.0, 6.0, Grade::Good)]).is_empty(), "outside");
    }

    #[test]
    fn a_better_measure_replaces_another() {
        let text =
            "[hand_ahead_of_front_toe_cm]\nlow = -5\nunless = 'contact_ahead_of_front_toe_cm'\nsource = 'x'";
        let set = Set::parse(text, "x").unwrap();
        let hand = ("hand_ahead_of_front_toe_cm", -40.0, 6.0, Grade::Good);
        assert_eq!(set.findings(&strokes(&[hand])).len(), 1);
        let both = [hand, ("contact_ahead_of_front_toe_cm", 5.0, 6.0, Grade::Good)];
        assert!(set.findings(&strokes(&both)).is_empty());
    }
}
