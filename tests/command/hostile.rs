//! Files that are damaged or made to do harm: whatever they hold, there is an answer, in time and without a panic.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use sha2::{Digest, Sha256};
use toeline::kept::Followed;
use toeline::model::Card;
use toeline::pose::Choice;
use toeline::season::Season;
use toeline::table::Recorded;
use toeline::table::marks::Marks;
use toeline::targets::Set;
use toeline::video::{Clip, Index, Sound};

use crate::compare::Made;
use crate::support::{demo, ffmpeg, one_line, small_clip, test_pattern, toeline};

/// No file may take longer.
const LONGEST: Duration = Duration::from_secs(20);

/// Damaged copies of clips; the environment variable asks for more.
const CLIPS: u64 = 120;
const CLIPS_WANTED: &str = "TOELINE_DAMAGED_CLIPS";

/// Frames that are read of each.
const FRAMES: usize = 40;

/// Cells as people and spreadsheets write them, and as they should not.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        prop::sample::select(vec![
            "contact",
            "subject",
            "kind",
            "hand",
            "scale",
            "racket_tip",
            "no_stroke",
            "prep_start",
            "yes",
            "left",
            "forehand",
            "a.mp4",
            "P01",
            "2025-06-14",
            "2025-02-30",
            "side",
            "shadow",
            "=1+1",
            "-0",
            "1e308",
            "-1",
            "NaN",
            "inf",
            "1,5",
            "99999999999999999999",
            "../../etc/passwd",
            "\u{202e}gpj.exe",
            "\u{feff}",
            "a\tb",
            "\"",
            "''",
        ])
        .prop_map(str::to_owned),
        "[0-9]{1,6}(\\.[0-9]{1,3})?",
        "\\PC{0,12}",
    ]
}

/// A table: its header (mostly right) and some rows.
fn table(columns: &'static [&'static str]) -> impl Strategy<Value = Vec<u8>> {
    let row = prop::collection::vec(cell(), 0..columns.len() + 2);
    let rows = prop::collection::vec(row, 0..6);
    let separator = prop::sample::select(vec![",", ";"]);
    let end = prop::sample::select(vec!["\n", "\r\n", "\n\n"]);
    (rows, separator, end, any::<bool>(), prop::collection::vec(any::<u8>(), 0..4)).prop_map(
        |(rows, separator, end, is_intact, tail)| {
            let mut text = columns.join(separator) + end;
            for row in rows {
                text += &row.join(separator);
                text += end;
            }
            let mut bytes = text.into_bytes();
            if !is_intact {
                bytes.extend(tail);
            }
            bytes
        },
    )
}

/// A text with some of its bytes changed, left out or doubled.
fn changed(bytes: &[u8], rng: &mut impl Rng) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for _ in 0..rng.random_range(1..6) {
        if bytes.is_empty() {
            break;
        }
        // What a file says of itself stands at its beginning and its end: that is hit as often as all the rest.
        let edge = bytes.len().min(2_000);
        let at = match rng.random_range(0..4) {
            0 => rng.random_range(0..edge),
            1 => bytes.len() - 1 - rng.random_range(0..edge),
            _ => rng.random_range(0..bytes.len()),
        };
        let to = (at + rng.random_range(1..200)).min(bytes.len());
        match rng.random_range(0..6) {
            0 => bytes[at] ^= 1 << rng.random_range(0..8),
            1 => bytes[at] = rng.random(),
            2 => drop(bytes.drain(at..to)),
            3 => bytes.truncate(at),
            4 => {
                let part = bytes[at..to].to_vec();
                let place = rng.random_range(0..=bytes.len());
                bytes.splice(place..place, part);
            }
            _ => {
                let extreme: [u8; 4] =
                    [[0; 4], [0xff; 4], [0x7f, 0xff, 0xff, 0xff], [0x80, 0, 0, 0]][rng.random_range(0..4)];
                let end = (at + 4).min(bytes.len());
                bytes[at..end].copy_from_slice(&extreme[..end - at]);
            }
        }
    }
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_table_of_marks_is_read_or_refused(bytes in table(&toeline::table::marks::COLUMNS)) {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("marks.csv");
        fs::write(&file, bytes).unwrap();
        match Marks::read(&file) {
            Ok(marks) => {
                let marks = marks.of_clip(&["a.mp4"]).unwrap();
                let _ = (marks.subject(240.0), marks.subject_place(), marks.text());
            }
            Err(error) => prop_assert!(error.to_string().contains("marks.csv")),
        }
    }

    #[test]
    fn any_table_of_a_season_is_read_or_refused(bytes in table(&toeline::season::known::COLUMNS)) {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("season.csv"), bytes).unwrap();
        fs::write(place.path().join("a.mp4"), "").unwrap();
        if let Err(error) = Season::list(place.path(), &place.path().join("season")) {
            prop_assert!(error.to_string().contains("season.csv"));
        }
    }

    #[test]
    fn any_targets_are_read_or_refused(seed in any::<u64>()) {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let text = toeline::targets::Shipped::ALL[0].text();
        let text = String::from_utf8_lossy(&changed(text.as_bytes(), &mut rng)).into_owned();
        if let Ok(set) = Set::parse(&text, "mine.toml") {
            for target in set.targets() {
                let _ = (target.range(), target.away(1e300), target.away(-0.0));
            }
        }
    }

    #[test]
    fn any_card_is_read_or_refused(seed in any::<u64>()) {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let models = Path::new(env!("CARGO_MANIFEST_DIR")).join("models");
        let cards = ["pose_landmark_full.toml", "pose_detection.toml", "nanodet_g_416.toml", "racket.toml"];
        let card = fs::read(models.join(cards[rng.random_range(0..cards.len())])).unwrap();
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("card.toml");
        fs::write(&file, changed(&card, &mut rng)).unwrap();
        match Card::read(&file) {
            Ok(card) => prop_assert!(card.verify().is_err(), "its model is not there"),
            Err(error) => prop_assert!(error.to_string().contains("card.toml")),
        }
    }
}

