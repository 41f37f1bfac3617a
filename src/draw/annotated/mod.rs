//! The annotated clip: body lines, the racket, the paths of hand and tip and phase names over the clip's own pictures,
//! forward swings in slow motion, a hold at contact with the numbers. Sound is kept where the clip is shown as it was.

mod overlay;
mod schedule;

use std::io;
use std::path::Path;

use rayon::prelude::*;

use super::raster;
use crate::error::ErrorKind;
use crate::measure::clip::ClipMeasures;
use crate::order;
use crate::pose::Motion;
use crate::units::Seconds;
use crate::video::{Frame, Picture, Sound, VideoError, WriteError, Writer, stored_size};

pub use schedule::{Pace, Part, SLOWER, Schedule};

/// Longer side of the pictures that are written, pixels.
const LONGEST_SIDE: u32 = 1280;
/// Pictures a second that are written: a clip's own rate, or the largest whole share of it that is not above this.
const MOST_RATE: f64 = 62.0;
const LEAST_RATE: f64 = 10.0;
/// So many pictures are drawn on at the same time.
const BATCH: usize = 8;

/// Why an annotated clip can't be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AnnotateError {
    /// The clip can't be read.
    #[error(transparent)]
    Video(#[from] VideoError),
    /// The annotated clip can't be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A picture can't be drawn on.
    #[error("{picture}: the annotated picture can't be drawn: {source}")]
    Draw {
        /// Which picture.
        picture: crate::units::FrameIndex,
        /// What went wrong.
        source: io::Error,
    },
}

impl AnnotateError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Video(error) => error.kind(),
            Self::Write(error) => error.kind(),
            Self::Draw { .. } => ErrorKind::Output,
        }
    }
}

/// One look of a picture, for so many ticks of the annotated clip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Shown {
    place: usize,
    pace: Pace,
    ticks: usize,
}

/// Pictures a second of an annotated clip.
pub fn rate_of(motion: &Motion) -> f64 {
    let share = (motion.rate / MOST_RATE).ceil().max(1.0);
    (motion.rate / share).clamp(LEAST_RATE, MOST_RATE)
}

/// The schedule of a clip's annotated one.
pub fn schedule_of(motion: &Motion, clip: &ClipMeasures) -> Schedule {
    let swings: Vec<(Option<Seconds>, Seconds)> = clip
        .strokes
        .iter()
        .map(|stroke| &stroke.stroke.phases)
        .map(|phases| (phases.forward_start.map(|mark| mark.time), phases.contact.time))
        .collect();
    let last = motion.times.last().copied().unwrap_or_default();
    Schedule::new(&swings, last + Seconds(1.0 / motion.rate))
}

/// Writes the annotated clip. `frames` are the clip's, from its first on, faces blurred already where they should be; all of
/// them are read. `sound` is the clip's.
///
/// # Errors
/// [`AnnotateError`].
pub fn write(
    path: &Path,
    motion: &Motion,
    clip: &ClipMeasures,
    sound: Option<&Sound>,
    frames: impl Iterator<Item = Result<Frame, VideoError>>,
) -> Result<(), AnnotateError> {
    let schedule = schedule_of(motion, clip);
    let rate = rate_of(motion);
    let samples = sound.map(|sound| schedule.sound(sound));
    let mut writer =
        Writer::create(path, motion.size, stored_size(motion.size, LONGEST_SIDE), rate, samples)?;
    let shown = pictures_shown(motion, &schedule, rate);
    let mut next = 0;
    let mut batch: Vec<(Shown, Picture)> = Vec::new();
    for frame in frames {
        let frame = frame?;
        while let Some(look) = shown.get(next).filter(|look| motion.indices[look.place] == frame.index) {
            batch.push((*look, frame.picture.clone()));
            next += 1;
        }
        if batch.len() >= BATCH {
            flush(&mut batch, &mut writer, motion, clip)?;
        }
    }
    flush(&mut batch, &mut writer, motion, clip)?;
    Ok(writer.finish()?)
}

/// Which picture is shown how and for how long, in order.
fn pictures_shown(motion: &Motion, schedule: &Schedule, rate: f64) -> Vec<Shown> {
    let ticks = (schedule.length().0 * rate).round() as usize;
    let mut shown: Vec<Shown> = Vec::new();
    for tick in 0..ticks {
        let Some((own, pace)) = schedule.at(Seconds(tick as f64 / rate)) else { break };
        let Some(place) = order::nearest(&motion.times, |time| time.0, own.0) else { break };
        match shown.last_mut() {
            Some(last) if (last.place, last.pace) == (place, pace) => last.ticks += 1,
            _ => shown.push(Shown { place, pace, ticks: 1 }),
        }
    }
    shown
}

fn flush(
    batch: &mut Vec<(Shown, Picture)>,
    writer: &mut Writer,
    motion: &Motion,
    clip: &ClipMeasures,
) -> Result<(), AnnotateError> {
    let scale = f64::from(motion.size.0.max(motion.size.1)) / overlay::LONGEST;
    batch.par_iter_mut().try_for_each(|(look, picture)| {
        raster::over(picture, scale, |canvas| {
            overlay::draw(canvas, motion, clip, look.place, look.pace, scale);
        })
        .map_err(|source| AnnotateError::Draw { picture: motion.indices[look.place], source })
    })?;
    for (look, picture) in batch.drain(..) {
        writer.add(&picture, look.ticks)?;
    }
    Ok(())
}
