//! Finds the strokes of a motion and splits them.

use std::ops::Range;

use rayon::prelude::*;

use super::ClipMeasures;
use super::corrected::{Corrected, of_the_whole_clip};
use super::facing::Facing;
use super::given::{Given, Seen, Stated};
use super::settled::{listen, see_ball, settle};
use super::swung::{Movement, Peak, Swung, corrected_movement, peaks, window};
use super::unmeasured::{Draft, Found, Unmeasured};
use crate::ball::{self, Flight};
use crate::measure::drawn::Sources;
use crate::pose::Motion;
use crate::recogniser::{self, Event};
use crate::scene::space::Lift;
use crate::scene::{Bearings, CourtMotion, Direction, Space, Unsuitable};
use crate::stroke::{
    self, Boundary, Contact, Corrections, Distance, Hitting, Sort, Stroke, hands, held, kind,
};
use crate::units::Seconds;

/// Balls are looked for again with what those that were found say of how late the sound is.
const BALL_ROUNDS: usize = 2;

impl<'a> Unmeasured<'a> {
    /// Finds every stroke of a motion and splits it.
    pub fn of(picture: &'a Motion, stated: &'a Stated, seen: &'a Seen) -> Self {
        let given = Given { stated, seen };
        let said = &given.stated.corrections;
        let lift = if given.stated.planar { Lift::Planar } else { Lift::Perspective };
        let hand = said.hand.or(given.stated.hand);
        let candidates = recogniser::events(&given.seen.chances);
        let events = believed(&candidates, picture, given);
        let without_racket = events.is_empty() && candidates.iter().any(|event| event.odds > BELIEVED);
        let stated = given.stated.direction;
        let unsuitable = Unsuitable::of(picture);
        let find = |space: &Space, lines: Option<&Bearings>| {
            stroke::find(space, &given.seen.body, hand, stated, lines, &events)
        };
        let Facing { filmed, space, found, by_court } =
            Facing::of(picture, given, lift, unsuitable.is_some(), find);
        let mut clip = ClipMeasures {
            hitting: None,
            direction: by_court,
            filmed,
            space,
            unsuitable,
            without_racket,
            hits: None,
            sound_late: None,
            strokes: Vec::new(),
            found: 0,
            corrected: of_the_whole_clip(said, given),
        };
        let sources = Sources {
            jitter: clip.space.jitter.max(0.003),
            landmarks: given.seen.body.landmark_spread(),
            rate: clip.space.rate,
            slowed: false,
        };
        let Some(stroke::Found { hitting, direction, swings, .. }) = found else {
            let found = Found { clip, sources, candidates, hitting_and_direction: None, strokes: Vec::new() };
            return Self { motion: picture, given, found };
        };
        let swung = swings_of(
            &peaks(&swings, &events, said, &given.seen.chances),
            &mut clip,
            (&hitting, &direction),
            said,
        );
        let distance =
            Distance { stated: given.stated.camera_distance, spread: clip.filmed.distance_spread() };
        let listened = listen(&swung, given, &clip.space, distance);
        let mut flights: Vec<Option<Flight>> = vec![None; swung.len()];
        let mut contacts = settle(&swung, listened.as_ref(), &flights, sources.rate).0;
        for _ in 0..BALL_ROUNDS {
            let expected = swung.par_iter().zip(&contacts);
            let now = expected.map(|(swung, contact)| see_ball(swung, contact, picture, given)).collect();
            flights = ball::still_seen(now, flights);
            (contacts, clip.sound_late) = settle(&swung, listened.as_ref(), &flights, sources.rate);
        }
        clip.hits = listened.map(|listened| listened.hits);
        let impacts: Vec<Seconds> =
            contacts.iter().filter(|contact| contact.is_instant()).map(|contact| contact.mark.time).collect();
        if !impacts.is_empty() {
            clip.space.forget();
            clip.space = given.lifted(&clip.filmed, &picture.struck_at(&impacts), lift);
        }
        let mut strokes = Vec::new();
        for (i, ((swung, contact), flight)) in swung.into_iter().zip(contacts).zip(flights).enumerate() {
            let heard = clip.hits.as_ref().and_then(|hits| hits.ball[i]);
            let ball = match (given.stated.shadow, &flight) {
                (true, _) => Some(false),
                (false, Some(_)) => Some(true),
                (false, None) => heard,
            };
            let stroke = stroke_of(&swung, &contact, ball, &direction, &mut clip);
            strokes.push(Draft { number: swung.number, seed: swung.seed, stroke, contact, flight });
        }
        let found =
            Found { clip, sources, candidates, hitting_and_direction: Some((hitting, direction)), strokes };
        Self { motion: picture, given, found }
    }
}

