//! Drives the program as a person would.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod browser;
mod compare;
mod durable;
mod hostile;
mod marks;
mod pictures;
mod programs;
mod readme;
mod review;
mod season;
mod second;
mod shell;
mod support;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use assert_cmd::assert::OutputAssertExt;
use serde_json::Value;
use support::{clip, entries, ffmpeg, one_line, only_listed, rows, test_pattern, toeline};
use toeline::table::Writer;

/// Everything that `measure` writes, at least.
const FILES: [&str; 7] = [
    "clip.json",
    "datapackage.json",
    "frames.csv",
    "measures.csv",
    "motion.bin",
    "phases.csv",
    "strokes.csv",
];

/// What is said of the clip that is measured.
const SAID: [&str; 8] =
    ["--height", "182", "--player", "@P01", "--date", "2025-06-14", "--drill", "hand-feed"];

#[test]
fn measuring_writes_all_tables_and_measuring_again_replaces_them() {
    let place = tempfile::tempdir().unwrap();
    let Some(clip) = clip(place.path(), "=first.mp4") else { return };
    let folder = place.path().join("=first-toeline");

    let output = toeline().arg("measure").args(SAID).arg(&clip).output().unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{err}");
    for words in ["1 forehand", "median", "Given      height 182 cm", "=first-toeline"] {
        assert!(out.contains(words), "{out}");
    }
    assert!(err.contains("Caution") && err.contains("Warning"), "{err}");
    for file in FILES {
        assert!(folder.join(file).is_file(), "{file}");
    }
    only_listed(&folder, Writer::Clip);

    tables_agree(&folder);
    let strokes = rows(&folder.join("strokes.csv"));
    let stroke = &strokes[0];
    // Text that a spreadsheet would take for a formula is neutralised.
    assert_eq!(stroke["clip"], "'=first.mp4");
    assert_eq!(stroke["player"], "'@P01");
    for (column, value) in [
        ("date", "2025-06-14"),
        ("drill", "hand-feed"),
        ("height_cm", "182"),
        ("scale_source", "given"),
        ("hand", "right"),
        ("view", "side"),
        ("ball", "yes"),
    ] {
        assert_eq!(stroke[column], value, "{column}");
    }
    let contact: f64 = stroke["contact_s"].parse().unwrap();
    assert!((contact - 2.05).abs() < 0.15, "{contact}");
    let frames = rows(&folder.join("frames.csv"));
    assert_eq!(frames.len(), 90);
    // Where the ball was seen it stands beside the points, around contact only.
    let balls: Vec<[f64; 3]> = frames
        .iter()
        .filter(|frame| !frame["ball_x"].is_empty())
        .map(|frame| ["time_s", "ball_x", "ball_y"].map(|column| frame[column].parse().unwrap()))
        .collect();
    assert!(balls.len() >= 3, "{balls:?}");
    assert!(balls.iter().all(|[time, ..]| (time - contact).abs() < 0.5), "{balls:?}");

    let notes: Value = serde_json::from_slice(&fs::read(folder.join("clip.json")).unwrap()).unwrap();
    assert_eq!(notes["settings"]["height_cm"]["source"], "given");
    assert_eq!(notes["settings"]["view"]["source"], "estimated");
    assert_eq!(notes["clip"]["sha256"].as_str().unwrap().len(), 64);

    // Again: the same bytes, a stale file gone, the user's own file kept, one document on standard output.
    let read = || FILES.map(|file| fs::read(folder.join(file)).unwrap());
    let before = read();
    fs::write(folder.join("review.html"), "stale").unwrap();
    fs::write(folder.join("own notes.txt"), "mine").unwrap();
    let output = toeline().args(["measure", "--quiet", "--json"]).args(SAID).arg(&clip).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(before == read(), "the same clip gives the same bytes");
    assert!(!folder.join("review.html").exists() && folder.join("own notes.txt").exists());
    assert_eq!(entries(place.path()), ["=first-toeline", "=first.mp4"], "nothing temporary stays");

    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    let strokes = document["clips"][0]["strokes"].as_array().unwrap();
    assert_eq!(strokes.len(), 1);
    let measures = strokes[0]["measures"].as_array().unwrap();
    assert_eq!(measures.len(), toeline::measure::CATALOGUE.len());
    assert!(
        measures.iter().all(|m| m["value"].is_number() != m["reason"].is_string()),
        "a value or a reason"
    );
    let err = String::from_utf8(output.stderr).unwrap();
    assert!(err.lines().all(|line| line.starts_with("Warning")), "{err}");
}

