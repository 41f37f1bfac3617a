//! The ± of every value and time, by drawing the known sources of error many times and measuring again.
//!
//! One mechanism serves all measures: a draw shifts, turns, scales and shakes the motion as camera and pose model may have
//! done, the phases are found again in it, and every formula is evaluated again. What a view can't see gets a wide ± by
//! itself, because depth is drawn wider than what lies in the picture's plane.

use super::drawn::{Drawing, Source, Sources};
use super::readings::Readings;
use super::{CATALOGUE, Grade, Measure, Measurement, Missing, Outcome, lag, veto};
use crate::order::median;
use crate::scene::{Filmed, Space, View};
use crate::stats::TWO_SIDED_95;
use crate::stroke::{Boundary, Mark, Method, Phases, Stroke};
use crate::units::Seconds;

/// Draws per stroke: the ± they give is good to about a tenth.
pub(super) const DRAWS: usize = 64;

/// The ± is the distance from the value within which this share of the draws lies.
const HELD: f64 = 0.95;

/// A value is not given when fewer than this share of the draws could be measured.
const MEASURABLE_SHARE: f64 = 0.6;

/// A ± this many times the limit of a fair grade says nothing any more.
const USELESS: f64 = 3.0;

/// Relative spread of a speed whose peak smoothing has cut or noise has raised (1 standard deviation). From rendered players.
const PEAK_SPEED: f64 = 0.07;

/// Speeds from fewer pictures a second than this are indicative only.
const FULL_RATE: f64 = 55.0;

/// A stroke's values with their ±, and the ± of its boundaries.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// One outcome per entry of the catalogue, in its order.
    pub outcomes: Vec<Outcome>,
    /// Half width of the 95 % interval of each boundary, in the order of [`Boundary::ALL`].
    pub boundaries: [Option<Seconds>; 7],
}

/// Evaluates every measure of a stroke and its uncertainty, and moves its boundaries to the middle of what the draws give. `space` is
/// what the stroke's motion was taken from, `filmed` the camera; the result is the same for the same input.
pub fn measure(stroke: &mut Stroke, source: &Source, (space, filmed): (&Space, &Filmed)) -> Measured {
    let seen = &*stroke;
    let mut drawing = Drawing::new(seen, source, (space, filmed));
    let mut tally = Tally::of(seen);
    for place in 0..DRAWS {
        drawing.draw_phases(place);
        let Some(mark) = drawing.contact(drawing.deviate()) else { continue };
        drawing.split(mark);
        drawing.complete_stroke();
        drawing.draw_racket();
        tally.add(seen, &drawing.drawn);
    }
    let view = seen.motion.direction.view;
    let least = source.contact.least(Seconds(1.0 / source.sources.rate));
    tally.measured(stroke, &[view], &source.sources, least)
}

/// What the draws give for a value.
#[derive(Default)]
struct Drawn {
    values: Vec<f64>,
    /// How many of them would leave it too uncertain to be of any use.
    useless: usize,
}

impl Drawn {
    fn add(&mut self, measure: &Measure, value: f64, again: f64) {
        self.values.push(again);
        self.useless += usize::from(is_useless(measure, widened(measure, value, (again - value).abs())));
    }

    /// Whether the value will be refused, whatever the draws to come give: more are useless beside the value of the likeliest reading than
    /// may lie outside the ±.
    fn is_settled(&self) -> bool {
        self.useless > DRAWS - rank(DRAWS)
    }
}

/// What draws of a stroke give.
pub(super) struct Tally {
    values: Vec<Result<f64, Missing>>,
    drawn: Vec<Drawn>,
    /// When the draws have each boundary, seconds.
    boundaries: [Vec<f64>; 7],
}

impl Tally {
    /// Without any draw yet.
    pub fn of(stroke: &Stroke) -> Self {
        Self {
            values: values(stroke),
            drawn: CATALOGUE.iter().map(|_| Drawn::default()).collect(),
            boundaries: Default::default(),
        }
    }

    /// Adds a draw.
    pub fn add(&mut self, stroke: &Stroke, drawn: &Stroke) {
        let readings = Readings::of(drawn);
        for ((measure, value), drawn) in CATALOGUE.iter().zip(&self.values).zip(&mut self.drawn) {
            if let Ok(value) = value
                && !drawn.is_settled()
                && let Ok(again) = measure.read(&readings)
            {
                drawn.add(measure, *value, again);
            }
        }
        for (boundary, times) in Boundary::ALL.into_iter().zip(&mut self.boundaries) {
            if let (Some(_), Some(again)) = (stroke.phases.get(boundary), drawn.phases.get(boundary)) {
                times.push(again.time.0);
            }
        }
    }

