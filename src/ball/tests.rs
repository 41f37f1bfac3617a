//! Drawn clips of a player at whom something flies.

use super::*;
use crate::geometry::Point2;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Motion, MotionPoint, Seen, Side};
use crate::units::{FrameIndex, Reading, Seconds};
use crate::video::{Frame, Picture, VideoError};

const SIZE: (u32, u32) = (400, 300);
const RATE: f64 = 60.0;

/// Between two pictures.
const CONTACT: f64 = 0.505;
const MET: Point2 = Point2::new(235.0, 150.0);

const YELLOW: [f64; 3] = [200.0, 220.0, 60.0];
const RED: [f64; 3] = [190.0, 80.0, 60.0];

/// A player from the side who hits to the right, filmed by a camera that pans by so many pixels a picture.
struct Film {
    pan: f64,
    colour: [f64; 3],
    /// What flies, seconds from contact.
    thing: fn(f64) -> Option<Point2>,
}

/// A ball that comes from the right and is hit back.
fn ball(t: f64) -> Option<Point2> {
    let fall = 0.5 * 950.0 * t * t;
    let (x, y) = if t < 0.0 { (-900.0 * t, 20.0 * t) } else { (1500.0 * t, -300.0 * t) };
    Some(Point2::new(MET.x + x, MET.y + y + fall))
}

fn hand(t: f64) -> Point2 {
    Point2::new(205.0 + 500.0 * t.clamp(-0.3, 0.1), 140.0)
}

impl Film {
    fn motion(&self) -> Motion {
        let times: Vec<Seconds> = (0..64).map(|i| Seconds(f64::from(i) / RATE)).collect();
        let points = times.iter().enumerate().map(|(i, time)| {
            let mut body = [None; COUNT];
            let mut set = |joint: Joint, side: Side, x: f64, y: f64| {
                let at = Point2::new(x + self.pan * i as f64, y);
                body[joint.on(side) as usize] = Some(MotionPoint { at, visibility: 1.0, bridged: false });
            };
            for (side, out) in [(Side::Left, 4.0), (Side::Right, -4.0)] {
                set(Joint::Shoulder, side, 150.0 + out, 105.0);
                set(Joint::Hip, side, 150.0 + out, 165.0);
                set(Joint::Knee, side, 155.0 + out, 200.0);
                set(Joint::Ankle, side, 150.0 + out, 235.0);
            }
            let wrist = hand(time.0 - CONTACT);
            set(Joint::Wrist, Side::Right, wrist.x, wrist.y);
            body
        });
        let points: Vec<_> = points.collect();
        let n = times.len();
        Motion {
            size: SIZE,
            rate: RATE,
            indices: (0..n).map(FrameIndex).collect(),
            times,
            points: points.into(),
            world: vec![None; n].into(),
            depth: crate::pose::DepthTable::nothing(n).into(),
            straightened: Vec::new(),
            jitter: [0.0; COUNT],
            background: Vec::new(),
            cuts: Vec::new(),
            seen: Seen::default(),
        }
    }

    fn picture(&self, i: usize) -> Picture {
        let pan = self.pan * i as f64;
        let things = (self.thing)(i as f64 / RATE - CONTACT).map(|at| (at, 3.2, self.colour));
        let arm = (hand(i as f64 / RATE - CONTACT), 6.0, [180.0, 120.0, 90.0]);
        let mut rgb = Vec::new();
        for y in 0..SIZE.1 {
            for x in 0..SIZE.0 {
                let (u, v) = (f64::from(x) - pan, f64::from(y));
                let shade = 12.0 * ((0.11 * u).sin() + (0.17 * v + 0.05 * u).cos() + (0.031 * u).sin());
                let mut colour = [60.0 + shade, 90.0 + shade, 75.0 + shade];
                for (at, radius, paint) in things.into_iter().chain([arm]) {
                    let cover = (radius + 0.5 - Point2::new(u, v).distance(at)).clamp(0.0, 1.0);
                    (0..3).for_each(|c| colour[c] += cover * (paint[c] - colour[c]));
                }
                rgb.extend(colour.map(|c| c as u8));
            }
        }
        Picture { width: SIZE.0, height: SIZE.1, rgb }
    }

    /// What is seen of the ball when contact is expected a little late.
    fn flight(&self) -> Option<Flight> {
        self.flight_about(Reading { time: Seconds(CONTACT + 0.01), spread: Seconds(0.012) })
    }

