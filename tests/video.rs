//! Clips of all kinds through the video room. Most clips are made on the spot with the `ffmpeg` program; where it is
//! missing, those tests say so and pass.

#![allow(clippy::unwrap_used)] // A failed step of a test may panic.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

use tempfile::TempDir;
use toeline::units::Seconds;
use toeline::video::{Clip, ClipInfo, ClipReport, Frame, Index, Parts, Picture, Thinned, VideoError};

const SHARED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared");

/// A folder of its own for a test's clips, or `None` (with the reason printed) without the `ffmpeg` program.
fn studio() -> Option<TempDir> {
    let there = Command::new("ffmpeg").arg("-version").stdout(Stdio::null()).stderr(Stdio::null()).status();
    if !there.is_ok_and(|status| status.success()) {
        println!("skipped: the ffmpeg program is not installed");
        return None;
    }
    Some(TempDir::new().unwrap())
}

/// Runs ffmpeg with `arguments` (split at blanks) to make `name`; `false` (with the reason printed) if it cannot.
fn make(folder: &TempDir, arguments: &str, name: &str) -> Option<PathBuf> {
    let output = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-nostdin"])
        .args(arguments.split_whitespace())
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

struct Read {
    info: ClipInfo,
    frames: Vec<Frame>,
    report: ClipReport,
}

impl Read {
    fn times(&self) -> Vec<f64> {
        self.frames.iter().map(|frame| frame.time.0).collect()
    }
    fn first(&self) -> &Picture {
        &self.frames[0].picture
    }
    fn duplicates(&self) -> Vec<usize> {
        self.frames.iter().filter(|frame| frame.duplicate).map(|frame| frame.index.0).collect()
    }
}

fn read_at(path: &Path, capture_rate: Option<f64>) -> Read {
    let clip = Clip::open(path, capture_rate).unwrap_or_else(|error| panic!("{error}"));
    let info = clip.info().clone();
    let mut iterator = clip.frames().unwrap();
    let frames: Vec<Frame> = iterator.by_ref().map(Result::unwrap).collect();
    let report = iterator.report();
    assert_eq!(report.frames, frames.len());
    for (index, frame) in frames.iter().enumerate() {
        assert_eq!(frame.index.0, index);
        let picture = &frame.picture;
        assert_eq!((picture.width, picture.height), (info.width, info.height));
        assert_eq!(picture.rgb.len(), (picture.width * picture.height * 3) as usize);
    }
    assert!(frames.windows(2).all(|pair| pair[0].time.0 < pair[1].time.0));
    assert_eq!(frames.first().map(|frame| frame.time.0), Some(0.0));
    Read { info, frames, report }
}

fn read(path: &Path) -> Read {
    read_at(path, None)
}

fn error(path: &Path) -> VideoError {
    let error = match Clip::open(path, None) {
        Ok(_) => panic!("{} opens", path.display()),
        Err(error) => error,
    };
    let text = error.to_string();
    assert_eq!(text.lines().count(), 1, "{text}");
    assert!(text.starts_with(&path.display().to_string()), "{text}");
    error
}

fn assert_near(actual: [u8; 3], expected: [u8; 3], levels: u8, what: &str) {
    let near = actual.iter().zip(expected).all(|(a, b)| a.abs_diff(b) <= levels);
    assert!(near, "{what}: {actual:?} instead of {expected:?}");
}

/// Mean difference (grey levels) from the picture that the ffmpeg program itself makes of the clip's first one, by its
/// exact route. Means over blocks are compared: the two spread colour differently across edges, since it is stored at
/// half the resolution.
fn difference_from_ffmpeg(folder: &TempDir, clip: &Path, matrix: &str, picture: &Picture) -> f64 {
    const BLOCK: usize = 16;
    let arguments = format!(
        "-i {} -frames:v 1 -vf scale=in_color_matrix={matrix}:flags=bilinear+accurate_rnd+full_chroma_int \
         -pix_fmt rgb24 -f rawvideo",
        clip.display()
    );
    let expected = fs::read(make(folder, &arguments, "reference.rgb").unwrap()).unwrap();
    assert_eq!(expected.len(), picture.rgb.len());
    let (across, down) = (picture.width as usize / BLOCK, picture.height as usize / BLOCK);
    let mut sums = vec![0_i64; across * down * 3];
    for y in 0..down * BLOCK {
        for x in 0..across * BLOCK {
            for channel in 0..3 {
                let at = (y * picture.width as usize + x) * 3 + channel;
                let block = (y / BLOCK * across + x / BLOCK) * 3 + channel;
                sums[block] += i64::from(picture.rgb[at]) - i64::from(expected[at]);
            }
        }
    }
    sums.iter().map(|sum| sum.unsigned_abs() as f64).sum::<f64>() / (sums.len() * BLOCK * BLOCK) as f64
}

const SOURCE: &str = "-f lavfi -i testsrc2=size=320x240:rate=30:duration=1";

#[test]
fn each_codec_and_container() {
    let Some(folder) = studio() else { return };
    let kinds = [
        ("h264", "-c:v libx264 -pix_fmt yuv420p", "a.mp4"),
        ("h264", "-c:v libx264 -pix_fmt yuv420p -bf 3", "b.mov"),
        ("h264", "-c:v libx264 -pix_fmt yuv420p", "c.mkv"),
        ("hevc", "-c:v libx265 -pix_fmt yuv420p -x265-params log-level=none", "d.mp4"),
        ("hevc", "-c:v libx265 -pix_fmt yuv420p -tag:v hvc1 -x265-params log-level=none", "e.mov"),
        ("vp9", "-c:v libvpx-vp9 -deadline realtime -cpu-used 8", "f.webm"),
        ("av1", "-c:v libsvtav1 -preset 10 -pix_fmt yuv420p", "g.mp4"),
        ("av1", "-c:v libsvtav1 -preset 10 -pix_fmt yuv420p", "h.webm"),
        ("mpeg4", "-c:v mpeg4", "i.avi"),
    ];
    for (codec, options, name) in kinds {
        let Some(path) = make(&folder, &format!("{SOURCE} {options}"), name) else { continue };
        let clip = read(&path);
        assert_eq!(clip.info.codec, codec, "{name}");
        assert_eq!(clip.frames.len(), 30, "{name}");
        assert_eq!((clip.info.width, clip.info.height), (320, 240));
        assert!((clip.info.stored_rate - 30.0).abs() < 0.01, "{name}: {}", clip.info.stored_rate);
        let worst =
            clip.times().iter().enumerate().map(|(i, t)| (t - i as f64 / 30.0).abs()).fold(0.0, f64::max);
        assert!(worst < 0.0011, "{name}: {worst}");
        assert!(clip.report.warnings.is_empty(), "{name}: {:?}", clip.report);
        let matrix = if codec == "mpeg4" { "bt601" } else { "auto" };
        let difference = difference_from_ffmpeg(&folder, &path, matrix, clip.first());
        assert!(difference < 1.5, "{name}: {difference}");
    }
}

const RED: [u8; 3] = [220, 30, 30];
const GREEN: [u8; 3] = [30, 200, 30];
const BLUE: [u8; 3] = [30, 30, 220];
const WHITE: [u8; 3] = [235, 235, 235];

/// A clip of four coloured quarters: red, green above blue, white.
fn quarters(folder: &TempDir) -> Option<PathBuf> {
    let colour = |name: [u8; 3]| {
        format!(
            "-f lavfi -i color=c=0x{:02x}{:02x}{:02x}:s=48x32:r=30:d=0.2,format=rgb24",
            name[0], name[1], name[2]
        )
    };
    let arguments = format!(
        "{} {} {} {} -filter_complex [0][1]hstack[a];[2][3]hstack[b];[a][b]vstack,\
         scale=out_color_matrix=bt709:out_range=tv:flags=accurate_rnd,format=yuv420p \
         -c:v libx264 -qp 4 -colorspace bt709 -color_range tv",
        colour(RED),
        colour(GREEN),
        colour(BLUE),
        colour(WHITE)
    );
    make(folder, &arguments, "quarters.mp4")
}

/// Writes a display matrix (a, b, c, d, as in the file format) into the picture track of an MP4.
fn set_matrix(from: &Path, to: &Path, [a, b, c, d]: [i32; 4]) {
    const MATRIX_AFTER_NAME: usize = 44;
    let mut bytes = fs::read(from).unwrap();
    let at = bytes.windows(4).position(|four| four == b"tkhd").unwrap() + MATRIX_AFTER_NAME;
    let one = 1 << 16;
    let matrix = [a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30];
    for (index, number) in matrix.iter().enumerate() {
        bytes[at + index * 4..at + index * 4 + 4].copy_from_slice(&i32::to_be_bytes(*number));
    }
    fs::write(to, bytes).unwrap();
}

/// Colours near the corners: top left, top right, bottom left, bottom right.
fn corners(picture: &Picture) -> [[u8; 3]; 4] {
    let (right, bottom) = (picture.width - 5, picture.height - 5);
    [(4, 4), (right, 4), (4, bottom), (right, bottom)].map(|(x, y)| picture.pixel(x, y).unwrap())
}

#[test]
fn rotation_and_mirror() {
    let Some(folder) = studio() else { return };
    let Some(stored) = quarters(&folder) else { return };
    let ways = [
        ([1, 0, 0, 1], 0, false, [RED, GREEN, BLUE, WHITE]),
        ([0, 1, -1, 0], 1, false, [BLUE, RED, WHITE, GREEN]),
        ([-1, 0, 0, -1], 2, false, [WHITE, BLUE, GREEN, RED]),
        ([0, -1, 1, 0], 3, false, [GREEN, WHITE, RED, BLUE]),
        ([-1, 0, 0, 1], 0, true, [GREEN, RED, WHITE, BLUE]),
        ([1, 0, 0, -1], 2, true, [BLUE, WHITE, RED, GREEN]),
        ([0, 1, 1, 0], 3, true, [RED, BLUE, GREEN, WHITE]),
        ([0, -1, -1, 0], 1, true, [WHITE, GREEN, BLUE, RED]),
    ];
    for (matrix, rotation, mirrored, expected) in ways {
        let path = folder.path().join("turned.mp4");
        set_matrix(&stored, &path, matrix);
        let clip = read(&path);
        assert_eq!((clip.info.rotation, clip.info.mirrored), (rotation, mirrored), "{matrix:?}");
        let size = if rotation % 2 == 1 { (64, 96) } else { (96, 64) };
        assert_eq!((clip.info.width, clip.info.height), size, "{matrix:?}");
        for (actual, expected) in corners(clip.first()).into_iter().zip(expected) {
            assert_near(actual, expected, 3, &format!("{matrix:?}"));
        }
        if !mirrored {
            // The ffmpeg program turns upright by itself.
            let difference = difference_from_ffmpeg(&folder, &path, "auto", clip.first());
            assert!(difference < 2.0, "{matrix:?}: {difference}");
        }
    }
}

#[test]
fn colour_spaces_and_ranges() {
    let Some(folder) = studio() else { return };
    let colours =
        [[200, 60, 40], [40, 160, 60], [50, 70, 190], [222, 222, 222], [16, 16, 16], [190, 150, 120]];
    let spaces = [
        ("bt709", "bt709", "tv", "BT.709, limited range"),
        ("bt709", "bt709", "pc", "BT.709, full range"),
        ("bt601", "smpte170m", "tv", "BT.601, limited range"),
        ("bt2020", "bt2020nc", "tv", "BT.2020, limited range"),
    ];
    for (matrix, tag, range, name) in spaces {
        for [red, green, blue] in colours {
            let arguments = format!(
                "-f lavfi -i color=c=0x{red:02x}{green:02x}{blue:02x}:s=64x64:r=30:d=0.1,format=rgb24 -vf \
                 scale=out_color_matrix={matrix}:out_range={range}:flags=accurate_rnd,format=yuv420p \
                 -c:v libx264 -qp 1 -colorspace {tag} -color_range {range}"
            );
            let Some(path) = make(&folder, &arguments, "colour.mp4") else { return };
            let clip = read(&path);
            assert_eq!(clip.info.colour_space, name);
            assert_near(clip.first().pixel(20, 20).unwrap(), [red, green, blue], 2, name);
        }
    }
}

#[test]
fn ten_bit_hevc() {
    let Some(folder) = studio() else { return };
    let options = "-c:v libx265 -pix_fmt yuv420p10le -x265-params log-level=none";
    let Some(path) = make(&folder, &format!("{SOURCE} {options}"), "ten.mp4") else { return };
    let clip = read(&path);
    assert_eq!((clip.info.bit_depth, clip.frames.len()), (10, 30));
    assert!(difference_from_ffmpeg(&folder, &path, "auto", clip.first()) < 1.5);
}

#[test]
fn odd_sizes() {
    let Some(folder) = studio() else { return };
    let source = "-f lavfi -i testsrc=size=321x241:rate=30:duration=0.3";
    for (options, name) in [
        ("-c:v libvpx-vp9 -deadline realtime -cpu-used 8 -pix_fmt yuv420p", "odd.webm"),
        ("-c:v libx264 -pix_fmt yuv444p", "odd.mp4"),
    ] {
        let Some(path) = make(&folder, &format!("{source} {options}"), name) else { continue };
        let clip = read(&path);
        assert_eq!((clip.info.width, clip.info.height), (321, 241));
        let difference = difference_from_ffmpeg(&folder, &path, "auto", clip.first());
        assert!(difference < 1.5, "{name}: {difference}");
    }
}

#[test]
fn oblong_pixels_become_square() {
    let Some(folder) = studio() else { return };
    let options = "-vf setsar=4/3 -c:v libx264 -pix_fmt yuv420p";
    let Some(path) = make(&folder, &format!("{SOURCE} {options}"), "oblong.mp4") else { return };
    let clip = read(&path);
    assert_eq!((clip.info.width, clip.info.height), (427, 240));
}

#[test]
fn variable_rate() {
    let Some(folder) = studio() else { return };
    let options = "-vf select=lt(n\\,15)+not(mod(n\\,2)) -fps_mode vfr -c:v libx264 -pix_fmt yuv420p";
    for name in ["variable.mp4", "variable.mkv"] {
        let Some(path) = make(&folder, &format!("{SOURCE} {options}"), name) else { return };
        let clip = read(&path);
        let expected: Vec<f64> =
            (0..30).filter(|n| *n < 15 || n % 2 == 0).map(|n| f64::from(n) / 30.0).collect();
        assert_eq!(clip.frames.len(), expected.len());
        for (actual, expected) in clip.times().iter().zip(expected) {
            assert!((actual - expected).abs() < 0.0011, "{name}: {actual} instead of {expected}");
        }
        assert!(clip.report.variable_rate, "{name}");
        assert!(!clip.report.truncated, "{name}");
    }
}

#[test]
fn repeated_pictures() {
    let Some(folder) = studio() else { return };
    for quality in [18, 32] {
        let arguments = format!(
            "-f lavfi -i testsrc2=size=640x360:rate=24:duration=2 -vf fps=30 -c:v libx264 -crf {quality} \
             -pix_fmt yuv420p"
        );
        let Some(path) = make(&folder, &arguments, "repeats.mp4") else { return };
        let clip = read(&path);
        assert_eq!(clip.duplicates(), (0..60).filter(|n| n % 5 == 2).collect::<Vec<_>>());
        assert_eq!(clip.report.duplicates, 12);
        assert!(clip.report.warnings[0].contains("about 24 frames per second"), "{:?}", clip.report.warnings);
    }
}

#[test]
fn the_beginning_of_a_clip_is_read_alone() {
    let Some(folder) = studio() else { return };
    let arguments = "-f lavfi -i testsrc2=s=320x240:r=25:d=8 -c:v libx264 -g 50";
    let Some(clip) = make(&folder, arguments, "long.mp4") else { return };
    let info = Clip::open(&clip, None).unwrap().info().clone();
    let all = Index::read(&info).unwrap().unwrap();
    assert_eq!(all.len(), 200);
    let index = Arc::new(all.up_to(Seconds(3.0)));
    assert_eq!(index.len(), 76);
    let mut thinned = Thinned::open(&clip, None, &index, 25.0).unwrap();
    let numbers: Vec<usize> = thinned.by_ref().map(|frame| frame.unwrap().index.0).collect();
    assert_eq!(numbers, (0..76).collect::<Vec<_>>());
    let report = thinned.report(0, 0);
    // What was left is not missing.
    assert!(report.frames == 76 && !report.truncated && report.warnings.is_empty(), "{:?}", report.warnings);
    let one = Parts::open(&clip, None, &index, std::iter::once(60..61)).unwrap();
    assert_eq!(one.map(|frame| frame.unwrap().index.0).collect::<Vec<_>>(), [60]);
}

#[test]
fn noise_in_a_still_scene_is_no_repeat() {
    let Some(folder) = studio() else { return };
    for (strength, quality) in [(4, 23), (12, 18), (12, 34), (30, 28)] {
        let arguments = format!(
            "-f lavfi -i color=c=0x408040:s=640x360:r=30:d=2 -vf noise=alls={strength}:allf=t \
             -c:v libx264 -crf {quality} -pix_fmt yuv420p"
        );
        let Some(path) = make(&folder, &arguments, "noise.mp4") else { return };
        assert_eq!(read(&path).duplicates(), [0; 0], "noise {strength}, quality {quality}");
    }
}

#[test]
fn slow_motion() {
    let Some(folder) = studio() else { return };
    let Some(path) = make(&folder, &format!("{SOURCE} -c:v libx264 -pix_fmt yuv420p"), "slow.mp4") else {
        return;
    };
    let clip = read_at(&path, Some(240.0));
    assert_eq!((clip.info.stored_rate, clip.info.capture_rate), (30.0, 240.0));
    for (index, time) in clip.times().iter().enumerate() {
        assert!((time - index as f64 / 240.0).abs() < 1e-6);
    }
    assert!((clip.report.median_interval.unwrap().0 - 1.0 / 240.0).abs() < 1e-6);
    assert!(!clip.report.truncated);
    for rate in [0.0, -30.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(Clip::open(&path, Some(rate)), Err(VideoError::CaptureRate { .. })));
    }
}

