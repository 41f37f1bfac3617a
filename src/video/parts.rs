//! A clip's pictures thinned out, and single stretches of it: for clips that are too long to be looked at whole.

use std::collections::VecDeque;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use ffmpeg_next::codec::discard::Discard;
use ffmpeg_next::frame;

use super::clip::{Clip, ClipInfo, decoder_threads};
use super::error::{VideoError, printable};
use super::frames::{Frame, Opened};
use super::index::Index;
use super::picture::Converter;
use super::reader::Reader;
use super::repeats::RepeatFinder;
use super::report::{About, ClipReport, Tally};
use crate::units::{FrameIndex, Seconds};

/// At so many pictures a second and more, a thinned clip passes over pictures on which no other depends.
const SKIPPING_RATE: f64 = 48.0;

/// What was decoded of a clip.
struct Source {
    info: ClipInfo,
    index: Arc<Index>,
    reader: Reader,
    converter: Converter,
    decoded: frame::Video,
    about: About,
    size: (u32, u32),
    size_changed: bool,
    interlaced: bool,
}

impl Source {
    fn open(
        path: &Path,
        capture_rate: Option<f64>,
        index: &Arc<Index>,
        threads: usize,
    ) -> Result<Self, VideoError> {
        let clip = Clip::open_on(path, capture_rate, threads)?;
        let Opened { info, reader, first, orientation, about, .. } = clip.opened();
        let (width, height) = match orientation.swaps_sides() {
            true => (info.height, info.width),
            false => (info.width, info.height),
        };
        Ok(Self {
            index: index.clone(),
            reader,
            converter: Converter::new(width, height, orientation),
            size: (first.width(), first.height()),
            decoded: first,
            about,
            size_changed: false,
            interlaced: false,
            info,
        })
    }

    /// Decodes one more picture; its number, or `None` at the end. Pictures that the index doesn't have are passed over, and what lies after its
    /// last one is left.
    fn read(&mut self) -> Option<FrameIndex> {
        while self.reader.read(&mut self.decoded) {
            if self.decoded.timestamp().is_some_and(|stamp| self.index.ends_before(stamp)) {
                return None;
            }
            if let Some(index) = self.current() {
                return Some(index);
            }
        }
        None
    }

    /// The number of the picture that was decoded last.
    fn current(&self) -> Option<FrameIndex> {
        self.decoded.timestamp().and_then(|stamp| self.index.at(stamp))
    }

    /// The picture that was decoded last.
    fn frame(&mut self, index: FrameIndex) -> Result<Frame, VideoError> {
        self.size_changed |= self.size != (self.decoded.width(), self.decoded.height());
        self.interlaced |= self.decoded.is_interlaced();
        let picture = self.converter.convert(&self.decoded).map_err(|error| VideoError::Convert {
            file: printable(&self.info.path),
            frame: index.0,
            reason: error.to_string(),
        })?;
        let damaged = self.decoded.is_corrupt() || self.decoded.has_decode_errors();
        Ok(Frame { index, time: self.index.times()[index.0], picture, duplicate: false, damaged })
    }
}

/// Every so many-th picture of a clip, in order. Whether a picture repeats the one before it is not seen.
pub struct Thinned {
    source: Source,
    /// Time from one picture to the next, at least.
    step: Seconds,
    due: Seconds,
    first_waits: bool,
    ended: bool,
    damaged: usize,
}

impl Thinned {
    /// A clip with about so many pictures a second.
    ///
    /// # Errors
    /// As [`Clip::open`].
    pub fn open(
        path: &Path,
        capture_rate: Option<f64>,
        index: &Arc<Index>,
        rate: f64,
    ) -> Result<Self, VideoError> {
        let mut source = Source::open(path, capture_rate, index, decoder_threads())?;
        let full = source.info.capture_rate;
        let stride = (full / rate).round().max(1.0);
        if full >= SKIPPING_RATE && stride >= 2.0 {
            source.reader.skip(Discard::NonReference);
        }
        // Half a picture's time earlier is meant for it, however the stamps are rounded.
        let step = Seconds((stride - 0.5) / full);
        Ok(Self { source, step, due: Seconds(0.0), first_waits: true, ended: false, damaged: 0 })
    }

    /// What is known of the whole clip after the last picture: times from the container, repeats from the `looked` pictures
    /// that were seen one after the other, `duplicates` of which were repeats.
    pub fn report(&self, looked: usize, duplicates: usize) -> ClipReport {
        let share = if looked > 0 { 1.0 - duplicates as f64 / looked as f64 } else { 1.0 };
        let tally = Tally {
            frames: self.source.index.len(),
            looked,
            duplicates,
            distinct_share: share,
            damaged: self.damaged,
            skipped: self.source.reader.skipped(),
            size_changed: self.source.size_changed,
            interlaced: self.source.interlaced,
            was_cut: self.source.reader.was_cut(),
            ended: self.ended,
            about: self.source.about,
        };
        tally.report(&self.source.info, &self.source.index.timeline)
    }
}

