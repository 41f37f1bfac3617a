//! Reading targets from TOML: measure → one entry, or several with conditions of which the first that fits counts.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

use super::set::{KINDS, STANCES};
use super::{Conditions, DRILLS, EXERCISES, Exercise, GRIPS, Set, Shipped, Target, TargetError};
use crate::measure::Measure;

/// The key that holds exercises instead of a measure's targets.
const KEY: &str = "drills";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    low: Option<f64>,
    high: Option<f64>,
    height_cm: Option<f64>,
    margin: Option<f64>,
    #[serde(default)]
    primary: bool,
    #[serde(default)]
    conditions: RawConditions,
    unless: Option<String>,
    words: Option<Words>,
    drill: Option<String>,
    source: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RawConditions {
    kind: OneOrMore,
    stance: OneOrMore,
    grip: OneOrMore,
    drill: OneOrMore,
}

/// One word or several.
#[derive(Deserialize, Default)]
#[serde(untagged)]
enum OneOrMore {
    #[default]
    None,
    One(String),
    Several(Vec<String>),
}

impl OneOrMore {
    fn into_vec(self) -> Vec<String> {
        match self {
            Self::None => Vec::new(),
            Self::One(word) => vec![word],
            Self::Several(words) => words,
        }
    }
}

/// What to say, for both sides or for each.
#[derive(Deserialize)]
#[serde(untagged)]
enum Words {
    Both(String),
    Each { low: Option<String>, high: Option<String> },
}

impl Set {
    /// A shipped set.
    ///
    /// # Errors
    /// None: a test reads both. The error is there so that nothing has to panic.
    pub fn shipped(set: Shipped) -> Result<Self, TargetError> {
        Self::parse(&set.text(), set.name())
    }

    /// The set that somebody has asked for: a shipped one by its name, else a file's; the usual one for nothing.
    ///
    /// # Errors
    /// [`TargetError`].
    pub fn asked_for(name: Option<&Path>) -> Result<Self, TargetError> {
        match name.map(|path| (path, path.to_str().and_then(Shipped::named))) {
            None => Self::shipped(Shipped::ALL[0]),
            Some((_, Some(set))) => Self::shipped(set),
            Some((path, None)) => Self::read(path),
        }
    }

    /// Reads a set. It stands alone: measures that it doesn't name have no target. Exercises of the shipped set can be
    /// named in it.
    ///
    /// # Errors
    /// [`TargetError`].
    pub fn read(path: &Path) -> Result<Self, TargetError> {
        let text = std::fs::read_to_string(path)
            .map_err(|source| TargetError::Read { path: path.to_owned(), source })?;
        Self::parse(&text, &path.display().to_string())
    }

    /// Reads a set from text; `name` is for messages.
    ///
    /// # Errors
    /// [`TargetError`].
    pub fn parse(text: &str, name: &str) -> Result<Self, TargetError> {
        let exercises = exercises(EXERCISES, name)?.into_iter().chain(exercises(text, name)?).collect();
        let document = document(text, name)?;
        // The document's map is sorted; the order of the file decides which of several targets fits first and is what a
        // coach expects in lists.
        let mut keys: Vec<&String> = document.keys().filter(|key| *key != KEY).collect();
        keys.sort_by_key(|key| Measure::place(key.as_str()));
        let mut targets = Vec::new();
        for key in keys {
            let wrong = |why: String| TargetError::Entry {
                name: name.to_owned(),
                entry: key.clone(),
                why: why.trim().replace('\n', " "),
            };
            let measure = Measure::find(key)
                .ok_or_else(|| wrong("is no measure; `toeline explain` lists all".to_owned()))?;
            let entries = match document[key].clone() {
                toml::Value::Array(entries) => entries,
                entry => vec![entry],
            };
            for entry in entries {
                let entry = Entry::deserialize(entry).map_err(|error| wrong(error.to_string()))?;
                targets.push(target(measure, entry, &exercises).map_err(wrong)?);
            }
        }
        Ok(Self { targets })
    }
}

fn document(text: &str, name: &str) -> Result<toml::Table, TargetError> {
    text.parse::<toml::Table>().map_err(|error| TargetError::Form {
        name: name.to_owned(),
        why: error.to_string().trim().replace('\n', " "),
    })
}

fn exercises(text: &str, name: &str) -> Result<BTreeMap<String, String>, TargetError> {
    let Some(value) = document(text, name)?.remove(KEY) else { return Ok(BTreeMap::new()) };
    BTreeMap::deserialize(value).map_err(|_| TargetError::Entry {
        name: name.to_owned(),
        entry: KEY.to_owned(),
        why: "must be names of exercises, each with a text".to_owned(),
    })
}

