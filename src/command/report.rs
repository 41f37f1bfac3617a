//! The JSON document of `--json`.

use std::path::Path;

use serde::Serialize;

use super::exit::Failure;
use super::output;
use crate::error::in_full;
use crate::stroke::Boundary;
use crate::table::measures::MeasureRow;
use crate::table::{Notes, Results, rounded, strokes};
use crate::targets::Finding;

/// One clip of the document.
#[derive(Debug, Serialize)]
pub struct ClipReportJson {
    clip: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    folder: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    exit_code: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    about: Option<Notes>,
    strokes: Vec<StrokeJson>,
    findings: Vec<FindingJson>,
}

/// A measure that lies outside its target.
#[derive(Debug, Serialize)]
struct FindingJson {
    measure: &'static str,
    unit: &'static str,
    median: Option<f64>,
    plus_minus: Option<f64>,
    grade: &'static str,
    strokes: usize,
    outside: usize,
    target_low: Option<f64>,
    target_high: Option<f64>,
    words: String,
    drill: Option<String>,
}

#[derive(Debug, Serialize)]
struct StrokeJson {
    stroke: usize,
    kind: &'static str,
    hand: &'static str,
    hands: usize,
    volley: bool,
    view: &'static str,
    stance_kind: Option<&'static str>,
    phases: Vec<BoundaryJson>,
    measures: Vec<MeasureJson>,
}

#[derive(Debug, Serialize)]
struct BoundaryJson {
    boundary: &'static str,
    time_s: Option<f64>,
    plus_minus_ms: Option<f64>,
    method: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct MeasureJson {
    measure: &'static str,
    value: Option<f64>,
    unit: &'static str,
    value_bh: Option<f64>,
    plus_minus: Option<f64>,
    grade: Option<&'static str>,
    method: Option<String>,
    reason: Option<&'static str>,
}

impl ClipReportJson {
    /// A clip that was measured.
    pub fn of(clip: &Path, folder: &Path, results: &Results<'_>, findings: &[Finding]) -> Self {
        Self {
            clip: clip.display().to_string(),
            folder: Some(folder.display().to_string()),
            error: None,
            exit_code: None,
            about: Some(Notes::of(results)),
            strokes: strokes::rows(results).map(stroke).collect(),
            findings: findings.iter().map(finding).collect(),
        }
    }

    /// A clip that was not.
    pub fn failed(clip: &Path, error: &Failure) -> Self {
        Self {
            clip: clip.display().to_string(),
            folder: None,
            error: Some(output::one_line(&in_full(error))),
            exit_code: Some(error.exit() as u8),
            about: None,
            strokes: Vec::new(),
            findings: Vec::new(),
        }
    }

    /// What a person should know before believing the numbers.
    pub fn warnings(&self) -> &[String] {
        self.about.as_ref().map_or(&[], |notes| &notes.warnings)
    }
}

/// The document as text.
///
/// # Errors
/// Where it can't be encoded.
pub fn document(clips: &[ClipReportJson]) -> serde_json::Result<String> {
    #[derive(Serialize)]
    struct Document<'a> {
        clips: &'a [ClipReportJson],
    }
    let mut text = serde_json::to_string_pretty(&Document { clips })?;
    text.push('\n');
    Ok(text)
}

fn stroke(row: strokes::StrokeRow<'_>) -> StrokeJson {
    let stroke = &row.found.stroke;
    let boundary = |(i, boundary): (usize, Boundary)| {
        let mark = stroke.phases.get(boundary);
        let plus_minus = mark.and(row.found.measured.boundaries[i]);
        BoundaryJson {
            boundary: boundary.name(),
            time_s: mark.map(|mark| rounded(mark.time.0, 3)),
            plus_minus_ms: plus_minus.map(|time| rounded(time.milliseconds(), 0)),
            method: mark.map(|mark| mark.method.name()),
        }
    };
    StrokeJson {
        stroke: row.number,
        kind: stroke.kind.name(),
        hand: stroke.motion.hand.name(),
        hands: stroke.hands.count(),
        volley: stroke.volley,
        view: stroke.motion.direction.view.name(),
        stance_kind: stroke.stance.map(crate::stroke::Stance::name),
        phases: Boundary::ALL.into_iter().enumerate().map(boundary).collect(),
        measures: MeasureRow::of(row).map(|row| measure(&row)).collect(),
    }
}

fn finding(finding: &Finding) -> FindingJson {
    let digits = |value: f64| finding.measure().format(value).parse().ok();
    FindingJson {
        measure: finding.measure().id,
        unit: finding.measure().unit.ucum(),
        median: digits(finding.middle.median),
        plus_minus: digits(finding.middle.plus_minus),
        grade: finding.middle.grade.name(),
        strokes: finding.middle.strokes,
        outside: finding.outside,
        target_low: finding.middle.target.low,
        target_high: finding.middle.target.high,
        words: finding.words(),
        drill: finding.drill().map(|drill| drill.name.clone()),
    }
}

fn measure(row: &MeasureRow<'_>) -> MeasureJson {
    let found = row.outcome.ok();
    MeasureJson {
        measure: row.measure.id,
        // The same digits as in the tables.
        value: found.and_then(|found| row.measure.format(found.value).parse().ok()),
        unit: row.measure.unit.ucum(),
        value_bh: row.body_heights().map(|share| rounded(share, 4)),
        plus_minus: row.plus_minus().and_then(|text| text.parse().ok()),
        grade: found.map(|found| found.grade.name()),
        method: row.method(),
        reason: row.reason(),
    }
}
