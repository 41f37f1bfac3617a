//! Targets as they are used.

use std::fmt;

use crate::measure::Measure;
use crate::stroke::Sort;

/// Words for grips in conditions, from the flattest racket to the most closed.
pub const GRIPS: [&str; 4] = ["continental", "eastern", "semi-western", "western"];
/// Words for how the ball came.
pub const DRILLS: [&str; 5] = ["shadow", "drop", "hand-feed", "machine", "rally"];
/// Words for kinds of strokes.
pub(super) const KINDS: [&str; 5] =
    ["forehand", "backhand", "forehand volley", "backhand volley", "overhead"];
/// Words for stances.
pub(super) const STANCES: [&str; 4] = ["open", "semi-open", "neutral", "closed"];

/// Under what circumstances a stroke was hit, in the words of the tables; `None` where nobody knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Circumstances<'a> {
    /// Kind of the stroke, volleys apart from ground strokes.
    pub kind: &'a str,
    /// How the feet stood.
    pub stance: Option<&'a str>,
    /// How the racket was held.
    pub grip: Option<&'a str>,
    /// How the ball came.
    pub drill: Option<&'a str>,
}

/// To which strokes a target applies: an empty list asks for nothing, another is met by its words only, so not by what is
/// unknown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Conditions {
    /// Kinds of strokes.
    pub kind: Vec<String>,
    /// Stances.
    pub stance: Vec<String>,
    /// Grips.
    pub grip: Vec<String>,
    /// How the ball came.
    pub drill: Vec<String>,
}

impl Conditions {
    /// Whether a stroke meets them.
    pub fn are_met(&self, stroke: &Circumstances<'_>) -> bool {
        let meets = |wanted: &[String], word: Option<&str>| {
            wanted.is_empty() || word.is_some_and(|word| wanted.iter().any(|w| w == word))
        };
        meets(&self.kind, Some(stroke.kind))
            && meets(&self.stance, stroke.stance)
            && meets(&self.grip, stroke.grip)
            && meets(&self.drill, stroke.drill)
    }
}

impl fmt::Display for Conditions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts =
            [("", &self.kind), ("stance ", &self.stance), ("grip ", &self.grip), ("drill ", &self.drill)];
        let parts: Vec<String> = parts
            .iter()
            .filter(|(_, words)| !words.is_empty())
            .map(|(name, words)| format!("{name}{}", words.join(" or ")))
            .collect();
        f.write_str(&parts.join(", "))
    }
}

/// Something to practise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exercise {
    /// What coaches call it.
    pub name: String,
    /// How it goes.
    pub text: String,
}

/// A range for one measure.
#[derive(Debug, Clone)]
pub struct Target {
    /// The measure.
    pub measure: &'static Measure,
    /// The least value that is still fine.
    pub low: Option<f64>,
    /// The largest value that is still fine.
    pub high: Option<f64>,
    /// The height of the player whom `low` and `high` are for, cm, where they grow with the player.
    pub height_cm: Option<f64>,
    /// A change smaller than this does not matter.
    pub margin: Option<f64>,
    /// Whether the coach looks at this measure whatever the others show.
    pub primary: bool,
    /// To which strokes it applies.
    pub conditions: Conditions,
    /// Left out where this measure has values, because it says the same better.
    pub unless: Option<&'static Measure>,
    /// What to say to a player whose values are too low.
    pub too_low: Option<String>,
    /// What to say to a player whose values are too high.
    pub too_high: Option<String>,
    /// What to practise then.
    pub drill: Option<Exercise>,
    /// Where the range comes from.
    pub source: String,
}

impl Target {
    /// How far outside the range a value lies; 0 inside it.
    pub fn away(&self, value: f64) -> f64 {
        let below = self.low.map_or(0.0, |low| low - value);
        let above = self.high.map_or(0.0, |high| value - high);
        below.max(above).max(0.0)
    }

