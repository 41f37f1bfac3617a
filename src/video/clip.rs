//! Opening a file and saying what is in it.

use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Once;

use ffmpeg_next::codec::{Context, threading};
use ffmpeg_next::format::context::{Input, StreamIo};
use ffmpeg_next::format::stream::{Disposition, Stream};
use ffmpeg_next::packet::side_data;
use ffmpeg_next::{Dictionary, Error, Rational, decoder, format, frame, log, media};

use super::colour::ColourSpace;
use super::error::{VideoError, printable};
use super::frames::{Frames, Opened};
use super::raw::{self, Ratio};
use super::reader::Reader;
use super::report::About;
use super::rotation::Orientation;
use crate::units::Seconds;

/// Most pixels a side, well beyond 8K.
pub(super) const LONGEST_SIDE: u32 = 16384;

/// Most pixels a picture, twice those of 8K.
const MOST_PIXELS: u64 = 1 << 26;

/// Containers that are looked at. Playlists, still pictures and text, which FFmpeg would take for video as well, are
/// not among them.
const CONTAINERS: &str = "mov,matroska,avi,mpegts,mpeg,mpegvideo,flv,asf,ogg,mxf,dv,ivf,obu,h264,hevc,m4v,\
                          mp3,wav,flac,aac,aiff,amr,caf";

/// Below this score FFmpeg has guessed the format from a few bytes.
const CERTAIN_SCORE: i32 = 26;

/// Decoder threads; more add memory and delay but little speed on short clips.
const MOST_THREADS: usize = 4;

/// Rates (frames/s) that a camera can have.
const RATES: std::ops::RangeInclusive<f64> = 0.1..=100_000.0;

/// Capture and stored rate that differ by less than this share are one rate written in two ways.
const SAME_RATE: f64 = 0.02;

/// Rate to assume where the container has none.
const USUAL_RATE: f64 = 30.0;

/// Pixel shapes (width to height) that occur; others are mistakes of the file.
const PIXEL_SHAPES: std::ops::RangeInclusive<f64> = 0.25..=4.0;

/// Focal lengths (mm, 35 mm equivalent) that a camera can have.
const FOCAL_LENGTHS: std::ops::RangeInclusive<f64> = 4.0..=2000.0;

/// Where phones write the focal length.
const FOCAL_LENGTH_KEYS: [&str; 2] = [
    "com.apple.quicktime.camera.focal_length.35mm_equivalent",
    "com.apple.quicktime.camera.focal_length.35mm_equivalent-eng",
];

/// Where cameras write when they recorded: the first in the camera's own time, the second in UTC.
const RECORDED_KEYS: [&str; 2] = ["com.apple.quicktime.creationdate", "creation_time"];

/// Cameras whose clock was never set write an earlier year.
const FIRST_YEAR: u32 = 2000;

/// What a file says of itself, and what its first picture shows.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ClipInfo {
    /// The file as it was named.
    pub path: PathBuf,
    /// FFmpeg's name of the codec, such as `h264`.
    pub codec: String,
    /// Width in pixels of the upright picture.
    pub width: u32,
    /// Height in pixels of the upright picture.
    pub height: u32,
    /// Quarter turns clockwise (0 to 3) by which the stored pictures are turned upright.
    pub rotation: u8,
    /// Whether the stored pictures are mirrored left to right before that turn.
    pub mirrored: bool,
    /// Nominal frames/s of the file: the container's average.
    pub stored_rate: f64,
    /// Frames/s with which the camera recorded: as given, else the stored rate.
    pub capture_rate: f64,
    /// Number of pictures that the container states.
    pub stated_frames: Option<u64>,
    /// Duration that the container states, in stored time (slow motion not undone).
    pub stated_duration: Option<Seconds>,
    /// Colour matrix and range, such as `BT.709, limited range`; "assumed" where the file has no matrix.
    pub colour_space: String,
    /// Bits a colour component.
    pub bit_depth: u8,
    /// Whether there is a sound track.
    pub has_audio: bool,
    /// Whether a program for converting or cutting has written the file, which puts its name where cameras put none.
    pub rewritten: bool,
    /// The container's time of the first picture, which is 0 everywhere else; `None` where the file has none.
    pub first_picture: Option<Seconds>,
    /// Focal length in mm as on 35 mm film, where the camera has written it down.
    pub focal_length_35mm: Option<f64>,
    /// The day on which the camera recorded it, `YYYY-MM-DD`, where the camera has written it down.
    pub recorded_on: Option<String>,
}

