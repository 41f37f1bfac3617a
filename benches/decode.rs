//! How fast clips become RGB frames, beside the floor that FFmpeg's decoder alone sets.
//!
//! `cargo bench --bench decode`; one iteration is one whole clip, the counter gives its frames a second.

use std::path::{Path, PathBuf};

use divan::counter::ItemsCount;
use ffmpeg_next::codec::{Context, threading};
use ffmpeg_next::{Packet, format, frame, media};
use toeline::video::Clip;

fn main() {
    divan::main();
}

/// The first clip of these that is there.
const CLIPS: [&str; 2] = [
    concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo.mp4"),
    concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/testbed/clips/side_neutral.mp4"),
];

fn clip() -> Option<PathBuf> {
    let clip = CLIPS.iter().map(PathBuf::from).find(|path| path.is_file());
    if clip.is_none() {
        println!("skipped: no clip to decode");
    }
    clip
}

fn rgb_frames(path: &Path) -> usize {
    let clip = Clip::open(path, None).expect("the clip opens");
    let mut count = 0;
    for frame in clip.frames().expect("frames start") {
        divan::black_box(frame.expect("a frame"));
        count += 1;
    }
    count
}

/// FFmpeg's decoder with the same threads and nothing after it.
fn bare_frames(path: &Path) -> usize {
    let mut input = format::input(path).expect("the clip opens");
    let stream = input.streams().best(media::Type::Video).expect("a video track");
    let index = stream.index();
    let mut context = Context::from_parameters(stream.parameters()).expect("a codec");
    let count = std::thread::available_parallelism().map_or(1, usize::from).min(4);
    context.set_threading(threading::Config { kind: threading::Type::Frame, count, ..Default::default() });
    let mut decoder = context.decoder().video().expect("a decoder");
    let mut picture = frame::Video::empty();
    let mut frames = 0;
    loop {
        let mut packet = Packet::empty();
        let more = packet.read(&mut input).is_ok();
        if more && packet.stream() == index {
            decoder.send_packet(&packet).expect("a whole packet");
        } else if !more {
            decoder.send_eof().expect("an end");
        }
        while decoder.receive_frame(&mut picture).is_ok() {
            frames += 1;
        }
        if !more {
            return frames;
        }
    }
}

#[divan::bench(sample_count = 10)]
fn decode_and_convert(bencher: divan::Bencher) {
    if let Some(path) = clip() {
        bencher.counter(ItemsCount::new(rgb_frames(&path))).bench_local(|| rgb_frames(&path));
    }
}

#[divan::bench(sample_count = 10)]
fn decode_alone(bencher: divan::Bencher) {
    if let Some(path) = clip() {
        bencher.counter(ItemsCount::new(bare_frames(&path))).bench_local(|| bare_frames(&path));
    }
}
