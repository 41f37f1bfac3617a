//! Measures a clip from Rust and prints every value that was found.
//!
//! ```sh
//! cargo run --release --example measure -- fixtures/demo.mp4
//! ```

use std::error::Error;
use std::path::PathBuf;

use toeline::measure::CATALOGUE;
use toeline::units::Metres;
use toeline::{Analyser, Method, Stated, Unobserved};

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).map(PathBuf::from).ok_or("usage: measure CLIP")?;
    let mut analyser = Analyser::new(&Method::default())?;
    let stated = Stated { height: Some(Metres(1.80)), ..Stated::default() };
    let analysis = analyser.measure(&path, &stated, &mut Unobserved)?;
    for stroke in analysis.strokes() {
        println!("stroke {}: {}", stroke.number, stroke.stroke.kind.name());
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
