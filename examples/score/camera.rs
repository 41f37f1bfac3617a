//! How far the camera is from the true one.

use serde_json::Value;
use toeline::geometry::wrapped;
use toeline::measure::clip::ClipMeasures;
use toeline::scene::{Lens, Stand};
use toeline::units::Degrees;

use crate::report::quantile;

/// What is compared, with its unit.
const QUANTITIES: [&str; 6] = ["pitch °", "roll °", "focal %", "height %", "direction °", "stature cm"];

/// An error and its ±.
#[derive(Debug, Clone, Copy)]
struct Off {
    error: f64,
    plus_minus: f64,
}

/// Cameras of clips, with nothing given or with the player's height.
pub struct Cameras {
    given: &'static str,
    clips: Vec<(String, bool, [Option<Off>; QUANTITIES.len()])>,
}

impl Cameras {
    pub fn new(given: &'static str) -> Self {
        Self { given, clips: Vec::new() }
    }

    pub fn add(&mut self, clip: &str, truth: &Value, height: f64, measured: &ClipMeasures) {
        let Some(true_camera) = TrueCamera::of(truth) else { return };
        let filmed = &measured.filmed;
        let off = |(estimate, _): (toeline::scene::Estimate, _), truth: f64, unit: f64| {
            let (error, plus_minus) = ((estimate.value - truth) * unit, estimate.plus_minus * unit);
            Some(Off { error, plus_minus })
        };
        let Stand { lens, pitch, roll } = true_camera.stand;
        let direction = measured.direction.map(|found| {
            let (there, here) =
                (true_camera.stand.azimuth(filmed.foot()), filmed.stand.azimuth(filmed.foot()));
            let error = (found.angle + here) - (true_camera.net + there);
            Off { error: wrapped(error.0), plus_minus: 1.96 * found.spread.0 }
        });
        let stature = filmed.stature;
        let stature = Off {
            error: 100.0 * (stature.metres.0 - height),
            plus_minus: 196.0 * stature.spread * stature.metres.0,
        };
        let errors = [
            true_camera.tilted.then(|| off(filmed.pitch(), pitch.0, 1.0)).flatten(),
            true_camera.tilted.then(|| off(filmed.roll(), roll.0, 1.0)).flatten(),
            off(filmed.focal(), lens.focal, 100.0 / lens.focal),
            filmed.height().and_then(|found| off(found, true_camera.height, 100.0 / true_camera.height)),
            direction,
            Some(stature),
        ];
        self.clips.push((clip.to_owned(), filmed.court.is_some(), errors));
    }

    /// Whether the ± of every direction holds the true one.
    pub fn directions_inside(&self) -> bool {
        self.clips.iter().filter_map(|clip| clip.2[4]).all(|off| off.error.abs() <= off.plus_minus)
    }

    pub fn print(&self) {
        if self.clips.is_empty() {
            return;
        }
        println!("\ncamera, {} (error ± half of 95 %; ! outside)", self.given);
        for (clip, lines, errors) in &self.clips {
            let cells: Vec<String> =
                errors.iter().map(|off| off.map_or_else(|| "–".to_owned(), cell)).collect();
            let cells: String = cells.iter().map(|cell| format!(" {cell:>16}")).collect();
            println!("{clip:<28} {:<8}{cells}", if *lines { "lines" } else { "player" });
        }
        for lines in [true, false] {
            let of = |k: usize| {
                let all: Vec<Off> =
                    self.clips.iter().filter(|clip| clip.1 == lines).filter_map(|clip| clip.2[k]).collect();
                let errors: Vec<f64> = all.iter().map(|off| off.error.abs()).collect();
                let inside = all.iter().filter(|off| off.error.abs() <= off.plus_minus).count();
                let worst = errors.iter().copied().fold(0.0, f64::max);
                format!(
                    "{}: median {:.2}, worst {worst:.2}, inside {inside} of {}",
                    QUANTITIES[k],
                    quantile(&errors, 0.5),
                    all.len()
                )
            };
            let words: Vec<String> = (0..QUANTITIES.len()).map(of).collect();
            println!("  {}: {}", if lines { "with lines" } else { "without lines" }, words.join("; "));
        }
    }
}

fn cell(off: Off) -> String {
    let outside = if off.error.abs() > off.plus_minus { "!" } else { "" };
    format!("{:+.1} ± {:.1}{outside}", off.error, off.plus_minus)
}

/// The camera that took a clip.
struct TrueCamera {
    stand: Stand,
    net: Degrees,
    height: f64,
    /// Whether its tilt is known.
    tilted: bool,
}

impl TrueCamera {
    fn of(truth: &Value) -> Option<Self> {
        let camera = &truth["camera"];
        let number = |key: &str| camera[key].as_f64();
        let axis = |i: usize| camera["R"][2][i].as_f64();
        let (ahead, aside) = (axis(1)?, -axis(0)?);
        let lens = Lens {
            focal: number("fx")?,
            middle: (number("cx")?, number("cy")?),
            k1: number("k1").unwrap_or(0.0),
        };
        let (pitch, roll) = (number("pitch_deg"), number("roll_deg"));
        Some(Self {
            stand: Stand { lens, pitch: Degrees(pitch.unwrap_or(0.0)), roll: Degrees(roll.unwrap_or(0.0)) },
            net: Degrees(ahead.atan2(aside).to_degrees()),
            height: number("height_m").or(camera["eye"][2].as_f64())?,
            tilted: pitch.is_some() && roll.is_some(),
        })
    }
}
