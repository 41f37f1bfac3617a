//! The racket in space: its depth from its known length, the side to which it points from continuity and from what arms can
//! do.
//!
//! A racket of known length whose ends lie on two rays has two places: with the tip nearer to the lens than the butt, or
//! farther. Through a stroke the axis turns evenly, so that the choice in one picture binds the next; where the racket is
//! square to the lens both places meet and the choice is free again. There a racket that looks a little too short seems to turn back
//! where it passes; that it may be square all the same, and that its head comes through at contact, says otherwise.

mod choice;
mod place;
mod player;

use std::ops::Range;

use rand::Rng;
use rand_distr::StandardNormal;

use super::court::{Axes, CourtMotion};
use super::depth::difference_spread;
use super::recast::Recast;
use super::space::Space;
use crate::geometry::{Camera, Court};
use crate::pose::{Joint, Landmark, Motion};
use crate::racket::{Length, RacketMotion};
use crate::units::{Metres, Seconds};
use choice::{drawn_by, least};
use place::{Ends, Errors, Placed, Rays, WAYS, polynomial};
use player::{FOREARM_PLACE, FOREARM_SPREAD, forearm_length};

/// Error of a confident racket's ends in the picture, racket lengths (1 standard deviation per axis), and how it grows with
/// doubt; from rendered players.
const PLACE_SPREAD: f64 = 0.016;
const DOUBT_SPREAD: f64 = 0.10;

/// A racket seen with this confidence tells how long it looks; so many pictures are needed, and this share of them is to
/// look shorter than the longest that counts.
const SURE: f64 = 0.5;
const FEWEST_LOOKS: usize = 8;
const LONG_SHARE: f64 = 0.93;

/// How far a racket looks too long or too short throughout a stroke (1 standard deviation, relative), how far the longest that it
/// looks is off that, and how that grows the farther it is; from rendered players.
const SCALE_SPREAD: f64 = 0.025;
const LOOK_SPREAD: f64 = 0.012;
const UNLIKELY: f64 = 1.0;

/// The racket through one stroke, in the court's frame.
#[derive(Debug, Clone, PartialEq)]
pub struct CourtRacket {
    /// Its true length.
    pub length: Metres,
    /// How far that may be off (1 standard deviation).
    length_spread: Metres,
    contact: Seconds,
    /// So many pictures are not after it.
    met: usize,
    interval: Seconds,
    axes: Axes,
    /// Length of the player's forearm, metres.
    forearm: f64,
    ends: Vec<Ends>,
    /// What speaks against the tip being nearer to the lens and farther, in each picture (logarithms of chance).
    against: Vec<[f64; 2]>,
    placed: Vec<Placed>,
}

impl CourtRacket {
    /// Puts a racket that was seen in a stroke's pictures into space. `None` where it was seen in fewer than two pictures
    /// with the hand.
    pub fn new(
        seen: &RacketMotion,
        picture: &Motion,
        space: &Space,
        court: &CourtMotion,
        length: Length,
        contact: Seconds,
    ) -> Option<Self> {
        let axes = Axes::new(court.direction.angle, court.hand);
        let camera = space.stand.sights();
        let mut ends = Vec::new();
        for (frame, racket) in seen.indices.iter().zip(&seen.rackets) {
            let Some(racket) = racket else { continue };
            let Ok(place) = picture.indices.binary_search(frame) else { continue };
            let Some(wrist) = space.at(place, Joint::Wrist.on(court.hand)) else { continue };
            let confidence = racket.tip.confidence;
            let end = Ends {
                time: picture.times[place],
                pixels: [racket.butt.at, racket.tip.at].map(|pixel| space.sway.steady(place, pixel)),
                butt: Camera::default(),
                tip: Camera::default(),
                wrist,
                hips: space.hips(place).unwrap_or(wrist),
                spread: PLACE_SPREAD + DOUBT_SPREAD * (1.0 - confidence),
                confidence,
            };
            ends.push(end.seen_by(&camera));
        }
        if ends.len() < 2 {
            return None;
        }
        let mut found = Self {
            length: length.value,
            length_spread: length.spread,
            contact,
            met: met(&ends, contact),
            interval: Seconds(1.0 / space.rate),
            axes,
            forearm: forearm_length(space, court),
            against: Vec::new(),
            placed: Vec::new(),
            ends,
        };
        found.length = found.as_it_looks();
        found.against = found.ends.iter().map(|ends| found.evidence(ends, court)).collect();
        let rays = found.rays(&Errors::none(found.ends.len()));
        found.placed = found.chosen(&rays, &mut least, f64::min);
        Some(found)
    }

