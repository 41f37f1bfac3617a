//! An arm and a racket whose movement in space is known, seen by a lens.

use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

use super::*;
use crate::geometry::{Point2, angle_between};
use crate::pose::landmark::COUNT;
use crate::pose::{MotionPoint, Seen};
use crate::racket::{Length, MIDDLE, Racket, RacketPoint, USUAL_LENGTH};
use crate::scene::{Direction, Lens, Source, Stand, Teller};
use crate::units::{Degrees, FrameIndex};

/// An arm with a racket; the camera looks from the hitting side, the net is on the right. Times are seconds from contact.
pub struct Arm {
    pub rate: f64,
    pub forearm: fn(f64) -> Camera,
    /// Direction from butt to tip.
    pub racket: fn(f64) -> Camera,
}

/// Pictures before and after contact.
const BEFORE: f64 = 0.6;
const AFTER: f64 = 0.2;

pub struct Shown {
    pub court: CourtMotion,
    pub seen: RacketMotion,
    motion: Motion,
    pub space: Space,
}

/// Contact in the clip's time, between two pictures.
pub const CONTACT: Seconds = Seconds(BEFORE + 0.004);

fn wrist(t: f64) -> Camera {
    Camera::new(0.2 + 1.5 * t, 0.3 + 0.2 * t, 5.0 - 0.2 * t)
}

impl Arm {
    pub fn shown(&self) -> Shown {
        let lens = Lens::showing((1280, 720), Degrees(60.0));
        let n = ((BEFORE + AFTER) * self.rate) as usize;
        let times: Vec<Seconds> = (0..n).map(|i| Seconds(i as f64 / self.rate)).collect();
        let to_picture = |p: Camera| {
            Point2::new(
                lens.middle.0 + lens.focal * p.right / p.away,
                lens.middle.1 - lens.focal * p.up / p.away,
            )
        };
        let mut points = vec![[None; COUNT]; n];
        let mut rackets = Vec::new();
        let mut in_picture = vec![[None; COUNT]; n];
        for (i, time) in times.iter().enumerate() {
            let t = (*time - CONTACT).0;
            let mut set = |joint: Joint, p: Camera| {
                points[i][joint.on(crate::pose::Side::Right) as usize] = Some(p);
                let point = MotionPoint { at: to_picture(p), visibility: 1.0, bridged: false };
                in_picture[i][joint.on(crate::pose::Side::Right) as usize] = Some(point);
            };
            set(Joint::Wrist, wrist(t));
            set(Joint::Elbow, wrist(t) - (self.forearm)(t).unit().unwrap() * 0.26);
            let axis = (self.racket)(t).unit().unwrap() * USUAL_LENGTH.0;
            let butt = Camera { up: wrist(t).up - 0.03, ..wrist(t) };
            let point = |share: f64| RacketPoint { at: to_picture(butt + axis * share), confidence: 0.95 };
            rackets.push(Some(Racket {
                butt: point(0.0),
                throat: point(0.45),
                middle: point(MIDDLE),
                tip: point(1.0),
                bridged: false,
                marked: false,
            }));
        }
        let space = Space {
            times: times.clone(),
            rate: self.rate,
            points: points.into(),
            visibility: vec![[1.0; COUNT]; n],
            depth_spread: vec![[0.05; COUNT]; n],
            stand: Stand::level(lens),
            size: (1280, 720),
            scale: vec![Some(5.0 / lens.focal); n],
            sway: Default::default(),
            stature: Metres(1.8),
            teller: Teller::DepthNetwork,
            jitter: 0.003,
        };
        let indices: Vec<FrameIndex> = (0..n).map(FrameIndex).collect();
        let motion = Motion {
            size: (1280, 720),
            rate: self.rate,
            indices: indices.clone(),
            times: times.clone(),
            points: in_picture.into(),
            world: vec![None; n].into(),
            depth: crate::pose::DepthTable::nothing(n).into(),
            straightened: Vec::new(),
            jitter: [0.0; COUNT],
            background: Vec::new(),
            cuts: Vec::new(),
            seen: Seen::default(),
        };
        let court = CourtMotion::new(&space, &Direction::at(Degrees(0.0)), crate::pose::Side::Right, 0..n);
        Shown { court, seen: RacketMotion { indices, times, rackets }, motion, space }
    }
}

impl Shown {
    /// The camera that it was.
    fn as_it_is(&self) -> Recast {
        Recast::new(
            Source::new(self.space.stand, self.space.size, Teller::DepthNetwork),
            self.space.stand,
            1.0,
        )
    }

    pub fn racket(&self) -> CourtRacket {
        CourtRacket::new(&self.seen, &self.motion, &self.space, &self.court, Length::of(None, None), CONTACT)
            .unwrap()
    }
}

/// The forearm points out to the hitting side, which is toward this camera, and a little forward.
pub fn outward(_: f64) -> Camera {
    Camera::new(0.5, -0.2, -0.8)
}

/// Turns from behind through the side to the front: from pointing back and away a little, to out, to forward.
pub fn sweeping(t: f64) -> Camera {
    let angle = 5.0 * (t + 0.15);
    Camera::new(angle.sin() - 0.2, -0.2, -angle.cos())
}

fn off(racket: &CourtRacket, truth: Camera, time: Seconds) -> f64 {
    let (_, axis) = racket.at(time).unwrap();
    angle_between(axis, racket.axes.to_court(truth)).unwrap()
}