/// The header of a kept motion: name, version, checksum of what follows.
const HEAD: usize = 8 + 4;

#[test]
fn any_kept_motion_is_read_or_refused() {
    let place = tempfile::tempdir().unwrap();
    if !small_clip(place.path(), "a.mp4", 24, "a") {
        return;
    }
    let output = toeline()
        .args(["measure", "--model", "lite", "--quiet"])
        .arg(place.path().join("a.mp4"))
        .output()
        .unwrap();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
    let bytes = fs::read(place.path().join("a-toeline/motion.bin")).unwrap();
    let (head, body) = bytes.split_at(HEAD + 32);
    let file = place.path().join("motion.bin");
    let mut rng = rand_pcg::Pcg64::seed_from_u64(7);
    let (mut read, mut refused) = (0, 0);
    for _ in 0..400 {
        let body = changed(body, &mut rng);
        // With a checksum that fits, as somebody would make it who means harm.
        let mut whole = head[..HEAD].to_vec();
        whole.extend(Sha256::digest(&body));
        whole.extend(body);
        fs::write(&file, whole).unwrap();
        match Followed::load_any(&file) {
            Ok((followed, _)) => {
                let people = followed.people();
                let _ = people.subject(Choice::Swinging);
                for person in 0..followed.tracks.len() {
                    let _ = followed.motion(person);
                }
                read += 1;
            }
            Err(error) => {
                assert!(error.to_string().contains("motion.bin"));
                refused += 1;
            }
        }
    }
    assert!(read > 20 && refused > 20, "{read} read, {refused} refused");
}

/// Reads a clip as measuring does: its description, its index, some frames, its sound.
fn looked_at(path: &Path) -> usize {
    let Ok(clip) = Clip::open(path, None) else { return 0 };
    let info = clip.info().clone();
    let _ = Index::read(&info);
    let Ok(mut frames) = clip.frames() else { return 0 };
    let count = frames.by_ref().take(FRAMES).filter(|frame| frame.is_ok()).count();
    let _ = Sound::read(&info, &frames.report());
    count
}

/// The same with a limit on its time.
fn looked_at_in_time(path: PathBuf) -> usize {
    let (done, result) = mpsc::channel();
    let name = path.display().to_string();
    let work = thread::spawn(move || {
        // Nobody listens any more where it has taken too long.
        let _ = done.send(looked_at(&path));
    });
    match result.recv_timeout(LONGEST) {
        Ok(count) => {
            work.join().unwrap();
            count
        }
        Err(mpsc::RecvTimeoutError::Timeout) => panic!("{name} took more than {LONGEST:?}"),
        Err(mpsc::RecvTimeoutError::Disconnected) => {
            let panic = work.join().unwrap_err();
            panic!("{name}: {:?}", panic.downcast_ref::<String>());
        }
    }
}