    /// The length at which the racket is as long as it looks where it is square to the lens, which every stroke passes before the
    /// impact: between what it is taken to be and the longest that it looks, each by its spread. A player who is taken to be a
    /// little too near, or a fist that hides the butt, makes it look too short throughout the stroke. One that looks too long
    /// is square wherever it does, and keeps its length.
    fn as_it_looks(&self) -> Metres {
        let looks = self.ends[..self.met].iter().filter(|ends| ends.confidence >= SURE);
        let mut looks: Vec<f64> = looks
            .map(|ends| Rays::of(ends, self.length, [0.0; 4]).look())
            .filter(|look| look.is_finite())
            .collect();
        if looks.len() < FEWEST_LOOKS {
            return self.length;
        }
        looks.sort_by(f64::total_cmp);
        let longest = looks[(LONG_SHARE * (looks.len() - 1) as f64).round() as usize];
        // One that looks much too short may never have been square, one that looks much too long is seen wrongly.
        let spread = LOOK_SPREAD + UNLIKELY * ((longest - 1.0).abs() - SCALE_SPREAD).max(0.0);
        let weight = SCALE_SPREAD.powi(2) / (SCALE_SPREAD.powi(2) + spread.powi(2));
        Metres(self.length.0 * (1.0 + weight * (longest - 1.0)).min(1.0))
    }

    /// The rays of the racket's ends in each picture, with errors added.
    fn rays(&self, errors: &Errors) -> Vec<Rays> {
        let with = |(ends, errors): (&Ends, &[f64; 4])| Rays::of(ends, self.length, *errors);
        self.ends.iter().zip(&errors.ends).map(with).collect()
    }

    /// The racket as it would be with errors: places in the picture drawn anew, sides drawn by their chances, the camera as it
    /// was drawn (`recast`, and the net's direction in `axes`), `contact` as it was drawn. `hand_off` is what the hand was drawn to be off
    /// by across the line of sight at a time: the racket is seen by itself, and does not go with a hand that is put in a wrong place.
    pub fn drawn(
        &self,
        recast: &Recast,
        axes: Axes,
        contact: Seconds,
        hand_off: &dyn Fn(Seconds) -> Camera,
        rng: &mut impl Rng,
    ) -> Self {
        let mut drawn = Self { axes, ..self.met_at(contact) };
        drawn.forearm *= 1.0 + FOREARM_SPREAD * rng.sample::<f64, _>(StandardNormal);
        let longer = self.length_spread.0 * rng.sample::<f64, _>(StandardNormal);
        drawn.length = Metres((self.length.0 + longer).max(0.5 * self.length.0));
        let errors = Errors::drawn(&self.ends, self.interval, rng);
        for ends in &mut drawn.ends {
            *ends = ends.recast(recast, hand_off(ends.time));
        }
        drawn.length = drawn.as_it_looks();
        let rays = drawn.rays(&errors);
        let sum = |a: f64, b: f64| a.min(b) - (-(a - b).abs()).exp().ln_1p();
        let mut choose = |costs: [f64; WAYS]| drawn_by(costs, rng.random());
        drawn.placed = self.chosen(&rays, &mut choose, sum);
        drawn
    }

    /// The same racket with the ball met at another time.
    pub fn met_at(&self, contact: Seconds) -> Self {
        Self { contact, met: met(&self.ends, contact), ..self.clone() }
    }

    /// Butt relative to the hand (wrist), and the way from butt to tip, at a time; metres of the court's frame. `None` where
    /// it was not seen around that time. On either side of contact only pictures of that side count.
    pub fn at(&self, time: Seconds) -> Option<(Court, Court)> {
        let (fit, _) = self.fit(time)?;
        let axis = fit.axis.unit()? * self.length.0;
        Some((self.axes.to_court(fit.butt), self.axes.to_court(axis)))
    }

    /// The way from butt to tip at a time, as [`Self::at`] has it.
    pub fn axis(&self, time: Seconds) -> Option<Court> {
        Some(self.axes.to_court(self.along(time)? * self.length.0))
    }

    /// The direction from butt to tip at a time in the camera's frame, a unit vector.
    fn along(&self, time: Seconds) -> Option<Camera> {
        let near = self.near(time)?;
        let (axis, _) = polynomial(near.places().map(|i| {
            let axis = self.placed[i].axis;
            ((self.ends[i].time - time).0, [axis.right, axis.up, axis.away])
        }))?;
        Camera::new(axis[0], axis[1], axis[2]).unit()
    }

    /// Change of the same per second.
    pub fn velocity(&self, time: Seconds) -> Option<(Court, Court)> {
        let (_, change) = self.fit(time)?;
        Some((self.axes.to_court(change.butt), self.axes.to_court(change.axis)))
    }

    /// Pictures per second.
    pub fn rate(&self) -> f64 {
        1.0 / self.interval.0
    }

    /// Apparent over true length around a time, 0 to 1.
    pub fn share(&self, time: Seconds) -> Option<f64> {
        let axis = self.along(time)?;
        Some(axis.right.hypot(axis.up))
    }

    /// Least confidence of the pictures that a reading at a time rests on.
    pub fn confidence(&self, time: Seconds) -> Option<f64> {
        let near = self.near(time)?;
        near.places().map(|i| self.ends[i].confidence).reduce(f64::min)
    }

    /// Pictures on the same side of contact as a time.
    fn side_of(&self, time: Seconds) -> Range<usize> {
        if time <= self.contact { 0..self.met } else { self.met..self.ends.len() }
    }