impl ClipInfo {
    /// Whether the camera took more pictures a second than the file plays.
    pub fn is_slow_motion(&self) -> bool {
        (self.capture_rate / self.stored_rate - 1.0).abs() > SAME_RATE
    }

    /// How many pictures the clip should have, by what it says of itself.
    pub fn expected_frames(&self) -> Option<u64> {
        let by_duration = || {
            let duration = self.stated_duration?.0;
            Some((duration * self.stored_rate).round() as u64)
        };
        self.stated_frames.or_else(by_duration).filter(|frames| *frames > 0)
    }

    /// The file as messages name it.
    pub fn name(&self) -> String {
        printable(&self.path)
    }
}

/// An opened file whose first picture could be decoded.
pub struct Clip {
    opened: Opened,
}

impl Clip {
    /// Opens a clip and decodes its first picture. `capture_rate` is the camera's rate (frames/s) for slow motion that
    /// is stored at a lower one: all times are then multiplied by stored/capture.
    ///
    /// # Errors
    /// When the file cannot be read, is no video, has no picture that can be decoded, exceeds the limits, or when the
    /// capture rate makes no sense.
    pub fn open(path: &Path, capture_rate: Option<f64>) -> Result<Clip, VideoError> {
        Self::open_on(path, capture_rate, decoder_threads())
    }

    /// The same with so many threads of the decoder; each holds frames of its own.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub(super) fn open_on(
        path: &Path,
        capture_rate: Option<f64>,
        threads: usize,
    ) -> Result<Clip, VideoError> {
        quiet();
        let file = printable(path);
        if let Some(rate) = capture_rate.filter(|rate| !RATES.contains(rate)) {
            return Err(VideoError::CaptureRate { file, rate });
        }
        let input = open_container(path, &file)?;
        let stream = input
            .streams()
            .best(media::Type::Video)
            .filter(|stream| !stream.disposition().contains(Disposition::ATTACHED_PIC));
        let Some(stream) = stream else {
            return Err(if input.probe_score() < CERTAIN_SCORE {
                VideoError::NotAVideo { file, reason: "unknown format".to_owned() }
            } else {
                VideoError::NoVideoTrack { file }
            });
        };
        let shape = raw::stream_shape(&stream);
        check_size(&file, i64::from(shape.width), i64::from(shape.height))?;

        let (decoder, codec) = open_decoder(&stream, &file, threads)?;
        let tick = ratio(stream.time_base()).unwrap_or(0.0);
        let stated_rate = rate(&stream);
        let stored_rate = stated_rate.unwrap_or(USUAL_RATE);
        let orientation = orientation(&stream);
        let (stated_duration, duration_is_exact) = stated_duration(&input, &stream, tick);
        let stated_frames = u64::try_from(stream.frames()).ok().filter(|frames| *frames > 0);
        let has_audio = input.streams().best(media::Type::Audio).is_some();
        let focal_length_35mm = focal_length(&input, &stream);
        let recorded_on = RECORDED_KEYS.iter().find_map(|key| day(&text(input.metadata().get(key))?));
        let rewritten = input.metadata().get("encoder").is_some();
        let stream_index = stream.index();

        let mut reader = Reader::new(input, decoder.0, stream_index);
        let mut first = frame::Video::empty();
        if !raw::has_frame(&first) || !reader.read(&mut first) {
            return Err(VideoError::NoPicture { file });
        }
        check_size(&file, i64::from(first.width()), i64::from(first.height()))?;
        let stored_width = square_width(first.width(), shape.pixel_aspect, first.aspect_ratio());
        check_size(&file, i64::from(stored_width), i64::from(first.height()))?;
        let (width, height) = match orientation.swaps_sides() {
            true => (first.height(), stored_width),
            false => (stored_width, first.height()),
        };
        let info = ClipInfo {
            path: path.to_owned(),
            codec,
            width,
            height,
            rotation: orientation.quarter_turns,
            mirrored: orientation.mirrored,
            stored_rate,
            capture_rate: capture_rate.unwrap_or(stored_rate),
            stated_frames,
            stated_duration,
            colour_space: ColourSpace::of(&first).to_string(),
            bit_depth: raw::bit_depth(first.format()).unwrap_or(8),
            has_audio,
            rewritten,
            first_picture: first.timestamp().filter(|_| tick > 0.0).map(|stamp| Seconds(stamp as f64 * tick)),
            focal_length_35mm,
            recorded_on,
        };
        let opened = Opened {
            info,
            reader,
            first,
            orientation,
            tick,
            about: About { rate_is_assumed: stated_rate.is_none(), duration_is_exact },
        };
        Ok(Clip { opened })
    }

    /// What is known of the clip.
    pub fn info(&self) -> &ClipInfo {
        &self.opened.info
    }

    /// What opening has left.
    pub(super) fn opened(self) -> Opened {
        self.opened
    }

    /// The clip's frames in order of presentation. Memory does not grow with the clip's length: at most five pictures
    /// are held back.
    ///
    /// # Errors
    /// None at present; errors of single frames come from the iterator.
    pub fn frames(self) -> Result<Frames, VideoError> {
        Ok(Frames::new(self.opened))
    }
}

