//! Points of courts that known cameras see are placed as a hand would, and the cameras read back.

use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::*;
use crate::court::{Camera, Spot, Unknown};
use crate::geometry::wrapped;
use crate::units::{Degrees, Metres};

const SIZE: (u32, u32) = (1280, 720);

/// A camera somewhere around a player, and where the player's heels and nose are.
fn camera(rng: &mut Pcg64Mcg) -> (Camera, [f64; 2]) {
    let mut normal = || -> f64 { rng.sample(StandardNormal) };
    let player = [1.5 * normal(), 0.5 + 1.2 * normal()];
    let height: f64 = (0.3 + 0.55 * normal()).exp().clamp(0.3, 4.5);
    let distance = (7.0 + 2.5 * normal()).clamp(3.5, 14.0);
    // From which side, against the way to the net: beside or behind the player.
    let from = if normal() > 0.0 { -90.0 + 15.0 * normal() } else { 180.0 + 25.0 * normal() };
    let (sin, cos) = Degrees(from).radians().sin_cos();
    let (x, y) = (player[0] + distance * sin, player[1] + distance * cos);
    let aim = (player[0] - x).atan2(player[1] - y).to_degrees() + 6.0 * normal();
    let camera = Camera {
        focal: 1280.0 * (0.80f64.ln() + 0.14 * normal()).exp(),
        k1: 0.0,
        centre: Point2::new(639.5, 359.5),
        pitch: Degrees(-((height - 1.0) / distance).atan().to_degrees() + 2.0 * normal()),
        roll: Degrees(normal()),
        net: Degrees(90.0 + aim),
        height: Metres(height),
        x: Metres(x),
        y: Metres(y),
    };
    (camera, player)
}

fn in_sight(camera: &Camera) -> Vec<(&'static Spot, Point2)> {
    let inside = |p: &Point2| (0.0..1280.0).contains(&p.x) && (0.0..720.0).contains(&p.y);
    let of = |spot: &'static Spot| {
        let (x, y) = spot.place();
        Some((spot, camera.project([x, y, 0.0]).filter(inside)?))
    };
    Spot::ALL.iter().filter_map(of).collect()
}

/// Points as a hand places them in the picture of a camera, and how the player stands in it.
fn placed(
    truth: &Camera,
    [x, y]: [f64; 2],
    count: usize,
    rng: &mut Pcg64Mcg,
) -> Option<(Vec<PlacedSpot>, Standing)> {
    let mut spots = in_sight(truth);
    spots.shuffle(rng);
    let mut noise = || 2.5 * rng.sample::<f64, _>(StandardNormal);
    let mut click = |(spot, at): &(&'static Spot, Point2)| {
        PlacedSpot::new(spot, *at + Point2::new(noise(), noise()), SIZE, 0.0)
    };
    let placed: Vec<PlacedSpot> = spots.get(..count)?.iter().map(&mut click).collect();
    let apart = placed.iter().flat_map(|a| placed.iter().map(|b| a.at.distance(b.at))).fold(0.0, f64::max);
    let standing = Standing::unknown(truth.project([x, y, 0.0])?, truth.project([x, y, 1.55])?);
    (apart > 60.0).then_some((placed, standing))
}

fn read(placed: &[PlacedSpot], standing: Standing) -> Result<Reading, Misplaced> {
    read_placed(placed, SIZE, FrameIndex(0), Some(standing), &Assumptions::of_size(SIZE))
}

/// Error and standard deviation of the bearing, degrees, pitch, degrees, and height, percent.
fn errors(reading: &Reading, truth: &Camera) -> [(f64, f64); 3] {
    let of = |unknown, value: f64, unit: f64| {
        let (mean, spread) = reading.moments(unknown).unwrap();
        ((mean - value) * unit, spread * unit)
    };
    let degree = 1f64.to_degrees();
    let (bearing, spread) = of(Unknown::Bearing, truth.bearing(reading.foot).radians(), degree);
    [
        (wrapped(bearing), spread),
        of(Unknown::Pitch, truth.pitch.radians(), degree),
        of(Unknown::LogHeight, truth.height.0.ln(), 100.0),
    ]
}