/// What the tables of strokes say of each other.
fn tables_agree(folder: &Path) {
    let strokes = rows(&folder.join("strokes.csv"));
    let measures = rows(&folder.join("measures.csv"));
    let phases = rows(&folder.join("phases.csv"));
    assert_eq!(strokes.len(), 1);
    assert_eq!(measures.len(), toeline::measure::CATALOGUE.len());
    assert_eq!(phases.len(), 7);
    for row in &measures {
        let id = &row["measure"];
        assert_eq!(row["value"], strokes[0][id], "{id}");
        let known = !row["value"].is_empty();
        for column in ["plus_minus", "grade", "method"] {
            assert_eq!(!row[column].is_empty(), known, "{column} of {id}");
        }
        assert_eq!(row["reason"].is_empty(), known, "{id}");
        assert_eq!(!row["value_bh"].is_empty(), known && row["unit"] == "cm", "{id}");
    }
    for row in &phases {
        assert_eq!(row["time_s"], strokes[0][&format!("{}_s", row["boundary"])]);
        assert_eq!(row["time_s"].is_empty(), !row["reason"].is_empty());
    }
}

#[test]
fn a_clip_without_a_player_says_so_in_words_and_tables() {
    let place = tempfile::tempdir().unwrap();
    let clip = place.path().join("bars.mp4");
    if !test_pattern(&clip) {
        return;
    }
    let output = toeline().arg("measure").arg(&clip).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stdout).contains("no stroke found"));
    assert!(String::from_utf8_lossy(&output.stderr).contains("nobody was found"));
    let folder = place.path().join("bars-toeline");
    assert!(fs::read_to_string(folder.join("strokes.csv")).unwrap().starts_with("clip,stroke,"));
    assert!(rows(&folder.join("strokes.csv")).is_empty());
    for file in FILES {
        assert!(folder.join(file).is_file(), "{file}");
    }
}

#[test]
fn clips_that_cannot_be_read_end_with_code_3_and_one_line() {
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name);
    fs::write(at("empty.mp4"), "").unwrap();
    fs::write(at("text.mp4"), "this is not a clip\n".repeat(100)).unwrap();
    let mut names = vec!["missing.mp4", "empty.mp4", "text.mp4", "."];
    if ffmpeg(&["-f", "lavfi", "-i", "sine=frequency=440:duration=1"], &at("sound.m4a")) {
        names.push("sound.m4a");
    }
    if test_pattern(&at("cut.mp4")) {
        // The index stands at the end of the file, so half of it is no clip.
        let bytes = fs::read(at("cut.mp4")).unwrap();
        fs::write(at("cut.mp4"), &bytes[..bytes.len() / 2]).unwrap();
        names.push("cut.mp4");
    }
    for name in names {
        let output = toeline().arg("measure").arg(at(name)).env("RUST_BACKTRACE", "1").output().unwrap();
        assert_eq!(output.status.code(), Some(3), "{name}");
        let line = one_line(&output);
        assert!(line.contains(name) || name == ".", "{line}");
    }
    assert!(!entries(place.path()).iter().any(|name| name.contains("toeline")), "nothing is left behind");
}

