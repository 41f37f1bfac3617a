//! The few FFmpeg fields and calls that `ffmpeg-next` has no safe way to, kept together because they need `unsafe`.
//!
//! Colour codes are read as plain integers: containers hand them on unchecked, and a code outside FFmpeg's list must
//! never become a Rust enum.

#![allow(unsafe_code)]

use ffmpeg_next::format::Pixel;
use ffmpeg_next::format::stream::Stream;
use ffmpeg_next::frame;
use ffmpeg_next::software::scaling;
use ffmpeg_next::{Packet, ffi};

/// Numerator and denominator as stored, zero where unknown.
pub(super) type Ratio = (i32, i32);

/// A stream's stated size and pixel shape.
pub(super) struct StreamShape {
    pub width: i32,
    pub height: i32,
    pub pixel_aspect: Ratio,
}

/// What the container says of a stream's pictures, before anything is decoded.
pub(super) fn stream_shape(stream: &Stream) -> StreamShape {
    // SAFETY: the stream borrows its open format context, which owns both structures; neither pointer is ever null in
    // an opened file, and plain integers are copied out.
    unsafe {
        let stream = stream.as_ptr();
        let parameters = (*stream).codecpar;
        let aspect = (*stream).sample_aspect_ratio;
        StreamShape {
            width: (*parameters).width,
            height: (*parameters).height,
            pixel_aspect: (aspect.num, aspect.den),
        }
    }
}

/// Codes of the colour matrix and the range of a decoded picture (`AVCOL_SPC_*`, `AVCOL_RANGE_*`).
pub(super) fn colour_codes(frame: &frame::Video) -> (i32, i32) {
    // SAFETY: the frame owns its `AVFrame`. Both fields are C enums of an int's size; they are read through integer
    // pointers because the value may lie outside the enum's list.
    unsafe {
        let frame = frame.as_ptr();
        (
            (&raw const (*frame).colorspace).cast::<i32>().read(),
            (&raw const (*frame).color_range).cast::<i32>().read(),
        )
    }
}

/// Whether the frame itself could be allocated.
pub(super) fn has_frame(frame: &frame::Video) -> bool {
    // SAFETY: only compares the frame's own pointer with null.
    unsafe { !frame.as_ptr().is_null() }
}

/// Whether a frame holds picture memory (an allocation may have failed unnoticed).
pub(super) fn has_memory(frame: &frame::Video) -> bool {
    // SAFETY: only compares the frame's own pointers with null.
    unsafe { !frame.as_ptr().is_null() && !frame.is_empty() }
}

/// Bits of the first component of a pixel format.
pub(super) fn bit_depth(format: Pixel) -> Option<u8> {
    let descriptor = format.descriptor()?;
    // SAFETY: descriptors are static tables inside FFmpeg.
    let depth = unsafe { (*descriptor.as_ptr()).comp[0].depth };
    u8::try_from(depth).ok().filter(|depth| *depth > 0)
}

/// Gives a piece of sound whose channels have no places the usual places of so many channels: the resampler mixes by
/// place.
pub(super) fn place_channels(piece: &mut frame::Audio) {
    // SAFETY: the frame owns its `AVFrame`; FFmpeg's own calls free the old layout and write a whole new one in place.
    unsafe {
        let frame = piece.as_mut_ptr();
        let layout = &raw mut (*frame).ch_layout;
        if (*layout).order != ffi::AVChannelOrder::AV_CHANNEL_ORDER_NATIVE {
            let channels = (*layout).nb_channels;
            ffi::av_channel_layout_uninit(layout);
            ffi::av_channel_layout_default(layout, channels);
        }
    }
}

/// A scaler that may move between threads.
pub(super) struct Scaler(pub scaling::Context);

// SAFETY: a scaling context is plain memory with tables, bound to no thread, and is used through `&mut` only.
unsafe impl Send for Scaler {}

/// FFmpeg's routines for several pixels at once may write so far behind a row's end, bytes.
const BEYOND_ROW: usize = 64;