    /// What is seen of the ball about an expected contact.
    fn flight_about(&self, contact: Reading) -> Option<Flight> {
        let motion = self.motion();
        let mut looker = Looker::new(&motion, &[Around { hand: Side::Right, contact }]);
        let mut frames = (0..motion.indices.len()).map(|i| {
            let (index, time) = (FrameIndex(i), motion.times[i]);
            let picture = self.picture(i);
            Ok::<_, VideoError>(Frame { index, time, picture, duplicate: false, damaged: false })
        });
        // Somebody else stops looking earlier.
        assert_eq!(looker.beside(&mut frames).take(40).count(), 40);
        let balls = looker.look_on(&mut frames).unwrap();
        assert!(balls.around(Side::Right, contact.time).is_some());
        trace(&balls, &motion, Side::Right, contact, None)
    }
}

fn is_right(flight: &Flight, pan: f64) {
    let (at, spread) = flight.at(Seconds(CONTACT)).unwrap();
    let true_at = Point2::new(MET.x + pan * CONTACT * RATE, MET.y);
    assert!(at.distance(true_at) < 2.45 * spread && spread < 4.0, "{at:?} ± {spread} {true_at:?}");
    let turned = flight.turning_point().unwrap();
    assert!((turned.time.0 - CONTACT).abs() < 1.96 * turned.spread.0, "{turned:?}");
    assert!(turned.spread < Seconds(0.004), "{turned:?}");
}

#[test]
fn a_ball_is_found_where_and_when_it_turns() {
    is_right(&Film { pan: 0.0, colour: YELLOW, thing: ball }.flight().unwrap(), 0.0);
}

#[test]
fn a_vaguely_expected_contact_loses_no_ball() {
    let film = Film { pan: 0.0, colour: YELLOW, thing: ball };
    for late in [-0.09, -0.04, 0.04, 0.09] {
        let vague = Reading { time: Seconds(CONTACT + late), spread: Seconds(0.06) };
        let flight = film.flight_about(vague).unwrap_or_else(|| panic!("no ball, expected {late} s late"));
        is_right(&flight, 0.0);
    }
}

#[test]
fn a_ball_is_found_far_from_a_vaguely_expected_contact() {
    let film = Film { pan: 0.0, colour: YELLOW, thing: ball };
    for off in [-0.15, 0.17] {
        let expected = Reading { time: Seconds(CONTACT + off), spread: Seconds(0.11) };
        is_right(&film.flight_about(expected).unwrap(), 0.0);
    }
}

#[test]
fn a_ball_that_has_moved_contact_stays_seen() {
    let film = Film { pan: 0.0, colour: YELLOW, thing: ball };
    let [vague, sharp] = [(0.10, 0.11), (0.0, 0.012)].map(|(off, spread)| {
        film.flight_about(Reading { time: Seconds(CONTACT + off), spread: Seconds(spread) })
    });
    let beside = film.flight_about(Reading { time: Seconds(CONTACT + 0.15), spread: Seconds(0.01) });
    assert!(beside.is_none_or(|flight| flight.turning_point().is_none()));
    assert_eq!(still_seen(vec![None, sharp.clone()], vec![vague.clone(), vague.clone()]), [vague, sharp]);
}

#[test]
fn a_panned_camera_does_not_move_it() {
    let flight = Film { pan: 1.3, colour: YELLOW, thing: ball }.flight().unwrap();
    is_right(&flight, 1.3);
    for (frame, at) in flight.sights() {
        let t = frame.0 as f64 / RATE - CONTACT;
        let true_at = ball(t).map(|p| Point2::new(p.x + 1.3 * frame.0 as f64, p.y)).unwrap();
        // At the picture's edge only a part of it is seen.
        let whole = true_at.x < f64::from(SIZE.0) - 6.0;
        assert!(!whole || at.distance(true_at) < 2.5, "{frame}: {at:?} {true_at:?}");
    }
}

#[test]
fn nothing_is_found_where_nothing_flies() {
    assert_eq!(Film { pan: 0.0, colour: YELLOW, thing: |_| None }.flight(), None);
}

#[test]
fn what_is_not_yellow_or_goes_with_the_hand_or_passes_elsewhere_is_no_ball() {
    assert_eq!(Film { pan: 0.0, colour: RED, thing: ball }.flight(), None);
    let worn: fn(f64) -> Option<Point2> = |t| Some(Point2::new(hand(t).x + 14.0, hand(t).y - 6.0));
    assert_eq!(Film { pan: 0.0, colour: YELLOW, thing: worn }.flight(), None);
    let elsewhere: fn(f64) -> Option<Point2> = |t| Some(Point2::new(330.0, 60.0 + 900.0 * t));
    assert_eq!(Film { pan: 0.0, colour: YELLOW, thing: elsewhere }.flight(), None);
}

#[test]
fn a_ball_that_flies_on_past_the_racket_was_not_hit() {
    let missed: fn(f64) -> Option<Point2> = |t| Some(Point2::new(MET.x - 900.0 * t, MET.y + 20.0 * t));
    let flight = Film { pan: 0.0, colour: YELLOW, thing: missed }.flight();
    assert!(flight.is_none_or(|flight| flight.turning_point().is_none()));
}
