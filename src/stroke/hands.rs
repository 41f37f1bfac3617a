//! How many hands hold the racket.

use serde::{Deserialize, Serialize};

use super::search;
use crate::order::median;
use crate::pose::{Joint, Side};
use crate::scene::CourtMotion;
use crate::units::Seconds;

/// Hands on the racket through the forward swing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hands {
    /// The hitting hand alone.
    One,
    /// Both.
    Two,
}

impl Hands {
    /// How many they are.
    pub const fn count(self) -> usize {
        match self {
            Self::One => 1,
            Self::Two => 2,
        }
    }
}

/// Wrists of two hands that hold one handle are at most so far apart, as a share of the legs' length (a hand's breadth and
/// what landmarks err by); an off hand that has left the racket is farther away.
const TOGETHER: f64 = 0.32;

/// Without a forward swing's start, hands are looked at for so long before contact.
const USUAL_SWING: Seconds = Seconds(0.15);

/// Tells how many hands hold the racket from the distance of the wrists between the forward swing's start and contact: both
/// where their usual distance is that of two hands on a handle. Where a wrist was not seen the other hand is taken to be free.
pub fn from_wrists(motion: &CourtMotion, forward_start: Option<Seconds>, contact: Seconds) -> Hands {
    let from = forward_start.unwrap_or(contact - USUAL_SWING).min(contact - USUAL_SWING * 0.5);
    let apart = |t: Seconds| {
        let wrist = |side| motion.at(Joint::Wrist.on(side), t);
        Some((wrist(Side::Left)? - wrist(Side::Right)?).norm())
    };
    let leg = |t: Seconds| {
        let side = motion.hand;
        let at = |joint: Joint| motion.at(joint.on(side), t);
        let (hip, knee, ankle) = (at(Joint::Hip)?, at(Joint::Knee)?, at(Joint::Ankle)?);
        Some((hip - knee).norm() + (knee - ankle).norm())
    };
    let usual = |curve: &dyn Fn(Seconds) -> Option<f64>| {
        median(search::samples(curve, from, contact).into_iter().map(|(_, value)| value))
    };
    match usual(&apart).zip(usual(&leg)) {
        Some((apart, leg)) if apart < TOGETHER * leg => Hands::Two,
        _ => Hands::One,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Court;
    use crate::pose::landmark::COUNT;

    /// A right-hander with legs of 0.85 m and the left wrist so far from the right one, up to a time and after it.
    fn motion(apart: impl Fn(f64) -> Option<f64>) -> CourtMotion {
        let times: Vec<Seconds> = (0..40).map(|i| Seconds(f64::from(i) / 30.0)).collect();
        let frame = |time: &Seconds| {
            let mut points = [None; COUNT];
            let mut put = |joint: Joint, side, at| points[joint.on(side) as usize] = Some(at);
            put(Joint::Hip, Side::Right, Court::new(0.0, 0.1, 0.90));
            put(Joint::Knee, Side::Right, Court::new(0.0, 0.1, 0.48));
            put(Joint::Ankle, Side::Right, Court::new(0.0, 0.1, 0.05));
            put(Joint::Wrist, Side::Right, Court::new(0.3, 0.0, 1.0));
            if let Some(apart) = apart(time.0) {
                put(Joint::Wrist, Side::Left, Court::new(0.3, -apart, 1.0));
            }
            points
        };
        CourtMotion::plain(times.iter().map(frame).collect(), times)
    }

    fn hands_of(apart: impl Fn(f64) -> Option<f64>) -> Hands {
        from_wrists(&motion(apart), Some(Seconds(0.8)), Seconds(1.0))
    }

    #[test]
    fn wrists_that_stay_together_up_to_contact_are_two_hands() {
        assert_eq!(hands_of(|_| Some(0.14)), Hands::Two);
        assert_eq!(hands_of(|_| Some(0.60)), Hands::One);
        // Let go in the takeback, and only after contact.
        assert_eq!(hands_of(|t| Some(if t < 0.7 { 0.14 } else { 0.6 })), Hands::One);
        assert_eq!(hands_of(|t| Some(if t < 1.0 { 0.14 } else { 0.6 })), Hands::Two);
        assert_eq!(hands_of(|_| None), Hands::One);
    }
}