/// Keeps FFmpeg from printing.
pub(super) fn quiet() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Fills the table of error texts; it has no other way to fail.
        let _ = ffmpeg_next::init();
        log::set_level(log::Level::Fatal);
    });
}

pub(super) fn open_container(path: &Path, file: &str) -> Result<Input, VideoError> {
    let unreadable = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => VideoError::Missing { file: file.to_owned() },
        _ => VideoError::Unreadable { file: file.to_owned(), reason: error.to_string() },
    };
    // Looked at before it is opened: opening a pipe waits for a writer.
    let metadata = fs::metadata(path).map_err(unreadable)?;
    if !metadata.is_file() {
        return Err(VideoError::NotAFile { file: file.to_owned() });
    }
    if metadata.len() == 0 {
        return Err(VideoError::Empty { file: file.to_owned() });
    }
    let mut handle = File::open(path).map_err(unreadable)?;
    // A file that opens but cannot be read shows here, with the system's own words.
    handle.read(&mut [0]).map_err(unreadable)?;
    let not_a_video = |error: Error| VideoError::NotAVideo {
        file: file.to_owned(),
        // FFmpeg's answer where no allowed container matches.
        reason: match error {
            Error::Other { .. } => "unknown format".to_owned(),
            _ => error.to_string(),
        },
    };
    // FFmpeg gets the open file, not its name: names may hold a colon or bytes that are no UTF-8.
    std::io::Seek::rewind(&mut handle).map_err(unreadable)?;
    let stream = StreamIo::from_read_seek(handle).map_err(not_a_video)?;
    let mut options = Dictionary::new();
    options.set("format_whitelist", CONTAINERS);
    // A clip must not lead to other files or to the network.
    options.set("protocol_whitelist", "none");
    format::input_from_stream(stream, None, Some(options)).map_err(not_a_video)
}

/// How many threads a clip is decoded on that is read by itself.
pub(super) fn decoder_threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from).min(MOST_THREADS)
}

fn open_decoder(stream: &Stream, file: &str, threads: usize) -> Result<(decoder::Video, String), VideoError> {
    let parameters = stream.parameters();
    let codec = parameters.id().name().to_owned();
    let unsupported = |_: Error| VideoError::UnsupportedCodec { file: file.to_owned(), codec: codec.clone() };
    let mut context = Context::from_parameters(parameters).map_err(unsupported)?;
    let kind = threading::Type::Frame;
    context.set_threading(threading::Config { kind, count: threads, ..Default::default() });
    let mut decoder = context.decoder();
    decoder.set_packet_time_base(stream.time_base());
    let decoder = decoder.video().map_err(unsupported)?;
    Ok((decoder, codec))
}

fn check_size(file: &str, width: i64, height: i64) -> Result<(), VideoError> {
    let (Ok(width), Ok(height)) = (u64::try_from(width), u64::try_from(height)) else {
        return Err(VideoError::NoPicture { file: file.to_owned() });
    };
    let limit = LONGEST_SIDE;
    if width == 0 || height == 0 {
        Err(VideoError::NoPicture { file: file.to_owned() })
    } else if width.max(height) > u64::from(limit) || width * height > MOST_PIXELS {
        Err(VideoError::TooLarge { file: file.to_owned(), width, height, limit })
    } else {
        Ok(())
    }
}

/// A positive ratio as a number.
pub(super) fn ratio(value: Rational) -> Option<f64> {
    (value.0 > 0 && value.1 > 0).then(|| f64::from(value.0) / f64::from(value.1))
}