    /// The values with their ±, of the stroke with its boundaries where most draws have them. `views` are those of the cameras that saw
    /// it, `least` the least ± of contact.
    pub fn measured(
        self,
        stroke: &mut Stroke,
        views: &[View],
        sources: &Sources,
        least: Seconds,
    ) -> Measured {
        let Self { drawn, boundaries, .. } = self;
        let enough = (MEASURABLE_SHARE * DRAWS as f64) as usize;
        stroke.phases = steadied(&stroke.phases, &boundaries, enough);
        let stroke = &*stroke;
        let values = values(stroke);
        let outcomes = CATALOGUE.iter().zip(&values).zip(drawn);
        let outcomes = outcomes.map(|((measure, value), drawn)| {
            let value = match median(drawn.values.iter().copied()) {
                Some(middle) if measure.middle_of_draws => value.map(|_| middle),
                _ => *value,
            }?;
            let off = drawn.values.into_iter().map(|again| (again - value).abs()).collect();
            let plus_minus = held_within(off, enough).unwrap_or(f64::INFINITY);
            let graded = graded(measure, value, plus_minus, views, sources);
            let graded = graded.map_err(|reason| {
                let lag = measure.id.starts_with("lag_") && reason == Missing::TooUncertain;
                if lag { lag::foreshortened(stroke).unwrap_or(reason) } else { reason }
            });
            let guessed = measure.hangs_on.iter().any(|boundary| is_guessed(stroke, *boundary));
            graded.map(|found| if guessed { Measurement { grade: Grade::Low, ..found } } else { found })
        });
        let mut outcomes: Vec<Outcome> = outcomes.collect();
        // What is graded low already can't be doubted further.
        let is_trusted = |outcome: &Outcome| outcome.is_ok_and(|found| found.grade > Grade::Low);
        let trusted = outcomes.iter().zip(&values);
        let trusted: Vec<Option<f64>> =
            trusted.map(|(outcome, value)| value.ok().filter(|_| is_trusted(outcome))).collect();
        let doubted = veto::doubted(stroke, &trusted, sources.slowed);
        for (outcome, _) in outcomes.iter_mut().zip(doubted).filter(|(_, doubted)| *doubted) {
            outcome.iter_mut().for_each(|found| found.grade = Grade::Low);
        }
        // What is read from pictures is not known better than half the interval between them.
        let interval = Seconds(1.0 / sources.rate);
        let boundaries = std::array::from_fn(|b| {
            let least = if Boundary::ALL[b] == Boundary::Contact { least } else { interval * 0.5 };
            let Mark { time, .. } = stroke.phases.get(Boundary::ALL[b])?;
            let off = boundaries[b].iter().map(|again| (again - time.0).abs()).collect();
            held_within(off, enough).map(|held| Seconds(held).max(least))
        });
        Measured { outcomes, boundaries }
    }
}

/// The values of a stroke, one per entry of the catalogue.
fn values(stroke: &Stroke) -> Vec<Result<f64, Missing>> {
    let readings = Readings::of(stroke);
    CATALOGUE.iter().map(|measure| measure.read(&readings)).collect()
}

/// The boundaries within a stroke where most draws have them: which moment counts as one is a choice that noise can turn, and the middle of
/// many such choices is steadier than one. Where a stroke begins and ends hangs on a threshold, which noise moves one way; contact is
/// known from elsewhere, and what a person has marked stays there.
fn steadied(phases: &Phases, drawn: &[Vec<f64>; 7], enough: usize) -> Phases {
    let mut steadied = *phases;
    for (boundary, times) in Boundary::ALL.into_iter().zip(drawn) {
        let is_within = !matches!(boundary, Boundary::PrepStart | Boundary::Contact | Boundary::FinishEnd);
        if let Some(time) = median(times.iter().copied()).filter(|_| is_within && times.len() >= enough)
            && let Some(mark) = steadied.get_mut(boundary).filter(|mark| mark.method != Method::Marked)
        {
            mark.time = Seconds(time);
        }
    }
    // A boundary that some draws lack may come to lie beyond another one.
    let order = |phases: &Phases| {
        let mut found: Vec<(Boundary, Seconds)> =
            Boundary::ALL.into_iter().filter_map(|b| Some((b, phases.get(b)?.time))).collect();
        found.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
        found.into_iter().map(|(boundary, _)| boundary).collect::<Vec<_>>()
    };
    if order(&steadied) == order(phases) { steadied } else { *phases }
}

/// Whether another boundary stands for one that nothing shows.
fn is_guessed(stroke: &Stroke, boundary: Boundary) -> bool {
    stroke.phases.get(boundary).is_some_and(|mark| mark.method == Method::BackswingEnd)
}

