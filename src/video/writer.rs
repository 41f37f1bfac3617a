//! From RGB pictures to an MP4 file.

use std::fs::File;
use std::path::Path;

use ffmpeg_next::codec::{self, Context};
use ffmpeg_next::encoder;
use ffmpeg_next::format::context::{Output, StreamIo};
use ffmpeg_next::format::sample::Type;
use ffmpeg_next::format::{Pixel, Sample};
use ffmpeg_next::software::scaling::{self, Flags};
use ffmpeg_next::util::color::{Range, Space};
use ffmpeg_next::{ChannelLayout, Dictionary, Error, Packet, Rational, format, frame};

use super::clip::quiet;
use super::error::printable;
use super::picture::Picture;
use super::raw::Scaler;
use super::sound::SOUND_RATE;

use crate::error::ErrorKind;

/// FFmpeg's encoders that are tried, in this order: what plays everywhere and is small first, what every FFmpeg has last.
pub const ENCODERS: [&str; 3] = ["libx264", "libopenh264", "mpeg4"];

/// Constant quality of x264 (0 to 51, lower is better) and its effort: lines and letters stay clear, and a clip is written
/// faster than it plays.
const QUALITY: &str = "21";
const EFFORT: &str = "veryfast";
/// Bits a pixel for encoders without constant quality.
const BITS: f64 = 0.12;
/// Bits a second of the sound, one channel.
const SOUND_BITS: usize = 64_000;
/// A picture that can be shown without its predecessors comes this often, seconds.
const KEY_EVERY: f64 = 2.0;

/// Why a clip can't be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The installed FFmpeg has none of the encoders.
    #[error(
        "{file}: the installed FFmpeg has no video encoder that can be used (looked for {wanted}); install one with \
         libx264 or mpeg4 (Debian's own has both), or leave out --annotated"
    )]
    NoEncoder {
        /// The file that was to be written.
        file: String,
        /// The encoders' names.
        wanted: String,
    },
    /// The file can't be made.
    #[error("{file}: the clip can't be written: {source}")]
    File {
        /// The file.
        file: String,
        /// The system's answer.
        source: std::io::Error,
    },
    /// FFmpeg can't encode or write.
    #[error("{file}: the clip can't be written ({reason}); is there room on the disk?")]
    Encode {
        /// The file.
        file: String,
        /// FFmpeg's answer.
        reason: String,
    },
}

impl WriteError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::NoEncoder { .. } | Self::File { .. } | Self::Encode { .. } => ErrorKind::Output,
        }
    }
}

/// An MP4 file that is being written: pictures at an even rate, one channel of sound.
pub struct Writer {
    file: String,
    output: Output,
    video: encoder::video::Encoder,
    scaler: Scaler,
    rgb: frame::Video,
    size: (u32, u32),
    rate: f64,
    count: i64,
    tick: Rational,
    sound: Option<SoundWriter>,
}

/// The sound track.
struct SoundWriter {
    encoder: encoder::audio::Encoder,
    samples: Vec<f32>,
    done: usize,
}

impl Writer {
    /// Begins a file of pictures that come as `from` (width, height) and are stored as `to`, both sides even, `rate` a second
    /// (1 to 65), with sound of [`SOUND_RATE`] samples a second where there is some.
    ///
    /// # Errors
    /// [`WriteError`].
    pub fn create(
        path: &Path,
        from: (u32, u32),
        to: (u32, u32),
        rate: f64,
        sound: Option<Vec<f32>>,
    ) -> Result<Self, WriteError> {
        Self::create_with(&ENCODERS, path, from, to, rate, sound)
    }

