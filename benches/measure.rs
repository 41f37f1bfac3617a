//! A clip from file to numbers, against decoding it alone, and the numbers from a followed motion.
//!
//! Their ratio says what the networks cost; the pictures per second are the clip's 372 over the time.

use std::path::Path;

use divan::Bencher;
use toeline::measure::clip;
use toeline::units::Metres;
use toeline::video::{Clip, Frames};
use toeline::{Analyser, Analysis, Method, Stated, Unobserved};

const CLIP: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo.mp4");

fn main() {
    divan::main();
}

fn frames() -> Frames {
    Clip::open(Path::new(CLIP), None).and_then(Clip::frames).expect("the demonstration's clip can be read")
}

fn analyser() -> Analyser {
    Analyser::new(&Method::default()).expect("scripts/setup.sh has run")
}

fn analysed(analyser: &mut Analyser) -> Analysis {
    let stated = Stated { height: Some(Metres(1.80)), ..Stated::default() };
    analyser.measure(Path::new(CLIP), &stated, &mut Unobserved).expect("the clip can be measured")
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn decoding_alone() -> usize {
    frames().filter(Result::is_ok).count()
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn from_file_to_numbers(bencher: Bencher) {
    let mut analyser = analyser();
    bencher.bench_local(|| analysed(&mut analyser));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn from_motion_to_numbers(bencher: Bencher) {
    let known = analysed(&mut analyser());
    bencher.bench_local(|| clip::measure(&known.motion, &known.stated, &known.seen));
}
