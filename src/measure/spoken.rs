//! Values as a coach says them: `16 cm below the eyes` instead of −16 cm above them.

use super::{Measure, Unit};

/// How the two signs of a measure are said: where it is above zero, below, and at zero.
struct Signs(&'static str, &'static str, &'static str);

/// Shares of the way from the back foot to the front foot.
const OVER_FEET: [&str; 3] =
    ["pelvis_over_base_at_contact", "pelvis_over_base_at_finish", "mass_over_base_at_finish"];

/// A share in per cent.
const PER_CENT: f64 = 100.0;

/// The measure whose 0, 1 and 2 are heights of the body.
const LEVEL: &str = "contact_level";
const HEIGHTS: [&str; 3] = ["knee", "hip", "chest"];

/// So near to a height of the body contact is at it, in units of the level.
const AT: f64 = 0.1;
/// And so near it is just above or below.
const JUST: f64 = 0.35;

fn signs(id: &str) -> Option<Signs> {
    Some(match id {
        "ready_tip_above_eyes_cm" => Signs("above the eyes", "below the eyes", "level with the eyes"),
        "hand_behind_shoulder_cm" => {
            Signs("behind the shoulder", "in front of the shoulder", "level with the shoulder")
        }
        "hand_above_shoulder_cm" => {
            Signs("above the shoulder", "below the shoulder", "at the shoulder's height")
        }
        "contact_ahead_of_front_toe_cm" | "hand_ahead_of_front_toe_cm" => {
            Signs("ahead of the toe", "behind the toe", "level with the toe")
        }
        "trunk_lean_at_contact_deg" | "trunk_lean_at_finish_deg" => Signs("forward", "backward", "upright"),
        _ => return None,
    })
}

impl Measure {
    /// Whether it is a share of the way from the back foot to the front foot; people read it in per cent.
    fn is_over_feet(&self) -> bool {
        OVER_FEET.contains(&self.id)
    }

    /// What a value is multiplied by where people read it.
    pub fn scale(&self) -> f64 {
        if self.is_over_feet() { PER_CENT } else { 1.0 }
    }

    /// The unit where people read it, as `cm`.
    pub fn symbol(&self) -> &'static str {
        if self.is_over_feet() { "%" } else { self.unit.symbol() }
    }

    /// The same as it follows a number, with its space.
    pub fn suffix(&self) -> &'static str {
        if self.is_over_feet() { " %" } else { self.unit.suffix() }
    }

    /// Digits after the point where people read it, with a ± of several units beside it: tenths of a centimetre, degree or per cent
    /// would promise too much.
    pub fn short_decimals(&self) -> usize {
        let is_whole = matches!(self.unit, Unit::Centimetre | Unit::Degree) || self.is_over_feet();
        if is_whole { 0 } else { self.decimals }
    }

    /// A value as people read it, without its unit.
    pub fn number(&self, value: f64) -> String {
        crate::table::fixed(self.scale() * value, self.short_decimals()).replace('-', "−")
    }

    /// The same with its unit.
    pub fn amount(&self, value: f64) -> String {
        format!("{}{}", self.number(value), self.suffix())
    }

    /// `35 ± 8`; the ± is never written as nothing.
    pub fn number_within(&self, value: f64, plus_minus: f64) -> String {
        let smallest = 10_f64.powi(-(self.short_decimals() as i32)) / self.scale();
        format!("{} ± {}", self.number(value), self.number(plus_minus.max(smallest)))
    }

    /// `35 ± 8 cm`.
    pub fn within(&self, value: f64, plus_minus: f64) -> String {
        format!("{}{}", self.number_within(value, plus_minus), self.suffix())
    }

    /// A value in words, with its unit.
    pub fn spoken(&self, value: f64) -> String {
        if self.is_over_feet() {
            let share = self.amount(value.abs());
            return if value >= 0.0 {
                format!("{share} of the way to the front foot")
            } else {
                format!("{share} of a step behind the back foot")
            };
        }
        if self.id == LEVEL {
            return level(value);
        }
        match signs(self.id) {
            Some(signs) if value.abs() < 0.5 => signs.2.to_owned(),
            Some(signs) => {
                format!("{} {}", self.amount(value.abs()), if value > 0.0 { signs.0 } else { signs.1 })
            }
            None => self.amount(value),
        }
    }

    /// A value with its ±, and instead of a minus sign the side it is on: `13 ± 6°` and `backward`. `None` for values above zero,
    /// where the measure's name says the side, and where the sign says nothing else.
    pub fn other_side(&self, value: f64, plus_minus: f64) -> Option<(String, &'static str)> {
        let side = signs(self.id)?.1;
        (value <= -0.5).then(|| (self.within(-value, plus_minus), side))
    }

    /// Two values in words that stand in one sentence: what both end with is said once, after the second.
    pub fn spoken_pair(&self, first: f64, second: f64) -> [String; 2] {
        let whole = [first, second].map(|value| self.spoken(value));
        let amounts = [first, second].map(|value| self.amount(value.abs()));
        let tail = |place: usize| -> Option<Vec<&str>> {
            Some(whole[place].strip_prefix(&amounts[place])?.split_whitespace().collect())
        };
        let Some((one, other)) = tail(0).zip(tail(1)) else { return whole };
        let alike = one.iter().rev().zip(other.iter().rev()).take_while(|(a, b)| a == b).count();
        if alike < 2 && (alike < one.len() || alike < other.len()) {
            return whole;
        }
        let own =
            one[..one.len() - alike].iter().fold(amounts[0].clone(), |said, word| format!("{said} {word}"));
        let [_, second] = whole;
        [own, second]
    }

    /// What a larger value is than another, and what a smaller one is: `farther forward` and `farther back`.
    pub fn comparatives(&self) -> [&'static str; 2] {
        match self.id {
            "ready_tip_above_eyes_cm"
            | "hand_above_shoulder_cm"
            | "finish_hand_above_shoulder_cm"
            | "contact_height_cm"
            | "contact_over_stature"
            | LEVEL => ["higher", "lower"],
            "hand_behind_shoulder_cm" => ["farther behind the shoulder", "less far behind the shoulder"],
            "contact_ahead_of_front_toe_cm" | "hand_ahead_of_front_toe_cm" => {
                ["farther ahead", "farther back"]
            }
            "trunk_lean_at_contact_deg" | "trunk_lean_at_finish_deg" => ["farther forward", "farther back"],
            _ if self.is_over_feet() => ["farther forward", "farther back"],
            _ => ["more", "less"],
        }
    }

    /// A range in words; `None` where it has no end.
    pub fn spoken_range(&self, low: Option<f64>, high: Option<f64>) -> Option<String> {
        if self.id == LEVEL {
            let named = |value: f64| match HEIGHTS.iter().enumerate().find(|(i, _)| *i as f64 == value) {
                Some((_, name)) => (*name).to_owned(),
                None => level(value),
            };
            return match (low, high) {
                (Some(low), Some(high)) => Some(format!("between {} and {}", named(low), named(high))),
                (Some(low), None) => Some(format!("from {} upward", named(low))),
                (None, Some(high)) => Some(format!("up to {}", named(high))),
                (None, None) => None,
            };
        }
        let zero = signs(self.id).map(|signs| signs.2);
        Some(match (low, high, zero) {
            (Some(0.0), None, Some(zero)) => format!("{zero} or more"),
            (None, Some(0.0), Some(zero)) => format!("{zero} or less"),
            // No more than so far on the other side.
            (Some(low), None, Some(_)) if low < 0.0 => format!("at most {}", self.spoken(low)),
            (None, Some(high), Some(_)) if high < 0.0 => format!("at least {}", self.spoken(high)),
            (Some(low), Some(high), _) => {
                let [low, high] = self.spoken_pair(low, high);
                format!("from {low} to {high}")
            }
            (Some(low), None, _) => format!("at least {}", self.spoken(low)),
            (None, Some(high), _) => format!("at most {}", self.spoken(high)),
            (None, None, _) => return None,
        })
    }

    /// Whether a ± says so little that the value is none worth telling: twice what a fair grade allows, or, of what can't be
    /// negative, more than the value itself with a ± beyond a fair grade's.
    pub fn is_dwarfed(&self, value: f64, plus_minus: f64) -> bool {
        let fair = self.grades.1;
        let is_amount = matches!(self.unit, Unit::Millisecond | Unit::MetrePerSecond);
        plus_minus > 2.0 * fair || is_amount && plus_minus >= fair && plus_minus >= value.abs()
    }
}