#[test]
fn one_clip_of_several_that_fails_does_not_stop_the_others() {
    let place = tempfile::tempdir().unwrap();
    let bars = place.path().join("bars.mp4");
    if !test_pattern(&bars) {
        return;
    }
    let missing = place.path().join("missing.mp4");
    let out = place.path().join("all");
    let output = toeline().arg("measure").args([&missing, &bars]).arg("--out").arg(&out).output().unwrap();
    assert_eq!(output.status.code(), Some(6));
    let err = String::from_utf8(output.stderr).unwrap();
    assert!(err.contains("missing.mp4: no such file") && err.contains("1 of 2 clips failed"), "{err}");
    assert_eq!(entries(&out), ["bars-toeline"]);

    let twice = toeline().arg("measure").args([&bars, &bars]).output().unwrap();
    assert_eq!(twice.status.code(), Some(2));
    assert!(one_line(&twice).contains("bars.mp4"));
}

#[test]
fn wrong_usage_ends_with_code_2() {
    for arguments in [
        &["measure"][..],
        &[],
        &["measure", "a.mp4", "--height", "1.8"],
        &["measure", "a.mp4", "--height", "NaN"],
        &["measure", "a.mp4", "--hand", "both"],
        &["measure", "a.mp4", "--subject", "12"],
        &["measure", "a.mp4", "--date", "14.6.2025"],
        &["measure", "a.mp4", "--capture-fps", "0"],
        &["measure", "a.mp4", "--fov", "180"],
        &["measure", "a.mp4", "--unknown"],
        &["explain", "hand_behind_sholder_cm"],
        &["paint"],
    ] {
        toeline().args(arguments).assert().code(2);
    }
}

#[test]
fn a_missing_library_or_network_ends_with_code_4() {
    let place = tempfile::tempdir().unwrap();
    let clip = place.path().join("bars.mp4");
    if !test_pattern(&clip) {
        return;
    }
    let measure = || {
        let mut command = toeline();
        command.arg("measure").arg(&clip);
        command
    };
    let output = measure().env("ORT_DYLIB_PATH", place.path().join("nowhere.so")).output().unwrap();
    assert_eq!(output.status.code(), Some(4));
    assert!(one_line(&output).contains("ORT_DYLIB_PATH"));

    let output = measure().args(["--model", "no_such_network"]).output().unwrap();
    assert_eq!(output.status.code(), Some(4));
    assert!(one_line(&output).contains("no_such_network"));

    let card = place.path().join("broken.toml");
    fs::write(&card, "name = 3\n").unwrap();
    let output = measure().arg("--model").arg(&card).output().unwrap();
    assert_eq!(output.status.code(), Some(4));
    assert!(one_line(&output).contains("broken.toml"));
    assert_eq!(entries(place.path()), ["bars.mp4", "broken.toml"], "nothing is left behind");
}

#[test]
fn a_place_that_cannot_be_written_ends_with_code_5_before_any_work() {
    let place = tempfile::tempdir().unwrap();
    let clip = place.path().join("bars.mp4");
    if !test_pattern(&clip) {
        return;
    }
    let foreign = place.path().join("holiday");
    fs::create_dir(&foreign).unwrap();
    fs::write(foreign.join("photo.jpg"), "x").unwrap();
    for out in [&clip.join("below a file"), &clip, &foreign, place.path()] {
        // Without the library any work would end with code 4.
        let output = toeline()
            .arg("measure")
            .arg(&clip)
            .arg("--out")
            .arg(out)
            .env("ORT_DYLIB_PATH", "/nowhere.so")
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(5), "{}", out.display());
        assert!(one_line(&output).contains("--out"));
    }
    assert_eq!(entries(&foreign), ["photo.jpg"]);
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    for arguments in [&["explain"][..], &["--help"]] {
        let mut child =
            toeline().args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        assert!(output.stderr.is_empty(), "{output:?}");
    }
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_nothing_behind() {
    use std::time::{Duration, Instant};

    let place = tempfile::tempdir().unwrap();
    let clip = place.path().join("long.mp4");
    fs::copy(support::demo(), &clip).unwrap();
    let mut child =
        toeline().arg("measure").arg(&clip).stderr(Stdio::null()).stdout(Stdio::null()).spawn().unwrap();
    // The temporary folder stands when the work begins.
    let started = Instant::now();
    while entries(place.path()).len() < 2 && started.elapsed() < Duration::from_secs(20) {
        std::thread::sleep(Duration::from_millis(20));
    }
    assert_eq!(entries(place.path()).len(), 2);
    Command::new("kill").args(["-INT", &child.id().to_string()]).assert().success();
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert_eq!(entries(place.path()), ["long.mp4"]);
}

