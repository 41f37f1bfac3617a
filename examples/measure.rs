//! Measures a clip from Rust and prints every value that was found.
//!
//! ```sh
//! cargo run --release --example measure -- fixtures/demo.mp4
//! ```

use std::error::Error;
use std::path::PathBuf;

use toeline::measure::CATALOGUE;
use toeline::measure::clip::{Given, measure};
use toeline::model::Places;
use toeline::pose::{Choice, Lifter, Models, Motion, Settings, follow_clip};
use toeline::scene::BodyPrior;
use toeline::units::Metres;
use toeline::video::Clip;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).map(PathBuf::from).ok_or("usage: measure CLIP")?;

    // Pictures with their times.
    let clip = Clip::open(&path, None)?;
    let mut frames = clip.frames()?;

    // The player's landmarks in each of them.
    let mut models = Models::load(&Places::usual(), "pose_landmark_full", 2)?;
    let people = follow_clip(&mut frames, &mut models, Settings::default(), |_| {})?;
    let subject = people.subject(Choice::Swinging)?;
    let mut motion = Motion::from_track(&people.candidates[subject].track);

    // How far from the lens each joint is.
    Lifter::load(&Places::usual())?.lift(&mut motion)?;

    // From here on no picture and no network is needed.
    let body = BodyPrior::from_card(models.landmarker.card())?;
    let given = Given { height: Some(Metres(1.80)), body, ..Given::default() };
    let numbers = measure(&motion, &given);
    for (i, stroke) in numbers.strokes.iter().enumerate() {
        println!("stroke {}: {}", i + 1, stroke.stroke.kind.name());
        for (entry, outcome) in CATALOGUE.iter().zip(&stroke.measured.outcomes) {
            match outcome {
                Ok(found) => println!(
                    "  {:36} {:>8} ± {} {}",
                    entry.id,
                    entry.format(found.value),
                    entry.format(found.plus_minus),
                    found.grade.name()
                ),
                Err(reason) => println!("  {:36} {:>8} {}", entry.id, "–", reason.name()),
            }
        }
    }
    Ok(())
}