#[test]
fn trimmed_on_the_phone_is_whole() {
    let Some(folder) = studio() else { return };
    let Some(_) = make(&folder, &format!("{SOURCE} -c:v libx264 -pix_fmt yuv420p"), "whole.mp4") else {
        return;
    };
    // Copying from within a group of pictures leaves an edit list that hides the first ones.
    let Some(path) = make(&folder, "-ss 0.5 -i whole.mp4 -c copy", "trimmed.mp4") else { return };
    let clip = read(&path);
    assert_eq!(clip.frames.len(), 15);
    assert!(!clip.report.truncated, "{:?}", clip.report);
}

#[test]
fn broken_off() {
    let Some(folder) = studio() else { return };
    let options = "-c:v libx264 -pix_fmt yuv420p -movflags +faststart";
    for name in ["whole.mp4", "whole.mkv"] {
        let Some(path) = make(&folder, &format!("{SOURCE} {options}"), name) else { return };
        let bytes = fs::read(&path).unwrap();
        fs::write(&path, &bytes[..bytes.len() * 6 / 10]).unwrap();
        let clip = read(&path);
        assert!(clip.report.truncated, "{name}: {:?}", clip.report);
        assert!((5..28).contains(&clip.frames.len()), "{name}: {}", clip.frames.len());
        assert!(clip.report.warnings[0].contains("breaks off"));
    }
}

