//! Which way the racket points in each picture, chosen over the whole stroke.

use super::CourtRacket;
use super::place::{Ends, Placed, Rays, WAYS};
use crate::geometry::{Camera, angle_between};
use crate::scene::CourtMotion;
use crate::units::Seconds;

/// The length that a racket looks is off by so much (1 standard deviation), lengths, and by more the less than this its confidence
/// is; from rendered players.
const LOOK_PLACE: f64 = 0.018;
const LOOK_DOUBT: f64 = 0.25;
const LOOK_SURE: f64 = 0.6;

/// The axis changes its change by so much between pictures: what places are off by, and speeding up, lengths per second
/// squared (1 standard deviation).
const SHAKE: f64 = 0.12;
const SPEEDING_UP: f64 = 300.0;

/// The wrist doesn't bend much farther than this, degrees, with that spread.
const BEND_MOST: f64 = 120.0;
const BEND_SPREAD: f64 = 12.0;

/// How much it speaks for a side that the racket points out from the body as the forearm does, per thirtieth of a second.
const OUTWARD: f64 = 1.8;
const EVIDENCE_STEP: Seconds = Seconds(1.0 / 30.0);

/// Within this time of contact the head comes through; what places are off by from one picture to the next, lengths (1 standard
/// deviation).
const THROUGH: Seconds = Seconds(0.03);
const THROUGH_SPREAD: f64 = 0.05;

/// No evidence speaks more than this against a side in one picture, and no jump more than this against a sequence.
const MOST: f64 = 6.0;
const MOST_JUMP: f64 = 20.0;

impl CourtRacket {
    /// What speaks against each side by itself: the bend of the wrist, and that rackets point away from the body.
    pub(super) fn evidence(&self, ends: &Ends, court: &CourtMotion) -> [f64; 2] {
        let Some(forearm) = self.forearm(court, ends.time) else { return [0.0; 2] };
        let outward = forearm.unit().map_or(0.0, |f| f.side);
        let step = (self.interval.0 / EVIDENCE_STEP.0).min(1.0);
        let rays = Rays::of(ends, self.length, [0.0; 4]);
        let [nearer, _, farther] = rays.ways();
        [nearer, farther].map(|away| {
            let axis = self.axes.to_court(rays.placed(away).axis);
            let bend = angle_between(forearm, axis).unwrap_or(0.0);
            let over = (bend - BEND_MOST).max(0.0) / BEND_SPREAD;
            let out = OUTWARD * outward * axis.side / self.length.0;
            ((0.5 * over * over).min(MOST) - out) * step
        })
    }

    /// How the change of the axis goes on from the pictures before one to it: at which ratio, by the times between, and by how much
    /// it speeds up (1 standard deviation), lengths.
    fn speeding_up(&self, t: usize) -> (f64, f64) {
        let time = |t: usize| self.ends[t].time;
        let (before, after) = ((time(t - 1) - time(t - 2)).0, (time(t) - time(t - 1)).0);
        let across = time(t - 2) < self.contact && time(t) > self.contact;
        let spread = SPEEDING_UP * before * after * if across { 4.0 } else { 1.0 };
        ((after / before.max(1e-6)).min(2.0), spread)
    }

