//! What to work on and what went well, as the page shows it.

use super::words::{capitalised, counted, title, within};
use super::{Image, PageError};
use crate::draw;
use crate::targets::{Finding, Middle};

/// Something to work on.
pub struct Work<'a> {
    pub title: String,
    pub words: String,
    pub value: String,
    pub strokes: String,
    pub target: String,
    /// What the number's sign or size means.
    pub sign: String,
    pub source: &'a str,
    pub drill: Option<Drill<'a>>,
    pub image: Option<&'a Image>,
    /// The value against its target, as an SVG.
    pub gauge: String,
}

/// What to practise.
pub struct Drill<'a> {
    pub name: String,
    pub text: &'a str,
}

impl<'a> Work<'a> {
    pub fn of(finding: &'a Finding, image: Option<&'a Image>) -> Result<Self, PageError> {
        Ok(Self {
            title: title(finding.measure()),
            words: finding.words(),
            value: within(finding.measure(), finding.middle.median, finding.middle.plus_minus),
            strokes: format!(
                "Outside the target in {} of {}",
                finding.outside,
                counted(finding.middle.strokes, "stroke")
            ),
            target: finding.middle.target.range().unwrap_or_default(),
            sign: capitalised(finding.measure().sign),
            source: &finding.middle.target.source,
            drill: finding.drill().map(|drill| Drill { name: capitalised(&drill.name), text: &drill.text }),
            image,
            gauge: draw::gauge(
                &finding.middle.target,
                finding.middle.median,
                finding.middle.plus_minus,
                finding.middle.grade,
            )?
            .svg,
        })
    }
}

/// Something that went well.
pub struct Well {
    pub title: String,
    pub value: String,
    pub target: String,
}

impl Well {
    pub fn of(met: &Middle) -> Self {
        Self {
            title: title(met.measure()),
            value: within(met.measure(), met.median, met.plus_minus),
            target: met.target.range().unwrap_or_default(),
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
            "One or two strokes are no habit: a finding needs at least three. The numbers are in the table below."
        }
        (_, false) => {
            "Nothing is named, because no number of this clip is sure enough to be held against a target. How to film \
             better is told below."
        }
        (_, true) => {
            "No measure lies surely outside its target. That is no proof that all is well: what is too uncertain, or \
                      was not measured, is not judged."
        }
    }
}
