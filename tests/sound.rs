//! The sound of clips of all kinds, made on the spot with the `ffmpeg` program; where it is missing, these tests say so
//! and pass.

#![allow(clippy::unwrap_used)] // A failed step of a test may panic.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;
use toeline::sound::Heard;
use toeline::video::{Clip, ClipInfo, ClipReport, NoSound, Sound};

fn studio() -> Option<TempDir> {
    let there = Command::new("ffmpeg").arg("-version").stdout(Stdio::null()).stderr(Stdio::null()).status();
    if !there.is_ok_and(|status| status.success()) {
        println!("skipped: the ffmpeg program is not installed");
        return None;
    }
    Some(TempDir::new().unwrap())
}

/// A short sound at 1 s over faint noise, two channels.
const HIT: &str = "aevalsrc=0.002*(random(0)-0.5)+if(gte(t\\,1)\\,0.8*exp(-(t-1)/0.006)*(sin(2*PI*2500*(t-1)+1)\
                   +0.5*sin(2*PI*1300*(t-1)+1))\\,0)|0.002*(random(1)-0.5):d=2";

/// Two seconds of pictures, small and cheap.
const PICTURES: [&str; 4] = ["-f", "lavfi", "-i", "testsrc=size=64x48:rate=30:duration=2"];

/// Makes `name` from pictures and a hit; `before` goes before the pictures, `between` before the hit, `after` last.
fn make(folder: &TempDir, before: &str, between: &str, after: &str, name: &str) -> Option<PathBuf> {
    let output = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-nostdin"])
        .args(before.split_whitespace())
        .args(PICTURES)
        .args(between.split_whitespace())
        .args(["-f", "lavfi", "-i", HIT])
        .args(after.split_whitespace())
        .arg(name)
        .current_dir(folder.path())
        .output()
        .unwrap();
    if output.status.success() {
        return Some(folder.path().join(name));
    }
    let reason = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(reason.contains("Unknown encoder"), "{name}: {reason}");
    println!("skipped {name}: {}", reason.trim());
    None
}

/// Reads all pictures, then the sound.
fn read_at(path: &Path, capture_rate: Option<f64>) -> (ClipInfo, ClipReport, Result<Sound, NoSound>) {
    let clip = Clip::open(path, capture_rate).unwrap_or_else(|error| panic!("{error}"));
    let info = clip.info().clone();
    let mut frames = clip.frames().unwrap();
    frames.by_ref().for_each(drop);
    let report = frames.report();
    let sound = Sound::read(&info, &report);
    (info, report, sound)
}

/// Times of the short sounds.
fn hits(path: &Path) -> Vec<f64> {
    let sound = read_at(path, None).2.unwrap_or_else(|reason| panic!("{}: {reason}", path.display()));
    Heard::listen(&sound).unwrap().onsets.iter().map(|o| o.time.0).collect()
}

#[track_caller]
fn assert_hit(path: &Path, at: f64, within: f64) {
    let found = hits(path);
    assert!(found.len() == 1 && (found[0] - at).abs() < within, "{}: {found:?}, not {at}", path.display());
}

#[test]
fn every_codec_layout_and_rate_tells_the_same_time() {
    let Some(folder) = studio() else { return };
    let kinds = [
        ("-c:a aac -ar 44100 -ac 2", "a.mp4", 0.0015),
        ("-c:a aac -ar 48000 -ac 1", "b.mov", 0.0015),
        // WebM rounds Opus's lead-in to milliseconds, and FFmpeg moves the pictures by it.
        ("-c:a libopus -ar 48000 -ac 2 -c:v libvpx", "c.webm", 0.0080),
        ("-c:a libmp3lame -ar 22050 -ac 1", "d.mkv", 0.003),
        ("-c:a pcm_s16le -ar 48000 -ac 2", "e.avi", 0.0005),
        ("-c:a pcm_u8 -ar 11025 -ac 1", "f.avi", 0.0005),
        ("-c:a pcm_f32le -ar 96000 -ac 2", "g.mov", 0.0005),
        ("-c:a pcm_s24le -ar 192000 -ac 1", "h.mkv", 0.0006),
        ("-c:a flac -ar 44100 -ac 6", "i.mkv", 0.0006),
        ("-c:a ac3 -ar 48000 -ac 6", "j.ts", 0.004),
        ("-c:a pcm_alaw -ar 8000 -ac 1", "k.mov", 0.0010),
    ];
    for (after, name, within) in kinds {
        if let Some(clip) = make(&folder, "", "", after, name) {
            assert_hit(&clip, 1.0, within);
        }
    }
}

