//! The strokes among a motion's moments.

use super::{Chances, KINDS, Moment, PACES, Paced};
use crate::pose::Side;
use crate::units::{Reading, Seconds};

/// The odds of a stroke to none (logarithm) from which on there may be one: a racket in the hand makes it likelier.
const LEAST_ODDS: f64 = -1.3;

/// What a slower pace must be surer by, logarithm of odds, to be believed: most clips are not slowed.
const AGAINST_SLOWED: [f64; PACES.len()] = [0.0, 0.35, 0.7, 2.5];

/// The odds of a stroke to none (logarithm) at each moment of a reading.
fn odds_of(reading: &Paced) -> Vec<f64> {
    let place = PACES.iter().position(|pace| *pace == reading.pace).unwrap_or_default();
    reading.moments.iter().map(|moment| odds(moment) - AGAINST_SLOWED[place]).collect()
}

/// Two strokes of one player are at least this far apart, seconds of life.
const CLOSEST_STROKES: f64 = 0.8;

/// Hardly anybody hits again so soon, seconds of life; what must be surer by this (logarithm of odds) to be believed.
const SOON: f64 = 1.6;
const AGAINST_SOON: f64 = 2.0;

/// Moments within this time of a stroke's surest one speak of its kind, those within the second time of its contact, seconds of life.
const OF_KIND: f64 = 0.12;
const OF_CONTACT: f64 = 0.2;

/// A stroke that was recognised.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// The logarithm of the odds of a stroke to none.
    pub odds: f64,
    /// Chances of forehand, backhand and overhead by the right hand and by the left; 1 in all.
    pub chances: [[f64; KINDS]; 2],
    /// Chance of a volley.
    pub volley: f64,
    /// Chance of two hands on the racket, if it is a backhand.
    pub both: f64,
    /// When the ball is met, and the network's own idea of how far that is off (1 standard deviation).
    pub contact: Reading,
    /// How many times slower than life the clip shows it.
    pub pace: f64,
}

impl Event {
    /// Chances of the three kinds by one hand; not 1 in all.
    pub fn of_hand(&self, hand: Side) -> [f64; KINDS] {
        match hand {
            Side::Right => self.chances[0],
            Side::Left => self.chances[1],
        }
    }

    /// Chance that this hand plays it.
    pub fn chance_of(&self, hand: Side) -> f64 {
        self.of_hand(hand).iter().sum()
    }

    /// Chance that this hand plays it with the other one on the racket too: only backhands are held so.
    pub fn chance_of_both(&self, hand: Side) -> f64 {
        let [_, backhand, _] = self.of_hand(hand);
        backhand * self.both
    }
}

/// The strokes of a motion in order of time: where the odds of a stroke are greatest, no two closer than strokes can be.
pub fn events(chances: &Chances) -> Vec<Event> {
    let mut found: Vec<Event> = Vec::new();
    for reading in &chances.readings {
        let (odds, Paced { pace, moments }) = (odds_of(reading), reading);
        let peaks = (0..moments.len()).filter(|&i| {
            odds[i] > LEAST_ODDS
                && near(moments, i, 0.5 * CLOSEST_STROKES * pace)
                    .all(|j| odds[j] < odds[i] || j >= i && odds[j] == odds[i])
        });
        found.extend(peaks.map(|i| event(moments, i, odds[i], *pace)));
    }
    found.sort_by(|a, b| b.odds.total_cmp(&a.odds));
    let mut kept: Vec<Event> = Vec::new();
    for event in found {
        let apart = |other: &Event| {
            (event.contact.time - other.contact.time).abs().0 >= CLOSEST_STROKES * event.pace.min(other.pace)
        };
        if kept.iter().all(apart) {
            kept.push(event);
        }
    }
    kept.sort_by(|a, b| a.contact.time.0.total_cmp(&b.contact.time.0));
    kept
}

