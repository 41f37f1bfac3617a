//! What was seen of balls around contacts, picture by picture, before one path is chosen among it.

use serde::{Deserialize, Serialize};

use crate::geometry::Point2;
use crate::pose::Side;
use crate::units::{FrameIndex, Reading, Seconds};

/// Contacts nearer than this are the same one, corrected a little.
const SAME_CONTACT: Seconds = Seconds(0.08);

/// Something small in one picture that was not there a moment earlier and is gone a moment later.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spot {
    /// Its middle, pixels of the upright picture.
    pub at: Point2,
    /// How far it stands out from what surrounds it in the picture and in time, grey levels.
    pub contrast: f64,
    /// How like a ball's its colour is, 0 to 1: balls are yellow, and little else that moves on a court is.
    pub yellow: f64,
}

/// What was seen in one picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BallLook {
    /// The picture.
    pub frame: FrameIndex,
    /// How far the background has moved across the picture since the first look, pixels.
    pub shift: Point2,
    /// Likeliest first.
    pub spots: Vec<Spot>,
}

/// Looks around one contact.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Watch {
    /// The hand that was expected to hit.
    pub hand: Side,
    /// When contact was expected.
    pub contact: Seconds,
    /// What a ball measures there, pixels.
    pub diameter: f64,
    /// Upper left and lower right corner of what was looked at, pixels.
    pub region: [Point2; 2],
    /// Pictures in order.
    pub looks: Vec<BallLook>,
}

/// What was seen of balls around one person's contacts.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Balls {
    watches: Vec<Watch>,
}

impl Balls {
    /// What was seen around a hand's contact; `None` where nobody has looked.
    pub fn around(&self, hand: Side, contact: Seconds) -> Option<&Watch> {
        let off = |watch: &Watch| (watch.contact - contact).abs();
        let near = self.watches.iter().filter(|watch| watch.hand == hand && off(watch) <= SAME_CONTACT);
        near.min_by(|a, b| off(a).0.total_cmp(&off(b).0))
    }

    /// The first of some contacts that are expected of a hand around which somebody has looked: what was seen may have moved
    /// contact away from where it was looked for.
    pub fn looked_at(&self, hand: Side, expected: impl IntoIterator<Item = Reading>) -> Option<Reading> {
        expected.into_iter().find(|contact| self.around(hand, contact.time).is_some())
    }

    /// Keeps what was seen around a contact in the place of anything known of it.
    pub fn keep(&mut self, watch: Watch) {
        let same = |w: &Watch| w.hand == watch.hand && (w.contact - watch.contact).abs() <= SAME_CONTACT;
        self.watches.retain(|w| !same(w));
        self.watches.push(watch);
    }

    /// Adds what another look has shown.
    pub fn join(&mut self, other: Self) {
        other.watches.into_iter().for_each(|watch| self.keep(watch));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_later_watch_stands_in_the_place_of_an_earlier_one() {
        let watch = |contact, diameter| Watch {
            hand: Side::Right,
            contact: Seconds(contact),
            diameter,
            region: [Point2::default(); 2],
            looks: Vec::new(),
        };
        let mut kept = Balls::default();
        kept.keep(watch(1.0, 10.0));
        kept.keep(watch(3.0, 11.0));
        let mut more = Balls::default();
        more.keep(watch(1.03, 12.0));
        kept.join(more);
        assert_eq!(kept.around(Side::Right, Seconds(1.0)).map(|w| w.diameter), Some(12.0));
        assert_eq!(kept.around(Side::Right, Seconds(3.05)).map(|w| w.diameter), Some(11.0));
        assert_eq!(kept.around(Side::Right, Seconds(2.0)), None);
        assert_eq!(kept.around(Side::Left, Seconds(1.0)), None);
        // A ball has moved the first contact far away from where it was looked for.
        let [moved, as_expected] =
            [1.2, 1.0].map(|time| Reading { time: Seconds(time), spread: Seconds(0.1) });
        assert_eq!(kept.looked_at(Side::Right, [moved, as_expected]), Some(as_expected));
        assert_eq!(kept.looked_at(Side::Left, [moved, as_expected]), None);
    }
}