#[test]
fn sound_that_starts_late_or_before_the_pictures_keeps_its_time() {
    let Some(folder) = studio() else { return };
    let late = make(&folder, "", "-itsoffset 0.5", "-c:a aac", "late.mp4").unwrap();
    assert_hit(&late, 1.5, 0.0015);
    let early = make(&folder, "-itsoffset 0.4", "", "-fps_mode passthrough -c:a aac", "early.mp4").unwrap();
    assert_hit(&early, 0.6, 0.0015);
    let early = make(&folder, "-itsoffset 0.4", "", "-fps_mode passthrough -c:a flac", "early.mkv").unwrap();
    assert_hit(&early, 0.6, 0.0015);
    let sound = read_at(&early, None).2.unwrap();
    assert!(sound.stretches[0].start.0 < -0.39, "{}", sound.stretches[0].start.0);
}

#[test]
fn sound_beyond_the_pictures_is_not_read() {
    let Some(folder) = studio() else { return };
    let long =
        make(&folder, "", "-stream_loop 20", "-c:a pcm_s16le -af apad=whole_dur=60", "long.mkv").unwrap();
    let sound = read_at(&long, None).2.unwrap();
    let samples: usize = sound.stretches.iter().map(|s| s.samples.len()).sum();
    assert!((16_000 * 2..16_000 * 4).contains(&samples), "{samples}");
}

#[test]
fn clips_without_usable_sound_say_why() {
    let Some(folder) = studio() else { return };
    let none = make(&folder, "", "", "-an", "none.mp4").unwrap();
    assert_eq!(read_at(&none, None).2, Err(NoSound::Absent));
    let slow = make(&folder, "", "", "-c:a aac", "slow.mp4").unwrap();
    assert_eq!(read_at(&slow, Some(240.0)).2, Err(NoSound::SlowMotion));
    assert!(read_at(&slow, Some(30.0)).2.is_ok());
    let mute = make(&folder, "", "", "-af volume=0 -c:a pcm_s16le", "mute.mkv").unwrap();
    assert_eq!(Heard::listen(&read_at(&mute, None).2.unwrap()), None);
    // Two recordings behind each other, as some tools join files: the clock starts anew.
    let part = make(&folder, "", "", "-c:a mp2 -c:v mpeg2video", "part.ts").unwrap();
    let bytes = fs::read(&part).unwrap();
    let joined = folder.path().join("joined.ts");
    fs::write(&joined, [bytes.clone(), bytes].concat()).unwrap();
    let (_, report, sound) = read_at(&joined, None);
    assert!(report.clock_restarts > 0, "{report:?}");
    assert_eq!(sound, Err(NoSound::ClockLeaps));
}

#[test]
fn damaged_sound_is_passed_over_and_keeps_its_time() {
    let Some(folder) = studio() else { return };
    let whole = make(&folder, "", "", "-c:a aac -c:v mpeg4", "whole.ts").unwrap();
    let mut bytes = fs::read(&whole).unwrap();
    // Packets of 188 bytes; those of the first third are lost.
    let (from, to) = (bytes.len() / 6 / 188 * 188, bytes.len() / 3 / 188 * 188);
    bytes[from..to].fill(0);
    let damaged = folder.path().join("damaged.ts");
    fs::write(&damaged, bytes).unwrap();
    let sound = read_at(&damaged, None).2.unwrap();
    let found = Heard::listen(&sound).unwrap();
    assert!(found.onsets.iter().any(|o| (o.time.0 - 1.0).abs() < 0.003), "{:?}", found.onsets);
}

#[test]
fn arbitrary_damage_never_panics_and_gives_finite_samples() {
    let Some(folder) = studio() else { return };
    let kinds = [("-c:a aac", "a.mp4"), ("-c:a pcm_f32le", "b.mkv"), ("-c:a mp2 -c:v mpeg2video", "c.ts")];
    let mut state = 1_u64;
    let mut random = move |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let mut read = 0;
    for (after, name) in kinds {
        let Some(clip) = make(&folder, "", "", after, name) else { continue };
        let whole = fs::read(&clip).unwrap();
        for _ in 0..25 {
            let mut bytes = whole.clone();
            for _ in 0..1 + random(60) {
                let at = random(bytes.len());
                bytes[at] = random(256) as u8;
            }
            bytes.truncate(whole.len() - random(whole.len() / 2));
            let damaged = folder.path().join(format!("damaged-{name}"));
            fs::write(&damaged, bytes).unwrap();
            let Ok(clip) = Clip::open(&damaged, None) else { continue };
            let info = clip.info().clone();
            let mut frames = clip.frames().unwrap();
            frames.by_ref().for_each(drop);
            let Ok(sound) = Sound::read(&info, &frames.report()) else { continue };
            read += 1;
            let finite = |s: &toeline::video::Stretch| {
                s.start.0.is_finite() && s.samples.iter().all(|v| v.is_finite() && v.abs() <= 8.0)
            };
            assert!(sound.stretches.iter().all(finite));
            let _ = Heard::listen(&sound);
        }
    }
    assert!(read > 10, "{read} of 75 could be read");
}
