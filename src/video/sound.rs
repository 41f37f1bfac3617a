//! A clip's sound: one channel of samples with the container's own times.

use ffmpeg_next::codec::Context;
use ffmpeg_next::format::Sample;
use ffmpeg_next::format::sample::Type;
use ffmpeg_next::format::stream::Stream;
use ffmpeg_next::software::resampling;
use ffmpeg_next::{ChannelLayout, Error, decoder, frame, media};

use super::clip::{ClipInfo, open_container, ratio};
use super::error::printable;
use super::raw;
use super::reader::Reader;
use super::report::ClipReport;
use crate::units::Seconds;

/// Samples a second after resampling. A hit fills the band up to 8 kHz, and 16 samples a millisecond tell its start to a
/// tenth of one.
pub const SOUND_RATE: u32 = 16_000;

/// Sampling rates (Hz) that microphones are recorded with; others are mistakes of the file.
const RATES: std::ops::RangeInclusive<u32> = 4_000..=400_000;

/// Most channels of a recording.
const MOST_CHANNELS: u16 = 64;

/// Where the container's time leaves the count of samples by more than this (seconds), sound is missing or doubled, and a
/// new stretch begins. Coarse stamps of some containers stay under it.
const LEAP: f64 = 0.010;

/// Stretches shorter than this (seconds) hold no sound that could be judged.
const SHORTEST: f64 = 0.030;

/// Sound is read this far (seconds) beyond the last picture.
const BEYOND: f64 = 1.0;

/// Sound is read of at most so much (seconds): 460 MB in memory.
const LONGEST: f64 = 2.0 * 3600.0;

/// Samples are fractions of full scale; what lies far beyond comes from damaged floating-point data.
const LOUDEST: f32 = 8.0;

/// A clip's sound, mixed to one channel at [`SOUND_RATE`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sound {
    /// Unbroken stretches in order of time.
    pub stretches: Vec<Stretch>,
    /// Packets that could not be decoded.
    pub skipped: usize,
    /// Whether the file is not as a camera has written it ([`ClipInfo::rewritten`]).
    pub rewritten: bool,
}

/// An unbroken stretch of sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Time of the first sample, seconds since the clip's first picture (before it: negative).
    pub start: Seconds,
    /// Samples as fractions of full scale, [`SOUND_RATE`] a second, all finite.
    pub samples: Vec<f32>,
}

/// Why a clip's sound can't be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoSound {
    /// The file has none.
    #[error("no sound track")]
    Absent,
    /// The installed FFmpeg cannot decode it.
    #[error("sound of a kind that cannot be decoded")]
    Codec,
    /// Nothing of it could be decoded.
    #[error("sound damaged or empty")]
    Damaged,
    /// Without times of pictures or sound nothing says which sound belongs to which picture.
    #[error("times missing in the file")]
    NoTimes,
    /// The clock leaps, as where clips were joined.
    #[error("the file's clock leaps, as in joined clips")]
    ClockLeaps,
    /// In slow motion the sound is stretched, replaced or left out.
    #[error("slow motion has no true sound")]
    SlowMotion,
}

impl Sound {
    /// Reads the sound of a clip whose pictures have all been read. Damaged packets are passed over.
    ///
    /// # Errors
    /// [`NoSound`] with the reason.
    pub fn read(info: &ClipInfo, report: &ClipReport) -> Result<Self, NoSound> {
        if !info.has_audio {
            return Err(NoSound::Absent);
        }
        if info.is_slow_motion() {
            return Err(NoSound::SlowMotion);
        }
        if report.clock_restarts > 0 {
            return Err(NoSound::ClockLeaps);
        }
        let zero = info.first_picture.ok_or(NoSound::NoTimes)?;
        let input = open_container(&info.path, &printable(&info.path)).map_err(|_| NoSound::Damaged)?;
        let stream = input.streams().best(media::Type::Audio).ok_or(NoSound::Absent)?;
        let tick = ratio(stream.time_base()).ok_or(NoSound::NoTimes)?;
        let decoder = open_decoder(&stream).map_err(|_| NoSound::Codec)?;
        let index = stream.index();
        let mut reader = Reader::new(input, decoder.0, index);
        let mut joiner = Joiner::new();
        let mut decoded = frame::Audio::empty();
        let until = (report.stored_end.0 + BEYOND).min(LONGEST);
        let mut stamped = false;
        while reader.read(&mut decoded) {
            let time = decoded.timestamp().map(|stamp| stamp as f64 * tick - zero.0);
            stamped |= time.is_some();
            if time.is_some_and(|time| time > until) || joiner.seconds() > LONGEST {
                break;
            }
            joiner.add(&mut decoded, time);
        }
        let stretches = joiner.finish();
        match (stretches.is_empty(), stamped) {
            (true, true) => Err(NoSound::Damaged),
            (true, false) if reader.skipped() == 0 => Err(NoSound::NoTimes),
            (true, false) => Err(NoSound::Damaged),
            (false, _) => Ok(Self { stretches, skipped: reader.skipped(), rewritten: info.rewritten }),
        }
    }
}

