//! Every picture of a clip by its number, from the container alone: so that single stretches can be read without decoding what
//! lies before them.

use ffmpeg_next::packet::Flags;
use ffmpeg_next::{Packet, media};

use super::clip::{ClipInfo, open_container, ratio};
use super::error::{VideoError, printable};
use super::raw;
use super::timeline::Timeline;
use crate::units::{FrameIndex, Seconds};

/// Numbers and times of a clip's pictures.
#[derive(Debug)]
pub struct Index {
    /// The container's stamps in order of presentation.
    stamps: Vec<i64>,
    times: Vec<Seconds>,
    /// Numbers of the pictures that can be decoded without those before them, and that are pictures whole.
    keys: Vec<usize>,
    /// What is known of times from the stamps alone.
    pub(super) timeline: Timeline,
}

impl Index {
    /// Reads the container through without decoding. `None` where its stamps don't tell one picture from another, where
    /// they leap, or where packets are damaged: such a clip is read from its beginning.
    ///
    /// # Errors
    /// [`VideoError`] where the file can't be opened.
    pub fn read(info: &ClipInfo) -> Result<Option<Self>, VideoError> {
        let mut input = open_container(&info.path, &printable(&info.path))?;
        let Some(stream) = input.streams().best(media::Type::Video) else { return Ok(None) };
        let (place, tick) = (stream.index(), ratio(stream.time_base()).unwrap_or(0.0));
        let mut found: Vec<(i64, bool)> = Vec::new();
        loop {
            let mut packet = Packet::empty();
            match packet.read(&mut input) {
                Ok(()) if packet.stream() != place || raw::is_discarded(&packet) => {}
                Ok(()) if packet.is_corrupt() => return Ok(None),
                Ok(()) => match packet.pts() {
                    Some(stamp) => found.push((stamp, packet.flags().contains(Flags::KEY))),
                    None => return Ok(None),
                },
                Err(ffmpeg_next::Error::Eof) => break,
                Err(_) => return Ok(None),
            }
        }
        found.sort_unstable();
        let mut timeline = Timeline::new(tick, info.stored_rate, info.capture_rate);
        let times = found.iter().map(|(stamp, _)| timeline.next(Some(*stamp))).collect();
        if found.is_empty() || timeline.repaired() > 0 || !found[0].1 {
            return Ok(None);
        }
        let keys = (0..found.len()).filter(|i| found[*i].1).collect();
        Ok(Some(Self { stamps: found.into_iter().map(|(stamp, _)| stamp).collect(), times, keys, timeline }))
    }

    /// The same clip as far as this; what is known of its stamps stays that of the whole.
    pub fn up_to(mut self, end: Seconds) -> Self {
        let count = self.times.partition_point(|time| *time <= end).max(1);
        self.stamps.truncate(count);
        self.times.truncate(count);
        self.keys.retain(|key| *key < count);
        self
    }

    /// Whether all of its pictures were taken before one with this stamp.
    pub(super) fn ends_before(&self, stamp: i64) -> bool {
        self.stamps.last().is_none_or(|last| *last < stamp)
    }

    /// Number of pictures.
    pub fn len(&self) -> usize {
        self.stamps.len()
    }

    /// Whether there is no picture.
    pub fn is_empty(&self) -> bool {
        self.stamps.is_empty()
    }

    /// When each picture was taken.
    pub fn times(&self) -> &[Seconds] {
        &self.times
    }

    /// The picture with a stamp.
    pub(super) fn at(&self, stamp: i64) -> Option<FrameIndex> {
        self.stamps.binary_search(&stamp).ok().map(FrameIndex)
    }

    /// The stamp of a picture.
    pub(super) fn stamp(&self, picture: usize) -> Option<i64> {
        self.stamps.get(picture).copied()
    }

    /// Where decoding has to begin for a picture: number and stamp of the last whole picture up to it.
    pub(super) fn begin(&self, picture: usize) -> (usize, i64) {
        let place = self.keys.partition_point(|key| *key <= picture);
        let key = self.keys[place.saturating_sub(1)];
        (key, self.stamps[key])
    }
}