impl Iterator for Thinned {
    type Item = Result<Frame, VideoError>;

    fn next(&mut self) -> Option<Self::Item> {
        while !self.ended {
            let read = if std::mem::take(&mut self.first_waits) {
                self.source.current()
            } else {
                self.source.read()
            };
            let Some(index) = read else {
                self.ended = true;
                break;
            };
            let time = self.source.index.times()[index.0];
            if time >= self.due {
                self.due = time + self.step;
                let frame = self.source.frame(index);
                self.damaged += usize::from(frame.as_ref().is_ok_and(|frame| frame.damaged));
                self.ended = frame.is_err();
                return Some(frame);
            }
        }
        None
    }
}

/// Single stretches of a clip, read by seeking; pictures in order.
pub struct Parts {
    source: Source,
    waiting: VecDeque<Range<usize>>,
    current: Option<Range<usize>>,
    /// Number of the picture that decoding comes to next.
    next: usize,
    repeats: RepeatFinder,
    failed: Option<VideoError>,
}

impl Parts {
    /// The pictures with numbers in these ranges, which neither overlap nor touch, in order.
    ///
    /// # Errors
    /// As [`Clip::open`].
    pub fn open(
        path: &Path,
        capture_rate: Option<f64>,
        index: &Arc<Index>,
        ranges: impl IntoIterator<Item = Range<usize>>,
    ) -> Result<Self, VideoError> {
        Self::open_on(path, capture_rate, index, ranges, decoder_threads())
    }

    /// The same for one of several that are read at the same time: each decodes on one thread, which needs the least memory and
    /// decodes no frame in vain.
    ///
    /// # Errors
    /// As [`Clip::open`].
    pub fn open_beside(
        path: &Path,
        capture_rate: Option<f64>,
        index: &Arc<Index>,
        ranges: impl IntoIterator<Item = Range<usize>>,
    ) -> Result<Self, VideoError> {
        Self::open_on(path, capture_rate, index, ranges, 1)
    }

    fn open_on(
        path: &Path,
        capture_rate: Option<f64>,
        index: &Arc<Index>,
        ranges: impl IntoIterator<Item = Range<usize>>,
        threads: usize,
    ) -> Result<Self, VideoError> {
        let source = Source::open(path, capture_rate, index, threads)?;
        let waiting = ranges.into_iter().filter(|range| !range.is_empty()).collect();
        Ok(Self { source, waiting, current: None, next: 1, repeats: RepeatFinder::default(), failed: None })
    }

    /// Goes to the next range. What lies between is decoded where there is no whole picture in it.
    fn begin(&mut self, range: Range<usize>) {
        if let Some(stamp) = self.source.index.stamp(range.start) {
            self.source.reader.want_from(stamp);
        }
        let (key, _) = self.source.index.begin(range.start);
        if key >= self.next || range.start < self.next {
            self.seek(range.start);
        }
        self.repeats = RepeatFinder::default();
        self.current = Some(range);
    }

    /// Seeks to a whole picture before a picture. Containers are not always where they say they are: where the first
    /// picture lies behind the one that is looked for, an earlier place is tried.
    fn seek(&mut self, picture: usize) {
        let mut from = picture;
        loop {
            let (key, stamp) = self.source.index.begin(from);
            self.source.reader.seek(stamp);
            match self.source.read() {
                Some(found) if found.0 > picture && key > 0 => from = key - 1,
                found => {
                    // What was read is the first of the range already, or lies before it.
                    self.next = found.map_or(self.source.index.len(), |found| found.0);
                    return;
                }
            }
        }
    }

    /// Reads on in the current range.
    fn advance(&mut self, range: &Range<usize>) {
        // After seeking, a picture is decoded already.
        let read = match self.source.current() {
            Some(index) if index.0 == self.next => Some(index),
            _ => self.source.read(),
        };
        let Some(index) = read else {
            self.end_range();
            self.waiting.clear();
            return;
        };
        self.next = index.0 + 1;
        if range.contains(&index.0) {
            match self.source.frame(index) {
                Ok(frame) => self.repeats.push(frame),
                Err(error) => {
                    self.failed = Some(error);
                    self.waiting.clear();
                    self.end_range();
                }
            }
        }
        if index.0 + 1 >= range.end {
            self.end_range();
        }
    }

    fn end_range(&mut self) {
        self.current = None;
        self.repeats.end();
    }
}

impl Iterator for Parts {
    type Item = Result<Frame, VideoError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(frame) = self.repeats.pop() {
                return Some(Ok(frame));
            }
            match self.current.clone() {
                Some(range) => self.advance(&range),
                None => match self.waiting.pop_front() {
                    Some(range) => self.begin(range),
                    None => return self.failed.take().map(Err),
                },
            }
        }
    }
}
