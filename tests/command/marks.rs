//! What a coach corrects, and what is kept of a clip so that it need not be looked at again.

use std::collections::HashMap;
use std::fs;
use std::path::Path;
use std::process::Output;

use serde_json::Value;

use crate::support::{clip, entries, one_line, rows, toeline};

/// Measures a clip again where no network can be loaded, so that only what was kept can be used.
fn again(clip: &Path, arguments: &[&str]) -> Output {
    toeline()
        .args(["measure", "--quiet"])
        .args(arguments)
        .arg(clip)
        .env("ORT_DYLIB_PATH", "/nowhere/library.so")
        .output()
        .unwrap()
}

fn marks(folder: &Path, lines: &str) -> String {
    let file = folder.join("own marks.csv");
    fs::write(&file, format!("clip,stroke,event,time_s,frame,x,y,value\n{lines}")).unwrap();
    file.to_str().unwrap().to_owned()
}

fn phase(folder: &Path, boundary: &str) -> HashMap<String, String> {
    rows(&folder.join("phases.csv")).into_iter().find(|row| row["boundary"] == boundary).unwrap()
}

#[test]
fn marks_correct_what_was_kept_and_the_results_say_so() {
    let place = tempfile::tempdir().unwrap();
    let Some(clip) = clip(place.path(), "one.mp4") else { return };
    let folder = place.path().join("one-toeline");
    let first = toeline().args(["measure", "--quiet", "--marks-template"]).arg(&clip).output().unwrap();
    assert_eq!(first.status.code(), Some(0));
    let before = fs::read(folder.join("strokes.csv")).unwrap();
    let found = phase(&folder, "contact");

    // A template as it is corrects nothing.
    let template = folder.join("marks.csv");
    let output = again(&clip, &["--marks", template.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    assert!(before == fs::read(folder.join("strokes.csv")).unwrap(), "nothing was filled in");
    assert!(String::from_utf8_lossy(&output.stderr).contains("marks.csv is about this clip"), "{output:?}");

    let time: f64 = found["time_s"].parse().unwrap();
    let frame = (time * 30.0).round() as i64 + 2;
    let lines = format!(
        "one.mp4,1,contact,,{frame},,,\n,1,prep_start,1.2,,,,\none.mp4,1,kind,,,,,backhand\none.mp4,,scale,,,,,160\n\
         one.mp4,,racket_tip,,{frame},500,200,\nother.mp4,4,no_stroke,,,,,yes\none.mp4,1,low_point,,,,,\n"
    );
    let output = again(&clip, &["--marks", &marks(place.path(), &lines)]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    for words in [
        "1 backhand",
        "Corrected  height 160 cm",
        "contact of stroke 1:",
        "kind of stroke 1: forehand → backhand",
    ] {
        assert!(text.contains(words), "{text}");
    }
    let contact = phase(&folder, "contact");
    assert_eq!(contact["method"], "marked");
    assert!((contact["time_s"].parse::<f64>().unwrap() - frame as f64 / 30.0).abs() < 0.002, "{contact:?}");
    // Half a picture, 1 standard deviation; the ± is drawn.
    let plus_minus: f64 = contact["plus_minus_ms"].parse().unwrap();
    assert!((20.0..=45.0).contains(&plus_minus), "{plus_minus}");
    assert_eq!(phase(&folder, "prep_start")["time_s"], "1.200");
    assert_eq!(phase(&folder, "low_point")["method"], "hand-position");
    let stroke = &rows(&folder.join("strokes.csv"))[0];
    assert_eq!((stroke["kind"].as_str(), stroke["height_cm"].as_str()), ("backhand", "160"));
    assert_eq!(stroke["contact_method"], "marked");
    let frames = rows(&folder.join("frames.csv"));
    let marked = frames.iter().find(|row| row["frame"] == frame.to_string()).unwrap();
    assert_eq!((marked["racket_tip_x"].as_str(), marked["racket_tip_y"].as_str()), ("500.00", "200.00"));
    let notes: Value = serde_json::from_slice(&fs::read(folder.join("clip.json")).unwrap()).unwrap();
    assert_eq!(notes["settings"]["height_cm"]["source"], "marked");
    let events: Vec<&str> =
        notes["corrections"].as_array().unwrap().iter().map(|c| c["event"].as_str().unwrap()).collect();
    assert_eq!(events, ["scale", "racket_tip", "kind", "prep_start", "contact"]);

    // Without marks everything is as before, and the template that was there is kept.
    let filled_in = b"clip,stroke,event,value\n,1,kind,backhand\n";
    fs::write(&template, filled_in).unwrap();
    let output = again(&clip, &["--marks-template"]);
    assert!(String::from_utf8_lossy(&output.stderr).contains("kept as it is"), "{output:?}");
    assert!(before == fs::read(folder.join("strokes.csv")).unwrap());
    assert_eq!(fs::read(&template).unwrap(), filled_in);
}

#[test]
fn a_stroke_is_taken_out_and_one_that_is_there_is_not_added() {
    let place = tempfile::tempdir().unwrap();
    let Some(clip) = clip(place.path(), "one.mp4") else { return };
    let folder = place.path().join("one-toeline");
    toeline().args(["measure", "--quiet"]).arg(&clip).output().unwrap();
    let time: f64 = phase(&folder, "contact")["time_s"].parse().unwrap();

    let output = again(&clip, &["--marks", &marks(place.path(), "one.mp4,1,no_stroke,,,,,yes\n")]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    assert!(rows(&folder.join("strokes.csv")).is_empty());

    // The number that was taken out stays free.
    let lines = format!("one.mp4,1,no_stroke,,,,,yes\none.mp4,,contact,{:.3},,,,\n", time - 0.55);
    let output = again(&clip, &["--marks", &marks(place.path(), &lines)]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    assert_eq!(rows(&folder.join("strokes.csv"))[0]["stroke"], "2");

    let output = again(
        &clip,
        &["--marks", &marks(place.path(), &format!("one.mp4,,contact,{:.3},,,,\n", time + 0.1))],
    );
    assert_eq!(output.status.code(), Some(3));
    assert!(one_line(&output).contains("line 2: stroke 1 is there already"));
}

#[test]
fn wrong_marks_are_named_by_file_and_line_and_change_nothing() {
    let place = tempfile::tempdir().unwrap();
    let Some(clip) = clip(place.path(), "one.mp4") else { return };
    toeline().args(["measure", "--quiet"]).arg(&clip).output().unwrap();
    let before = fs::read(place.path().join("one-toeline/strokes.csv")).unwrap();
    for (line, wanted) in [
        ("one.mp4,3,contact,1,,,,", "there is no stroke 3; 1 were found"),
        ("one.mp4,1,contact,99,,,,", "outside the clip"),
        ("one.mp4,1,contact,,900,,,", "there is no frame 900"),
        ("one.mp4,1,contact,1,30,,,", "both a time and a frame"),
        ("one.mp4,1,contact,0.1,,,,", "check the stroke's number"),
        ("one.mp4,1,prep_start,2.9,,,,", "must be before the contact"),
        ("one.mp4,,prep_start,1,,,,", "needs the number of a stroke"),
        ("one.mp4,1,contct,1,,,,", "there is no event `contct`"),
        ("one.mp4,1,kind,,,,,slice", "kind needs"),
        ("one.mp4,1,hand,,,,,both", "hand needs"),
        ("one.mp4,,subject,,,300,,", "only one of x and y"),
        ("one.mp4,1,subject,,,300,200,", "concerns the whole clip"),
        ("one.mp4,,scale,,,,,1.8", "80 to 250"),
        ("one.mp4,1,no_stroke,,,,,no", "needs `yes`"),
        ("one.mp4,x,kind,,,,,forehand", "no number"),
        ("one.mp4,1,contact,1,,,,\none.mp4,1,contact,1,,,,", "line 3: was said in an earlier line"),
        ("one.mp4,,court_point,,0,300,200,baseline", "one of baseline_left_doubles, "),
        ("one.mp4,,court_point,,0,,,baseline_centre", "needs x and y"),
        ("one.mp4,,court_point,,,300,200,baseline_centre", "a frame or time_s"),
        ("one.mp4,,court_point,,0,9000,200,baseline_centre", "outside the frame"),
        ("one.mp4,,court_point,,0,300,200,baseline_centre", "give at least two"),
        (
            "one.mp4,,court_point,,0,300,200,baseline_centre\none.mp4,,court_point,,0,302,201,service_centre",
            "too near one another",
        ),
        (
            "one.mp4,,court_point,,0,300,200,net_centre\none.mp4,,court_point,,1,400,210,net_centre",
            "line 3: was said in an earlier line",
        ),
    ] {
        let output = again(&clip, &["--marks", &marks(place.path(), line)]);
        assert_eq!(output.status.code(), Some(3), "{line}: {output:?}");
        let text = one_line(&output);
        assert!(text.contains("own marks.csv, line ") && text.contains(wanted), "{text}");
    }
    let output = again(&clip, &["--marks", "/nowhere/marks.csv"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(before == fs::read(place.path().join("one-toeline/strokes.csv")).unwrap());
    assert_eq!(entries(place.path()), ["one-toeline", "one.mp4", "own marks.csv"]);
}

#[test]
fn what_was_kept_of_another_clip_or_rate_is_not_used() {
    let place = tempfile::tempdir().unwrap();
    let Some(clip) = clip(place.path(), "one.mp4") else { return };
    toeline().args(["measure", "--quiet"]).arg(&clip).output().unwrap();
    // Without a library the clip can't be looked at again, which is what these need.
    for arguments in [&["--capture-fps", "120"][..], &["--model", "lite"]] {
        assert_eq!(again(&clip, arguments).status.code(), Some(4), "{arguments:?}");
    }
    assert_eq!(again(&clip, &["--height", "170"]).status.code(), Some(0));
    let motion = place.path().join("one-toeline/motion.bin");
    let mut bytes = fs::read(&motion).unwrap();
    *bytes.last_mut().unwrap() ^= 1;
    fs::write(&motion, bytes).unwrap();
    assert_eq!(again(&clip, &[]).status.code(), Some(4), "a damaged file is no motion");
}
