//! What is printed: a line per clip, and how the errors compare with their ±.

use toeline::court::{Camera, Evidence, Reading, Unknown};
use toeline::geometry::wrapped;

/// 95 % of a normal distribution lie within so many standard deviations.
const TWO_SIDED: f64 = 1.96;

/// What is true about a clip.
pub struct True {
    /// The whole camera, where it is known.
    pub camera: Option<Camera>,
    /// The bearing of the net as read by hand, and its standard deviation, degrees.
    pub bearing: Option<(f64, f64)>,
    /// Whether lines of the court are in sight.
    pub lines: bool,
}

/// The quantities that are scored.
const NAMES: [&str; 5] = ["direction °", "pitch °", "roll °", "focal %", "height %"];

#[derive(Default)]
pub struct Report {
    /// Error and ± of each quantity, by clip.
    errors: [Vec<(f64, f64)>; 5],
    seconds: Vec<f64>,
    in_sight: usize,
    given_in_sight: usize,
    given_elsewhere: usize,
}

impl Report {
    pub fn add(&mut self, name: &str, reading: &Reading, truth: &True, seconds: f64) {
        self.seconds.push(seconds);
        self.in_sight += usize::from(truth.lines);
        let given = reading.evidence == Evidence::Camera;
        let Some(best) = reading.best().filter(|_| given) else {
            println!("{name:24} {:?}", reading.evidence);
            return;
        };
        if truth.lines {
            self.given_in_sight += 1;
        } else {
            self.given_elsewhere += 1;
        }
        let moments = |unknown| reading.moments(unknown).unwrap_or_default();
        let (bearing, spread) = moments(Unknown::Bearing);
        let mut all = Vec::new();
        let bearing_of = |camera: &Camera| (camera.bearing(reading.foot).0, 0.0);
        if let Some((true_bearing, by_hand)) = truth.bearing.or(truth.camera.as_ref().map(bearing_of)) {
            let error = wrapped(bearing.to_degrees() - true_bearing);
            all.push((0, error, spread.to_degrees().hypot(by_hand)));
        }
        if let Some(camera) = &truth.camera {
            let against = |unknown, value: f64, scale: f64| {
                let (mean, spread) = moments(unknown);
                (scale * (mean - value), scale * spread)
            };
            let degrees = 1f64.to_degrees();
            let quantities = [
                against(Unknown::Pitch, camera.pitch.radians(), degrees),
                against(Unknown::Roll, camera.roll.radians(), degrees),
                against(Unknown::LogFocal, camera.focal.ln(), 100.0),
                against(Unknown::LogHeight, camera.height.0.ln(), 100.0),
            ];
            all.extend(quantities.into_iter().enumerate().map(|(k, (error, spread))| (k + 1, error, spread)));
        }
        print!(
            "{name:24} {seconds:5.2} s  lines {:2}",
            reading.fits.first().map_or(0, |fit| fit.lines.len())
        );
        for (quantity, error, spread) in all {
            print!("  {} {error:+.2} ± {:.2}", NAMES[quantity], TWO_SIDED * spread);
            self.errors[quantity].push((error, TWO_SIDED * spread));
        }
        println!("  height {:.2} m", best.height.0);
    }

    pub fn print(&self) {
        println!(
            "\nwith lines in sight {}, of these given {}; given elsewhere {}",
            self.in_sight, self.given_in_sight, self.given_elsewhere
        );
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