#[test]
fn damage_is_passed_over_and_counted() {
    let Some(folder) = studio() else { return };
    let options = "-c:v libx264 -g 10 -bf 0 -pix_fmt yuv420p -movflags +faststart";
    let Some(path) = make(&folder, &format!("{SOURCE} {options}"), "damaged.mp4") else { return };
    let mut bytes = fs::read(&path).unwrap();
    let (from, to) = (bytes.len() / 2, bytes.len() * 6 / 10);
    bytes[from..to].fill(0);
    fs::write(&path, &bytes).unwrap();
    let clip = read(&path);
    assert!(clip.report.damaged + clip.report.skipped > 0, "{:?}", clip.report);
    assert_eq!(clip.report.damaged, clip.frames.iter().filter(|frame| frame.damaged).count());
    assert!(clip.frames.len() > 15);
    // The pictures behind the damage keep their places in time.
    assert!((clip.times().last().unwrap() - 29.0 / 30.0).abs() < 1e-6);
}

#[test]
fn arbitrary_damage_never_panics() {
    let Some(folder) = studio() else { return };
    let source = "-f lavfi -i testsrc2=size=160x120:rate=30:duration=0.5";
    for name in ["hurt.mp4", "hurt.mkv", "hurt.avi"] {
        let Some(path) = make(&folder, &format!("{source} -c:v libx264 -pix_fmt yuv420p"), name) else {
            return;
        };
        let whole = fs::read(&path).unwrap();
        let mut seed = 1_u64;
        let mut random = |below: usize| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize % below
        };
        for round in 0..60 {
            let mut bytes = whole.clone();
            for _ in 0..=round {
                let at = random(bytes.len());
                bytes[at] = random(256) as u8;
            }
            bytes.truncate(bytes.len() - if round % 3 == 0 { random(bytes.len()) } else { 0 });
            fs::write(&path, &bytes).unwrap();
            if let Ok(frames) = Clip::open(&path, None).and_then(Clip::frames) {
                let mut last = -1.0;
                for frame in frames.take(1000).flatten() {
                    assert!(frame.time.0 > last);
                    last = frame.time.0;
                }
            }
        }
    }
}