/// Those of some events whose odds are above `least`, in order of time; soon before or after a surer one an event must itself be surer.
pub fn believed(mut events: Vec<Event>, least: f64) -> Vec<Event> {
    events.sort_by(|a, b| b.odds.total_cmp(&a.odds));
    let mut kept: Vec<Event> = Vec::new();
    for event in events {
        let is_near = |other: &Event| {
            (event.contact.time - other.contact.time).abs().0 < SOON * event.pace.min(other.pace)
        };
        let least = if kept.iter().any(is_near) { least + AGAINST_SOON } else { least };
        if event.odds > least {
            kept.push(event);
        }
    }
    kept.sort_by(|a, b| a.contact.time.0.total_cmp(&b.contact.time.0));
    kept
}

/// What is read at a contact that somebody has named; `None` where nothing was read.
pub fn event_at(chances: &Chances, contact: Seconds) -> Option<Event> {
    let Paced { pace, moments } = chances.readings.first()?;
    let away = |i: &usize| (moments[*i].time - contact).abs().0;
    let middle = (0..moments.len()).min_by(|a, b| away(a).total_cmp(&away(b)))?;
    Some(event(moments, middle, odds(&moments[middle]), *pace))
}

/// The greatest odds of a stroke in a motion, logarithm; `None` where nothing was read.
pub fn best_odds(chances: &Chances) -> Option<f64> {
    chances.readings.iter().flat_map(odds_of).max_by(f64::total_cmp)
}

/// Moments around one, within a time of the clip.
fn near(moments: &[Moment], middle: usize, reach: f64) -> impl Iterator<Item = usize> {
    let time = moments[middle].time;
    let from = moments.partition_point(|m| m.time < time - Seconds(reach));
    let to = moments.partition_point(|m| m.time <= time + Seconds(reach));
    from..to
}

/// Chances of none and of each stroke at a moment.
fn shares(moment: &Moment) -> [f64; 1 + 2 * KINDS] {
    let logits = moment.strokes.map(f64::from);
    let largest = logits.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = logits.map(|logit| (logit - largest).exp());
    let sum: f64 = weights.iter().sum();
    weights.map(|weight| weight / sum)
}

fn odds(moment: &Moment) -> f64 {
    let none = shares(moment)[0].clamp(1e-9, 1.0 - 1e-9);
    ((1.0 - none) / none).ln()
}