    /// The racket in each picture in one of its ways: `choose` takes one out of what speaks against each, `sum` joins ways that
    /// lead to one.
    ///
    /// Forward over pairs of ways in neighbouring pictures, then backward choosing.
    pub(super) fn chosen(
        &self,
        rays: &[Rays],
        choose: &mut dyn FnMut([f64; WAYS]) -> usize,
        sum: fn(f64, f64) -> f64,
    ) -> Vec<Placed> {
        let n = rays.len();
        let ways: Vec<[f64; WAYS]> = rays.iter().map(Rays::ways).collect();
        let axis = |t: usize, way: usize| rays[t].placed(ways[t][way]).axis / self.length.0;
        let axes: Vec<[Camera; WAYS]> = (0..n).map(|t| std::array::from_fn(|way| axis(t, way))).collect();
        let against = |t: usize, way: usize| {
            let [nearer, farther] = self.against[t];
            let leaning = [nearer, 0.5 * (nearer + farther), farther][way];
            let off = rays[t].off(ways[t][way], self.look_spread(t));
            leaning + (0.5 * off * off).min(MOST_JUMP)
        };
        let against: Vec<[f64; WAYS]> = (0..n).map(|t| std::array::from_fn(|way| against(t, way))).collect();
        let bend = |t: usize, i: usize, j: usize, k: usize| {
            let (ratio, bend) = self.speeding_up(t);
            let ahead = axes[t - 1][j] + (axes[t - 1][j] - axes[t - 2][i]) * ratio;
            let off = (axes[t][k] - ahead).norm() / (SHAKE + bend);
            (0.5 * off * off).min(MOST_JUMP) + self.falling_back(t, axes[t - 1][j], axes[t][k])
        };
        // Of the pair (i, j) in pictures t and t + 1.
        let mut pairs: Vec<[[f64; WAYS]; WAYS]> =
            vec![std::array::from_fn(|i| std::array::from_fn(|j| against[0][i] + against[1][j]))];
        for t in 2..n {
            let last = pairs[t - 2];
            let pair = |j: usize, k: usize| {
                let from = |i: usize| last[i][j] + bend(t, i, j, k);
                (1..WAYS).map(from).fold(from(0), sum) + against[t][k]
            };
            pairs.push(std::array::from_fn(|j| std::array::from_fn(|k| pair(j, k))));
        }
        let mut taken = vec![0; n];
        let end = pairs[n - 2];
        taken[n - 1] = choose(std::array::from_fn(|j| (1..WAYS).map(|i| end[i][j]).fold(end[0][j], sum)));
        taken[n - 2] = choose(std::array::from_fn(|i| end[i][taken[n - 1]]));
        for t in (2..n).rev() {
            let (j, k) = (taken[t - 1], taken[t]);
            taken[t - 2] = choose(std::array::from_fn(|i| pairs[t - 2][i][j] + bend(t, i, j, k)));
        }
        (0..n).map(|t| rays[t].placed(ways[t][taken[t]])).collect()
    }

    /// What speaks against a racket that turns from one axis to the next, lengths, in picture `t`: where the ball is met its head
    /// is faster toward the net than the hand, in every stroke.
    fn falling_back(&self, t: usize, from: Camera, to: Camera) -> f64 {
        let middle = (self.ends[t - 1].time + self.ends[t].time) * 0.5;
        if (middle - self.contact).abs() > THROUGH {
            return 0.0;
        }
        let back = -self.axes.to_court(to - from).net;
        let off = (back / THROUGH_SPREAD).max(0.0);
        (0.5 * off * off).min(MOST)
    }

    /// How far the length that the racket looks in a picture is off (1 standard deviation), lengths.
    fn look_spread(&self, t: usize) -> f64 {
        LOOK_PLACE + LOOK_DOUBT * (LOOK_SURE - self.ends[t].confidence).max(0.0)
    }
}

/// The way that the least speaks against.
pub(super) fn least(against: [f64; WAYS]) -> usize {
    (1..WAYS).fold(0, |best, way| if against[way] < against[best] { way } else { best })
}

/// A way drawn by the chances: `share`, 0 to 1, falls into its part of them.
pub(super) fn drawn_by(against: [f64; WAYS], share: f64) -> usize {
    let least = against[least(against)];
    let chances = against.map(|against| (least - against).exp());
    let mut left = share * chances.iter().sum::<f64>();
    let reached = |way: &usize| {
        left -= chances[*way];
        left < 0.0
    };
    (0..WAYS - 1).find(reached).unwrap_or(WAYS - 1)
}
