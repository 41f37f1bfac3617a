//! What was not measured and why, and how to film better.

use super::words::capitalised;
use crate::measure::clip::MeasuredStroke;
use crate::measure::{CATALOGUE, Missing};

/// Measures that are missing for one reason.
pub struct Unmeasured {
    pub why: &'static str,
    /// Their names; with the number of strokes where some have a value.
    pub measures: Vec<String>,
}

/// What a warning of too low a frame rate asks for.
const MORE_FRAMES: &str = "film at 120 or more";

/// All reasons, in the order in which they are told.
const REASONS: [Missing; 13] = [
    Missing::Hidden,
    Missing::OutOfFrame,
    Missing::ViewUnsuitable,
    Missing::TooUncertain,
    Missing::FrameRateTooLow,
    Missing::PhaseAbsent,
    Missing::Undefined,
    Missing::Stepped,
    Missing::TwoHands,
    Missing::NoRacket,
    Missing::RacketForeshortened,
    Missing::ForearmForeshortened,
    Missing::NoSuchLandmark,
];

/// A reason in plain words.
const fn why(reason: Missing) -> &'static str {
    match reason {
        Missing::Hidden => "A joint was hidden at that moment",
        Missing::OutOfFrame => "The picture or the clip ends before it",
        Missing::ViewUnsuitable => "This camera's view does not show it",
        Missing::NoRacket => "The racket was not made out",
        Missing::RacketForeshortened => "The racket pointed at the camera or away from it",
        Missing::ForearmForeshortened => "The forearm pointed at the camera or away from it",
        Missing::PhaseAbsent => "That part of the stroke was not seen, or there was none",
        Missing::FrameRateTooLow => "Too few frames a second",
        Missing::NoSuchLandmark => "The body points that are followed don't include it",
        Missing::Undefined => "It has no meaning in this posture",
        Missing::Stepped => "The back foot stepped instead of rising on its toe",
        Missing::TwoHands => "Both hands held the racket",
        Missing::NotForThisKind => "Strokes of this kind have no such thing",
        Missing::TooUncertain => "The number would be too uncertain to be of use",
    }
}

/// What to do about a reason, where the camera can do something.
const fn remedy(reason: Missing) -> Option<&'static str> {
    match reason {
        Missing::Hidden => {
            Some("Keep the player in full sight from head to foot, with nobody and nothing in front.")
        }
        Missing::OutOfFrame => Some(
            "Leave room above the head and to both sides; start before the first stroke and stop after the last finish.",
        ),
        Missing::ViewUnsuitable => Some(
            "Film a second clip from another place: from the side for what goes toward the net, from behind for what goes \
             across.",
        ),
        Missing::FrameRateTooLow => Some("Film at 120 frames a second or more."),
        Missing::PhaseAbsent => {
            Some("Begin each stroke from a quiet ready position and let the finish come to rest.")
        }
        Missing::TooUncertain => {
            Some("Set the camera square to the line of the shot, 8 m away or more, at hip height.")
        }
        Missing::NoRacket => Some(
            "Film in good light, with a short exposure and the whole swing in the frame, so that the racket is not blurred.",
        ),
        Missing::RacketForeshortened
        | Missing::ForearmForeshortened
        | Missing::NoSuchLandmark
        | Missing::NotForThisKind
        | Missing::TwoHands
        | Missing::Stepped
        | Missing::Undefined => None,
    }
}

/// What is missing in most strokes, by reason.
pub fn unmeasured(strokes: &[MeasuredStroke]) -> Vec<Unmeasured> {
    REASONS
        .into_iter()
        .filter_map(|reason| {
            let of_reason = CATALOGUE.iter().enumerate().filter_map(|(place, measure)| {
                let missing = reasons(strokes, place);
                let mainly = REASONS.into_iter().max_by_key(|reason| {
                    // Of two that are equally frequent the one that is told first.
                    (count(&missing, *reason), usize::MAX - place_of(*reason))
                })?;
                // Strokes of other kinds have no such thing to be measured.
                let having = strokes.iter().filter(|s| measure.kinds.contains(&s.stroke.sort())).count();
                let is_told = 2 * missing.len() > having && mainly == reason;
                let all = missing.len() == having;
                let some = format!("{} ({} of {having} strokes)", measure.title, missing.len());
                is_told.then(|| if all { measure.title.to_owned() } else { some })
            });
            let measures: Vec<String> = of_reason.collect();
            (!measures.is_empty()).then_some(Unmeasured { why: why(reason), measures })
        })
        .collect()
}

/// How to film better: what the clip's warnings say, then what would have shown more.
///
/// What a warning asks for already is not asked for twice.
pub fn filming(warnings: &[String], strokes: &[MeasuredStroke], height_given: bool) -> Vec<String> {
    let sentence = |words: &String| format!("{}.", capitalised(words.trim_end_matches('.')));
    let mut lines: Vec<String> = warnings.iter().map(sentence).collect();
    for reason in REASONS {
        let is_met = (0..CATALOGUE.len()).any(|place| count(&reasons(strokes, place), reason) > 0);
        let is_asked = reason == Missing::FrameRateTooLow && warnings.iter().any(|w| w.contains(MORE_FRAMES));
        lines.extend(remedy(reason).filter(|_| is_met && !is_asked).map(str::to_owned));
    }
    if !height_given {
        lines.push("Say how tall the player is: every length depends on it.".to_owned());
    }
    lines
}

fn reasons(strokes: &[MeasuredStroke], place: usize) -> Vec<Missing> {
    let missing = strokes.iter().filter_map(|stroke| stroke.measured.outcomes.get(place)?.err());
    missing.filter(|reason| *reason != Missing::NotForThisKind).collect()
}

fn count(missing: &[Missing], reason: Missing) -> usize {
    missing.iter().filter(|other| **other == reason).count()
}

fn place_of(reason: Missing) -> usize {
    REASONS.iter().position(|other| *other == reason).unwrap_or(REASONS.len())
}
