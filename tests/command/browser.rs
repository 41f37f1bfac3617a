//! Pages in a browser: Debian's Chromium, driven by `tests/browser/check.py`.
//!
//! Where browser or driver is not installed its test says so and passes; with `TOELINE_ALL_PROGRAMS` set, as
//! `scripts/test.sh` does, both must be there.

use std::env;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::programs::program;

/// Opens a page and holds it to what every page must be: nothing that axe-core objects to and nothing wider than the
/// window at 390 and 1280 pixels, no request but for files beside it, the same without scripts, at most so many sheets of
/// A4, on which nothing is cut.
pub fn check(page: &Path, most_sheets: usize) {
    let Some(told) = facts_of(page) else { return };
    for width in ["390", "1280"] {
        assert_eq!(told["violations"][width], Value::Array(Vec::new()), "{}: {width} px", page.display());
        assert!(told["overflow"][width].as_i64() <= Some(0), "{}: {width} px: {told}", page.display());
    }
    let beside = format!("file://{}/", page.parent().unwrap().canonicalize().unwrap().display());
    for request in told["requests"].as_array().unwrap() {
        assert!(request.as_str().unwrap().starts_with(&beside), "{}: {request}", page.display());
    }
    assert_eq!(told["scripts"], 0);
    assert_eq!(told["same_without_scripts"], true, "{}", page.display());
    assert_eq!(told["broken_images"], 0, "{}", page.display());
    let sheets = told["sheets"].as_array().unwrap();
    assert!((1..=most_sheets).contains(&sheets.len()), "{} sheets", sheets.len());
    // A4 in points.
    assert!(sheets.iter().all(|sheet| *sheet == serde_json::json!([595, 842])), "{told}");
    assert!(told["highest"].as_f64().unwrap() < 1.0, "something is higher than a sheet: {told}");
    assert!(told["player_sheets"].as_u64().unwrap() <= 2, "the player's part prints on two sheets: {told}");
    assert!(told["print_overflow"].as_i64() <= Some(0), "{told}");
}

/// How many requests a page makes; none where it can't be told.
pub fn requests(page: &Path) -> Option<usize> {
    Some(facts_of(page)?["requests"].as_array()?.len())
}

fn facts_of(page: &Path) -> Option<Value> {
    program("chromium")?;
    let python = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/checkers/bin/python");
    let has_driver = Command::new(&python)
        .args(["-c", "import playwright, axe_playwright_python"])
        .output()
        .is_ok_and(|output| output.status.success());
    if !has_driver {
        assert!(env::var_os("TOELINE_ALL_PROGRAMS").is_none(), "no playwright: scripts/setup.sh --tests");
        eprintln!("left out: playwright is not installed (scripts/setup.sh --tests installs it)");
        return None;
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser/check.py");
    let output = Command::new(python).arg(script).arg(page).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

#[test]
fn a_page_that_fetches_is_found_out() {
    let place = tempfile::tempdir().unwrap();
    let page = place.path().join("page.html");
    let picture = "<img alt=\"x\" src=\"https://picture.example/x.png\">";
    std::fs::write(&page, format!("<!DOCTYPE html><html lang=\"en\"><title>x</title><h1>x</h1>{picture}"))
        .unwrap();
    if let Some(requests) = requests(&page) {
        assert!(requests > 0);
    }
}
