//! What a person's corrections have changed, in words.

use serde::Serialize;

use super::given::Given;
use crate::stroke::{Corrections, CourtPoint};
use crate::units::{Metres, Seconds};

/// Something that a person has corrected, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// The stroke's number; none for what concerns the whole clip.
    pub stroke: Option<usize>,
    /// What was corrected, as marks name it.
    pub event: &'static str,
    /// What was found without the correction, where that is known.
    pub before: Option<String>,
    /// What was said.
    pub after: String,
    /// How far a time was moved.
    #[serde(skip)]
    pub shift: Option<Seconds>,
}

impl Corrected {
    pub(super) fn of_stroke(
        number: usize,
        event: &'static str,
        before: Option<String>,
        after: String,
    ) -> Self {
        Self { stroke: Some(number), event, before, after, shift: None }
    }

    /// What was corrected as a line for a person.
    pub fn line(&self) -> String {
        let whose = self.stroke.map_or_else(String::new, |number| format!(" of stroke {number}"));
        let before = self.before.as_ref().map_or_else(String::new, |before| format!("{before} → "));
        format!("{}{whose}: {before}{}", self.event, self.after)
    }
}

/// What is corrected for all strokes at once.
pub(super) fn of_the_whole_clip(said: &Corrections, given: Given<'_>) -> Vec<Corrected> {
    let centimetres = |height: Metres| format!("{:.0} cm", 100.0 * height.0);
    let whole = |event, before, after| Corrected { stroke: None, event, before, after, shift: None };
    let mut lines = Vec::new();
    if let Some(hand) = said.hand {
        lines.push(whole(
            "hand",
            given.stated.hand.map(|hand| hand.name().to_owned()),
            hand.name().to_owned(),
        ));
    }
    if let Some(height) = said.height {
        lines.push(whole("scale", given.stated.height.map(centimetres), centimetres(height)));
    }
    for tip in &said.racket_tips {
        lines.push(whole("racket_tip", None, format!("{:.0},{:.0} in {}", tip.at.x, tip.at.y, tip.frame)));
    }
    for point in &said.court_points {
        let CourtPoint { spot, frame, at } = point;
        lines.push(whole(
            "court_point",
            None,
            format!("{} at {:.0},{:.0} in {frame}", spot.name, at.x, at.y),
        ));
    }
    lines
}