#[test]
fn points_that_a_hand_has_placed_tell_the_camera_and_how_surely() {
    let mut rng = Pcg64Mcg::seed_from_u64(7);
    for (count, bounds) in [(2, [4.0, 1.5, 25.0]), (4, [1.2, 0.8, 9.0])] {
        let mut found: Vec<[(f64, f64); 3]> = Vec::new();
        while found.len() < 12 {
            let (truth, player) = camera(&mut rng);
            let Some((placed, standing)) = placed(&truth, player, count, &mut rng) else { continue };
            found.push(errors(&read(&placed, standing).unwrap(), &truth));
        }
        for (k, bound) in bounds.into_iter().enumerate() {
            let middle = crate::order::median(found.iter().map(|all| all[k].0.abs())).unwrap();
            let inside = found.iter().filter(|all| all[k].0.abs() < 1.96 * all[k].1).count();
            assert!(middle < bound && inside >= 10, "{count} points, {k}: {middle}, {inside} inside");
        }
    }
}

#[test]
fn a_point_that_is_named_for_another_is_not_believed_quietly() {
    let mut rng = Pcg64Mcg::seed_from_u64(3);
    let (mut n, mut believed) = (0, 0);
    while n < 12 {
        let (truth, player) = camera(&mut rng);
        let Some((mut placed, standing)) = placed(&truth, player, 4, &mut rng) else { continue };
        let others: Vec<&'static Spot> =
            Spot::ALL.iter().filter(|other| placed.iter().all(|one| one.spot != *other)).collect();
        placed[0].spot = others[rng.random_range(0..others.len())];
        n += 1;
        if let Ok(reading) = read(&placed, standing) {
            let [(error, spread), ..] = errors(&reading, &truth);
            believed += usize::from(error.abs() > 1.96 * spread);
        }
    }
    assert!(believed <= 1, "{believed} of {n}");
}

#[test]
fn what_is_wrong_is_named() {
    let truth = Camera {
        focal: 1020.0,
        k1: 0.0,
        centre: Point2::new(639.5, 359.5),
        pitch: Degrees(-9.0),
        roll: Degrees(0.0),
        net: Degrees(80.0),
        height: Metres(2.6),
        x: Metres(0.3),
        y: Metres(-9.0),
    };
    let standing = [0.0, 1.55].map(|up| truth.project([0.5, -0.5, up]).unwrap());
    let standing = Standing::unknown(standing[0], standing[1]);
    let at = |name: &str| {
        let spot = Spot::named(name).unwrap();
        let (x, y) = spot.place();
        PlacedSpot::new(spot, truth.project([x, y, 0.0]).unwrap(), SIZE, 0.0)
    };
    let right = [
        "baseline_centre",
        "service_left_singles",
        "service_right_singles",
        "net_left_post",
        "net_right_post",
    ]
    .map(at);
    assert!(read(&right, standing).is_ok());
    let mut stray = right;
    stray[1].at.x += 90.0;
    stray[1].at.y += 60.0;
    assert_eq!(read(&stray, standing), Err(Misplaced::Stray(1)));
    let mut renamed = right;
    renamed[2].spot = Spot::named("service_centre").unwrap();
    let singles = Spot::named("service_right_singles").unwrap();
    assert_eq!(read(&renamed, standing), Err(Misplaced::Renamed(2, singles)));
    let with = |other: fn(&Spot) -> Option<&'static Spot>| {
        right.map(|one| PlacedSpot { spot: other(one.spot).unwrap(), ..one })
    };
    assert_eq!(read(&with(Spot::mirrored), standing), Err(Misplaced::Mirrored));
    assert_eq!(read(&with(Spot::turned), standing), Err(Misplaced::Turned));
    let mut together = right;
    together.iter_mut().for_each(|one| one.at = Point2::new(600.0, 500.0));
    assert_eq!(read(&together, standing), Err(Misplaced::Together));
}