#[test]
fn every_measure_is_listed_and_explained() {
    let output = toeline().arg("explain").output().unwrap();
    let list = String::from_utf8(output.stdout).unwrap();
    for measure in toeline::measure::CATALOGUE {
        assert!(list.contains(measure.id), "{}", measure.id);
    }
    for (name, snapshot) in
        [("trunk_lean_at_contact_deg", "explain_a_measure"), ("forward_start", "explain_a_boundary")]
    {
        let output = toeline().args(["explain", name]).output().unwrap();
        insta::assert_snapshot!(snapshot, String::from_utf8(output.stdout).unwrap());
    }
}

#[test]
fn headers_and_dictionary_stay_as_they_are() {
    use toeline::season::tables;
    use toeline::table::{Decimal, Package, frames, measures, phases, strokes};

    insta::assert_snapshot!("strokes_header", strokes::sheet().header().join("\n"));
    insta::assert_snapshot!("phases_header", phases::sheet().header().join("\n"));
    insta::assert_snapshot!("measures_header", measures::sheet().header().join("\n"));
    insta::assert_snapshot!("frames_header", frames::sheet().header().join("\n"));
    insta::assert_snapshot!("sessions_header", tables::sessions().header().join("\n"));
    insta::assert_snapshot!("clips_header", tables::clips().header().join("\n"));

    // Names, kinds, units and limits; words may be improved without anybody's noticing.
    let package = serde_json::to_value(Package::of_clip(Decimal::Point)).unwrap();
    let mut lines = Vec::new();
    for resource in package["resources"].as_array().unwrap() {
        let schema = &resource["schema"];
        assert_eq!(schema["missingValues"], serde_json::json!([""]));
        lines.push(format!("{} in {}, key {}", resource["name"], resource["path"], schema["primaryKey"]));
        for field in schema["fields"].as_array().unwrap() {
            assert!(!field["description"].as_str().unwrap().is_empty(), "{field}");
            let limits = field.get("constraints").map_or_else(String::new, Value::to_string);
            let limits = if limits.len() > 120 { "{…}" } else { &limits };
            let unit = field.get("unit").and_then(Value::as_str).unwrap_or("");
            lines
                .push(format!("  {} {} {unit} {limits}", field["name"], field["type"]).trim_end().to_owned());
        }
    }
    insta::assert_snapshot!("dictionary", lines.join("\n"));
}

#[test]
fn the_shipped_targets_can_be_printed_changed_and_used() {
    use toeline::targets::{DRILLS, Set, Shipped};

    let printed = |words: &[&str]| {
        String::from_utf8(toeline().arg("explain").args(words).output().unwrap().stdout).unwrap()
    };
    assert_eq!(printed(&["targets"]), printed(&["targets", "club"]));
    for set in Shipped::ALL {
        let text = printed(&["targets", set.name()]);
        let own = Set::shipped(set).unwrap();
        assert_eq!(Set::parse(&text, "printed").unwrap().targets().len(), own.targets().len());
    }
    assert_ne!(printed(&["targets", "drill"]), printed(&["targets", "club"]));
    assert_eq!(DRILLS, toeline::table::Drill::ALL.map(toeline::table::Drill::name));
    let output = toeline().args(["explain", "short hop takeback"]).output().unwrap();
    assert!(String::from_utf8_lossy(&output.stdout).contains("fence"));
    let output = toeline().args(["explain", "hand_behind_shoulder_cm"]).output().unwrap();
    assert!(String::from_utf8_lossy(&output.stdout).contains("at most 10 cm"));
}