    /// The same with other encoders to try.
    ///
    /// # Errors
    /// [`WriteError`].
    fn create_with(
        encoders: &[&str],
        path: &Path,
        from: (u32, u32),
        to: (u32, u32),
        rate: f64,
        sound: Option<Vec<f32>>,
    ) -> Result<Self, WriteError> {
        let file = printable(path);
        let failed = |error: Error| WriteError::Encode { file: file.clone(), reason: error.to_string() };
        quiet();
        let codec = encoders.iter().find_map(|name| encoder::find_by_name(name));
        let codec =
            codec.ok_or_else(|| WriteError::NoEncoder { file: file.clone(), wanted: encoders.join(", ") })?;
        let handle = File::create(path).map_err(|source| WriteError::File { file: file.clone(), source })?;
        let stream = StreamIo::from_write_seek(handle).map_err(failed)?;
        let mut output = format::output_to_stream(stream, None, Some("mp4")).map_err(failed)?;
        let header = output.format().flags().contains(format::Flags::GLOBAL_HEADER);
        let tick = Rational(1000, (rate * 1000.0).round() as i32);

        let mut video = Context::new_with_codec(codec).encoder().video().map_err(failed)?;
        video.set_width(to.0);
        video.set_height(to.1);
        video.set_format(Pixel::YUV420P);
        video.set_time_base(tick);
        video.set_frame_rate(Some(Rational(tick.1, tick.0)));
        video.set_gop((rate * KEY_EVERY) as u32);
        let matrix = matrix_of(to);
        video.set_colorspace(matrix);
        video.set_color_range(Range::MPEG);
        let mut flags = codec::Flags::empty();
        // Each group can be shown by itself, so that one can jump in the clip; the others do so unasked.
        flags.set(codec::Flags::CLOSED_GOP, codec.name() == "libx264");
        flags.set(codec::Flags::GLOBAL_HEADER, header);
        video.set_flags(flags);
        let mut options = Dictionary::new();
        if codec.name() == "libx264" {
            options.set("preset", EFFORT);
            options.set("crf", QUALITY);
        } else {
            let pixels = f64::from(to.0) * f64::from(to.1);
            video.set_bit_rate((pixels * rate * BITS) as usize);
        }
        let video = video.open_with(options).map_err(failed)?;
        output.add_stream(codec).map_err(failed)?.set_parameters(&video);

        let sound = sound.map(|samples| SoundWriter::begin(&mut output, samples, header)).transpose();
        let sound = sound.map_err(failed)?.flatten();
        output.write_header().map_err(failed)?;

        let scaler =
            scaling::Context::get(Pixel::RGB24, from.0, from.1, Pixel::YUV420P, to.0, to.1, Flags::BICUBIC);
        let mut scaler = Scaler(scaler.map_err(failed)?);
        scaler.set_target_colour(matrix == Space::BT709);
        let rgb = frame::Video::new(Pixel::RGB24, from.0, from.1);
        Ok(Self { file, output, video, scaler, rgb, size: to, rate, count: 0, tick, sound })
    }

    /// Adds a picture, which is shown for so many ticks of the clip's rate.
    ///
    /// # Errors
    /// [`WriteError::Encode`]; also for a picture of another size.
    pub fn add(&mut self, picture: &Picture, ticks: usize) -> Result<(), WriteError> {
        self.encode(picture, ticks).map_err(|error| self.failed(error))
    }

    fn failed(&self, error: Error) -> WriteError {
        WriteError::Encode { file: self.file.clone(), reason: error.to_string() }
    }

    fn encode(&mut self, picture: &Picture, ticks: usize) -> Result<(), Error> {
        if (picture.width, picture.height) != (self.rgb.width(), self.rgb.height()) {
            return Err(Error::InvalidData);
        }
        let (row, stride) = (3 * picture.width as usize, self.rgb.stride(0));
        for (to, from) in self.rgb.data_mut(0).chunks_mut(stride).zip(picture.rgb.chunks_exact(row)) {
            to[..row].copy_from_slice(from);
        }
        // The encoder may still hold the picture before: each gets memory of its own.
        let mut yuv = frame::Video::new(Pixel::YUV420P, self.size.0, self.size.1);
        self.scaler.0.run(&self.rgb, &mut yuv)?;
        yuv.set_color_space(matrix_of(self.size));
        yuv.set_color_range(Range::MPEG);
        for _ in 0..ticks {
            yuv.set_pts(Some(self.count));
            self.video.send_frame(&yuv)?;
            self.count += 1;
            self.drain()?;
            let until = self.count as f64 / self.rate;
            if let Some(sound) = &mut self.sound {
                sound.write_until(&mut self.output, until)?;
            }
        }
        Ok(())
    }

    /// Writes what the encoder has ready.
    fn drain(&mut self) -> Result<(), Error> {
        let base = self.output.stream(0).map_or(self.tick, |stream| stream.time_base());
        let mut packet = Packet::empty();
        while self.video.receive_packet(&mut packet).is_ok() {
            packet.set_stream(0);
            packet.set_duration(1);
            packet.rescale_ts(self.tick, base);
            packet.write_interleaved(&mut self.output)?;
        }
        Ok(())
    }

    /// Ends the file.
    ///
    /// # Errors
    /// [`WriteError::Encode`].
    pub fn finish(mut self) -> Result<(), WriteError> {
        let mut end = || {
            self.video.send_eof()?;
            self.drain()?;
            if let Some(sound) = &mut self.sound {
                sound.write_until(&mut self.output, f64::INFINITY)?;
                sound.encoder.send_eof()?;
                sound.drain(&mut self.output)?;
            }
            self.output.write_trailer()
        };
        let ended = end();
        ended.map_err(|error| self.failed(error))
    }
}

impl SoundWriter {
    /// Begins the sound track; none where the installed FFmpeg can't encode sound.
    fn begin(output: &mut Output, samples: Vec<f32>, header: bool) -> Result<Option<Self>, Error> {
        let Some(codec) = encoder::find_by_name("aac") else { return Ok(None) };
        let mut encoder = Context::new_with_codec(codec).encoder().audio()?;
        encoder.set_rate(SOUND_RATE as i32);
        encoder.set_channel_layout(ChannelLayout::MONO);
        encoder.set_format(Sample::F32(Type::Planar));
        encoder.set_bit_rate(SOUND_BITS);
        encoder.set_time_base(Rational(1, SOUND_RATE as i32));
        if header {
            encoder.set_flags(codec::Flags::GLOBAL_HEADER);
        }
        let encoder = encoder.open_as(codec)?;
        output.add_stream(codec)?.set_parameters(&encoder);
        Ok(Some(Self { encoder, samples, done: 0 }))
    }