    /// Whether it applies to a stroke. A target that names no kind is for ground strokes, because what is right for them is
    /// wrong for serves and volleys; of a measure that only others have it is for those.
    pub fn is_for(&self, stroke: &Circumstances<'_>) -> bool {
        let sort = Sort::from_name(stroke.kind).unwrap_or(Sort::Unknown);
        let named = !self.conditions.kind.is_empty();
        let has_ground = self.measure.kinds.iter().any(|kind| kind.is_ground_stroke());
        self.measure.kinds.contains(&sort)
            && (named || sort.is_ground_stroke() || !has_ground)
            && self.conditions.are_met(stroke)
    }

    /// The range in words, such as `at most 10 cm`; `None` where the target has only a margin.
    pub fn range(&self) -> Option<String> {
        let unit = self.measure.suffix();
        // Written as they were given: a limit may be finer than a measured value is told.
        let end = |value: f64| {
            let shown = (1e6 * self.measure.scale() * value).round() / 1e6;
            shown.to_string().replace('-', "−")
        };
        match (self.low, self.high) {
            (Some(low), Some(high)) => Some(format!("{} to {}{unit}", end(low), end(high))),
            (Some(low), None) => Some(format!("at least {}{unit}", end(low))),
            (None, Some(high)) => Some(format!("at most {}{unit}", end(high))),
            (None, None) => None,
        }
    }
}

/// A coach's targets.
#[derive(Debug, Clone, Default)]
pub struct Set {
    pub(super) targets: Vec<Target>,
}

impl Set {
    /// All targets in the order of the file.
    pub fn targets(&self) -> &[Target] {
        &self.targets
    }

    /// The targets of a measure in the order of the file.
    pub fn of<'a>(&'a self, measure: &str) -> impl Iterator<Item = &'a Target> + use<'a> {
        let id = measure.to_owned();
        self.targets.iter().filter(move |target| target.measure.id == id)
    }

    /// The first target of a measure whose conditions a stroke meets.
    pub fn for_stroke(&self, measure: &str, stroke: &Circumstances<'_>) -> Option<&Target> {
        self.of(measure).find(|target| target.is_for(stroke))
    }

    /// The set for a player of this height, cm: limits that grow with the player, to whole centimetres.
    #[must_use]
    pub fn for_height(&self, height_cm: f64) -> Self {
        let mut set = self.clone();
        for target in &mut set.targets {
            let Some(of) = target.height_cm else { continue };
            let scaled = |limit: f64| (limit * height_cm / of).round();
            (target.low, target.high) = (target.low.map(scaled), target.high.map(scaled));
            target.height_cm = Some(height_cm);
        }
        set
    }

    /// Whether a measure is one that the coach looks at whatever the others show.
    pub fn is_primary(&self, measure: &str) -> bool {
        self.of(measure).any(|target| target.primary)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_grow_with_the_player_where_they_say_for_whom_they_are() {
        let text = "[hand_behind_shoulder_cm]\nhigh = 45\nheight_cm = 175\nmargin = 5\nsource = 'x'\n\
                    [stance_width_cm]\nhigh = 60\nsource = 'x'";
        let set = Set::parse(text, "x").unwrap();
        let high = |set: &Set, id: &str| set.of(id).next().unwrap().high;
        let child = set.for_height(140.0);
        assert_eq!(high(&child, "hand_behind_shoulder_cm"), Some(36.0));
        assert_eq!(high(&child, "stance_width_cm"), Some(60.0), "says nothing of a height");
        assert_eq!(high(&set.for_height(175.0), "hand_behind_shoulder_cm"), Some(45.0));
        assert_eq!(high(&child.for_height(175.0), "hand_behind_shoulder_cm"), Some(45.0));
        let error = Set::parse("[knee_bend_deg]\nlow = 1\nheight_cm = 175\nsource = 'x'", "x").unwrap_err();
        assert!(error.to_string().contains("height_cm is for lengths"), "{error}");
    }
}
