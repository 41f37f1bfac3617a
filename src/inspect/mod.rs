//! What kind of clip this is: its camera, which measures it can give with which grade, and what would better them most.

mod remedy;
mod words;

use serde::{Serialize, Serializer};

pub use remedy::Remedy;
pub use words::text;

use crate::analyse::Analysis;
use crate::measure::clip::{ClipMeasures, Unmeasured};
use crate::measure::{CATALOGUE, Grade, Measure, Missing, Outcome};
use crate::order::median;
use crate::scene::Witness;
use crate::table::{Labels, Notes};

/// Everything that is said of a clip.
#[derive(Debug, Clone, Serialize)]
pub struct Inspection {
    /// Settings, camera, sound, video and warnings, as `clip.json` has them.
    #[serde(flatten)]
    pub notes: Notes,
    /// How much of the clip was looked at, from its beginning, seconds; none where that is all of it.
    pub looked_at_s: Option<f64>,
    /// The court's lines that were read, by name.
    pub court_lines: Vec<&'static str>,
    /// The points of the court that were placed, by name.
    pub court_points: Vec<&'static str>,
    /// The player's height in the picture, pixels; none where no player is seen.
    pub player_pixels: Option<f64>,
    /// Share of the pictures in which the player is seen.
    pub player_seen: f64,
    /// How many strokes of each kind were seen: `4 forehands`.
    pub strokes_seen: Vec<String>,
    /// Share of the strokes' pictures in which the racket is seen.
    pub racket_seen: Option<f64>,
    /// Each measure of the catalogue.
    pub measures: Vec<Reach>,
    /// What would better the clip's measures, most first.
    pub remedies: Vec<Gain>,
}

/// How well a clip gives a measure.
#[derive(Debug, Clone, Serialize)]
pub struct Reach {
    /// The measure's id.
    pub measure: &'static str,
    /// Its usual grade; none where it has no value in most strokes of the kinds for which it is.
    pub grade: Option<&'static str>,
    /// Its usual ±.
    pub plus_minus: Option<f64>,
    /// Why it is missing in most of these strokes.
    #[serde(serialize_with = "by_name")]
    pub reason: Option<Missing>,
}

/// What a remedy would do.
#[derive(Debug, Clone, Serialize)]
pub struct Gain {
    /// What to do, in words.
    pub advice: &'static str,
    /// The options that say it.
    pub options: &'static str,
    /// The measure that it would better most.
    pub measure: &'static str,
    /// Its usual ± now, and with the remedy.
    pub plus_minus: [f64; 2],
}

impl Gain {
    /// What to do next time and what it would give, in one sentence.
    pub fn sentence(&self) -> String {
        let Some(measure) = Measure::find(self.measure) else { return String::new() };
        let [now, then] = self.plus_minus.map(|half| measure.amount(half));
        format!(
            "Next time {}: “{}” would be known to ± {then} instead of ± {now}.",
            self.advice, measure.title
        )
    }
}

/// A remedy is named where it takes at least this share of a measure's ±.
const WORTHWHILE: f64 = 0.25;

impl Inspection {
    /// What is said of a measured clip of this name.
    pub fn of(analysis: &Analysis, name: &str) -> Self {
        let labels = Labels::default();
        let notes = Notes::of(&analysis.results(name, &labels));
        let measures = &analysis.measures;
        let motion = &analysis.motion;
        let seen = (0..motion.len()).filter(|i| motion.points.is_known(*i)).count();
        let scale = median(measures.space.scale.iter().flatten().copied());
        let lines = analysis.seen.lines.as_ref().filter(|_| measures.filmed.court == Some(Witness::Lines));
        let fit = lines.and_then(|reading| reading.fits.first());
        let (shown, all) = measures.strokes.iter().fold((0, 0), |(shown, all), stroke| {
            let rackets = &stroke.racket.rackets;
            (shown + rackets.iter().flatten().count(), all + rackets.len())
        });
        Self {
            looked_at_s: None,
            court_lines: fit.map_or_else(Vec::new, |fit| fit.lines.iter().map(|line| line.name()).collect()),
            court_points: analysis
                .stated
                .corrections
                .court_points
                .iter()
                .map(|point| point.spot.name)
                .collect(),
            player_pixels: scale.map(|scale| (measures.filmed.stature.metres.0 / scale).round()),
            player_seen: seen as f64 / motion.len().max(1) as f64,
            strokes_seen: crate::table::counted(&measures.strokes),
            racket_seen: (all > 0).then(|| shown as f64 / all as f64),
            measures: CATALOGUE
                .iter()
                .enumerate()
                .map(|(place, measure)| reach(measure, outcomes(measures, place)))
                .collect(),
            remedies: remedies(analysis),
            notes,
        }
    }
}