#[test]
fn a_change_of_size_and_a_new_start_of_the_clock() {
    let Some(folder) = studio() else { return };
    let options = "-c:v libx264 -pix_fmt yuv420p -muxdelay 0";
    let Some(one) = make(&folder, &format!("{SOURCE} {options}"), "one.ts") else { return };
    let second = "-f lavfi -i testsrc2=size=160x120:rate=30:duration=1";
    let Some(two) = make(&folder, &format!("{second} {options}"), "two.ts") else { return };
    let joined = folder.path().join("joined.ts");
    fs::write(&joined, [fs::read(one).unwrap(), fs::read(two).unwrap()].concat()).unwrap();
    let clip = read(&joined);
    assert!(clip.frames.len() >= 58, "{}", clip.frames.len());
    assert!(clip.report.warnings.iter().any(|warning| warning.contains("size changes")), "{:?}", clip.report);
    assert!(clip.times().last().unwrap() < &2.2);
}

#[test]
fn what_the_file_says_of_itself() {
    let Some(folder) = studio() else { return };
    let arguments = format!(
        "{SOURCE} -f lavfi -i sine=duration=1 -c:v libx264 -pix_fmt yuv420p -movflags use_metadata_tags \
         -metadata com.apple.quicktime.camera.focal_length.35mm_equivalent=26"
    );
    let Some(path) = make(&folder, &arguments, "full.mp4") else { return };
    let info = read(&path).info;
    assert_eq!(info.path, path);
    assert_eq!(info.focal_length_35mm, Some(26.0));
    assert!(info.has_audio);
    assert_eq!((info.stated_frames, info.bit_depth), (Some(30), 8));
    assert!((info.stated_duration.unwrap().0 - 1.0).abs() < 0.01);
    assert_eq!(info.colour_space, "BT.601 (assumed), limited range");
}