fn target(
    measure: &'static Measure,
    entry: Entry,
    exercises: &BTreeMap<String, String>,
) -> Result<Target, String> {
    for (name, value) in [("low", entry.low), ("high", entry.high), ("margin", entry.margin)] {
        if value.is_some_and(|value| !value.is_finite()) {
            return Err(format!("{name} must be a number"));
        }
    }
    if entry.low.zip(entry.high).is_some_and(|(low, high)| low > high) {
        return Err("low is above high".to_owned());
    }
    if entry.margin.is_some_and(|margin| margin <= 0.0) {
        return Err("margin must be above 0".to_owned());
    }
    if entry.height_cm.is_some_and(|height| !(80.0..=250.0).contains(&height)) {
        return Err("height_cm must be between 80 and 250".to_owned());
    }
    if entry.height_cm.is_some() && !measure.is_length() {
        return Err(format!("height_cm is for lengths; {} does not grow with the player", measure.id));
    }
    if entry.low.is_none() && entry.high.is_none() && entry.margin.is_none() {
        return Err("needs low, high or margin".to_owned());
    }
    if entry.source.trim().is_empty() {
        return Err("needs a source, such as \"coaching convention\"".to_owned());
    }
    let (too_low, too_high) = match entry.words {
        None => (None, None),
        Some(Words::Both(words)) => (entry.low.map(|_| words.clone()), entry.high.map(|_| words.clone())),
        Some(Words::Each { low, high }) => (low, high),
    };
    let unless = entry
        .unless
        .map(|id| {
            Measure::find(&id).ok_or(format!("unless: {id} is no measure; `toeline explain` lists all"))
        })
        .transpose()?;
    Ok(Target {
        measure,
        low: entry.low,
        high: entry.high,
        height_cm: entry.height_cm,
        margin: entry.margin,
        primary: entry.primary,
        conditions: conditions(entry.conditions)?,
        unless,
        too_low,
        too_high,
        drill: entry.drill.map(|drill| exercise(drill, exercises)),
        source: entry.source,
    })
}

fn conditions(raw: RawConditions) -> Result<Conditions, String> {
    let known = |name: &str, words: OneOrMore, list: &[&str]| {
        let words = words.into_vec();
        match words.iter().find(|word| !list.contains(&word.as_str())) {
            Some(word) => {
                Err(format!("condition {name}: there is no `{word}`; it can be {}", list.join(", ")))
            }
            None => Ok(words),
        }
    };
    Ok(Conditions {
        kind: known("kind", raw.kind, &KINDS)?,
        stance: known("stance", raw.stance, &STANCES)?,
        grip: known("grip", raw.grip, &GRIPS)?,
        drill: known("drill", raw.drill, &DRILLS)?,
    })
}

/// The exercise of this name, or one whose name says all.
fn exercise(name: String, exercises: &BTreeMap<String, String>) -> Exercise {
    let text = exercises.get(&name).cloned().unwrap_or_default();
    Exercise { name, text: text.split_whitespace().collect::<Vec<_>>().join(" ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_sets_are_whole() {
        for target in Shipped::ALL.iter().flat_map(|set| Set::shipped(*set).unwrap().targets) {
            let id = target.measure.id;
            assert!(target.margin.is_some(), "{id} has no margin");
            assert_eq!(target.too_low.is_some(), target.low.is_some(), "words for low of {id}");
            assert_eq!(target.too_high.is_some(), target.high.is_some(), "words for high of {id}");
            if target.range().is_some() {
                assert!(target.drill.as_ref().is_some_and(|d| d.text.len() > 40), "{id} has no exercise");
            }
        }
        for name in ["shadow swing", "drop feed", "hand feed", "short hop takeback", "slow-motion lag"] {
            assert!(exercises(EXERCISES, "").unwrap().contains_key(name), "{name}");
        }
        assert!(exercises(EXERCISES, "").unwrap().contains_key("two-beat weight transfer"));
        // More lag is no goal: nothing asks for a larger angle.
        let set = Set::shipped(Shipped::Drill).unwrap();
        assert!(set.of("lag_peak_deg").next().is_none() && set.of("hand_angle_peak_deg").next().is_none());
    }

    #[test]
    fn a_set_is_found_by_its_name_and_a_file_by_its_path() {
        let high = |name: Option<&str>| {
            let set = Set::asked_for(name.map(Path::new)).unwrap();
            set.of("hand_behind_shoulder_cm").next().unwrap().high
        };
        assert_eq!((high(None), high(Some("drill"))), (high(Some("club")), Some(10.0)));
        assert!(high(None) > high(Some("drill")), "what a club player does is no strict aim");
        assert!(Set::asked_for(Some(Path::new("./club"))).is_err(), "a file of that name");
    }

    #[test]
    fn faults_are_named_with_their_entry() {
        for (text, part) in [
            ("hand_behind_sholder_cm = { high = 3, source = 'x' }", "is no measure"),
            ("[stance_width_cm]\nhigh = 3\nlow = 5\nsource = 'x'", "low is above high"),
            ("[stance_width_cm]\nsource = 'x'", "needs low, high or margin"),
            ("[stance_width_cm]\nhigh = nan\nsource = 'x'", "high must be a number"),
            ("[stance_width_cm]\nhigh = 3\nmargin = 0\nsource = 'x'", "margin"),
            ("[stance_width_cm]\nhigh = 3", "source"),
            ("[stance_width_cm]\nhigh = 3\nhihg = 3\nsource = 'x'", "hihg"),
            ("[stance_width_cm]\nhigh = 3\nsource = 'x'\nconditions.grip = 'hammer'", "semi-western"),
            ("[stance_width_cm\nhigh", "explain targets"),
        ] {
            let error = Set::parse(text, "mine.toml").unwrap_err().to_string();
            assert!(error.contains("mine.toml") && error.contains(part), "{error}");
            assert!(!error.contains('\n'), "{error}");
        }
    }

    #[test]
    fn the_first_target_that_fits_counts() {
        let text = "[[contact_level]]\nlow = 0.5\nsource = 'a'\nconditions = { grip = ['western'], kind = 'forehand' }\n\
                    [[contact_level]]\nlow = 0.1\nsource = 'b'";
        let set = Set::parse(text, "x").unwrap();
        let stroke = |grip| Circumstances { kind: "forehand", grip, ..Circumstances::default() };
        let low = |grip| set.for_stroke("contact_level", &stroke(grip)).unwrap().low;
        assert_eq!(
            (low(Some("western")), low(Some("eastern")), low(None)),
            (Some(0.5), Some(0.1), Some(0.1))
        );
    }

    use super::super::Circumstances;
}