fn sigmoid(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// The stroke whose odds are greatest at one moment, from all moments near it.
fn event(moments: &[Moment], middle: usize, odds: f64, pace: f64) -> Event {
    let (mut of_kind, mut strokes, mut volley, mut both) = (0.0, [0.0; 2 * KINDS], 0.0, 0.0);
    let (mut of_contact, mut contact, mut spread) = (0.0, 0.0, 0.0);
    for i in near(moments, middle, 3.0 * OF_KIND * pace) {
        let moment = &moments[i];
        let shares = shares(moment);
        let played = 1.0 - shares[0];
        let away = (moment.time - moments[middle].time).0 / pace;
        let weight = played * (-0.5 * (away / OF_KIND).powi(2)).exp();
        of_kind += weight;
        for (sum, share) in strokes.iter_mut().zip(&shares[1..]) {
            *sum += weight * share;
        }
        volley += weight * f64::from(moment.volley);
        both += weight * f64::from(moment.both);
        if away.abs() < OF_CONTACT {
            let own = f64::from(moment.spread).exp();
            let weight = played / own;
            of_contact += weight;
            contact += weight * (moment.time.0 + pace * f64::from(moment.ahead));
            spread += weight * own;
        }
    }
    let all: f64 = strokes.iter().sum();
    Event {
        odds,
        chances: std::array::from_fn(|hand| std::array::from_fn(|kind| strokes[hand * KINDS + kind] / all)),
        volley: sigmoid(volley / of_kind),
        both: sigmoid(both / of_kind),
        contact: Reading {
            time: Seconds(contact / of_contact),
            spread: Seconds(pace * SPREAD * spread / of_contact),
        },
        pace,
    }
}

/// The standard deviation of an error whose mean distance is 1, with long tails (Laplace's distribution).
const SPREAD: f64 = std::f64::consts::SQRT_2;

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments 30 a second in which logits of strokes rise around a time: place among the strokes, time, height.
    fn reading(rises: &[(usize, f64, f32)]) -> Vec<Moment> {
        (0..150)
            .map(|i| {
                let time = f64::from(i) / 30.0;
                let mut strokes = [0.0_f32; 1 + 2 * KINDS];
                strokes[0] = 4.0;
                for (place, middle, height) in rises {
                    strokes[*place] += height * (-0.5 * ((time - middle) / 0.06).powi(2)).exp() as f32;
                }
                let nearest = rises.iter().map(|r| r.1 - time).min_by(|a, b| a.abs().total_cmp(&b.abs()));
                let ahead = nearest.unwrap_or(0.0) as f32;
                Moment { time: Seconds(time), strokes, volley: 2.0, both: -2.0, ahead, spread: -4.0 }
            })
            .collect()
    }

    fn chances(plain: &[(usize, f64, f32)], slowed: &[(usize, f64, f32)]) -> Chances {
        let moments = [reading(plain), reading(&[]), reading(slowed), reading(&[])];
        Chances {
            readings: PACES.into_iter().zip(moments).map(|(pace, moments)| Paced { pace, moments }).collect(),
        }
    }

    #[test]
    fn each_rise_is_one_stroke_with_its_kind_hand_and_contact() {
        let found = events(&chances(&[(2, 1.0, 9.0), (6, 3.02, 8.0)], &[]));
        assert_eq!(found.len(), 2);
        assert!(
            (found[0].contact.time.0 - 1.0).abs() < 1e-6 && (found[1].contact.time.0 - 3.02).abs() < 1e-6
        );
        assert!(found[0].of_hand(Side::Right)[1] > 0.9 && found[1].of_hand(Side::Left)[2] > 0.9);
        assert!(found[0].volley > 0.8 && found[0].both < 0.2);
        assert!((found[0].contact.spread.0 - SPREAD * (-4.0_f64).exp()).abs() < 1e-6);
    }

    #[test]
    fn what_is_too_close_is_one_stroke_and_what_stays_low_is_none() {
        assert_eq!(events(&chances(&[(1, 1.0, 9.0), (2, 1.5, 7.0)], &[])).len(), 1);
        assert!(events(&chances(&[(1, 1.0, 2.0)], &[])).is_empty());
    }

    #[test]
    fn what_comes_soon_after_a_surer_stroke_must_be_sure_itself() {
        let [stroke, weak] = [9.0, 6.2].map(|height| events(&chances(&[(1, 1.0, height)], &[]))[0]);
        let at = |event: Event, time: f64| Event {
            contact: Reading { time: Seconds(time), ..event.contact },
            ..event
        };
        let count = |events: &[Event]| believed(events.to_vec(), weak.odds - 0.5).len();
        assert_eq!(count(&[stroke, at(weak, 2.2)]), 1);
        assert_eq!(count(&[stroke, at(weak, 2.8)]), 2);
        assert_eq!(count(&[stroke, at(stroke, 2.2)]), 2);
        assert_eq!(count(&[weak]), 1);
    }

    #[test]
    fn a_slower_reading_counts_only_where_it_is_clearly_surer() {
        let level = events(&chances(&[(1, 1.0, 8.0)], &[(1, 1.0, 8.2)]));
        assert_eq!(level.iter().map(|event| event.pace).collect::<Vec<_>>(), [1.0]);
        let slowed = events(&chances(&[(1, 1.0, 4.0)], &[(1, 1.0, 9.0)]));
        assert_eq!(slowed.iter().map(|event| event.pace).collect::<Vec<_>>(), [2.0]);
    }
}