#[test]
fn frames_may_move_to_another_thread() {
    let Some(folder) = studio() else { return };
    let Some(path) = make(&folder, &format!("{SOURCE} -c:v libx264 -pix_fmt yuv420p"), "t.mp4") else {
        return;
    };
    let mut frames = Clip::open(&path, None).unwrap().frames().unwrap();
    assert!(frames.next().is_some());
    assert_eq!(std::thread::spawn(move || frames.count()).join().unwrap(), 29);
}

#[cfg(unix)]
#[test]
fn names_of_all_kinds() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let Some(folder) = studio() else { return };
    let Some(path) = make(&folder, &format!("{SOURCE} -c:v libx264 -pix_fmt yuv420p"), "n.mp4") else {
        return;
    };
    for name in [&b"serve: first"[..], b"\xff\xfe.mp4", b"two\nlines.mp4", b"100%d.mp4"] {
        let other = folder.path().join(OsStr::from_bytes(name));
        fs::copy(&path, &other).unwrap();
        assert_eq!(read(&other).frames.len(), 30);
    }
}

#[test]
fn no_clip_at_all() {
    let folder = TempDir::new().unwrap();
    let path = |name: &str| folder.path().join(name);
    assert!(matches!(error(&path("missing.mp4")), VideoError::Missing { .. }));
    assert!(matches!(error(folder.path()), VideoError::NotAFile { .. }));
    fs::write(path("empty.mp4"), []).unwrap();
    assert!(matches!(error(&path("empty.mp4")), VideoError::Empty { .. }));
    let mut seed = 7_u32;
    let garbage: Vec<u8> = std::iter::repeat_with(|| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (seed >> 24) as u8
    })
    .take(100_000)
    .collect();
    fs::write(path("garbage.mp4"), garbage).unwrap();
    assert!(matches!(error(&path("garbage.mp4")), VideoError::NotAVideo { .. }));
    fs::write(path("notes.mp4"), "forehand, backhand\n".repeat(1000)).unwrap();
    assert!(matches!(error(&path("notes.mp4")), VideoError::NotAVideo { .. }));
    fs::write(path("list.mp4"), "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\n/etc/passwd\n").unwrap();
    assert!(matches!(error(&path("list.mp4")), VideoError::NotAVideo { .. }));
}