/// The swings that stand for strokes, as corrections have them; those that were taken out are left out.
fn swings_of(
    peaks: &[Peak],
    clip: &mut ClipMeasures,
    (hitting, direction): (&Hitting, &Direction),
    said: &Corrections,
) -> Vec<Swung> {
    let seen = peaks.iter().enumerate().filter_map(|(i, peak)| {
        let neighbours = (i.checked_sub(1).map(|j| peaks[j].time), peaks.get(i + 1).map(|p| p.time));
        let window = window(&clip.space, peak.time, neighbours);
        let motion = CourtMotion::new(&clip.space, direction, hitting.hand, window.clone());
        Some((*peak, window, Movement::of(&motion, peak, None)?))
    });
    let seen: Vec<(Peak, Range<usize>, Movement)> = seen.collect();
    clip.found = seen.iter().filter(|(peak, ..)| peak.added.is_none()).count();
    let swings = peaks.iter().filter(|peak| peak.added.is_none()).count();
    let mut swung: Vec<Swung> = Vec::new();
    let mut found = 0;
    for (peak, window, as_seen) in seen {
        let (number, seed) = match peak.added {
            None => {
                found += 1;
                (found, peak.place)
            }
            Some(_) => (clip.found + 1 + peak.place, swings + peak.place),
        };
        let mut said = said.of(number);
        if said.no_stroke {
            clip.corrected.push(Corrected::of_stroke(number, "no_stroke", None, "yes".to_owned()));
            continue;
        }
        said.times[Boundary::Contact as usize] = said.time(Boundary::Contact).or(peak.added);
        let motion_of = |hand| CourtMotion::new(&clip.space, direction, hand, window.clone());
        let (hand, movement) =
            corrected_movement(number, &said, hitting.hand, as_seen, &peak, motion_of, &mut clip.corrected);
        let event = peak.event;
        swung.push(Swung { number, seed: seed as u64, peak: peak.time, event, window, hand, movement, said });
    }
    swung
}

/// A swing with its contact as a stroke, split into its phases; its racket and its ball's way are not in it yet.
fn stroke_of(
    swung: &Swung,
    contact: &Contact,
    ball: Option<bool>,
    direction: &Direction,
    clip: &mut ClipMeasures,
) -> Stroke {
    let motion = CourtMotion::new(&clip.space, direction, swung.hand, swung.window.clone());
    let (kind, volley) = (swung.movement.kind, swung.is_volley());
    let phases = swung.phases(&motion, contact, Sort::of(kind, volley), &mut clip.corrected);
    let stance = kind::stance(&motion, kind, contact.mark.time);
    let forward_start = phases.forward_start.map(|mark| mark.time);
    Stroke {
        kind,
        hands: swung.hands(|| hands::from_wrists(&motion, forward_start, contact.mark.time)),
        volley,
        stance,
        phases,
        ball,
        motion,
        racket: None,
        flight: None,
        struck: None,
        stature: clip.filmed.stature.metres,
    }
}

/// The odds of a stroke to none (logarithm) from which on it is believed. From players and movements that were not learnt from.
const BELIEVED: f64 = 1.25;

/// What may be strokes, weighed by the racket; those that are believed.
fn believed(candidates: &[Event], motion: &Motion, given: Given<'_>) -> Vec<Event> {
    let weigh =
        |event: &Event| held::weighed(*event, given.seen.racket.as_ref(), motion, given.stated.shadow);
    recogniser::believed(candidates.iter().map(weigh).collect(), BELIEVED)
}