/// A height between those of the body.
fn level(value: f64) -> String {
    let nearest = value.round().clamp(0.0, 2.0);
    let name = HEIGHTS[nearest as usize];
    let apart = value - nearest;
    let side = if apart > 0.0 { "above" } else { "below" };
    if apart.abs() <= AT {
        format!("at the {name}")
    } else if apart.abs() <= JUST {
        format!("just {side} the {name}")
    } else if value < 0.0 {
        "below the knee".to_owned()
    } else if value > 2.0 {
        "above the chest".to_owned()
    } else {
        let below = value.floor() as usize;
        format!("between {} and {}", HEIGHTS[below.min(1)], HEIGHTS[(below + 1).min(2)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spoken(id: &str, value: f64) -> String {
        Measure::find(id).unwrap().spoken(value)
    }

    fn range(id: &str, low: Option<f64>, high: Option<f64>) -> String {
        Measure::find(id).unwrap().spoken_range(low, high).unwrap()
    }

    #[test]
    fn the_side_is_said_instead_of_a_minus_sign() {
        let spoken = |id: &str, value: f64| Measure::find(id).unwrap().other_side(value, 6.4);
        let words = |number: &str, side| Some((number.to_owned(), side));
        assert_eq!(spoken("trunk_lean_at_finish_deg", -12.7), words("13 ± 6°", "backward"));
        assert_eq!(spoken("ready_tip_above_eyes_cm", -102.0), words("102 ± 6 cm", "below the eyes"));
        assert_eq!(spoken("hand_behind_shoulder_cm", -3.0), words("3 ± 6 cm", "in front of the shoulder"));
        assert_eq!(
            (spoken("hand_ahead_of_front_toe_cm", 12.0), spoken("hand_ahead_of_front_toe_cm", -0.2)),
            (None, None)
        );
        assert_eq!(spoken("step_length_cm", -4.0), None);
    }

    #[test]
    fn shares_of_the_way_between_the_feet_are_read_in_per_cent() {
        let hips = Measure::find("pelvis_over_base_at_finish").unwrap();
        assert_eq!(hips.within(0.876, 0.004), "88 ± 1 %");
        assert_eq!((hips.number(-0.04).as_str(), hips.symbol()), ("−4", "%"));
        let level = Measure::find("contact_level").unwrap();
        assert_eq!(level.within(1.22, 0.3), "1.22 ± 0.30");
    }

    #[test]
    fn values_are_said_as_a_coach_says_them() {
        for (id, value, words) in [
            ("ready_tip_above_eyes_cm", -97.2, "97 cm below the eyes"),
            ("hand_ahead_of_front_toe_cm", 0.2, "level with the toe"),
            ("hand_behind_shoulder_cm", 35.0, "35 cm behind the shoulder"),
            ("pelvis_over_base_at_finish", 0.88, "88 % of the way to the front foot"),
            ("contact_level", 1.22, "just above the hip"),
            ("contact_level", 1.5, "between hip and chest"),
            ("contact_level", 0.05, "at the knee"),
            ("contact_level", 2.8, "above the chest"),
            ("trunk_lean_at_finish_deg", -6.4, "6° backward"),
            ("forward_swing_ms", 203.4, "203 ms"),
        ] {
            assert_eq!(spoken(id, value), words, "{id}");
        }
    }

    #[test]
    fn what_two_values_end_with_is_said_once() {
        let pair =
            |id: &str, first, second| Measure::find(id).unwrap().spoken_pair(first, second).join(", now ");
        for (id, first, second, words) in [
            ("ready_tip_above_eyes_cm", -97.0, -16.0, "97 cm, now 16 cm below the eyes"),
            ("contact_ahead_of_front_toe_cm", -9.0, 25.0, "9 cm behind, now 25 cm ahead of the toe"),
            ("contact_ahead_of_front_toe_cm", 0.1, 25.0, "level with the toe, now 25 cm ahead of the toe"),
            ("pelvis_over_base_at_finish", 0.37, 0.85, "37 %, now 85 % of the way to the front foot"),
            (
                "pelvis_over_base_at_finish",
                -0.1,
                0.85,
                "10 % of a step behind the back foot, now 85 % of the way to the front foot",
            ),
            ("trunk_lean_at_finish_deg", -20.0, -5.0, "20°, now 5° backward"),
            ("trunk_lean_at_finish_deg", -9.0, 9.0, "9° backward, now 9° forward"),
            ("contact_level", 0.8, 1.3, "just below the hip, now just above the hip"),
            ("forward_swing_ms", 206.0, 282.0, "206 ms, now 282 ms"),
        ] {
            assert_eq!(pair(id, first, second), words, "{id}");
        }
    }

    #[test]
    fn ranges_are_said_from_their_own_side() {
        for (id, low, high, words) in [
            ("contact_level", Some(0.0), Some(2.0), "between knee and chest"),
            ("contact_ahead_of_front_toe_cm", Some(0.0), None, "level with the toe or more"),
            ("hand_ahead_of_front_toe_cm", Some(-10.0), None, "at most 10 cm behind the toe"),
            ("hand_behind_shoulder_cm", None, Some(10.0), "at most 10 cm behind the shoulder"),
            ("ready_tip_above_eyes_cm", Some(-15.0), Some(15.0), "from 15 cm below to 15 cm above the eyes"),
            ("stance_width_cm", None, Some(80.0), "at most 80 cm"),
        ] {
            assert_eq!(range(id, low, high), words, "{id}");
        }
    }

    #[test]
    fn a_range_wider_than_the_value_is_no_value() {
        let drop = Measure::find("drop_ms").unwrap();
        assert!(drop.is_dwarfed(43.0, 240.0));
        assert!(!drop.is_dwarfed(300.0, 0.5 * drop.grades.1));
        assert!(
            !Measure::find("hand_ahead_of_front_toe_cm").unwrap().is_dwarfed(1.0, 8.0),
            "near the toe is a value"
        );
    }
}
