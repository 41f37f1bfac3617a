//! Time to look for the racket around one hand: two looks of the network and their crops, for a batch of pictures.

use std::path::Path;

use divan::Bencher;
use divan::counter::ItemsCount;
use toeline::model::Places;
use toeline::pose::{Choice, Models, Motion, Settings, Side, follow_clip};
use toeline::racket::{Finder, Sightings, trace};
use toeline::units::{FrameIndex, Seconds};
use toeline::video::{Clip, Frame};

const CLIP: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo.mp4");

/// Pictures around the first stroke.
const FRAMES: std::ops::Range<usize> = 40..72;

fn main() {
    divan::main();
}

/// The first pictures of the clip and the player's motion in them.
fn seen() -> (Vec<Frame>, Motion) {
    let open = || Clip::open(Path::new(CLIP), None).and_then(Clip::frames).expect("the clip can be read");
    let frames: Vec<Frame> = open().take(FRAMES.end).filter_map(Result::ok).collect();
    let mut models =
        Models::load(&Places::usual(), "pose_landmark_full", 2).expect("scripts/setup.sh has run");
    let mut again = frames.iter().cloned().map(Ok);
    let people =
        follow_clip(&mut again, &mut models, Settings::default(), |_| Ok(())).expect("it can be followed");
    let subject = people.subject(Choice::Swinging).expect("the clip shows a player");
    (frames, Motion::from_track(&people.candidates[subject].track))
}

fn wanted() -> Vec<(FrameIndex, Side)> {
    FRAMES.map(|frame| (FrameIndex(frame), Side::Right)).collect()
}

fn look(finder: &mut Finder, frames: &[Frame], motion: &Motion) -> Sightings {
    finder.look_through(frames.iter().cloned().map(Ok), motion, &wanted()).expect("the network runs")
}

/// Per picture, with the copying of pictures that decoding would have made.
#[divan::bench(args = [1, 2], sample_count = 10, sample_size = 1)]
fn look_around_a_hand(bencher: Bencher, threads: usize) {
    let (frames, motion) = seen();
    let mut finder = Finder::load(&Places::usual(), threads).expect("scripts/setup.sh has run");
    bencher.counter(ItemsCount::new(FRAMES.len())).bench_local(|| look(&mut finder, &frames, &motion));
}

/// The path through what was seen.
#[divan::bench(sample_count = 20)]
fn follow_the_path(bencher: Bencher) {
    let (frames, motion) = seen();
    let mut finder = Finder::load(&Places::usual(), 2).expect("scripts/setup.sh has run");
    let sightings = look(&mut finder, &frames, &motion);
    let span = (motion.times[0], motion.times[motion.len() - 1]);
    bencher
        .counter(ItemsCount::new(FRAMES.len()))
        .bench_local(|| trace(&motion, &sightings, Side::Right, span, Seconds(2.0), &[]));
}
