//! A made-up clip for tests: every point's place in the frame is known.

use super::draw_support::Setup;
use crate::geometry::{Camera, Court, Point2};
use crate::measure::clip::ClipMeasures;
use crate::measure::{CATALOGUE, Grade, Measurement};
use crate::pose::{Motion, MotionPoint};
use crate::racket::{Length, Racket, RacketMotion, RacketPoint, USUAL_LENGTH};
use crate::scene::{CourtRacket, Lens};

/// From the camera to the player, and the camera's height, metres.
pub(in crate::draw) const DISTANCE: f64 = 7.0;
const HEIGHT: f64 = 1.1;

/// Where a point of the test's player is in the picture, by hand: the net on the right, the camera at the hitting side.
pub(in crate::draw) fn seen(lens: Lens, point: Court) -> Point2 {
    let away = DISTANCE - point.side;
    let pixels = lens.focal / away;
    Point2::new(lens.middle.0 + point.net * pixels, lens.middle.1 - (point.up - HEIGHT) * pixels)
}

/// The synthetic clip as a camera sees it.
pub(in crate::draw) fn filmed() -> (Motion, ClipMeasures) {
    let setup = Setup::default();
    let (mut motion, mut clip) = (setup.picture(), setup.clip());
    for stroke in &mut clip.strokes {
        let court = &mut stroke.stroke.motion;
        court.ground = -HEIGHT;
        let first = motion.times.iter().position(|t| *t == court.times[0]).unwrap();
        for (i, frame) in court.points.iter_mut().enumerate() {
            for (k, point) in frame.iter_mut().enumerate() {
                let at = point.map(|p| seen(clip.space.stand.lens, p));
                let seen = at.map(|at| MotionPoint { at, visibility: 0.9, bridged: false });
                motion.points.set(first + i, k, seen);
                let lifted = point.map(|p| Camera::new(p.net, p.up - HEIGHT, DISTANCE - p.side));
                clip.space.points.set(first + i, k, lifted);
                *point = point.map(|p| Court { side: p.side - DISTANCE, ..p });
            }
        }
    }
    clip.space.scale = vec![Some(DISTANCE / clip.space.stand.lens.focal); motion.len()];
    (motion, clip)
}

/// From butt to tip at a time from contact, in the picture's plane: it trails more and more, and less from 80 ms before contact.
fn axis(t: f64) -> Court {
    let trails = 100.0 - 700.0 * (t + 0.08).abs().min(0.12);
    let (sin, cos) = (trails - 15.0).to_radians().sin_cos();
    Court::new(cos, 0.0, -sin) * USUAL_LENGTH.0
}

/// The test's clip, its second stroke with a racket whose tip was seen with this confidence.
pub(in crate::draw) fn with_racket(confidence: f64) -> (Motion, ClipMeasures) {
    let (motion, mut clip) = filmed();
    let met = clip.strokes[1].stroke.phases.contact.time;
    let mut shown = RacketMotion::default();
    let (space, lens) = (clip.space.clone(), clip.space.stand.lens);
    let stroke = &mut clip.strokes[1];
    for (index, time) in motion.indices.iter().zip(&motion.times) {
        let Some(hand) = stroke.stroke.motion.hand_at(*time).filter(|_| (*time - met).abs().0 < 0.6) else {
            continue;
        };
        let butt = Court { side: hand.side + DISTANCE, up: hand.up - 0.03, ..hand };
        let on = |share: f64| {
            let at = seen(lens, butt + axis((*time - met).0) * share);
            RacketPoint { at, confidence }
        };
        shown.indices.push(*index);
        shown.times.push(*time);
        let (butt, throat, middle, tip) = (on(0.0), on(0.5), on(0.755), on(1.0));
        shown.rackets.push(Some(Racket { butt, throat, middle, tip, bridged: false, marked: false }));
    }
    let court = &stroke.stroke.motion;
    stroke.stroke.racket = CourtRacket::new(&shown, &motion, &space, court, Length::of(None, None), met);
    stroke.racket = shown;
    let outcome = |value| Measurement { value, plus_minus: 4.0, grade: Grade::Good };
    stroke.measured.outcomes = CATALOGUE.iter().map(|m| m.of(&stroke.stroke).map(outcome)).collect();
    (motion, clip)
}