/// The distance within which [`HELD`] of the draws lie; `None` for fewer than `enough`. A few draws in which something else
/// was taken for a peak or an onset say how often that happens, not how far off the others are.
///
/// The rank is the one that holds the next draw with that probability (Vovk, Gammerman & Shafer 2005, Algorithmic Learning
/// in a Random World, ch. 2): between the sorted draws lie n + 1 places of which each is as likely.
fn held_within(mut off: Vec<f64>, enough: usize) -> Option<f64> {
    if off.len() < enough {
        return None;
    }
    off.sort_by(f64::total_cmp);
    off.get(rank(off.len()) - 1).copied()
}

/// The rank that holds the next of so many draws, from 1; of fewer draws no more lie beyond it.
fn rank(draws: usize) -> usize {
    let rank = (HELD * (draws + 1) as f64).ceil() as usize;
    rank.clamp(1, draws.max(1))
}

/// The ± of a value whose draws lie so far off it, with what they don't show.
fn widened(measure: &Measure, value: f64, far: f64) -> f64 {
    let more = if is_speed(measure) { PEAK_SPEED * value } else { measure.undrawn };
    far.hypot(TWO_SIDED_95 * more)
}

fn is_speed(measure: &Measure) -> bool {
    measure.unit == super::Unit::MetrePerSecond
}

/// Whether such a ± says nothing any more.
fn is_useless(measure: &Measure, plus_minus: f64) -> bool {
    plus_minus > USELESS * measure.grades.1
}

/// Grades a value by its ±; refuses what is too uncertain to be of any use.
fn graded(measure: &Measure, value: f64, plus_minus: f64, views: &[View], sources: &Sources) -> Outcome {
    let (good, fair) = measure.grades;
    let speed = is_speed(measure);
    let plus_minus = widened(measure, value, plus_minus);
    if !value.is_finite() || !plus_minus.is_finite() || is_useless(measure, plus_minus) {
        return Err(Missing::TooUncertain);
    }
    let mut grade = match plus_minus {
        p if p <= good => Grade::Good,
        p if p <= fair => Grade::Fair,
        _ => Grade::Low,
    };
    let timed = speed || measure.unit == super::Unit::Millisecond;
    let in_view = views.iter().any(|view| measure.views.contains(view));
    if !in_view || (speed && sources.rate < FULL_RATE) || (timed && sources.slowed) {
        grade = Grade::Low;
    }
    Ok(Measurement { value, plus_minus, grade })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boundaries_lie_where_most_draws_have_them() {
        let at = |time: f64| Some(Mark { time: Seconds(time), method: Method::HandPosition });
        let found = Phases {
            prep_start: at(0.5),
            drop_start: Some(Mark { time: Seconds(0.9), method: Method::Marked }),
            backswing_end: at(1.2),
            low_point: at(1.4),
            forward_start: at(1.3),
            contact: Mark { time: Seconds(1.6), method: Method::Sound },
            finish_end: at(2.0),
        };
        let drawn = |backswing_end: f64| -> [Vec<f64>; 7] {
            // The likeliest reading is one of three moments that the draws leave open.
            let three = |a: f64, b: f64, c: f64| [a, b, c].repeat(20);
            Boundary::ALL.map(|boundary| match boundary {
                Boundary::PrepStart => vec![0.6; 60],
                Boundary::DropStart => vec![0.95; 60],
                Boundary::BackswingEnd => three(1.2, backswing_end, backswing_end + 0.01),
                Boundary::ForwardStart => vec![1.25; 5],
                Boundary::LowPoint => three(1.39, 1.41, 1.42),
                Boundary::Contact => vec![1.7; 60],
                Boundary::FinishEnd => vec![2.1; 60],
            })
        };
        let steady = steadied(&found, &drawn(1.1), 38);
        let expected = Phases { backswing_end: at(1.11), low_point: at(1.41), ..found };
        assert_eq!(steady, expected, "too few draws, marks, beginning, contact and finish stay");
        // No boundary passes another one.
        assert_eq!(steadied(&found, &drawn(1.35), 38), found);
    }

    #[test]
    fn a_value_is_refused_before_all_draws_are_known_only_where_it_is_refused_with_all() {
        let measure = Measure::find("stance_width_cm").unwrap();
        let (near, far) = (0.1 * measure.grades.0, 2.0 * USELESS * measure.grades.1);
        let enough = (MEASURABLE_SHARE * DRAWS as f64) as usize;
        for useless in 0..6 {
            // Of so many draws in which it can be measured, from the fewest on.
            let is_refused = |draws: usize| {
                let far = (0..draws).map(|draw| if draw < useless { far } else { near });
                let held = held_within(far.collect(), enough).unwrap_or(f64::INFINITY);
                is_useless(measure, widened(measure, 50.0, held))
            };
            let mut drawn = Drawn::default();
            (0..useless).for_each(|_| drawn.add(measure, 50.0, 50.0 + far));
            drawn.add(measure, 50.0, 50.0 - near);
            let always = (0..=DRAWS).all(is_refused);
            assert_eq!(drawn.is_settled(), always, "{useless} of {DRAWS}");
        }
    }
}