    /// Pictures around a time from which the racket there can be told.
    fn near(&self, time: Seconds) -> Option<Near> {
        const REACH: f64 = 1.6;
        const LEAST_REACH: Seconds = Seconds(0.026);
        const BEYOND: f64 = 1.15;
        let own = self.side_of(time);
        let reach = (self.interval * REACH).max(LEAST_REACH);
        let of = |i: usize| self.ends[i].time;
        // The first that is not earlier, and the first that is later; from there as far as is within reach.
        let from = own.start + self.ends[own.clone()].partition_point(|ends| ends.time < time);
        let later = (from..own.end).find(|i| of(*i) > time).unwrap_or(own.end);
        let first = (own.start..from).rev().take_while(|i| of(*i) - time >= -reach).last().unwrap_or(from);
        let end = (later..own.end).find(|i| of(*i) - time > reach).unwrap_or(own.end);
        let within = first..end;
        let left = later.checked_sub(1).filter(|i| own.contains(i));
        let right = Some(from).filter(|i| own.contains(i));
        let gap = match (left, right) {
            (Some(l), Some(r)) => self.ends[r].time - self.ends[l].time,
            (Some(i), None) | (None, Some(i)) => (self.ends[i].time - time).abs() * (2.0 / BEYOND),
            (None, None) => return None,
        };
        if gap > self.interval * 2.1 {
            return None;
        }
        let mut near = Near { within, beyond: [0; FEWEST], count: 0 };
        // Beyond the last picture, the three before it.
        for i in [left, left.and_then(|l| l.checked_sub(1)), left.and_then(|l| l.checked_sub(2)), right]
            .into_iter()
            .flatten()
        {
            let close = (self.ends[i].time - time).abs() <= self.interval * 3.3;
            if own.contains(&i) && close && near.len() < FEWEST && !near.places().any(|known| known == i) {
                near.beyond[near.count] = i;
                near.count += 1;
            }
        }
        (near.len() >= 2).then_some(near)
    }

    /// Local polynomial through the pictures around a time: value and change per second.
    fn fit(&self, time: Seconds) -> Option<(Placed, Placed)> {
        let near = self.near(time)?;
        let points = near.places().map(|i| {
            let Placed { butt, axis } = self.placed[i];
            let values = [butt.right, butt.up, butt.away, axis.right, axis.up, axis.away];
            ((self.ends[i].time - time).0, values)
        });
        let (value, change) = polynomial(points)?;
        let placed =
            |v: [f64; 6]| Placed { butt: Camera::new(v[0], v[1], v[2]), axis: Camera::new(v[3], v[4], v[5]) };
        Some((placed(value), placed(change)))
    }
}

/// So many pictures are taken where that many are near enough.
const FEWEST: usize = 3;

/// Places of pictures: a stretch, and single ones beyond it.
struct Near {
    within: Range<usize>,
    beyond: [usize; FEWEST],
    count: usize,
}

impl Near {
    fn len(&self) -> usize {
        self.within.len() + self.count
    }

    fn places(&self) -> impl Iterator<Item = usize> + Clone {
        self.within.clone().chain(self.beyond.into_iter().take(self.count))
    }
}

/// How many pictures are not after contact.
fn met(ends: &[Ends], contact: Seconds) -> usize {
    ends.partition_point(|ends| ends.time <= contact)
}

impl CourtRacket {
    /// What lies on the racket a share of the way from butt to tip, in the court's frame of the player's motion.
    pub fn point(&self, court: &CourtMotion, share: f64, time: Seconds) -> Option<Court> {
        let (butt, axis) = self.at(time)?;
        Some(court.hand_at(time)? + butt + axis * share)
    }

    /// From elbow to wrist at a time, court's frame: its depth is what the player's motion says and what its length leaves,
    /// each by its spread.
    pub fn forearm(&self, court: &CourtMotion, time: Seconds) -> Option<Court> {
        let (elbow, wrist) = (court.hitting(Joint::Elbow), court.hitting(Joint::Wrist));
        let now = court.moment(time);
        let seen = now.at(wrist)? - now.at(elbow)?;
        let along = self.axes.to_camera(seen);
        let frame = court.first_from(time).min(court.times.len() - 1);
        let spread = |joint: Landmark| f64::from(court.depth_spread[frame][joint as usize]);
        let told = difference_spread(spread(elbow), spread(wrist));
        let flat = along.right.hypot(along.up);
        let left = (self.forearm.powi(2) - flat.powi(2)).max(0.0).sqrt();
        // Spread of half the square of what is left, and from it of what is left.
        let half = (FOREARM_SPREAD * self.forearm.powi(2)).hypot(FOREARM_PLACE * flat);
        let by_length = half / (left * left + half).sqrt();
        let (a, b) = (told.max(0.01).powi(-2), by_length.powi(-2));
        // The length leaves both sides open; the motion says which, by its spread.
        let which = (along.away * left / told.max(0.01).powi(2)).tanh();
        let away = (along.away * a + which * left * b) / (a + b);
        Some(self.axes.to_court(Camera { away, ..along }))
    }
}

#[cfg(test)]
#[path = "racket/tests.rs"]
pub(crate) mod tests;
