//! A season without a change: one recorded take through other cameras on every day, and what the player's page says of it.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};

use rand::seq::index::sample;
use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;
use toeline::compare::FEWEST_STROKES;
use toeline::geometry::Point2;
use toeline::measure::clip::{MeasuredStroke, Stated};
use toeline::page::year::Year;
use toeline::pose::landmark::COUNT;
use toeline::pose::{Motion, MotionPoint, Side};
use toeline::scene::BodyPrior;
use toeline::table::{ReadClip, ReadStroke, Recorded};
use toeline::targets::{Set, Shipped};
use toeline::units::Metres;

use crate::bvh::Take;
use crate::film::{Film, filmed};
use crate::reader::Reader;
use crate::recorded::FOCAL;

/// Sessions that each take is filmed for, those that make a season, and seasons that are drawn from them.
const FILMED: u64 = 20;
const SESSIONS: usize = 12;
const SEASONS: usize = 10;

/// Of a take's strokes so large a share is hit in a session, drawn anew for each.
const HIT: f64 = 0.75;

/// Frames a second.
const RATE: f64 = 60.0;

/// Where a player who films every session the same way sets up the camera: degrees off square, metres to the player, metres over
/// the ground, and the noise of landmarks in statures.
const YAW: f64 = 8.0;
const DISTANCE: (f64, f64) = (4.5, 8.0);
const HEIGHT: (f64, f64) = (0.9, 1.7);
const NOISE: (f64, f64) = (0.002, 0.005);

/// Share of the variance of a landmark's lasting error that another session does not have: the same body, another camera.
const NOT_SHARED: f64 = 1.0 / 3.0;

/// Films the takes in `folder` and prints how many of the seasons tell a change.
pub fn print(folder: &Path, only: Option<&str>, each: bool) -> Result<(), Box<dyn Error>> {
    let mut reader = Reader::load()?;
    let targets = Set::shipped(Shipped::Club)?;
    let mut takes: Vec<PathBuf> = std::fs::read_dir(folder)?.filter_map(|e| Some(e.ok()?.path())).collect();
    takes.retain(|path| path.extension().is_some_and(|e| e == "bvh"));
    takes.retain(|path| only.is_none_or(|only| path.to_string_lossy().contains(only)));
    takes.sort();
    let (mut seasons, mut with_change) = (0, 0);
    let mut told: BTreeMap<String, usize> = BTreeMap::new();
    println!(
        "\nseasons of {SESSIONS} sessions of recorded players who do not change, every session through another camera"
    );
    for (number, path) in takes.iter().enumerate() {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let take = Take::read(path)?.at_rate(RATE);
        let mut sessions: Vec<Vec<ReadStroke>> = Vec::new();
        for camera in 0..FILMED {
            let mut rng = Pcg64Mcg::seed_from_u64(number as u64 * FILMED + camera);
            let mut motion = filmed(&take, &drawn(&mut rng));
            err_lastingly(&mut motion, &reader.body, take.stature(), &mut rng);
            let stated = Stated { height: Some(Metres(take.stature())), ..Stated::default() };
            let strokes = reader.measured(motion, &stated)?.strokes;
            sessions.push(strokes.iter().map(as_read).collect());
            // A take of few strokes makes no session.
            if (HIT * strokes.len() as f64) < FEWEST_STROKES as f64 {
                break;
            }
        }
        if sessions.len() < FILMED as usize {
            continue;
        }
        let mut rng = Pcg64Mcg::seed_from_u64(number as u64);
        let mut changed = 0;
        for _ in 0..SEASONS {
            let season = season(&sessions, take.stature(), &mut rng);
            let changes = Year::all(&season, &targets).iter().flat_map(Year::changes).collect::<Vec<_>>();
            changed += usize::from(!changes.is_empty());
            for change in changes {
                if each {
                    println!("  {name}: {change}");
                }
                let what = change.split(": ").nth(1).unwrap_or_default().to_owned();
                *told.entry(what).or_default() += 1;
            }
        }
        println!("  {name:<28} {changed} of {SEASONS} seasons tell a change");
        seasons += SEASONS;
        with_change += changed;
    }
    println!(
        "  seasons that tell a change: {with_change} of {seasons} ({:.1} %)",
        100.0 * with_change as f64 / seasons.max(1) as f64
    );
    for (what, count) in told {
        println!("    {count:>3} {what}");
    }
    Ok(())
}

