//! What the network saw of the racket, picture by picture, before one path is chosen among it.

use serde::{Deserialize, Serialize};

use crate::geometry::Point2;
use crate::pose::Side;
use crate::units::FrameIndex;

/// One place where the racket may be in one picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sight {
    /// End of the grip, pixels of the upright picture.
    pub butt: Point2,
    /// Where the hoop begins.
    pub throat: Point2,
    /// Middle of the strings.
    pub middle: Point2,
    /// The hoop's far end.
    pub tip: Point2,
    /// Logarithm of the chance that it is here, up to a constant.
    pub score: f64,
    /// Chance that the tip is within a fifth of the racket's length.
    pub confidence: f64,
    /// Chance of each point, in the order above, that it is in sight.
    pub seen: [f64; 4],
}

impl Sight {
    /// Length in the picture, pixels.
    pub fn length(&self) -> f64 {
        self.butt.distance(self.tip)
    }

    /// The largest distance between the points of two sights, pixels.
    pub fn apart(&self, other: &Self) -> f64 {
        let pairs = [
            (self.butt, other.butt),
            (self.throat, other.throat),
            (self.middle, other.middle),
            (self.tip, other.tip),
        ];
        pairs.into_iter().map(|(a, b)| a.distance(b)).fold(0.0, f64::max)
    }
}

/// What was seen around one hand in one picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RacketLook {
    /// The picture.
    pub frame: FrameIndex,
    /// Likeliest first; empty where nothing like a racket is there.
    pub sights: Vec<Sight>,
}

/// What was seen of the racket of one person: by hand, pictures in order.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Sightings {
    /// Around the left hand.
    left: Vec<RacketLook>,
    /// Around the right hand.
    right: Vec<RacketLook>,
}

impl Sightings {
    /// What was seen around a hand in a picture; `None` where nobody has looked.
    pub fn at(&self, hand: Side, frame: FrameIndex) -> Option<&[Sight]> {
        let looks = self.of(hand);
        let place = looks.binary_search_by_key(&frame, |look| look.frame).ok()?;
        Some(&looks[place].sights)
    }

    /// Keeps what was seen around a hand in a picture in the place of anything known of it.
    pub fn keep(&mut self, hand: Side, frame: FrameIndex, sights: Vec<Sight>) {
        let looks = match hand {
            Side::Left => &mut self.left,
            Side::Right => &mut self.right,
        };
        match looks.binary_search_by_key(&frame, |look| look.frame) {
            Ok(place) => looks[place].sights = sights,
            Err(place) => looks.insert(place, RacketLook { frame, sights }),
        }
    }

    /// Adds what another look has shown.
    pub fn join(&mut self, other: Self) {
        for (hand, looks) in [(Side::Left, other.left), (Side::Right, other.right)] {
            for look in looks {
                self.keep(hand, look.frame, look.sights);
            }
        }
    }

    fn of(&self, hand: Side) -> &[RacketLook] {
        match hand {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sight(x: f64) -> Sight {
        let at = |share: f64| Point2::new(x + 100.0 * share, 50.0);
        Sight {
            butt: at(0.0),
            throat: at(0.45),
            middle: at(0.75),
            tip: at(1.0),
            score: 0.0,
            confidence: 0.9,
            seen: [1.0; 4],
        }
    }

    #[test]
    fn a_later_look_stands_in_the_place_of_an_earlier_one() {
        let mut kept = Sightings::default();
        kept.keep(Side::Right, FrameIndex(7), vec![sight(0.0)]);
        kept.keep(Side::Right, FrameIndex(3), Vec::new());
        let mut more = Sightings::default();
        more.keep(Side::Right, FrameIndex(7), vec![sight(9.0)]);
        kept.join(more);
        assert_eq!(kept.at(Side::Right, FrameIndex(7)), Some(&[sight(9.0)][..]));
        assert_eq!(kept.at(Side::Right, FrameIndex(3)), Some(&[][..]));
        assert_eq!(kept.at(Side::Left, FrameIndex(7)), None);
        assert_eq!(sight(0.0).apart(&sight(9.0)), 9.0);
    }
}