#[test]
fn a_racket_is_found_in_space_from_its_length_and_its_turning() {
    for rate in [30.0, 60.0, 120.0] {
        let arm = Arm { rate, forearm: outward, racket: sweeping };
        let racket = arm.shown().racket();
        for k in -40..0 {
            let t = 0.01 * f64::from(k);
            let error = off(&racket, sweeping(t), CONTACT + Seconds(t));
            assert!(error < if rate < 50.0 { 12.0 } else { 6.0 }, "{rate}/s, {t} s: {error}°");
        }
    }
}

/// From behind: the head comes through from pointing to the back fence to pointing to the net.
fn coming_through(t: f64) -> Camera {
    let angle = (18.0 * t).clamp(-1.3, 1.0);
    Camera::new(angle.cos(), -0.15, angle.sin())
}

#[test]
fn a_racket_that_looks_a_little_short_where_it_is_square_comes_through_all_the_same() {
    for hidden in [0.0, 0.03, 0.06] {
        let forward = |_: f64| Camera::new(0.6, -0.2, 0.5);
        let mut shown = Arm { rate: 60.0, forearm: forward, racket: coming_through }.shown();
        // The net lies away from this camera, and the fist hides the end of the handle.
        let net = Direction::at(Degrees(90.0));
        shown.court =
            CourtMotion::new(&shown.space, &net, crate::pose::Side::Right, 0..shown.space.times.len());
        for racket in shown.seen.rackets.iter_mut().flatten() {
            racket.butt.at = racket.butt.at.lerp(racket.tip.at, hidden);
        }
        let racket = shown.racket();
        let net = |t: f64| racket.axis(CONTACT + Seconds(t)).unwrap().net / racket.length.0;
        let times = [-0.05, -0.01, 0.03];
        let along = times.map(net);
        let truth = times.map(|t| coming_through(t).unit().unwrap().away);
        assert!(along[0] < -0.6 && along[2] > 0.35, "{hidden} hidden: {along:.2?} for {truth:.2?}");
        let square = if hidden > 0.05 { 0.35 } else { 0.15 };
        assert!((along[1] - truth[1]).abs() < square, "{hidden} hidden: {along:.2?} for {truth:.2?}");
    }
}

#[test]
fn the_length_follows_a_racket_that_looks_too_short_throughout() {
    let mut shown = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
    let whole = shown.racket().length.0;
    for racket in shown.seen.rackets.iter_mut().flatten() {
        racket.butt.at = racket.butt.at.lerp(racket.tip.at, 0.04);
    }
    let short = shown.racket().length.0;
    assert!((0.955..0.99).contains(&(short / whole)), "{short} of {whole} m");
}

#[test]
fn what_follows_the_impact_changes_nothing_before_it() {
    let shown = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
    let mut struck = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
    for (time, racket) in struck.seen.times.iter().zip(&mut struck.seen.rackets) {
        if *time > CONTACT
            && let Some(racket) = racket
        {
            let shake = 40.0 * (time.0 * 300.0).sin();
            racket.tip.at.x += shake;
            racket.tip.at.y -= 0.5 * shake;
        }
    }
    let (_, before) = shown.racket().at(CONTACT).unwrap();
    let (_, after) = struck.racket().at(CONTACT).unwrap();
    assert!(angle_between(before, after).unwrap() < 1e-6);
    assert!(off(&struck.racket(), sweeping(0.0), CONTACT) < 4.0);
}

#[test]
fn without_evidence_both_sides_are_drawn() {
    /// Half toward the lens, or half away: nothing tells.
    fn held(_: f64) -> Camera {
        Camera::new(0.8, 0.1, -0.6)
    }
    let arm = Arm { rate: 60.0, forearm: |_| Camera::new(1.0, 0.0, 0.0), racket: held };
    let shown = arm.shown();
    let racket = shown.racket();
    let mut rng = Pcg64Mcg::seed_from_u64(1);
    let nearer = (0..60)
        .filter(|_| {
            let drawn =
                racket.drawn(&shown.as_it_is(), racket.axes, CONTACT, &|_| Camera::default(), &mut rng);
            drawn.axes.to_camera(drawn.at(CONTACT).unwrap().1).away < 0.0
        })
        .count();
    assert!((15..45).contains(&nearer), "{nearer} of 60");
}

#[test]
fn a_racket_stays_where_it_is_seen_when_the_hand_is_put_wrong() {
    let shown = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
    let racket = shown.racket();
    let tip = |off: Camera| {
        let mut court = shown.court.clone();
        let wrist = court.hitting(Joint::Wrist) as usize;
        for hand in court.points.iter_mut().filter_map(|frame| frame[wrist].as_mut()) {
            *hand += racket.axes.to_court(off);
        }
        let mut rng = Pcg64Mcg::seed_from_u64(1);
        let drawn = racket.drawn(&shown.as_it_is(), racket.axes, CONTACT, &|_| off, &mut rng);
        drawn.point(&court, 1.0, CONTACT).unwrap()
    };
    let moved = (tip(Camera::new(0.03, -0.02, 0.0)) - tip(Camera::default())).norm();
    assert!(moved < 0.005, "the tip goes with the hand by {moved} m");
}

#[test]
fn a_gap_stays_a_gap() {
    let mut shown = Arm { rate: 60.0, forearm: outward, racket: sweeping }.shown();
    shown.seen.rackets[20..26].fill(None);
    let racket = shown.racket();
    assert_eq!(racket.at(Seconds(22.5 / 60.0)), None);
    assert!(racket.at(Seconds(19.0 / 60.0)).is_some());
    assert_eq!(racket.at(Seconds(5.0)), None);
}