/// A season of sessions from all that were filmed, in any order, each with part of its strokes.
fn season(sessions: &[Vec<ReadStroke>], stature: f64, rng: &mut Pcg64Mcg) -> Recorded {
    let mut season = Recorded::default();
    for (day, place) in sample(rng, sessions.len(), SESSIONS).into_iter().enumerate() {
        let clip = format!("day{day:02}.mp4");
        let strokes = &sessions[place];
        let count = (HIT * strokes.len() as f64).round() as usize;
        let mut hit = sample(rng, strokes.len(), count).into_vec();
        hit.sort_unstable();
        season.strokes.extend(hit.into_iter().map(|i| ReadStroke {
            source: day,
            clip: clip.clone(),
            date: Some(format!("2025-{:02}-01", day + 1)),
            ..strokes[i].clone()
        }));
        season.clips.push(ReadClip {
            file: clip,
            model_sha256: Some("0".to_owned()),
            rate: Some(RATE),
            height_cm: Some((100.0 * stature, true)),
            ..ReadClip::default()
        });
    }
    season
}

fn as_read(measured: &MeasuredStroke) -> ReadStroke {
    let stroke = &measured.stroke;
    let outcomes = &measured.measured.outcomes;
    ReadStroke {
        source: 0,
        clip: String::new(),
        number: measured.number,
        player: Some("P01".to_owned()),
        date: None,
        drill: None,
        kind: stroke.kind.name().to_owned(),
        hand: (if stroke.motion.hand == Side::Right { "right" } else { "left" }).to_owned(),
        hands: Some(stroke.hands.count()),
        volley: stroke.volley,
        view: stroke.motion.direction.view.name().to_owned(),
        stance: stroke.stance.map(|stance| stance.name().to_owned()),
        values: outcomes.iter().map(|outcome| outcome.ok()).collect(),
        reasons: vec![None; outcomes.len()],
    }
}

/// A camera that a player has set up as usual.
fn drawn(rng: &mut Pcg64Mcg) -> Film {
    let distance = rng.random_range(DISTANCE.0..DISTANCE.1);
    Film {
        yaw: rng.random_range(-YAW..YAW),
        distance,
        height: rng.random_range(HEIGHT.0..HEIGHT.1),
        focal: FOCAL * distance,
        noise: rng.random_range(NOISE.0..NOISE.1),
        seed: rng.random(),
    }
}

/// Moves each landmark by what the pose network would be off by throughout this motion and not in those of other days.
pub fn err_lastingly(motion: &mut Motion, body: &BodyPrior, stature: f64, rng: &mut Pcg64Mcg) {
    // Pixels to a metre.
    let metre = FOCAL * crate::bvh::SIZE.0 * stature / body.stature;
    let spread = body.landmark_spread();
    let offsets: [Point2; COUNT] = std::array::from_fn(|k| {
        let mut slip = || metre * spread[k] * NOT_SHARED.sqrt() * rng.sample::<f64, _>(StandardNormal);
        Point2::new(slip(), slip())
    });
    for frame in 0..motion.len() {
        let slipped = |(point, by): (Option<MotionPoint>, Point2)| {
            point.map(|point| MotionPoint { at: Point2::new(point.at.x + by.x, point.at.y + by.y), ..point })
        };
        let points = motion.points.at(frame);
        let mut slipped = points.into_iter().zip(offsets).map(slipped);
        motion.points.put(frame, std::array::from_fn(|_| slipped.next().flatten()));
    }
}
