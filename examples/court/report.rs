//! What is printed: a line per clip, and how the errors compare with their ±.

use toeline::court::{Camera, Evidence, Reading, Unknown};
use toeline::geometry::wrapped;

/// 95 % of a normal distribution lie within so many standard deviations.
const TWO_SIDED: f64 = 1.96;

/// The quantities that are scored.
const NAMES: [&str; 5] = ["direction °", "pitch °", "roll °", "focal %", "height %"];

#[derive(Default)]
pub struct Report {
    /// Error and ± of each quantity, by clip.
    errors: [Vec<(f64, f64)>; 5],
    seconds: Vec<f64>,
    clips: usize,
    given: usize,
}

impl Report {
    pub fn add(&mut self, name: &str, reading: &Reading, truth: &Camera, seconds: f64) {
        self.seconds.push(seconds);
        self.clips += 1;
        let given = reading.evidence == Evidence::Camera;
        let Some(best) = reading.best().filter(|_| given) else {
            println!("{name:24} {:?}", reading.evidence);
            return;
        };
        self.given += 1;
        let moments = |unknown| reading.moments(unknown).unwrap_or_default();
        let (bearing, spread) = moments(Unknown::Bearing);
        let off = wrapped(bearing.to_degrees() - truth.bearing(reading.foot).0);
        let against = |unknown, value: f64, scale: f64| {
            let (mean, spread) = moments(unknown);
            (scale * (mean - value), scale * spread)
        };
        let degrees = 1f64.to_degrees();
        let all = [
            (off, spread.to_degrees()),
            against(Unknown::Pitch, truth.pitch.radians(), degrees),
            against(Unknown::Roll, truth.roll.radians(), degrees),
            against(Unknown::LogFocal, truth.focal.ln(), 100.0),
            against(Unknown::LogHeight, truth.height.0.ln(), 100.0),
        ];
        print!(
            "{name:24} {seconds:5.2} s  lines {:2}",
            reading.fits.first().map_or(0, |fit| fit.lines.len())
        );
        for (quantity, (error, spread)) in all.into_iter().enumerate() {
            print!("  {} {error:+.2} ± {:.2}", NAMES[quantity], TWO_SIDED * spread);
            self.errors[quantity].push((error, TWO_SIDED * spread));
        }
        println!("  height {:.2} m", best.height.0);
    }

    pub fn print(&self) {
        println!("\ncourts {}, of these given {}", self.clips, self.given);
        for (name, errors) in NAMES.iter().zip(&self.errors) {
            let mut sizes: Vec<f64> = errors.iter().map(|(error, _)| error.abs()).collect();
            sizes.sort_by(f64::total_cmp);
            let (Some(worst), middle) = (sizes.last(), sizes.get(sizes.len() / 2)) else { continue };
            let within = errors.iter().filter(|(error, reach)| error.abs() <= *reach).count();
            let near = sizes.iter().filter(|size| **size <= 5.0).count();
            println!(
                "{name:12} median {:.2}  worst {worst:.2}  within ± {within} of {}  within 5: {near}",
                middle.copied().unwrap_or_default(),
                sizes.len(),
            );
        }
        let total: f64 = self.seconds.iter().sum();
        println!("{:.2} s per clip", total / self.seconds.len().max(1) as f64);
    }
}
