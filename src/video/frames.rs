//! The stream of a clip's frames.

use ffmpeg_next::frame;

use super::clip::{ClipInfo, LONGEST_SIDE};
use super::error::{VideoError, shown};
use super::picture::{Converter, Picture};
use super::reader::Reader;
use super::repeats::RepeatFinder;
use super::report::ClipReport;
use super::rotation::Orientation;
use super::timeline::Timeline;
use crate::units::{FrameIndex, Seconds};

/// A track that ends within so many intervals of its stated end is whole.
const END_TOLERANCE_INTERVALS: f64 = 2.5;

/// Where only the whole file's duration is known, sound may outlast the pictures by this much (seconds).
const FILE_END_TOLERANCE: f64 = 1.0;

/// Repeats are worth a warning from this share of the frames on.
const NOTABLE_REPEATS: f64 = 0.02;

/// One picture of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Position in the clip, from 0 in order of presentation.
    pub index: FrameIndex,
    /// Real time since the first picture: the container's, with slow motion undone. Always increases.
    pub time: Seconds,
    /// The upright picture.
    pub picture: Picture,
    /// Whether the picture repeats the one before, as when material of 24 frames/s is stored at 30.
    pub duplicate: bool,
    /// Whether the decoder met damaged data in this picture.
    pub damaged: bool,
}

/// What opening a clip leaves for reading it.
pub(super) struct Opened {
    pub info: ClipInfo,
    pub reader: Reader,
    pub first: frame::Video,
    pub orientation: Orientation,
    /// Seconds a tick of the container's clock; 0 where unknown.
    pub tick: f64,
    pub rate_is_assumed: bool,
    /// Whether the stated duration is the picture track's own.
    pub duration_is_exact: bool,
}

/// A clip's frames in order of presentation. After the last one, or an error, the iterator stays at its end.
pub struct Frames {
    info: ClipInfo,
    reader: Reader,
    decoded: frame::Video,
    /// Whether `decoded` holds the first picture, not yet handed on.
    first_waits: bool,
    converter: Converter,
    timeline: Timeline,
    repeats: RepeatFinder,
    failed: Option<VideoError>,
    ended: bool,
    next_index: usize,
    stored_size: (u32, u32),
    size_changed: bool,
    interlaced: bool,
    rate_is_assumed: bool,
    duration_is_exact: bool,
    counts: Counts,
}

/// Frames handed out so far.
#[derive(Default)]
struct Counts {
    frames: usize,
    duplicates: usize,
    damaged: usize,
    unusable: usize,
}

impl Frames {
    pub(super) fn new(opened: Opened) -> Self {
        let Opened { info, reader, first, orientation, tick, rate_is_assumed, duration_is_exact } = opened;
        let (width, height) = match orientation.swaps_sides() {
            true => (info.height, info.width),
            false => (info.width, info.height),
        };
        Self {
            reader,
            stored_size: (first.width(), first.height()),
            decoded: first,
            first_waits: true,
            converter: Converter::new(width, height, orientation),
            timeline: Timeline::new(tick, info.stored_rate, info.capture_rate),
            repeats: RepeatFinder::default(),
            failed: None,
            ended: false,
            next_index: 0,
            size_changed: false,
            interlaced: false,
            rate_is_assumed,
            duration_is_exact,
            counts: Counts::default(),
            info,
        }
    }

    /// What is known of the clip.
    pub fn info(&self) -> &ClipInfo {
        &self.info
    }

    /// Decodes one more picture into the finder of repeats, or ends the clip.
    fn advance(&mut self) {
        let file = || shown(&self.info.path);
        if !std::mem::take(&mut self.first_waits) && !self.reader.read(&mut self.decoded) {
            self.ended = true;
            self.repeats.end();
            return;
        }
        let size = (self.decoded.width(), self.decoded.height());
        if size.0.max(size.1) > LONGEST_SIDE || size.0.min(size.1) == 0 {
            self.counts.unusable += 1;
            return;
        }
        self.size_changed |= size != self.stored_size;
        self.interlaced |= self.decoded.is_interlaced();
        let time = self.timeline.next(self.decoded.timestamp());
        match self.converter.convert(&self.decoded) {
            Ok(picture) => {
                let damaged = self.decoded.is_corrupt() || self.decoded.has_decode_errors();
                let index = FrameIndex(self.next_index);
                self.next_index += 1;
                self.repeats.push(Frame { index, time, picture, duplicate: false, damaged });
            }
            Err(error) => {
                self.failed = Some(VideoError::Convert {
                    file: file(),
                    frame: self.next_index,
                    reason: error.to_string(),
                });
                self.ended = true;
                self.repeats.end();
            }
        }
    }

