//! What reading a clip has shown, for the person and for the notes beside the numbers.

use serde::{Deserialize, Serialize};

use super::clip::ClipInfo;
use super::timeline::Timeline;
use crate::units::Seconds;

/// A track that ends within so many intervals of its stated end is whole.
const END_TOLERANCE_INTERVALS: f64 = 2.5;

/// Where only the whole file's duration is known, sound may outlast the pictures by this much (seconds).
const FILE_END_TOLERANCE: f64 = 1.0;

/// Repeats are worth a warning from this share of the frames on.
const NOTABLE_REPEATS: f64 = 0.02;

/// What reading a clip has shown. Complete once the last frame has been taken.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ClipReport {
    /// Frames handed out.
    pub frames: usize,
    /// Frames that repeat the one before.
    pub duplicates: usize,
    /// Frames that were decoded from damaged data and may look wrong.
    pub damaged: usize,
    /// Packets that could not be decoded at all; their pictures are missing.
    pub skipped: usize,
    /// Timestamps that were missing or did not increase, and were filled in.
    pub repaired_times: usize,
    /// Times at which the container's clock leapt, as where files were joined.
    pub clock_restarts: usize,
    /// When the last picture gives way, in stored time (slow motion not undone).
    pub stored_end: Seconds,
    /// Whether the pictures come at uneven intervals.
    pub variable_rate: bool,
    /// The middle one of the intervals between frames, in real time; `None` for a single frame.
    pub median_interval: Option<Seconds>,
    /// Whether the clip breaks off before its stated end.
    pub truncated: bool,
    /// The above in words where a person should know of it, one line each.
    pub warnings: Vec<String>,
}

/// What opening has shown of a file's own words.
#[derive(Debug, Clone, Copy)]
pub(super) struct About {
    /// Whether the file doesn't state its rate.
    pub rate_is_assumed: bool,
    /// Whether the stated duration is the picture track's own.
    pub duration_is_exact: bool,
}

/// What was counted while a clip was read.
#[derive(Debug)]
pub(super) struct Tally {
    pub frames: usize,
    /// Frames of which it was seen whether they repeat the one before.
    pub looked: usize,
    pub duplicates: usize,
    /// Share of distinct pictures where the scene moves.
    pub distinct_share: f64,
    pub damaged: usize,
    pub skipped: usize,
    pub size_changed: bool,
    pub interlaced: bool,
    /// Whether the file broke off within a packet.
    pub was_cut: bool,
    /// Whether the clip was read to its end.
    pub ended: bool,
    pub about: About,
}

impl Tally {
    /// The whole as a report.
    pub(super) fn report(&self, info: &ClipInfo, timeline: &Timeline) -> ClipReport {
        let mut report = ClipReport {
            frames: self.frames,
            duplicates: self.duplicates,
            damaged: self.damaged,
            skipped: self.skipped,
            repaired_times: timeline.repaired(),
            clock_restarts: timeline.restarts(),
            stored_end: timeline.stored_end(),
            variable_rate: timeline.is_variable(),
            median_interval: timeline.median_interval(),
            truncated: self.ended && self.is_truncated(info, timeline),
            warnings: Vec::new(),
        };
        report.warnings = self.warnings(info, &report);
        report
    }

    /// Whether the clip breaks off early. Counting pictures is not enough: a clip that was trimmed on the phone still
    /// states its old count, and damaged pictures are missing without the end being so.
    fn is_truncated(&self, info: &ClipInfo, timeline: &Timeline) -> bool {
        if self.was_cut {
            return true;
        }
        let Some(stated) = info.stated_duration else { return false };
        let mut tolerance = timeline.stored_interval().0 * END_TOLERANCE_INTERVALS;
        if !self.about.duration_is_exact {
            tolerance = tolerance.max(FILE_END_TOLERANCE);
        }
        timeline.stored_end().0 < stated.0 - tolerance
    }

    fn warnings(&self, info: &ClipInfo, report: &ClipReport) -> Vec<String> {
        let mut warnings = Vec::new();
        let (frames, looked) = (report.frames, self.looked);
        if report.truncated {
            let stated = match info.stated_frames {
                Some(stated) => format!(" of {stated}"),
                None => String::new(),
            };
            warnings.push(format!(
                "the clip breaks off before its stated end ({frames}{stated} frames read); copy it from the camera again \
                 if the rest matters"
            ));
        }
        if report.skipped > 0 {
            warnings.push(format!(
                "{} damaged frames were left out; the times of the others are right",
                report.skipped
            ));
        }
        if report.damaged > 0 {
            warnings.push(format!("{} of {frames} frames are damaged and may mislead", report.damaged));
        }
        if report.duplicates as f64 >= NOTABLE_REPEATS * looked as f64 && report.duplicates > 0 {
            warnings.push(format!(
                "{} of {looked} frames repeat the one before: the camera probably filmed at about {:.0} frames per second, \
                 stored as {:.0}; use the original file if there is one",
                report.duplicates,
                info.capture_rate * self.distinct_share,
                info.capture_rate,
            ));
        }
        if report.variable_rate {
            warnings.push("the frames come at uneven intervals; their own times are used".to_owned());
        }
        if report.repaired_times > 0 {
            warnings.push(format!(
                "{} timestamps were missing or out of order and were filled in",
                report.repaired_times
            ));
        }
        if self.about.rate_is_assumed {
            warnings.push(format!(
                "the file does not state its frame rate; {} frames per second are assumed where times are missing",
                info.stored_rate
            ));
        }
        if self.size_changed {
            warnings.push(
                "the frame size changes midway; all frames are scaled to the size of the first".to_owned(),
            );
        }
        if self.interlaced {
            warnings.push(
                "the clip is interlaced, so fast motion has combed edges; deinterlace it first".to_owned(),
            );
        }
        warnings
    }
}