fn open_decoder(stream: &Stream) -> Result<decoder::Audio, Error> {
    let mut decoder = Context::from_parameters(stream.parameters())?.decoder();
    decoder.set_packet_time_base(stream.time_base());
    decoder.audio()
}

/// Joins decoded pieces to stretches.
struct Joiner {
    finished: Vec<Stretch>,
    current: Option<Current>,
}

/// The stretch that is being filled.
struct Current {
    resampler: resampling::Context,
    samples: Vec<f32>,
    /// Samples of the file's own rate that went in.
    taken: u64,
    rate: f64,
    /// Sum and number of what the stamps say of the stretch's start: their mean is finer than one stamp.
    starts: (f64, u32),
}

impl Current {
    fn start(&self) -> f64 {
        self.starts.0 / f64::from(self.starts.1.max(1))
    }
}

impl Joiner {
    fn new() -> Self {
        Self { finished: Vec::new(), current: None }
    }

    fn seconds(&self) -> f64 {
        let current = self.current.as_ref().map_or(0, |c| c.samples.len());
        let all = current + self.finished.iter().map(|s| s.samples.len()).sum::<usize>();
        all as f64 / f64::from(SOUND_RATE)
    }

    /// Takes a decoded piece with its container time (`None`: it follows the one before).
    fn add(&mut self, piece: &mut frame::Audio, time: Option<f64>) {
        if piece.samples() == 0 || !RATES.contains(&piece.rate()) || piece.channels() > MOST_CHANNELS {
            self.close();
            return;
        }
        raw::place_channels(piece);
        let input = definition(piece);
        piece.set_channel_layout(input.channel_layout);
        let goes_on = self.current.as_ref().is_some_and(|current| {
            let due = current.start() + current.taken as f64 / current.rate;
            *current.resampler.input() == input && time.is_none_or(|time| (time - due).abs() < LEAP)
        });
        if !goes_on {
            self.close();
            // Nothing says when a stretch without a stamp begins.
            if time.is_none() {
                return;
            }
            self.current = Current::new(input);
        }
        let Some(current) = self.current.as_mut() else { return };
        if let Some(time) = time {
            current.starts.0 += time - current.taken as f64 / current.rate;
            current.starts.1 += 1;
        }
        current.taken += piece.samples() as u64;
        let mut output = frame::Audio::empty();
        match current.resampler.run(piece, &mut output) {
            Ok(_) => current.samples.extend(samples(&output)),
            Err(_) => self.close(),
        }
    }

    /// Ends the current stretch.
    fn close(&mut self) {
        let Some(mut current) = self.current.take() else { return };
        /// Delays are far shorter than this many pieces.
        const MOST_PIECES: usize = 64;
        for _ in 0..MOST_PIECES {
            let mut rest = frame::Audio::new(Sample::F32(Type::Packed), 4096, ChannelLayout::MONO);
            match current.resampler.flush(&mut rest) {
                Ok(_) if rest.samples() > 0 => current.samples.extend(samples(&rest)),
                _ => break,
            }
        }
        let stretch = Stretch { start: Seconds(current.start()), samples: current.samples };
        if stretch.samples.len() as f64 > SHORTEST * f64::from(SOUND_RATE) {
            self.finished.push(stretch);
        }
    }

    fn finish(mut self) -> Vec<Stretch> {
        self.close();
        self.finished.sort_by(|a, b| a.start.0.total_cmp(&b.start.0));
        self.finished
    }
}

impl Current {
    fn new(input: resampling::context::Definition) -> Option<Self> {
        let rate = f64::from(input.rate);
        let resampler = resampling::Context::get(
            input.format,
            input.channel_layout,
            input.rate,
            Sample::F32(Type::Packed),
            ChannelLayout::MONO,
            SOUND_RATE,
        );
        let resampler = resampler.ok()?;
        Some(Self { resampler, samples: Vec::new(), taken: 0, rate, starts: (0.0, 0) })
    }
}

/// Format, layout and rate of a piece; the usual layout of its channels where it names none.
fn definition(piece: &frame::Audio) -> resampling::context::Definition {
    let layout = piece.channel_layout();
    let channels = i32::from(piece.channels());
    let named = layout.bits().count_ones() as i32 == channels;
    resampling::context::Definition {
        format: piece.format(),
        channel_layout: if named { layout } else { ChannelLayout::default(channels) },
        rate: piece.rate(),
    }
}

/// Samples of a packed single-channel piece, made finite.
fn samples(piece: &frame::Audio) -> impl Iterator<Item = f32> {
    let values: &[f32] = if piece.planes() > 0 { piece.plane(0) } else { &[] };
    values.iter().map(|v| if v.is_finite() { v.clamp(-LOUDEST, LOUDEST) } else { 0.0 })
}
