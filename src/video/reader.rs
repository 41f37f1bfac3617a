//! The loop between container and decoder: packets in, pictures or sound out, damage counted and passed over.

use ffmpeg_next::codec::Id;
use ffmpeg_next::codec::discard::Discard;
use ffmpeg_next::error::EAGAIN;
use ffmpeg_next::format::context::Input;
use ffmpeg_next::{Error, Frame, Packet, Rational, Rescale, decoder};

/// Consecutive failures after which a file counts as damaged to its end; each one costs a read of the file, and
/// FFmpeg finds its way again within far fewer.
const MOST_FAILURES: usize = 1000;

/// Reads one stream of an open container.
pub(super) struct Reader {
    input: Input,
    decoder: decoder::Opened,
    stream: usize,
    waiting: Option<Packet>,
    state: State,
    failures: usize,
    skipped: usize,
    cut: bool,
    /// Pictures with an earlier stamp are decoded only where others depend on them.
    wanted_from: Option<i64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Packets are being read.
    Reading,
    /// The file is at its end, the decoder still holds pictures.
    Draining,
    Finished,
}

impl Reader {
    pub(super) fn new(input: Input, decoder: decoder::Opened, stream: usize) -> Self {
        Self {
            input,
            decoder,
            stream,
            waiting: None,
            state: State::Reading,
            failures: 0,
            skipped: 0,
            cut: false,
            wanted_from: None,
        }
    }

    /// Passes over pictures of a kind without decoding them.
    pub(super) fn skip(&mut self, which: Discard) {
        self.decoder.skip_frame(which);
    }

    /// From now on passes over pictures with an earlier stamp on which no other depends, where the format says for sure which these
    /// are.
    pub(super) fn want_from(&mut self, stamp: i64) {
        if self.decoder.id() == Id::H264 {
            self.wanted_from = Some(stamp);
        }
    }

    /// Goes on at the last whole picture up to one with this stamp.
    pub(super) fn seek(&mut self, stamp: i64) {
        let micros = Rational::new(1, ffmpeg_next::ffi::AV_TIME_BASE);
        let at = stamp.rescale(self.decoder.packet_time_base(), micros).saturating_add(1);
        // Where it can't be sought, reading goes on where it is, and the pictures' own stamps show that.
        let _ = self.input.seek(at, ..at);
        self.decoder.flush();
        self.waiting = None;
        self.failures = 0;
        self.state = State::Reading;
    }

    /// Packets that the decoder refused.
    pub(super) fn skipped(&self) -> usize {
        self.skipped
    }

    /// Whether the file broke off within a packet or with a read error.
    pub(super) fn was_cut(&self) -> bool {
        self.cut
    }

    /// Decodes the next picture or piece of sound, in order of presentation, into `frame`; `false` at the end of the
    /// clip.
    pub(super) fn read(&mut self, frame: &mut Frame) -> bool {
        while self.state != State::Finished {
            match self.decoder.receive_frame(frame) {
                Ok(()) => {
                    self.failures = 0;
                    return true;
                }
                Err(Error::Other { errno: EAGAIN }) if self.state == State::Reading => self.feed(),
                Err(Error::Eof) => self.state = State::Finished,
                Err(_) => {
                    self.skipped += 1;
                    self.fail();
                }
            }
        }
        false
    }

    /// Hands the decoder one more packet, or the end of the file.
    fn feed(&mut self) {
        let packet = match self.waiting.take() {
            Some(packet) => packet,
            None => match self.next_packet() {
                Some(packet) => packet,
                None => return,
            },
        };
        if let Some(wanted) = self.wanted_from {
            let is_early = packet.pts().is_some_and(|stamp| stamp < wanted);
            self.decoder.skip_frame(if is_early { Discard::NonReference } else { Discard::Default });
        }
        match self.decoder.send_packet(&packet) {
            Ok(()) => {}
            Err(Error::Other { errno: EAGAIN }) => {
                self.waiting = Some(packet);
                self.fail();
            }
            Err(_) => {
                self.skipped += 1;
                self.fail();
            }
        }
    }

    /// The stream's next packet; `None` once the file has ended or a damaged stretch was passed over.
    fn next_packet(&mut self) -> Option<Packet> {
        loop {
            let mut packet = Packet::empty();
            match packet.read(&mut self.input) {
                Ok(()) if packet.stream() == self.stream => {
                    self.cut = packet.is_corrupt();
                    return Some(packet);
                }
                Ok(()) => {}
                Err(Error::Eof) => {
                    self.drain();
                    return None;
                }
                // The container finds its way again behind a damaged stretch.
                Err(Error::InvalidData) => {
                    self.fail();
                    return None;
                }
                Err(_) => {
                    self.cut = true;
                    self.drain();
                    return None;
                }
            }
        }
    }

    /// Tells the decoder that nothing more comes.
    fn drain(&mut self) {
        self.state = if self.decoder.send_eof().is_ok() { State::Draining } else { State::Finished };
    }

    /// Notes one more failure in a row, and gives up when there are too many.
    fn fail(&mut self) {
        self.failures += 1;
        if self.failures < MOST_FAILURES {
            return;
        }
        self.cut = true;
        self.failures = 0;
        match self.state {
            State::Reading => self.drain(),
            State::Draining | State::Finished => self.state = State::Finished,
        }
    }
}