#[cfg(unix)]
#[test]
fn a_pipe_is_refused_at_once() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("pipe");
    if Command::new("mkfifo").arg(&path).status().is_ok_and(|status| status.success()) {
        assert!(matches!(error(&path), VideoError::NotAFile { .. }));
    } else {
        println!("skipped: no mkfifo");
    }
    assert!(matches!(error(Path::new("/dev/null")), VideoError::NotAFile { .. }));
}

#[test]
fn sound_alone_and_stills() {
    let Some(folder) = studio() else { return };
    for name in ["sound.m4a", "sound.mp3", "sound.wav", "sound.mp4"] {
        let Some(path) = make(&folder, "-f lavfi -i sine=duration=1", name) else { continue };
        assert!(matches!(error(&path), VideoError::NoVideoTrack { .. }), "{name}: {}", error(&path));
    }
    let Some(picture) = make(&folder, "-f lavfi -i testsrc2=size=64x64 -frames:v 1", "still.png") else {
        return;
    };
    assert!(matches!(error(&picture), VideoError::NotAVideo { .. }));
    let cover =
        "-f lavfi -i sine=duration=1 -i still.png -map 0 -map 1 -c:v copy -disposition:v attached_pic";
    let Some(path) = make(&folder, cover, "cover.m4a") else { return };
    assert!(matches!(error(&path), VideoError::NoVideoTrack { .. }));
}

