//! How far the direction to the net, where lines tell it, is from the one that a person has read in a frame.

use toeline::geometry::wrapped;
use toeline::measure::clip::ClipMeasures;
use toeline::pose::Motion;
use toeline::scene::{Sway, Witness};

use crate::by_hand::ByHand;
use crate::report::quantile;

/// A direction this near, degrees, is right.
const NEAR: f64 = 5.0;

/// Clips whose direction was looked for by hand.
#[derive(Debug, Default)]
pub struct Directions {
    in_sight: usize,
    given_elsewhere: usize,
    /// Error and half width of the 95 % interval of each direction that lines gave and a person has read, degrees.
    errors: Vec<(f64, f64)>,
}

impl Directions {
    /// Adds a clip whose player moved so; answers with what there is to say of it.
    pub fn add(&mut self, by_hand: &ByHand, measured: &ClipMeasures, motion: &Motion) -> Option<String> {
        self.in_sight += usize::from(by_hand.bearing.is_some());
        let filmed = &measured.filmed;
        let found = measured.direction.filter(|_| filmed.court == Some(Witness::Lines))?;
        let Some((bearing, by_hand_off)) = by_hand.bearing else {
            self.given_elsewhere += 1;
            return Some("direction given by lines, none read by hand".to_owned());
        };
        // Both against the line of sight to where the feet were when the frame was read. The camera may have drifted.
        let frame = motion.indices.partition_point(|index| index.0 < by_hand.frame);
        let foot = Sway::of(motion).steady(frame, by_hand.player[0]);
        let error = wrapped((found.angle + filmed.stand.azimuth(foot)).0 - bearing);
        let within = 1.96 * found.spread.0.hypot(by_hand_off);
        self.errors.push((error, within));
        Some(format!("direction in frame {}: {error:+.1} ± {within:.1}°", by_hand.frame))
    }

    pub fn print(&self) {
        let errors: Vec<f64> = self.errors.iter().map(|(error, _)| error.abs()).collect();
        let given = errors.len();
        println!(
            "\ndirection read by hand in {} clips: given by lines in {given}, median {:.1}°, worst {:.1}°, within {NEAR}° in {}, within the ± of both in \
             {}; given by lines in {} clips where no line tells it",
            self.in_sight,
            quantile(&errors, 0.5),
            errors.iter().copied().fold(0.0, f64::max),
            errors.iter().filter(|error| **error <= NEAR).count(),
            self.errors.iter().filter(|(error, within)| error.abs() <= *within).count(),
            self.given_elsewhere,
        );
    }
}
