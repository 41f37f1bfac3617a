//! The stream of a clip's frames.

use ffmpeg_next::frame;

use super::clip::{ClipInfo, LONGEST_SIDE};
use super::error::{VideoError, printable};
use super::picture::{Converter, Picture};
use super::reader::Reader;
use super::repeats::RepeatFinder;
use super::report::{About, ClipReport, Tally};
use super::rotation::Orientation;
use super::timeline::Timeline;
use crate::units::{FrameIndex, Seconds};

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
    pub about: About,
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
    about: About,
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
        let Opened { info, reader, first, orientation, tick, about } = opened;
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
            about,
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
        let file = || printable(&self.info.path);
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
        let tally = Tally {
            frames: self.counts.frames,
            looked: self.counts.frames,
            duplicates: self.counts.duplicates,
            distinct_share: self.repeats.distinct_share(),
            damaged: self.counts.damaged,
            skipped: self.reader.skipped() + self.counts.unusable,
            size_changed: self.size_changed,
            interlaced: self.interlaced,
            was_cut: self.reader.was_cut(),
            ended: self.ended,
            about: self.about,
        };
        tally.report(&self.info, &self.timeline)
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

/// The same frames for somebody else to look at, each shown to `see` first; those that can't be read are passed on unseen.
pub fn seen_first<'l, E>(
    frames: &'l mut impl Iterator<Item = Result<Frame, E>>,
    mut see: impl FnMut(&Frame) + 'l,
) -> impl Iterator<Item = Result<Frame, E>> {
    frames.inspect(move |frame| {
        if let Ok(frame) = frame {
            see(frame);
        }
    })
}