#[test]
fn never_finished_and_of_no_length() {
    let Some(folder) = studio() else { return };
    let options = "-c:v libx264 -pix_fmt yuv420p";
    let Some(path) = make(&folder, &format!("{SOURCE} {options}"), "unfinished.mp4") else { return };
    // Without faststart the index comes last and is lost with the end.
    let bytes = fs::read(&path).unwrap();
    fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    assert!(matches!(error(&path), VideoError::NotAVideo { .. }));

    let Some(path) = make(&folder, &format!("{SOURCE} {options} -t 0"), "zero.mp4") else { return };
    let zero = error(&path);
    assert!(matches!(zero, VideoError::NoPicture { .. } | VideoError::NoVideoTrack { .. }), "{zero}");

    // Pictures of nothing but zeros.
    let arguments = format!("{SOURCE} {options} -movflags +faststart");
    let Some(path) = make(&folder, &arguments, "blank.mp4") else { return };
    let mut bytes = fs::read(&path).unwrap();
    let at = bytes.windows(4).position(|four| four == b"mdat").unwrap() + 4;
    bytes[at..].fill(0);
    fs::write(&path, &bytes).unwrap();
    assert!(matches!(error(&path), VideoError::NoPicture { .. }));
}

#[test]
fn a_codec_that_nobody_knows() {
    let Some(folder) = studio() else { return };
    let Some(path) = make(&folder, &format!("{SOURCE} -c:v libx264 -pix_fmt yuv420p"), "odd.mp4") else {
        return;
    };
    let mut bytes = fs::read(&path).unwrap();
    let at = bytes.windows(4).rposition(|four| four == b"avc1").unwrap();
    bytes[at..at + 4].copy_from_slice(b"zzz9");
    fs::write(&path, &bytes).unwrap();
    let unknown = error(&path);
    assert!(
        matches!(unknown, VideoError::UnsupportedCodec { .. } | VideoError::NoPicture { .. }),
        "{unknown}"
    );
}

#[test]
#[ignore = "needs the test bed"]
fn test_bed_clips_have_their_stated_count() {
    let folder = Path::new(SHARED).join("testbed");
    let entries = fs::read_dir(folder.join("clips")).unwrap();
    let mut clips: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    clips.retain(|path| path.extension().is_some_and(|extension| extension == "mp4"));
    clips.push(folder.join("real-forehand-front/clip.mp4"));
    assert!(clips.len() > 1, "{clips:?}");
    for path in clips {
        let clip = Clip::open(&path, None).unwrap();
        let stated = clip.info().stated_frames;
        let mut frames = clip.frames().unwrap();
        let count = frames.by_ref().map(Result::unwrap).count();
        assert_eq!(Some(count as u64), stated, "{}", path.display());
        let report = frames.report();
        assert_eq!(report.warnings, [""; 0], "{}", path.display());
        assert_eq!(report.duplicates, 0, "{}", path.display());
    }
}
