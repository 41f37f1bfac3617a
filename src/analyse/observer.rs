//! Who watches the work: how far it is, and whether it is to go on.

use crate::video::{ClipInfo, Frame, VideoError};

/// Watches the work on a clip.
pub trait Observer {
    /// So much of the work is done, 0 to 1; never less than the time before.
    fn progress(&mut self, share: f64) {
        let _ = share;
    }

    /// Whether to stop. Work that is cancelled ends with an error, never with less than was asked for.
    fn is_cancelled(&self) -> bool {
        false
    }
}

/// Watches nothing and never cancels.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobserved;

impl Observer for Unobserved {}

/// A part of the work, which tells the whole's observer how far the whole is.
pub struct Part<'o> {
    whole: &'o mut dyn Observer,
    from: f64,
    to: f64,
    told: f64,
}

impl<'o> Part<'o> {
    /// The part of the work that reaches from one share of the whole to another.
    pub fn new(whole: &'o mut dyn Observer, from: f64, to: f64) -> Self {
        Self { whole, from, to, told: from }
    }
}

impl Observer for Part<'_> {
    fn progress(&mut self, share: f64) {
        let now = self.from + (self.to - self.from) * share.clamp(0.0, 1.0);
        if now > self.told {
            self.told = now;
            self.whole.progress(now);
        }
    }

    fn is_cancelled(&self) -> bool {
        self.whole.is_cancelled()
    }
}

/// A clip's pictures, watched as they pass by. Where the observer cancels, the next item is an error and the last.
pub struct Watched<'a, I> {
    frames: I,
    observer: &'a mut dyn Observer,
    info: &'a ClipInfo,
    done: usize,
    cancelled: bool,
}

impl<'a, I> Watched<'a, I> {
    /// Watches the pictures of the clip that `info` is about.
    pub fn new(frames: I, info: &'a ClipInfo, observer: &'a mut dyn Observer) -> Self {
        Self { frames, observer, info, done: 0, cancelled: false }
    }
}

impl<I: Iterator<Item = Result<Frame, VideoError>>> Iterator for Watched<'_, I> {
    type Item = I::Item;

    fn next(&mut self) -> Option<I::Item> {
        if self.cancelled {
            return None;
        }
        if let Err(error) = go_on(self.observer, self.info) {
            self.cancelled = true;
            return Some(Err(error));
        }
        let frame = self.frames.next()?;
        self.done += 1;
        self.observer.progress(share(self.done, self.info));
        Some(frame)
    }
}

/// Fails where the observer cancels.
pub(super) fn go_on(observer: &dyn Observer, info: &ClipInfo) -> Result<(), VideoError> {
    if observer.is_cancelled() { Err(VideoError::cancelled(&info.path)) } else { Ok(()) }
}

/// The share of a clip that so many of its pictures are.
pub(super) fn share(pictures: usize, info: &ClipInfo) -> f64 {
    info.expected_frames().map_or(0.0, |all| pictures as f64 / all as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::Clip;

    #[derive(Default)]
    struct Impatient {
        told: Vec<f64>,
        most: usize,
    }

    impl Observer for Impatient {
        fn progress(&mut self, share: f64) {
            self.told.push(share);
        }

        fn is_cancelled(&self) -> bool {
            self.told.len() >= self.most
        }
    }

    #[test]
    fn parts_of_the_work_never_run_backwards() {
        let mut whole = Impatient { most: 99, ..Impatient::default() };
        for (from, to) in [(0.0, 0.5), (0.5, 1.0)] {
            let mut part = Part::new(&mut whole, from, to);
            [0.0, 0.5, 0.25, 1.0, 2.0].into_iter().for_each(|share| part.progress(share));
        }
        assert_eq!(whole.told, [0.25, 0.5, 0.75, 1.0]);
    }

    #[test]
    fn a_cancelled_clip_is_an_error_and_no_short_clip() {
        let path = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo.mp4"));
        let clip = Clip::open(path, None).unwrap();
        let info = clip.info().clone();
        let mut observer = Impatient { most: 3, ..Impatient::default() };
        let seen: Vec<_> = Watched::new(clip.frames().unwrap(), &info, &mut observer).collect();
        assert_eq!(seen.iter().filter(|frame| frame.is_ok()).count(), 3);
        assert!(matches!(seen.last(), Some(Err(VideoError::Cancelled { .. }))), "{:?}", seen.last());
    }
}
