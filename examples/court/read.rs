//! What a person has read in the pictures of clips without a truth, as the reading of lines needs it.

use toeline::court::Hidden;
use toeline::geometry::Point2;

use super::by_hand::ByHand;
use super::report::True;

/// The head reaches above the nose, arms to the sides, by this share of the height from nose to heels.
const ABOVE: f64 = 0.2;
const BESIDE: f64 = 0.3;

impl ByHand {
    /// The pictures that are looked at: as many before the one that was read as after it.
    pub fn wanted(&self) -> Vec<usize> {
        let half = super::PICTURES / 2;
        (0..super::PICTURES).map(|k| k * self.frame / half).collect()
    }

    /// Where the player is in a picture: known in the one that was read.
    pub fn seen(&self, frame: usize) -> super::Seen {
        let [foot, head] = self.player;
        if frame != self.frame {
            return (Vec::new(), None);
        }
        let tall = foot.y - head.y;
        let corners = [
            Point2::new(head.x - BESIDE * tall, head.y - ABOVE * tall),
            Point2::new(foot.x + BESIDE * tall, foot.y),
        ];
        (Hidden::around(corners, 0.0).into_iter().collect(), Some(self.player))
    }

    pub fn truth(&self) -> True {
        True { camera: None, bearing: self.bearing, lines: self.bearing.is_some() }
    }
}