    /// Encodes the samples up to a time in seconds, in whole pieces; the last one may be short.
    fn write_until(&mut self, output: &mut Output, until: f64) -> Result<(), Error> {
        let piece = (self.encoder.frame_size() as usize).max(1);
        while self.done < self.samples.len() && (self.done as f64) < until * f64::from(SOUND_RATE) {
            let end = (self.done + piece).min(self.samples.len());
            let part = &self.samples[self.done..end];
            let format = Sample::F32(Type::Planar);
            let mut frame = frame::Audio::new(format, part.len(), ChannelLayout::MONO);
            frame.set_rate(SOUND_RATE);
            frame.plane_mut::<f32>(0).copy_from_slice(part);
            frame.set_pts(Some(self.done as i64));
            self.encoder.send_frame(&frame)?;
            self.done = end;
            self.drain(output)?;
        }
        Ok(())
    }

    fn drain(&mut self, output: &mut Output) -> Result<(), Error> {
        let tick = Rational(1, SOUND_RATE as i32);
        let base = output.stream(1).map_or(tick, |stream| stream.time_base());
        let mut packet = Packet::empty();
        while self.encoder.receive_packet(&mut packet).is_ok() {
            packet.set_stream(1);
            packet.rescale_ts(tick, base);
            packet.write_interleaved(output)?;
        }
        Ok(())
    }
}

/// The colour matrix that players take for granted in pictures of a size: not every encoder writes down which it is.
fn matrix_of((_, height): (u32, u32)) -> Space {
    const HIGH: u32 = 720;
    if height >= HIGH { Space::BT709 } else { Space::SMPTE170M }
}

/// A size with both sides even and none longer than `longest`, of the same shape.
pub fn stored_size((width, height): (u32, u32), longest: u32) -> (u32, u32) {
    let scale = (f64::from(longest) / f64::from(width.max(height))).min(1.0);
    let even = |side: u32| ((f64::from(side) * scale / 2.0).round() as u32 * 2).max(2);
    (even(width), even(height))
}

#[cfg(test)]
mod tests {
    use super::super::Clip;
    use super::*;

    #[test]
    fn sizes_are_even_and_bounded() {
        assert_eq!(stored_size((1920, 1080), 1280), (1280, 720));
        assert_eq!(stored_size((853, 481), 1280), (854, 482));
        assert_eq!(stored_size((1080, 1920), 1280), (720, 1280));
    }

    #[test]
    fn what_is_written_can_be_read_again() {
        let folder = tempfile::tempdir().unwrap();
        for encoder in ENCODERS {
            if encoder::find_by_name(encoder).is_none() {
                continue;
            }
            let path = folder.path().join(format!("{encoder}.mp4"));
            let colours = [[200, 60, 40], [30, 160, 80], [40, 70, 190]];
            let sound = vec![0.25; SOUND_RATE as usize];
            let mut writer =
                Writer::create_with(&[encoder], &path, (160, 90), (160, 90), 25.0, Some(sound)).unwrap();
            for colour in colours {
                let rgb = colour.repeat(160 * 90);
                writer.add(&Picture { width: 160, height: 90, rgb }, 8).unwrap();
            }
            writer.finish().unwrap();
            let clip = Clip::open(&path, None).unwrap();
            let info = clip.info().clone();
            assert!(info.has_audio && (info.stored_rate - 25.0).abs() < 0.01, "{info:?}");
            let frames: Vec<_> = clip.frames().unwrap().map(Result::unwrap).collect();
            assert_eq!(frames.len(), 24, "{encoder}");
            for (i, frame) in frames.iter().enumerate() {
                assert!((frame.time.0 - i as f64 / 25.0).abs() < 0.002, "{encoder} {i} {:?}", frame.time);
                let seen = frame.picture.pixel(80, 45).unwrap();
                for (seen, wanted) in seen.into_iter().zip(colours[i / 8]) {
                    assert!(seen.abs_diff(wanted) < 12, "{encoder} {i} {seen} {wanted}");
                }
            }
        }
    }

    #[test]
    fn without_an_encoder_the_way_out_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.mp4");
        let failed = Writer::create_with(&["no_such_encoder"], &path, (64, 64), (64, 64), 30.0, None);
        let Err(error) = failed else { panic!("there is no such encoder") };
        let message = error.to_string();
        assert!(matches!(error, WriteError::NoEncoder { .. }));
        assert!(message.contains("a.mp4") && message.contains("libx264"), "{message}");
        assert!(message.contains("leave out --annotated"), "{message}");
        assert!(!path.exists());
    }
}