impl Scaler {
    /// Scales a whole frame to packed RGB, rows of `width` pixels without padding: `3 * width * height` bytes. `None` where the frame or
    /// the size isn't what the scaler was made for.
    pub(super) fn packed_rgb(&mut self, from: &frame::Video, width: u32, height: u32) -> Option<Vec<u8>> {
        let (input, output) = (self.0.input(), self.0.output());
        let is_known = (from.format(), from.width(), from.height())
            == (input.format, input.width, input.height)
            && (output.format, output.width, output.height) == (Pixel::RGB24, width, height);
        let row = 3 * usize::try_from(width).ok()?;
        let bytes = row.checked_mul(usize::try_from(height).ok()?)?;
        if !is_known || !has_memory(from) {
            return None;
        }
        let mut rgb: Vec<u8> = Vec::with_capacity(bytes + BEYOND_ROW);
        let planes = [rgb.as_mut_ptr(), std::ptr::null_mut(), std::ptr::null_mut(), std::ptr::null_mut()];
        let strides = [i32::try_from(row).ok()?, 0, 0, 0];
        // SAFETY: frame and scaler agree in format and size, as was looked at, and the frame has its memory. The scaler writes `height`
        // rows of `row` bytes, at most `BEYOND_ROW` bytes past the last one, for which there is room. The length is set only where it
        // says that it has written every row.
        unsafe {
            let frame = from.as_ptr();
            let written = ffi::sws_scale(
                self.0.as_mut_ptr(),
                (*frame).data.as_ptr().cast(),
                (*frame).linesize.as_ptr(),
                0,
                from.height() as i32,
                planes.as_ptr(),
                strides.as_ptr(),
            );
            if u32::try_from(written).ok()? != height {
                return None;
            }
            rgb.set_len(bytes);
        }
        Some(rgb)
    }

    /// Tells a scaler from RGB what its output is: limited range, BT.709 or BT.601.
    pub(super) fn set_target_colour(&mut self, bt709: bool) {
        const NEUTRAL: i32 = 1 << 16;
        const FULL: i32 = 1;
        const LIMITED: i32 = 0;
        // SAFETY: as in `set_colour`.
        unsafe {
            ffi::sws_setColorspaceDetails(
                self.0.as_mut_ptr(),
                ffi::sws_getCoefficients(ffi::SWS_CS_DEFAULT),
                FULL,
                ffi::sws_getCoefficients(if bt709 { ffi::SWS_CS_ITU709 } else { ffi::SWS_CS_ITU601 }),
                LIMITED,
                0,
                NEUTRAL,
                NEUTRAL,
            );
        }
    }

    /// Tells the scaler which matrix and range its input has; without this it takes everything for BT.601, limited.
    /// `matrix` is one of FFmpeg's `SWS_CS_*` codes; `brightness` is added, in 1/256 of a grey level.
    pub(super) fn set_colour(&mut self, matrix: i32, full_range: bool, brightness: i32) {
        const NEUTRAL: i32 = 1 << 16;
        const FULL: i32 = 1;
        // SAFETY: the context is live, the coefficient tables are static and of the length that the call expects, and
        // an unknown code yields FFmpeg's default table. A refusal (RGB input has no matrix) changes nothing.
        unsafe {
            ffi::sws_setColorspaceDetails(
                self.0.as_mut_ptr(),
                ffi::sws_getCoefficients(matrix),
                i32::from(full_range),
                ffi::sws_getCoefficients(ffi::SWS_CS_DEFAULT),
                FULL,
                brightness,
                NEUTRAL,
                NEUTRAL,
            );
        }
    }
}

/// Whether a packet is only there so that others can be decoded, and its picture is not to be shown.
pub(super) fn is_discarded(packet: &Packet) -> bool {
    use ffmpeg_next::packet::Ref;
    // SAFETY: the packet owns its `AVPacket`; a plain integer is read.
    unsafe { (*packet.as_ptr()).flags & ffi::AV_PKT_FLAG_DISCARD != 0 }
}
