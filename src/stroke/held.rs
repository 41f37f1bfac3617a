//! What the racket says of recognised strokes: whether there is one at all, and which hand holds it.

use crate::order::quantile_of_sorted;
use crate::pose::{Motion, Side};
use crate::racket::Sightings;
use crate::recogniser::Event;
use crate::units::{FrameIndex, Seconds};

/// The hands in the order of an event's chances.
const HANDS: [Side; 2] = [Side::Right, Side::Left];

/// The racket is looked for at both wrists this long before and after contact, seconds of life, in frames about so far apart.
const REACH: f64 = 0.35;
const APART: f64 = 0.07;

/// Fewer frames than this say nothing.
const FEWEST: usize = 3;

/// A racket is blurred or hidden in most frames of a swing and plain in some: what counts is how sure the racket network is in the
/// best fifth of the frames.
const PLAIN: f64 = 0.8;

/// How sure that is (logarithm of the network's own odds) at a hand that holds a racket as often as not. Seen at the hitting hand of
/// 156 real strokes and at both hands through 8 clips without tennis, the odds that it is a stroke rise as the network's own do; a
/// network is never so sure that it would count for more than the first of these, and one stroke in twenty shows no racket at all, so
/// that not seeing any counts for no more than the second.
const HELD: f64 = 3.0;
const MOST_FOR_STROKE: f64 = 2.5;
const MOST_AGAINST_STROKE: f64 = 2.0;

/// What a full step of difference between the hands says of the hand, logarithm of odds.
const OF_HAND: f64 = 4.0;

/// How sure the network is of a racket around contact at a hand, 0 to 1, in rising order; `None` where too few frames could be looked at.
fn confidences(seen: &Sightings, hand: Side, frames: &[FrameIndex]) -> Option<Vec<f64>> {
    let mut looks: Vec<f64> = frames
        .iter()
        .filter_map(|frame| seen.at(hand, *frame))
        .map(|sights| sights.iter().map(|sight| sight.confidence).fold(0.0, f64::max))
        .collect();
    looks.sort_by(f64::total_cmp);
    (looks.len() >= FEWEST).then_some(looks)
}

/// Frames around a stroke's contact, about evenly apart.
pub fn frames(event: &Event, motion: &Motion) -> Vec<FrameIndex> {
    let reach = Seconds(REACH * event.pace);
    let from = motion.times.partition_point(|t| *t < event.contact.time - reach);
    let to = motion.times.partition_point(|t| *t <= event.contact.time + reach);
    let step = ((APART * event.pace * motion.rate).round() as usize).max(1);
    (from..to).step_by(step).map(|i| motion.indices[i]).collect()
}

/// What a racket seen so surely at a hand makes of the odds that this hand plays a stroke, logarithm.
fn says(plain: f64) -> f64 {
    (plain / (1.0 - plain)).ln().clamp(HELD - MOST_AGAINST_STROKE, HELD + MOST_FOR_STROKE) - HELD
}