fn rate(stream: &Stream) -> Option<f64> {
    [stream.avg_frame_rate(), stream.rate()].into_iter().filter_map(ratio).find(|rate| RATES.contains(rate))
}

fn orientation(stream: &Stream) -> Orientation {
    stream
        .side_data()
        .find(|data| data.kind() == side_data::Type::DisplayMatrix)
        .map(|matrix| Orientation::from_display_matrix(matrix.data()))
        .unwrap_or_default()
}

/// Width after stretching to square pixels; the container's word on their shape goes before the codec's.
fn square_width(width: u32, container: Ratio, codec: Rational) -> u32 {
    let shape = ratio(Rational(container.0, container.1))
        .or(ratio(codec))
        .filter(|shape| PIXEL_SHAPES.contains(shape))
        .unwrap_or(1.0);
    (f64::from(width) * shape).round() as u32
}

/// The stated duration, and whether it is the picture track's own rather than the whole file's.
fn stated_duration(input: &Input, stream: &Stream, tick: f64) -> (Option<Seconds>, bool) {
    let known = |seconds: f64| (seconds.is_finite() && seconds > 0.0).then_some(Seconds(seconds));
    // Matroska has no duration of a track but by this tag.
    let tag = || text(stream.metadata().get("DURATION")).and_then(|text| clock(&text));
    if let Some(own) = known(stream.duration() as f64 * tick).or_else(|| tag().and_then(known)) {
        return (Some(own), true);
    }
    (known(input.duration() as f64 / f64::from(ffmpeg_next::ffi::AV_TIME_BASE)), false)
}

/// Seconds of a time such as `00:00:02.033000000`.
fn clock(text: &str) -> Option<f64> {
    text.trim().split(':').try_fold(0.0, |sum, part| part.parse::<f64>().ok().map(|part| sum * 60.0 + part))
}

/// The day of a time such as `2025-06-14T10:15:30.000000Z`; `None` where there is no such day or the clock was never set.
fn day(text: &str) -> Option<String> {
    let day = text.trim().get(..10)?;
    let mut parts = day.splitn(3, '-').map(|part| part.parse::<u32>().ok());
    let (year, month, date) = (parts.next()??, parts.next()??, parts.next()??);
    let is_day = year >= FIRST_YEAR && (1..=12).contains(&month) && (1..=31).contains(&date);
    is_day.then(|| format!("{year:04}-{month:02}-{date:02}"))
}

/// A metadata value, if it is text: FFmpeg hands on whatever bytes the file has.
fn text(value: Option<&str>) -> Option<String> {
    std::str::from_utf8(value?.as_bytes()).ok().map(str::to_owned)
}

fn focal_length(input: &Input, stream: &Stream) -> Option<f64> {
    let (of_stream, of_file) = (stream.metadata(), input.metadata());
    FOCAL_LENGTH_KEYS
        .iter()
        .flat_map(|key| [text(of_stream.get(key)), text(of_file.get(key))])
        .flatten()
        .filter_map(|text| text.trim().parse().ok())
        .find(|length| FOCAL_LENGTHS.contains(length))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks() {
        assert_eq!(clock("00:01:02.5"), Some(62.5));
        assert_eq!(clock("soon"), None);
    }

    #[test]
    fn days() {
        assert_eq!(day("2025-06-14T10:15:30.000000Z").as_deref(), Some("2025-06-14"));
        assert_eq!(day("2025-06-14T23:15:30+0200").as_deref(), Some("2025-06-14"));
        assert_eq!(day("1970-01-01T00:00:00.000000Z"), None, "the clock was never set");
        assert_eq!((day("2025-13-14"), day("yesterday"), day("")), (None, None, None));
    }

    #[test]
    fn sizes() {
        assert!(check_size("a", 1920, 1080).is_ok());
        assert!(matches!(check_size("a", 0, 1080), Err(VideoError::NoPicture { .. })));
        assert!(matches!(check_size("a", 16385, 2), Err(VideoError::TooLarge { .. })));
        assert!(matches!(check_size("a", 16384, 16384), Err(VideoError::TooLarge { .. })));
    }

    #[test]
    fn pixels_are_stretched_within_reason() {
        assert_eq!(square_width(720, (16, 15), Rational(1, 1)), 768);
        assert_eq!(square_width(720, (0, 1), Rational(8, 9)), 640);
        assert_eq!(square_width(720, (1000, 1), Rational(1, 1)), 720);
        assert_eq!(square_width(720, (0, 0), Rational(0, 0)), 720);
    }
}