#[test]
fn damaged_clips_are_read_or_refused_in_time() {
    let place = tempfile::tempdir().unwrap();
    let wanted = std::env::var(CLIPS_WANTED).ok().and_then(|count| count.parse().ok()).unwrap_or(CLIPS);
    let (demo, mut sources) = (demo(), Vec::new());
    for (ending, codecs) in [
        ("mp4", &["-c:v", "libx264", "-c:a", "aac"][..]),
        ("mov", &["-c:v", "mjpeg", "-c:a", "pcm_s16le"]),
        ("mkv", &["-c:v", "libx264", "-c:a", "libvorbis"]),
        ("avi", &["-c:v", "mpeg4", "-c:a", "mp2"]),
        ("ts", &["-c:v", "mpeg2video", "-c:a", "mp2"]),
    ] {
        let clip = place.path().join(format!("source.{ending}"));
        let mut arguments = vec!["-i", demo.to_str().unwrap(), "-t", "1", "-vf", "scale=160:-2"];
        arguments.extend(codecs);
        if !ffmpeg(&arguments, &clip) {
            return;
        }
        assert!(looked_at(&clip) > 20, "{}", clip.display());
        sources.push((ending, fs::read(&clip).unwrap()));
    }
    let (mut read, mut refused) = (0, 0);
    for seed in 0..wanted {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let (ending, source) = &sources[rng.random_range(0..sources.len())];
        let file = place.path().join(format!("{seed}.{ending}"));
        fs::write(&file, changed(source, &mut rng)).unwrap();
        match looked_at_in_time(file.clone()) {
            0 => refused += 1,
            _ => read += 1,
        }
        fs::remove_file(file).unwrap();
    }
    assert!(refused > 0 && read > refused, "{read} read, {refused} refused");
}

#[test]
fn clips_of_odd_shape_are_measured_or_refused_in_words() {
    let place = tempfile::tempdir().unwrap();
    let source = |size: &str, rate: &str| format!("testsrc=size={size}:rate={rate}:duration=0.4");
    let shapes = [
        ("tiny", source("2x2", "30"), &["-c:v", "ffv1"][..]),
        ("flat", source("8000x2", "30"), &["-c:v", "ffv1"]),
        ("fast", source("64x48", "10000"), &["-c:v", "mpeg4", "-frames:v", "300"]),
        ("slow", source("64x48", "1/3"), &["-c:v", "ffv1", "-frames:v", "2"]),
        ("early", source("64x48", "30"), &["-c:v", "ffv1", "-output_ts_offset", "-100"]),
    ];
    for (name, input, codec) in shapes {
        let clip = place.path().join(format!("{name}.mkv"));
        let arguments: Vec<&str> =
            ["-f", "lavfi", "-i", &input].into_iter().chain(codec.iter().copied()).collect();
        if !ffmpeg(&arguments, &clip) {
            return;
        }
        let output = toeline().args(["measure", "--quiet", "--model", "lite"]).arg(&clip).output().unwrap();
        let err = String::from_utf8_lossy(&output.stderr);
        assert!(matches!(output.status.code(), Some(1 | 3)), "{name}: {output:?}");
        assert!(!err.contains("mistake in the program"), "{name}: {err}");
    }
}

#[test]
fn names_stay_on_their_line() {
    let place = tempfile::tempdir().unwrap();
    for name in
        ["two\nlines.mp4", "red\u{1b}[31m.mp4", "\u{202e}4pm.exe", "=cmd|'calc'!A1.mp4", "-q", "a b.mp4"]
    {
        let output = toeline().arg("measure").arg("--").arg(place.path().join(name)).output().unwrap();
        assert_eq!(output.status.code(), Some(3), "{name:?}");
        let line = one_line(&output);
        assert!(!line.contains(['\u{1b}', '\u{202e}']), "{line:?}");
    }
    let clip = place.path().join("two\nlines\u{1b}[31m.mp4");
    if !test_pattern(&clip) {
        return;
    }
    let output = toeline().args(["measure", "--quiet"]).arg(&clip).output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    for text in [&output.stdout, &output.stderr] {
        assert!(!text.contains(&0x1b), "{}", String::from_utf8_lossy(text));
    }
    assert!(String::from_utf8_lossy(&output.stdout).contains("two lines"), "{output:?}");
    // Tables hold it as one cell.
    let table = fs::read_to_string(place.path().join("two\nlines\u{1b}[31m-toeline/clip.json")).unwrap();
    assert!(serde_json::from_str::<serde_json::Value>(&table).is_ok() && !table.contains('\u{1b}'));
}

#[test]
fn tables_of_results_that_were_changed_are_read_or_refused() {
    let place = tempfile::tempdir().unwrap();
    let made = Made::new(&[("hand_behind_shoulder_cm", 34.0, 8.0)]);
    let folder = made.write(place.path(), "a");
    assert_eq!(Recorded::at(&folder).unwrap().strokes.len(), 8);
    let files = ["strokes.csv", "measures.csv", "clip.json"];
    let whole = files.map(|name| fs::read(folder.join(name)).unwrap());
    let mut refused = 0;
    for seed in 0..300 {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        for (name, whole) in files.iter().zip(&whole) {
            let bytes = if rng.random_bool(0.5) { changed(whole, &mut rng) } else { whole.clone() };
            fs::write(folder.join(name), bytes).unwrap();
        }
        if let Err(error) = Recorded::at(&folder) {
            assert!(error.to_string().contains("a-toeline"), "{error}");
            refused += 1;
        }
    }
    assert!((30..290).contains(&refused), "{refused}");
}