    /// What reading has shown so far; complete after the last frame.
    pub fn report(&self) -> ClipReport {
        let mut report = ClipReport {
            frames: self.counts.frames,
            duplicates: self.counts.duplicates,
            damaged: self.counts.damaged,
            skipped: self.reader.skipped() + self.counts.unusable,
            repaired_times: self.timeline.repaired(),
            clock_restarts: self.timeline.restarts(),
            stored_end: self.timeline.stored_end(),
            variable_rate: self.timeline.is_variable(),
            median_interval: self.timeline.median_interval(),
            truncated: self.ended && self.is_truncated(),
            warnings: Vec::new(),
        };
        report.warnings = self.warnings(&report);
        report
    }

    /// Whether the clip breaks off early. Counting pictures is not enough: a clip that was trimmed on the phone still
    /// states its old count, and damaged pictures are missing without the end being so.
    fn is_truncated(&self) -> bool {
        if self.reader.was_cut() {
            return true;
        }
        let Some(stated) = self.info.stated_duration else { return false };
        let mut tolerance = self.timeline.stored_interval().0 * END_TOLERANCE_INTERVALS;
        if !self.duration_is_exact {
            tolerance = tolerance.max(FILE_END_TOLERANCE);
        }
        self.timeline.stored_end().0 < stated.0 - tolerance
    }

    fn warnings(&self, report: &ClipReport) -> Vec<String> {
        let mut warnings = Vec::new();
        let frames = report.frames;
        if report.truncated {
            let stated = match self.info.stated_frames {
                Some(stated) => format!(" of {stated}"),
                None => String::new(),
            };
            warnings.push(format!(
                "the clip breaks off before its stated end ({frames}{stated} pictures read); copy it from the \
                 camera again if the rest matters"
            ));
        }
        if report.skipped > 0 {
            warnings.push(format!("{} damaged pictures were left out; times stay right", report.skipped));
        }
        if report.damaged > 0 {
            warnings.push(format!("{} of {frames} pictures are damaged and may mislead", report.damaged));
        }
        if report.duplicates as f64 >= NOTABLE_REPEATS * frames as f64 && report.duplicates > 0 {
            warnings.push(format!(
                "{} of {frames} pictures repeat the one before: the camera probably recorded about {:.0} frames/s, \
                 stored as {:.0}; use the original file if there is one",
                report.duplicates,
                self.info.capture_rate * self.repeats.distinct_share(),
                self.info.capture_rate,
            ));
        }
        if report.variable_rate {
            warnings.push("the pictures come at uneven intervals; their own times are used".to_owned());
        }
        if report.repaired_times > 0 {
            warnings.push(format!(
                "{} timestamps were missing or out of order and were filled in",
                report.repaired_times
            ));
        }
        if self.rate_is_assumed {
            warnings.push(format!(
                "the file does not state its frame rate; {} frames/s is assumed where times are missing",
                self.info.stored_rate
            ));
        }
        if self.size_changed {
            warnings.push(
                "the picture size changes midway; all pictures are scaled to the first one's".to_owned(),
            );
        }
        if self.interlaced {
            warnings.push(
                "the clip is interlaced, fast motion shows combed edges; deinterlace it first".to_owned(),
            );
        }
        warnings
    }
}

impl Iterator for Frames {
    type Item = Result<Frame, VideoError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(frame) = self.repeats.pop() {
                self.counts.frames += 1;
                self.counts.duplicates += usize::from(frame.duplicate);
                self.counts.damaged += usize::from(frame.damaged);
                return Some(Ok(frame));
            }
            if self.ended {
                return self.failed.take().map(Err);
            }
            self.advance();
        }
    }
}

impl std::iter::FusedIterator for Frames {}
