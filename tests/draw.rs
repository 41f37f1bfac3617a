//! Charts of a player whose points are known.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod draw_support;

use std::fs;

use draw_support::{Setup, well_formed};
use toeline::draw::{Chart, MOST_IN_NARROW_STRIP, charts, is_strip, write_all};
use toeline::measure::{CATALOGUE, Grade};
use toeline::stroke::Kind;

fn drawn(setup: &Setup) -> Vec<Chart> {
    charts(&setup.picture(), &setup.clip()).expect("charts of a synthetic clip")
}

fn chart<'a>(charts: &'a [Chart], file: &str) -> &'a str {
    &charts.iter().find(|c| c.file == file).unwrap_or_else(|| panic!("no {file}")).svg
}

/// The texts that stand in a chart.
fn texts(svg: &str) -> Vec<&str> {
    svg.split("<text ")
        .skip(1)
        .filter_map(|t| t.split_once('>')?.1.split_once("</text>"))
        .map(|(text, _)| text)
        .collect()
}

#[test]
fn strip_keeps_its_bytes() {
    let charts = drawn(&Setup { strokes: 4, ..Setup::default() });
    insta::assert_snapshot!(chart(&charts, "strip_hand_ahead_of_front_toe_cm.svg"));
}

#[test]
fn contact_keeps_its_bytes() {
    let charts = drawn(&Setup { strokes: 1, ..Setup::default() });
    insta::assert_snapshot!(chart(&charts, "contact.svg"));
}

#[test]
fn every_chart_is_sound() {
    for (strokes, angle) in [(1, 0.0), (2, 180.0), (3, 45.0), (3, 90.0), (2, -90.0), (30, 10.0)] {
        let setup = Setup { strokes, angle, kinds: &[Kind::Forehand, Kind::Backhand], ..Setup::default() };
        for Chart { file, svg } in drawn(&setup) {
            well_formed(&svg).unwrap_or_else(|e| panic!("{file}: {e}"));
            let root = svg.split_once('>').unwrap().0;
            assert!(root.starts_with("<svg ") && root.contains(" role=\"img\""), "{file}: {root}");
            // Two strips of few strokes stand side by side.
            let width = if is_strip(&file) && strokes <= MOST_IN_NARROW_STRIP { 540 } else { 900 };
            assert!(root.contains(&format!(" width=\"{width}\"")), "{file}: {root}");
            assert!(svg[root.len() + 1..].trim_start().starts_with("<title>"), "{file}");
            assert!(svg.contains("</title>\n<desc>"), "{file}");
            assert!(!svg.contains("NaN") && !svg.contains("inf "), "{file}");
            assert!(!svg.contains(" id="), "{file}: an id could clash when charts share a page");
        }
    }
}

#[test]
fn the_same_clip_gives_the_same_bytes() {
    let setup = Setup { strokes: 5, kinds: &[Kind::Backhand, Kind::Forehand], ..Setup::default() };
    assert_eq!(drawn(&setup), drawn(&setup));
}

#[test]
fn text_is_large_enough() {
    for Chart { file, svg } in drawn(&Setup::default()) {
        let sizes: Vec<&str> = svg
            .split("font-size:")
            .skip(1)
            .filter_map(|rest| rest.split_once("px"))
            .map(|(size, _)| size)
            .collect();
        assert!(sizes.len() >= 3, "{file}: {sizes:?}");
        assert!(sizes.iter().all(|size| size.parse::<f64>().unwrap() >= 14.0), "{file}: {sizes:?}");
    }
}

#[test]
fn files_are_written_in_reading_order() {
    let dir = tempfile::tempdir().unwrap();
    let setup = Setup::default();
    let files = write_all(&dir.path().join("charts"), &drawn(&setup)).unwrap();
    let names: Vec<_> = files.iter().map(|f| f.file_name().unwrap().to_str().unwrap().to_owned()).collect();
    assert_eq!(names[..5], ["hand_speed.svg", "hand_path.svg", "contact.svg", "lag.svg", "weight.svg"]);
    let strips: Vec<_> =
        CATALOGUE.iter().map(|m| format!("strip_{}.svg", m.id)).filter(|s| names.contains(s)).collect();
    assert!(strips.len() > 10);
    assert_eq!(names[5..], strips);
    for (file, chart) in files.iter().zip(drawn(&setup)) {
        assert_eq!(fs::read_to_string(file).unwrap(), chart.svg);
    }
}

