//! What to work on and what went well, as the page shows it.

use super::words::{capitalised, counted, title};
use super::{Image, PageError};
use crate::draw;
use crate::targets::reference::reference;
use crate::targets::{Finding, Middle};

/// How often a drill is worth doing.
const PRACTICE: &str = "Two or three times a week, about ten minutes, before you play.";

/// When to look again.
const CHECK: &str = "Film again in two or three weeks, from the same place and with the same drill.";

/// Something to work on.
pub struct Work<'a> {
    pub title: String,
    pub words: String,
    /// The number in words, the range in which it surely lies, and the aim.
    pub value: String,
    pub range: String,
    pub aim: String,
    pub strokes: String,
    /// Where recorded players are, where that is known.
    pub beside: String,
    pub source: &'a str,
    pub drill: Option<Drill<'a>>,
    /// When to look again, and at what.
    pub check: String,
    pub image: Option<&'a Image>,
    /// The value against its target, as an SVG.
    pub gauge: String,
}

/// What to practise.
pub struct Drill<'a> {
    pub name: String,
    pub text: &'a str,
    pub practice: &'static str,
}

impl<'a> Work<'a> {
    pub fn of(finding: &'a Finding, image: Option<&'a Image>, height_cm: f64) -> Result<Self, PageError> {
        let Middle { target, median, plus_minus, grade, strokes, .. } = &finding.middle;
        let measure = finding.measure();
        let value = measure.spoken(*median);
        let aim = measure.spoken_range(target.low, target.high).unwrap_or_default();
        Ok(Self {
            title: title(measure),
            words: finding.words(),
            range: measure.spoken_pair(median - plus_minus, median + plus_minus).join(" and "),
            strokes: format!("Outside the target in {} of {}", finding.outside, counted(*strokes, "stroke")),
            beside: reference(measure, finding.kind(), height_cm)
                .map(|found| found.beside(measure, *median, *plus_minus))
                .unwrap_or_default(),
            source: &target.source,
            drill: finding.drill().map(|drill| Drill {
                name: capitalised(&drill.name),
                text: &drill.text,
                practice: PRACTICE,
            }),
            check: format!("{CHECK} The number to watch: {}, now {value}; aim: {aim}.", measure.title),
            image,
            gauge: draw::gauge(target, *median, *plus_minus, *grade)?.svg,
            value,
            aim,
        })
    }
}

/// Something that went well.
pub struct Well {
    pub title: String,
    pub value: String,
    pub aim: String,
}

impl Well {
    pub fn of(met: &Middle) -> Self {
        let measure = met.measure();
        Self {
            title: title(measure),
            value: measure.spoken(met.median),
            aim: measure.spoken_range(met.target.low, met.target.high).unwrap_or_default(),
        }
    }
}

/// Why there is nothing to work on, in words that don't praise what was not seen.
pub fn why_none(strokes: usize, fit: bool) -> &'static str {
    match (strokes, fit) {
        (0, _) => {
            "No stroke was found in this clip, so there is nothing to judge. How to film better is told below."
        }
        (1 | 2, _) => {
            "One or two strokes are no habit, so nothing is called a fault: that needs at least three. Film five or more in a row."
        }
        (_, false) => {
            "Nothing is named, because no number of this clip is sure enough to be held against a target. How to film \
             better is told below."
        }
        (_, true) => {
            "No measure is clearly outside its target. That is no proof that all is well: what is too uncertain, was not \
             measured or has no target is not judged."
        }
    }
}
