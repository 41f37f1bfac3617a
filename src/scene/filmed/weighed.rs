//! Cameras that may have taken a clip, each with its chance.

use rand::Rng;
use rand_distr::StandardNormal;

use super::{Known, STATED_DISTANCE};
use crate::court::{self, Reading, UNKNOWNS, Unknown};
use crate::scene::ground::Ground;
use crate::scene::lens::Lens;
use crate::scene::placed::Placed;
use crate::scene::prior::{self, bell};
use crate::scene::stand::Stand;
use crate::scene::stature::Stature;
use crate::scene::upright;
use crate::units::Degrees;

/// Cameras that are drawn, and those that are kept of them.
const DRAWN: usize = 4000;
const KEPT: usize = 512;

/// A stated height is measured to this share and this many metres (1 standard deviation).
const STATED_HEIGHT: (f64, f64) = (0.02, 0.02);

/// The hips are this far nearer or farther than the middle of the feet over a clip, metres (1 standard deviation). From rendered players.
const HIPS_DEPTH: f64 = 0.07;

/// A camera with its chance.
pub struct Weighed {
    /// Lens and tilt.
    pub stand: Stand,
    /// The player's stature as it follows with this camera, metres.
    pub stature: f64,
    /// Where the net is against the line of sight to the player's feet, degrees, where lines say so.
    pub bearing: Option<f64>,
    /// Which of the court's readings it was drawn from.
    pub fit: usize,
    /// How far off placed points are, as the sum of squares in standard deviations; 0 where there are none.
    pub misplaced: f64,
    /// The chance, up to a factor that all share.
    pub weight: f64,
}

/// Cameras that the court allows, weighed by all else.
pub fn by_court(
    known: &Known<'_>,
    reading: &Reading,
    placed: Option<&Placed>,
    ground: &Ground,
    rng: &mut impl Rng,
) -> Vec<Weighed> {
    let roots: Vec<[[f64; UNKNOWNS]; UNKNOWNS]> =
        reading.fits.iter().map(|fit| root(&fit.covariance)).collect();
    let total: f64 = reading.fits.iter().map(|fit| fit.weight).sum();
    let usual = Stature::of(known.stature, None);
    let mut all = Vec::with_capacity(DRAWN);
    for _ in 0..DRAWN {
        let mut at = rng.random::<f64>() * total;
        let chosen = reading.fits.iter().position(|fit| {
            at -= fit.weight;
            at < 0.0
        });
        let chosen = chosen.unwrap_or(0);
        let deviates: [f64; UNKNOWNS] = std::array::from_fn(|_| rng.sample(StandardNormal));
        let mut drawn = reading.fits[chosen].mean;
        for (value, row) in drawn.iter_mut().zip(&roots[chosen]) {
            *value += row.iter().zip(&deviates).map(|(a, b)| a * b).sum::<f64>();
        }
        let of = |unknown: Unknown| drawn[unknown as usize];
        let lens = Lens {
            focal: of(Unknown::LogFocal).exp(),
            middle: (of(Unknown::CentreX), of(Unknown::CentreY)),
            k1: of(Unknown::K1),
        };
        let stand = Stand {
            lens,
            pitch: Degrees::from_radians(of(Unknown::Pitch)),
            roll: Degrees::from_radians(of(Unknown::Roll)),
        };
        let height = of(Unknown::LogHeight).exp();
        let Some((high, far)) = ground.stature_units(&stand).filter(|(high, _)| *high > 0.0) else {
            continue;
        };
        let as_seen = height / high;
        let distance = far * as_seen;
        let stature = as_seen * (1.0 + HIPS_DEPTH / distance * rng.sample::<f64, _>(StandardNormal));
        let mut weight = stated_place(known, height, distance) * upright_things(known, &stand);
        weight *= usual.chance(stature);
        let misplaced = placed.map_or(0.0, |placed| placed.misplaced(&court::camera(&drawn, reading.foot)));
        weight *= (-0.5 * misplaced).exp();
        if let Some(view) = known.lens.view {
            let focal = Lens::showing(known.lens.size, view).focal;
            weight *= bell(lens.focal, focal, 0.02 * focal);
        }
        let bearing = Some(of(Unknown::Bearing).to_degrees());
        all.push(Weighed { stand, stature, bearing, fit: chosen, misplaced, weight });
    }
    all
}

/// Cameras as they usually are, weighed by what the player says and what is stated.
pub fn by_player(known: &Known<'_>, ground: &Ground, rng: &mut impl Rng) -> Vec<Weighed> {
    let usual = Stature::of(known.stature, None);
    (0..DRAWN)
        .map(|_| {
            let stand = known.lens.stand(rng);
            let error = usual.as_seen() * rng.sample::<f64, _>(StandardNormal);
            let stature = usual.metres.0 * (1.0 + error);
            let weight = match ground.stature_units(&stand) {
                Some((high, far)) => {
                    let (height, distance) = (high * stature, far * stature);
                    let feet = ground
                        .pitch()
                        .map_or(1.0, |(pitch, spread)| bell(stand.pitch.0, pitch.0, spread.0) * spread.0);
                    let usual = if known.height.is_some() { 1.0 } else { prior::height(height) };
                    feet * usual * stated_place(known, height, distance)
                }
                None => {
                    if ground.is_seen() {
                        0.0
                    } else {
                        1.0
                    }
                }
            };
            let weight = weight * upright_things(known, &stand);
            Weighed { stand, stature, bearing: None, fit: 0, misplaced: 0.0, weight }
        })
        .collect()
}

