//! The page for the player, from a clip to the browser.

use std::fs;
use std::path::Path;
use std::process::Output;

use serde_json::Value;

use crate::browser;
use crate::support::{demo, one_line, toeline};

/// Targets that the demo's player surely misses and meets.
const TARGETS: &str = "
[hand_behind_shoulder_cm]
high = -30
margin = 5
words = \"Shorter <b>than</b> that.\"
drill = \"short hop takeback\"
source = 'a coach'
[trunk_lean_at_contact_deg]
low = -40
high = 40
source = 'a coach'
";

/// Pages stay small enough to be sent.
const LARGEST: u64 = 3_000_000;

fn review(folder: &Path, arguments: &[&str]) -> Output {
    toeline()
        .args(["measure", "--quiet", "--height", "180", "--review", "--out", "results"])
        .args(arguments)
        .arg(demo())
        .current_dir(folder)
        .output()
        .unwrap()
}

#[test]
fn a_review_can_be_sent_as_it_is() {
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name);
    fs::write(at("targets.toml"), TARGETS).unwrap();
    fs::write(at("note.txt"), "Good work, P01!\n\n<script>alert(1)</script> & \"more\"\n").unwrap();
    let arguments = ["--targets", "targets.toml", "--note", "note.txt", "--player", "<i>P01</i>", "--json"];
    let output = review(place.path(), &arguments);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    let findings = document["clips"][0]["findings"].as_array().unwrap();
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!(findings[0]["measure"], "hand_behind_shoulder_cm");
    assert_eq!((&findings[0]["target_high"], &findings[0]["outside"]), (&(-30.0).into(), &4.into()));

    let file = at("results/review.html");
    let page = fs::read_to_string(&file).unwrap();
    assert!(fs::metadata(&file).unwrap().len() < LARGEST);
    assert!(!page.contains("<script") && !page.contains("<i>P01") && !page.contains("<b>than"));
    for words in
        ["Good work, P01!", "alert(1)", "What to work on", "What went well", "Drill: Short hop takeback"]
    {
        assert!(page.contains(words), "{words}");
    }
    // A still for the finding, and six of a stroke.
    let pictures = page.matches("<img src=\"data:image/jpeg;base64,").count();
    assert!((5..=7).contains(&pictures), "{pictures}");
    assert!(at("results/stills").is_dir(), "a review implies stills");
    browser::check(&file, 8);

    // Beside an earlier session, which here is the same: its pictures stand beside this one's.
    fs::rename(at("results"), at("earlier")).unwrap();
    fs::create_dir(at("results")).unwrap();
    fs::copy(at("earlier/motion.bin"), at("results/motion.bin")).unwrap();
    fs::copy(at("earlier/clip.json"), at("results/clip.json")).unwrap();
    let output = review(place.path(), &["--before", "earlier"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let page = fs::read_to_string(&file).unwrap();
    for words in ["Before and after", "too few strokes to tell a change", "<figcaption>Before: "] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("not at the same scale") && fs::metadata(&file).unwrap().len() < LARGEST);
    browser::check(&file, 10);
}

#[test]
fn what_a_review_needs_is_looked_at_before_the_work() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join("latin1.txt"), b"caf\xe9").unwrap();
    fs::create_dir(place.path().join("holiday")).unwrap();
    for (arguments, named, remedy) in [
        (["--note", "none.txt"], "none.txt", "--note"),
        (["--note", "latin1.txt"], "latin1.txt", "UTF-8"),
        (["--note", "holiday"], "holiday", "--note"),
        (["--before", "none"], "none", "check the name"),
        (["--before", "holiday"], "holiday", "measure the clips first"),
    ] {
        let output = review(place.path(), &arguments);
        assert_eq!(output.status.code(), Some(3), "{arguments:?}: {output:?}");
        let line = one_line(&output);
        assert!(line.contains(named) && line.contains(remedy), "{line}");
        assert!(!place.path().join("results").exists(), "nothing was begun");
    }
    let output = toeline().args(["measure", "x.mp4", "--note", "x.txt"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2), "a note is for a review");
}
