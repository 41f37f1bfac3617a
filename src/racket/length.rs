//! How long the player's racket is.

use super::USUAL_LENGTH;
use crate::units::Metres;

/// Lengths that shops sell to children, by the stature up to which they are for: 19, 21, 23, 25 and 26 inches.
const OF_CHILDREN: [(Metres, Metres); 5] = [
    (Metres(1.03), Metres(0.483)),
    (Metres(1.14), Metres(0.533)),
    (Metres(1.27), Metres(0.584)),
    (Metres(1.40), Metres(0.635)),
    (Metres(1.52), Metres(0.660)),
];

/// A racket's length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Length {
    /// The length.
    pub value: Metres,
    /// How far it may be off (1 standard deviation): a stated one is measured to some millimetres, adults' rackets hardly differ, and which
    /// of two sizes a child plays with nobody knows.
    pub spread: Metres,
}

impl Length {
    /// The stated length, or the usual one for the player's stature where that is given.
    pub fn of(stated: Option<Metres>, stature: Option<Metres>) -> Self {
        let child = stature.and_then(|stature| OF_CHILDREN.iter().find(|(up_to, _)| stature <= *up_to));
        match (stated, child) {
            (Some(value), _) => Self { value, spread: Metres(0.003) },
            (None, Some((_, value))) => Self { value: *value, spread: Metres(0.035) },
            (None, None) => Self { value: USUAL_LENGTH, spread: Metres(0.006) },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_child_plays_with_a_shorter_racket_whose_length_is_less_sure() {
        let adult = Length::of(None, Some(Metres(1.75)));
        let child = Length::of(None, Some(Metres(1.30)));
        assert_eq!((adult.value, Length::of(None, None)), (USUAL_LENGTH, adult));
        assert!(child.value.0 < 0.65 && child.spread > adult.spread);
        let stated = Length::of(Some(Metres(0.66)), Some(Metres(1.30)));
        assert!(stated.value == Metres(0.66) && stated.spread < adult.spread);
    }
}
