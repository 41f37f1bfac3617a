//! Cost of one picture, stage by stage, on one core.
//!
//! Pictures are noise: the networks' cost doesn't depend on what is seen. `landmarks_together` takes as many cores as it says; with
//! `TOELINE_BENCH_DEVICE=cuda` it runs on a graphics card.

use divan::Bencher;
use divan::counter::ItemsCount;
use rand::RngCore;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use toeline::geometry::Point2;
use toeline::model::{Device, Image, Places, Processor, Region, crop};
use toeline::pose::{Landmarker, ObjectDetector, PersonDetector};

const WIDTH: u32 = 1280;
const HEIGHT: u32 = 720;

fn main() {
    divan::main();
}

fn noise() -> Vec<u8> {
    let mut rgb = vec![0; 3 * (WIDTH * HEIGHT) as usize];
    Pcg64Mcg::seed_from_u64(1).fill_bytes(&mut rgb);
    rgb
}

/// A player of about 400 pixels, leaning a little.
fn region() -> Region {
    Region { rotation: 0.1, ..Region::square(Point2::new(640.0, 360.0), 560.0) }
}

/// What ends a bench early: without the models there is nothing to measure.
fn loaded<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    result.unwrap_or_else(|error| {
        eprintln!("{error}");
        std::process::exit(4)
    })
}

#[divan::bench(args = [0.0, 0.1])]
fn crop_256(bencher: Bencher<'_, '_>, rotation: f64) {
    let rgb = noise();
    let image = loaded(Image::new(WIDTH, HEIGHT, &rgb));
    let card = loaded(Places::usual().card("pose_landmark_full"));
    let region = Region { rotation, ..region() };
    let map = region.map(256, 256, card.region.sampling);
    let mut out = vec![0.0; 3 * 256 * 256];
    bencher.bench_local(|| crop::sample(image, &map, card.region.border, (256, 256), &card.input, &mut out));
}

#[divan::bench(args = ["pose_landmark_lite", "pose_landmark_full"])]
fn landmarks(bencher: Bencher<'_, '_>, model: &str) {
    let rgb = noise();
    let image = loaded(Image::new(WIDTH, HEIGHT, &rgb));
    let places = Places::usual();
    let mut landmarker = loaded(Landmarker::load(&places, loaded(places.card(model)), 1));
    bencher.bench_local(|| loaded(landmarker.read(image, &[region()])));
}

/// Regions that each thread reads.
const EACH: usize = 50;

/// Several stretches of a clip at a time, each followed by a thread from one region to the next.
#[divan::bench(args = [1, 4, 16], sample_count = 5)]
fn landmarks_together(bencher: Bencher<'_, '_>, threads: usize) {
    let rgb = noise();
    let image = loaded(Image::new(WIDTH, HEIGHT, &rgb));
    let places = Places::usual();
    let cuda = std::env::var("TOELINE_BENCH_DEVICE").is_ok_and(|device| device == "cuda");
    let on = Processor { threads: 1, device: if cuda { Device::Cuda } else { Device::Cpu } };
    let load = |_| loaded(Landmarker::load(&places, loaded(places.card("pose_landmark_full")), on));
    let mut landmarkers: Vec<Landmarker> = (0..threads).map(load).collect();
    let mut follow = || {
        std::thread::scope(|scope| {
            for landmarker in &mut landmarkers {
                scope.spawn(|| {
                    for _ in 0..EACH {
                        loaded(landmarker.read(image, &[region()]));
                    }
                });
            }
        });
    };
    // A card is slow the first time.
    follow();
    bencher.counter(ItemsCount::new(EACH * threads)).bench_local(follow);
}

#[divan::bench]
fn person_detector(bencher: Bencher<'_, '_>) {
    let rgb = noise();
    let image = loaded(Image::new(WIDTH, HEIGHT, &rgb));
    let places = Places::usual();
    let mut detector = loaded(PersonDetector::load(&places, loaded(places.card("pose_detection")), 1));
    bencher.bench_local(|| loaded(detector.detect(image)));
}

#[divan::bench]
fn object_detector(bencher: Bencher<'_, '_>) {
    let rgb = noise();
    let image = loaded(Image::new(WIDTH, HEIGHT, &rgb));
    let places = Places::usual();
    let mut detector = loaded(ObjectDetector::load(&places, loaded(places.card("nanodet_g_416")), 1));
    bencher.bench_local(|| loaded(detector.detect(image)));
}