#[test]
fn a_folder_that_can_not_be_made_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("taken");
    fs::write(&file, "").unwrap();
    let setup = Setup::default();
    let error = write_all(&file.join("charts"), &drawn(&setup)).unwrap_err();
    assert!(error.to_string().contains("taken"), "{error}");
}

#[test]
fn no_stroke_gives_no_chart_and_no_folder() {
    let dir = tempfile::tempdir().unwrap();
    let setup = Setup { strokes: 0, ..Setup::default() };
    let files = write_all(&dir.path().join("charts"), &drawn(&setup)).unwrap();
    assert!(files.is_empty() && !dir.path().join("charts").exists());
}

#[test]
fn contact_is_refused_from_behind_with_its_reason() {
    let svg = drawn(&Setup { angle: 90.0, ..Setup::default() });
    let words = texts(chart(&svg, "contact.svg")).join(" ");
    assert!(words.contains("This can&apos;t be shown") && words.contains("from the back"), "{words}");
    let words = texts(chart(&drawn(&Setup { angle: 10.0, ..Setup::default() }), "contact.svg")).join(" ");
    assert!(words.contains("cm ahead"), "{words}");
}

#[test]
fn left_out_strokes_are_counted() {
    let svg = drawn(&Setup { strokes: 15, ..Setup::default() });
    let words = texts(chart(&svg, "contact.svg")).join(" ");
    assert!(words.contains("The first 12 strokes are shown; 3 more are left out."), "{words}");
    assert!(words.contains("Stroke 12 ·") && !words.contains("Stroke 13 ·"), "{words}");
}

#[test]
fn missing_values_are_marked_and_kinds_kept_apart() {
    let setup =
        Setup { strokes: 8, kinds: &[Kind::Forehand, Kind::Backhand], missing: &[2, 5], ..Setup::default() };
    let charts = drawn(&setup);
    let words = texts(chart(&charts, "strip_hand_behind_shoulder_cm.svg"));
    assert_eq!(words.iter().filter(|w| **w == "–").count(), 2);
    assert!(words.contains(&"median F") && words.contains(&"median B"), "{words:?}");
}

#[test]
fn grades_have_shapes_of_their_own() {
    let shapes = |grade| {
        let charts = drawn(&Setup { strokes: 1, grade, ..Setup::default() });
        let svg = chart(&charts, "strip_hand_behind_shoulder_cm.svg").to_owned();
        ["<circle cx", "<circle", "<path fill"].map(|start| {
            let elements: Vec<&str> = svg.lines().filter(|line| line.starts_with(start)).collect();
            elements.iter().filter(|element| start != "<circle" || element.contains("stroke=")).count()
        })
    };
    // Circles, rings among them, and shapes with a border: each once in the key and once at its value.
    assert_eq!(shapes(Grade::Good), [2, 0, 0]);
    assert_eq!(shapes(Grade::Fair), [2, 2, 0]);
    assert_eq!(shapes(Grade::Low), [0, 0, 2]);
}

#[test]
fn a_gap_in_the_hand_breaks_its_curve() {
    let pieces = |gap| {
        let charts = drawn(&Setup { strokes: 1, gap, ..Setup::default() });
        let lines = chart(&charts, "hand_speed.svg").split("stroke=\"#144f8c\"").skip(1);
        lines
            .filter_map(|rest| rest.split_once("/>"))
            .map(|(path, _)| path.matches('M').count())
            .sum::<usize>()
    };
    assert_eq!(pieces(Some((-0.7, -0.6))), pieces(None) + 1);
}