/// What each stroke of a clip gave for the measure at a place of the catalogue.
fn outcomes(measures: &ClipMeasures, place: usize) -> impl Iterator<Item = Outcome> {
    measures.strokes.iter().filter_map(move |stroke| stroke.measured.outcomes.get(place).copied())
}

/// How well strokes give a measure, by what each gave for it. Strokes of a kind for which the measure isn't say nothing of it.
fn reach(measure: &'static Measure, outcomes: impl Iterator<Item = Outcome>) -> Reach {
    let of_kind: Vec<Outcome> = outcomes.filter(|outcome| *outcome != Err(Missing::NotForThisKind)).collect();
    let mut grades: Vec<Grade> = of_kind.iter().filter_map(|outcome| Some(outcome.ok()?.grade)).collect();
    grades.sort_unstable();
    let given = 2 * grades.len() > of_kind.len();
    let plus_minus = median(of_kind.iter().filter_map(|outcome| Some(outcome.ok()?.plus_minus)));
    // The reason of most strokes; of reasons that are as frequent, the first.
    let missing: Vec<Missing> = of_kind.iter().filter_map(|outcome| outcome.err()).collect();
    let count = |reason: &Missing| missing.iter().filter(|other| *other == reason).count();
    let usual = missing.iter().rev().copied().max_by_key(count).unwrap_or(Missing::NotForThisKind);
    Reach {
        measure: measure.id,
        grade: grades.get(grades.len().saturating_sub(1) / 2).filter(|_| given).map(|grade| grade.name()),
        plus_minus: plus_minus.filter(|_| given),
        reason: (!given).then_some(usual),
    }
}

fn by_name<S: Serializer>(reason: &Option<Missing>, to: S) -> Result<S::Ok, S::Error> {
    reason.map(Missing::name).serialize(to)
}

/// What would better a measured clip's numbers, most first: what each remedy would do to the measures that this view shows.
pub fn remedies(analysis: &Analysis) -> Vec<Gain> {
    let Some(view) = analysis.measures.direction.map(|direction| direction.view) else { return Vec::new() };
    let mut gains: Vec<(f64, Gain)> = Remedy::ALL
        .into_iter()
        .filter(|remedy| remedy.is_open(analysis))
        .filter_map(|remedy| {
            let strokes = Unmeasured::of(&analysis.motion, &analysis.stated, &analysis.seen);
            let better = strokes.knowing(|filmed| remedy.applied_to(filmed)).measure();
            CATALOGUE
                .iter()
                .enumerate()
                .filter(|(_, measure)| measure.views.contains(&view))
                .filter_map(|(place, measure)| {
                    let now = reach(measure, outcomes(&analysis.measures, place)).plus_minus?;
                    let then = reach(measure, outcomes(&better, place)).plus_minus?;
                    let less = 1.0 - then / now;
                    let (advice, options) = (remedy.advice(), remedy.options());
                    let gain = Gain { advice, options, measure: measure.id, plus_minus: [now, then] };
                    (less >= WORTHWHILE).then_some((less, gain))
                })
                .max_by(|a, b| a.0.total_cmp(&b.0))
        })
        .collect();
    gains.sort_by(|a, b| b.0.total_cmp(&a.0));
    gains.into_iter().map(|(_, gain)| gain).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Measurement;

    #[test]
    fn what_to_film_next_time_is_said_in_one_sentence_with_both_numbers() {
        let (advice, options) = (Remedy::Stature.advice(), Remedy::Stature.options());
        let gain = Gain { advice, options, measure: "hand_behind_shoulder_cm", plus_minus: [11.6, 5.2] };
        assert_eq!(
            gain.sentence(),
            "Next time say how tall the player is: “hand behind the shoulder” would be known to ± 5 cm instead of ± 12 cm."
        );
    }

    #[test]
    fn strokes_of_other_kinds_say_nothing_of_a_measure() {
        let measure = Measure::find("hand_behind_shoulder_cm").unwrap();
        let found = |plus_minus: f64, grade: Grade| Ok(Measurement { value: 10.0, plus_minus, grade });
        let serve = Err(Missing::NotForThisKind);
        let mixed = [serve, found(4.0, Grade::Good), serve, serve, found(6.0, Grade::Fair), serve];
        let reached = reach(measure, mixed.into_iter());
        assert_eq!((reached.grade, reached.plus_minus, reached.reason), (Some("fair"), Some(5.0), None));
        let reached = reach(measure, [serve, serve].into_iter());
        assert_eq!((reached.grade, reached.reason), (None, Some(Missing::NotForThisKind)));
        // What is missing in most of the strokes is missing for their usual reason.
        let hidden = [Err(Missing::Stepped), Err(Missing::Hidden), Err(Missing::Hidden)];
        let reached = reach(measure, hidden.into_iter().chain([found(4.0, Grade::Good)]));
        assert_eq!((reached.grade, reached.plus_minus, reached.reason), (None, None, Some(Missing::Hidden)));
    }
}