/// The stroke with what was seen of rackets at both wrists added to what was recognised; unchanged where nobody has looked.
///
/// What speaks for a stroke is a racket in the hand that plays it, or in either where both may hold it: the other hand's surroundings say
/// no more of it. A hand that could not be looked at says nothing. A player who swings without a racket by intention (`shadow`) loses
/// nothing by it.
pub fn weighed(event: Event, seen: Option<&Sightings>, motion: &Motion, shadow: bool) -> Event {
    let Some(seen) = seen else { return event };
    let frames = frames(&event, motion);
    let hands = HANDS.map(|hand| confidences(seen, hand, &frames));
    let factors = hands.each_ref().map(|looks| {
        let plain = looks.as_ref().and_then(|looks| quantile_of_sorted(looks, PLAIN));
        plain.map_or(1.0, |plain| says(plain).max(if shadow { 0.0 } else { f64::NEG_INFINITY }).exp())
    });
    let either = factors[0].max(factors[1]);
    let told = HANDS.into_iter().zip(factors).map(|(hand, factor)| {
        let both = event.chance_of_both(hand);
        (event.chance_of(hand) - both) * factor + both * either
    });
    let odds = event.odds + told.sum::<f64>().ln();
    let [Some(right), Some(left)] = hands else { return Event { odds, ..event } };
    let mean = |looks: &[f64]| looks.iter().sum::<f64>() / looks.len() as f64;
    let factor = (0.5 * OF_HAND * (mean(&right) - mean(&left))).exp();
    let [right, left] = event.chances;
    let chances = [right.map(|chance| chance * factor), left.map(|chance| chance / factor)];
    let all: f64 = chances.iter().flatten().sum();
    Event { odds, chances: chances.map(|hand| hand.map(|chance| chance / all)), ..event }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point2;
    use crate::pose::Track;
    use crate::racket::Sight;
    use crate::units::Reading;

    fn motion() -> Motion {
        let mut motion = Motion::from_track(&Track { size: (100, 100), frames: Vec::new() });
        motion.times = (0..60).map(|i| Seconds(f64::from(i) / 30.0)).collect();
        motion.indices = (0..60).map(FrameIndex).collect();
        motion.rate = 30.0;
        motion
    }

    fn event() -> Event {
        let contact = Reading { time: Seconds(1.0), spread: Seconds(0.02) };
        Event {
            odds: 0.5,
            chances: [[0.3, 0.2, 0.0], [0.2, 0.3, 0.0]],
            volley: 0.0,
            both: 0.0,
            contact,
            pace: 1.0,
        }
    }

    /// Looks at both wrists in every frame that is asked for: the right one's confidence, and the left one's.
    fn sightings(right: f64, left: f64) -> Sightings {
        let at = Point2::new(0.0, 0.0);
        let sight = |confidence| Sight {
            butt: at,
            throat: at,
            middle: at,
            tip: at,
            score: 0.0,
            confidence,
            seen: [1.0; 4],
        };
        let mut seen = Sightings::default();
        for frame in frames(&event(), &motion()) {
            seen.keep(Side::Right, frame, vec![sight(right)]);
            seen.keep(Side::Left, frame, vec![sight(left)]);
        }
        seen
    }

    #[test]
    fn a_racket_tells_the_hand_and_speaks_for_a_stroke() {
        let held = weighed(event(), Some(&sightings(0.1, 1.0)), &motion(), false);
        assert!(held.odds > event().odds + 1.0 && held.odds < event().odds + MOST_FOR_STROKE + 1e-9);
        assert!(held.chance_of(Side::Left) > 0.9, "{held:?}");
        let both = weighed(event(), Some(&sightings(0.8, 0.8)), &motion(), false);
        assert!((both.chance_of(Side::Left) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn a_racket_speaks_for_a_stroke_only_in_a_hand_that_may_play_it() {
        let left_handed = Event { chances: [[0.01, 0.0, 0.0], [0.05, 0.94, 0.0]], ..event() };
        let odds = |event: Event| weighed(event, Some(&sightings(0.998, 0.6)), &motion(), false).odds;
        assert!(odds(left_handed) < left_handed.odds - 0.5, "{}", odds(left_handed));
        let held_by_both = Event { both: 0.95, ..left_handed };
        assert!(odds(held_by_both) > left_handed.odds + 1.0, "{}", odds(held_by_both));
    }

    #[test]
    fn a_racket_no_surer_than_in_hands_without_one_speaks_against_a_stroke() {
        let odds = |seen: f64| weighed(event(), Some(&sightings(seen, seen)), &motion(), false).odds;
        assert!(odds(0.90) < event().odds - 0.5);
        assert!((odds(0.97) - event().odds).abs() < 0.6);
        assert!(odds(0.998) > event().odds + 2.0);
    }

    #[test]
    fn without_a_racket_there_is_hardly_a_stroke_but_in_shadow_swings() {
        let nothing = sightings(0.02, 0.05);
        assert!(weighed(event(), Some(&nothing), &motion(), false).odds < event().odds - 1.0);
        assert_eq!(weighed(event(), Some(&nothing), &motion(), true).odds, event().odds);
        assert_eq!(weighed(event(), None, &motion(), false), event());
        assert_eq!(weighed(event(), Some(&Sightings::default()), &motion(), false), event());
    }

    #[test]
    fn a_racket_that_is_plain_in_some_frames_speaks_for_a_stroke() {
        let mut seen = sightings(0.3, 0.2);
        for frame in frames(&event(), &motion()).into_iter().skip(4).take(3) {
            seen.keep(Side::Right, frame, sightings(1.0, 0.0).at(Side::Right, frame).unwrap().to_vec());
        }
        assert!(weighed(event(), Some(&seen), &motion(), false).odds > event().odds + 1.0);
    }

    #[test]
    fn a_hand_that_nobody_could_look_at_may_hold_the_racket() {
        let odds = |left: f64| {
            let mut seen = Sightings::default();
            for frame in frames(&event(), &motion()) {
                seen.keep(Side::Left, frame, sightings(0.0, left).at(Side::Left, frame).unwrap().to_vec());
            }
            let held = weighed(event(), Some(&seen), &motion(), false);
            assert_eq!(held.chances, event().chances);
            held.odds
        };
        assert!(odds(1.0) > event().odds + 1.0);
        // Half of the stroke's chance lies with the hand that wasn't seen.
        assert!(odds(0.1) < event().odds && odds(0.1) > event().odds - 0.7);
    }
}