/// How well a camera's height and distance fit what is stated of them, up to a factor.
fn stated_place(known: &Known<'_>, height: f64, distance: f64) -> f64 {
    let of_height = known
        .height
        .map_or(1.0, |stated| bell(height, stated.0, (STATED_HEIGHT.0 * stated.0).hypot(STATED_HEIGHT.1)));
    of_height * known.distance.map_or(1.0, |stated| bell(distance, stated.0, STATED_DISTANCE * stated.0))
}

/// How well a camera agrees with what stands upright, up to a factor.
fn upright_things(known: &Known<'_>, stand: &Stand) -> f64 {
    known.uprights.map_or(1.0, |uprights| upright::likelihood(stand, uprights))
}

/// How likely each of so many readings of the court is, as the cameras that were drawn from it are weighed.
pub fn shares(all: &[Weighed], readings: usize) -> Vec<f64> {
    let mut shares = vec![0.0; readings];
    let total: f64 = all.iter().map(|camera| camera.weight).sum();
    for camera in all {
        shares[camera.fit] += camera.weight / total;
    }
    shares
}

/// Effective number of weighed draws.
pub fn effective(all: &[Weighed]) -> f64 {
    let (sum, square) = all.iter().fold((0.0, 0.0), |(s, q), c| (s + c.weight, q + c.weight * c.weight));
    if square > 0.0 { sum * sum / square } else { 0.0 }
}

/// The median of each quantity.
pub fn middle_of(all: &[Weighed]) -> Stand {
    let of = |value: fn(&Weighed) -> f64| weighted_median(all, value);
    let lens = Lens {
        focal: of(|c| c.stand.lens.focal),
        middle: (of(|c| c.stand.lens.middle.0), of(|c| c.stand.lens.middle.1)),
        k1: of(|c| c.stand.lens.k1),
    };
    Stand { lens, pitch: Degrees(of(|c| c.stand.pitch.0)), roll: Degrees(of(|c| c.stand.roll.0)) }
}

/// Weighted median.
pub fn weighted_median(all: &[Weighed], value: impl Fn(&Weighed) -> f64) -> f64 {
    let mut sorted: Vec<(f64, f64)> = all.iter().map(|c| (value(c), c.weight)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut left = 0.5 * sorted.iter().map(|(_, weight)| weight).sum::<f64>();
    let middle = sorted.iter().find(|(_, weight)| {
        left -= weight;
        left <= 0.0
    });
    middle.or(sorted.last()).map_or(f64::NAN, |(value, _)| *value)
}

/// Weighted standard deviation.
pub fn spread(all: &[Weighed], value: impl Fn(&Weighed) -> f64) -> f64 {
    let total: f64 = all.iter().map(|c| c.weight).sum();
    let mean = all.iter().map(|c| c.weight * value(c)).sum::<f64>() / total;
    let square = all.iter().map(|c| c.weight * (value(c) - mean).powi(2)).sum::<f64>() / total;
    square.max(0.0).sqrt()
}

/// [`KEPT`] equally likely ones of weighed draws, in a random order.
pub fn resampled<'a>(all: &'a [Weighed], rng: &mut impl Rng) -> impl Iterator<Item = &'a Weighed> {
    let total: f64 = all.iter().map(|c| c.weight).sum();
    let step = total / KEPT as f64;
    let mut places: Vec<usize> = Vec::with_capacity(KEPT);
    let (mut sum, mut next) = (0.0, step * rng.random::<f64>());
    for (i, camera) in all.iter().enumerate() {
        sum += camera.weight;
        while places.len() < KEPT && next <= sum && step > 0.0 {
            places.push(i);
            next += step;
        }
    }
    for i in (1..places.len()).rev() {
        places.swap(i, rng.random_range(0..=i));
    }
    places.into_iter().map(|i| &all[i])
}

/// Lower triangle L with L·Lᵀ = `matrix`; directions without any variance stay without.
fn root(matrix: &[[f64; UNKNOWNS]; UNKNOWNS]) -> [[f64; UNKNOWNS]; UNKNOWNS] {
    let mut root = [[0.0; UNKNOWNS]; UNKNOWNS];
    for i in 0..UNKNOWNS {
        for j in 0..=i {
            let shared: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            let left = matrix[i][j] - shared;
            root[i][j] = match i == j {
                true => left.max(0.0).sqrt(),
                false if root[j][j] > 1e-12 => left / root[j][j],
                false => 0.0,
            };
        }
    }
    root
}
