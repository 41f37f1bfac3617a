//! When the ball is met in each swing, from all that witnesses it.

use super::given::Given;
use super::swung::Swung;
use crate::ball::{self, Flight};
use crate::order::median;
use crate::pose::Motion;
use crate::scene::Space;
use crate::stroke::hits::{self, Hits};
use crate::stroke::offset;
use crate::stroke::{Boundary, Contact, Distance, Method};
use crate::units::{Reading, Seconds};

/// What a clip's sound says of its swings.
pub(super) struct Listened {
    pub hits: Hits,
    pub rewritten: bool,
    /// Error of the time that the sound is under way, common to the clip (1 standard deviation).
    pub way: Seconds,
}

/// Looks for the hits of the swings in the clip's sound; `None` without sound, or where the user says there is no ball.
pub(super) fn listen(
    swung: &[Swung],
    given: Given<'_>,
    space: &Space,
    distance: Distance,
) -> Option<Listened> {
    let heard = given.seen.sound.as_ref().filter(|_| !given.stated.shadow)?;
    let expected: Option<Vec<hits::Swung>> = swung
        .iter()
        .map(|swung| {
            let kinematic = swung.movement.moved.contact;
            let delay = distance.delay(space, swung.hand, kinematic.time)?;
            Some(hits::Swung { kinematic, delay })
        })
        .collect();
    let expected = expected?;
    let way = median(expected.iter().map(|swung| swung.delay.spread.0)).map_or(Seconds(0.0), Seconds);
    let hits = hits::among_swings(&expected, heard, Seconds(1.0 / space.rate));
    Some(Listened { hits, rewritten: heard.rewritten, way })
}

/// A ball's turning point that is expected more surely than this (1 standard deviation) is looked for as widely all the
/// same: sights of a ball are coarse.
const BALL_EXPECTED: Seconds = Seconds(0.010);

/// The ball's ways around a swing's contact.
pub(super) fn see_ball(
    swung: &Swung,
    contact: &Contact,
    motion: &Motion,
    given: Given<'_>,
) -> Option<Flight> {
    let seen = given.seen.balls.as_ref().filter(|_| !given.stated.shadow)?;
    let settled = Reading { time: contact.mark.time, spread: contact.spread };
    let expected = seen.looked_at(swung.hand, [settled, swung.movement.moved.contact])?;
    let expected = Reading { spread: expected.spread.max(BALL_EXPECTED), ..expected };
    ball::trace(seen, motion, swung.hand, expected, given.seen.racket.as_ref())
}

/// A reading farther from a surer one than this many of its standard deviations was misled and witnesses nothing.
const CONTRADICTS: f64 = 3.0;

/// Contact of each swing from everything that witnessed it, and how late the sound is; a person's word stands against all.
pub(super) fn settle(
    swung: &[Swung],
    listened: Option<&Listened>,
    flights: &[Option<Flight>],
    rate: f64,
) -> (Vec<Contact>, Option<Reading>) {
    let balls: Vec<Option<Reading>> =
        flights.iter().map(|flight| flight.as_ref().and_then(Flight::turning_point)).collect();
    let hands: Vec<Reading> = swung.iter().map(|swung| swung.movement.moved.contact).collect();
    let evidence = listened.map(|listened| offset::Evidence {
        rewritten: listened.rewritten,
        sounds: &listened.hits.of_swings,
        hands: &hands,
        balls: &balls,
        way: listened.way,
    });
    let sounds = evidence.map_or(Vec::new(), |evidence| evidence.in_pictures());
    let late = evidence.filter(|e| e.sounds.iter().any(Option::is_some)).map(|e| e.offset());
    // What the hits are later than the movement, less what the sound is later than the pictures.
    let shift = listened.and_then(|listened| listened.hits.shift).zip(late).map(|(shift, late)| Reading {
        time: shift.time - late.time,
        spread: Seconds(shift.spread.0.hypot(late.spread.0)),
    });
    let settle_one = |(i, swung): (usize, &Swung)| {
        if let Some(time) = swung.said.time(Boundary::Contact) {
            return Contact::marked(time, rate);
        }
        let kinematic = swung.movement.moved.contact;
        let by_movement = Contact::by_movement(swung.movement.moved, swung.peak, shift);
        let (ball, sound) = (balls[i], sounds.get(i).copied().flatten());
        // Where there is a sound, the hands of all strokes have had their say in how late it is.
        let hand = sound.is_none().then_some(kinematic);
        let mut told = [(Method::Ball, ball), (Method::Sound, sound), (Method::Kinematic, hand)];
        // Surest first.
        let spread = |reading: &Option<Reading>| reading.map_or(f64::INFINITY, |reading| reading.spread.0);
        told.sort_by(|a, b| spread(&a.1).total_cmp(&spread(&b.1)));
        let mut witnesses: Vec<(Method, Reading)> = Vec::new();
        let mut disputed = Seconds(0.0);
        for (method, reading) in told {
            let Some(reading) = reading else { continue };
            let apart = |surer: &Reading| (reading.time - surer.time).abs();
            let contradicts =
                |surer: &&Reading| apart(surer).0 >= CONTRADICTS * surer.spread.0.hypot(reading.spread.0);
            match witnesses.iter().map(|(_, surer)| surer).find(contradicts) {
                None => witnesses.push((method, reading)),
                // Either the ball was seen or the hit was heard elsewhere: nobody knows which.
                Some(surer) if method != Method::Kinematic => disputed = disputed.max(apart(surer)),
                Some(_) => (),
            }
        }
        if witnesses.iter().all(|(method, _)| *method == Method::Kinematic) {
            return by_movement;
        }
        Contact::fused(&witnesses).map_or(by_movement, |contact| contact.disputed(disputed))
    };
    (swung.iter().enumerate().map(settle_one).collect(), late)
}
