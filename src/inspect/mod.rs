//! What kind of clip this is: its camera, which measures it can give with which grade, and what would better them most.

mod remedy;
mod words;

use serde::Serialize;

pub use remedy::Remedy;
pub use words::text;

use crate::analyse::Analysis;
use crate::measure::clip::{ClipMeasures, Unmeasured};
use crate::measure::{CATALOGUE, Grade, Measure};
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
    /// Its usual grade; none where it has no value in most strokes.
    pub grade: Option<&'static str>,
    /// Its usual ±.
    pub plus_minus: Option<f64>,
    /// Why it is missing in most strokes.
    pub reason: Option<&'static str>,
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
                .map(|(place, measure)| reach(measures, place, measure))
                .collect(),
            remedies: remedies(analysis),
            notes,
        }
    }
}

fn reach(measures: &ClipMeasures, place: usize, measure: &'static Measure) -> Reach {
    let outcomes = || measures.strokes.iter().filter_map(move |stroke| stroke.measured.outcomes.get(place));
    let mut grades: Vec<Grade> = outcomes().filter_map(|outcome| Some(outcome.ok()?.grade)).collect();
    grades.sort_unstable();
    let given = 2 * grades.len() > outcomes().count();
    let grade = given.then(|| grades.get(grades.len() / 2).map(|grade| grade.name())).flatten();
    let plus_minus = median(outcomes().filter_map(|outcome| Some(outcome.ok()?.plus_minus)));
    Reach {
        measure: measure.id,
        grade,
        plus_minus: plus_minus.filter(|_| given),
        reason: if given {
            None
        } else {
            outcomes().find_map(|outcome| outcome.err()).map(|reason| reason.name())
        },
    }
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
                    let now = reach(&analysis.measures, place, measure).plus_minus?;
                    let then = reach(&better, place, measure).plus_minus?;
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

    #[test]
    fn what_to_film_next_time_is_said_in_one_sentence_with_both_numbers() {
        let (advice, options) = (Remedy::Stature.advice(), Remedy::Stature.options());
        let gain = Gain { advice, options, measure: "hand_behind_shoulder_cm", plus_minus: [11.6, 5.2] };
        assert_eq!(
            gain.sentence(),
            "Next time say how tall the player is: “hand behind the shoulder” would be known to ± 5 cm instead of ± 12 cm."
        );
    }
}
