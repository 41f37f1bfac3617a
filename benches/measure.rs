//! A clip from file to numbers, against decoding it alone, and the numbers from a followed motion.
//!
//! Their ratio says what the networks cost; the pictures per second are the clip's 372 over the time.

use std::path::Path;

use divan::Bencher;
use toeline::measure::clip::{self, Given};
use toeline::model::Places;
use toeline::pose::{Choice, Models, Motion, Settings, Track, follow_clip};
use toeline::scene::BodyPrior;
use toeline::units::Metres;
use toeline::video::{Clip, Frames};

const CLIP: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo.mp4");
const MODEL: &str = "pose_landmark_full";

fn main() {
    divan::main();
}

fn frames() -> Frames {
    Clip::open(Path::new(CLIP), None).and_then(Clip::frames).expect("the demonstration's clip can be read")
}

fn models() -> Models {
    Models::load(&Places::usual(), MODEL, 2).expect("scripts/setup.sh has run")
}

fn track(models: &mut Models) -> Track {
    let people =
        follow_clip(&mut frames(), models, Settings::default(), |_| {}).expect("the clip can be followed");
    let subject = people.subject(Choice::Swinging).expect("the clip shows a player");
    people.candidates[subject].track.clone()
}

fn given() -> Given {
    let card = Places::usual().card(MODEL).expect("the model has a card");
    let body = BodyPrior::from_card(&card).expect("the card's offsets can be read");
    Given { height: Some(Metres(1.80)), body, ..Given::default() }
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn decoding_alone() -> usize {
    frames().filter(Result::is_ok).count()
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn from_file_to_numbers(bencher: Bencher) {
    let (mut models, given) = (models(), given());
    bencher.bench_local(|| clip::measure(&Motion::from_track(&track(&mut models)), &given));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn from_motion_to_numbers(bencher: Bencher) {
    let (track, given) = (track(&mut models()), given());
    bencher.bench_local(|| clip::measure(&Motion::from_track(&track), &given));
}
