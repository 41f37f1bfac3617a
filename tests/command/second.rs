//! `--and`: a second clip of the same strokes.

use std::collections::HashMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{demo, ffmpeg, only_listed, rows, small_clip, toeline};

/// The ± of every value of a folder of results, by stroke and measure.
fn plus_minus(folder: &Path) -> HashMap<(String, String), f64> {
    let all = rows(&folder.join("measures.csv"));
    let known = all.into_iter().filter_map(|row| {
        let half = row["plus_minus"].parse().ok()?;
        Some(((row["stroke"].clone(), row["measure"].clone()), half))
    });
    known.collect()
}

#[test]
fn a_clip_that_starts_later_is_matched_and_makes_no_value_worse() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    let (first, second) = (folder.join("first.mp4"), folder.join("second.mp4"));
    let demo = demo();
    let later = ["-ss", "1", "-i", demo.to_str().unwrap(), "-frames:v", "170", "-an", "-vf", "scale=560:-2"];
    if !small_clip(folder, "first.mp4", 200, "first") || !ffmpeg(&later, &second) {
        return;
    }
    let measure = |more: &[&str]| {
        let mut command = toeline();
        command.args(["measure", "--model", "lite", "--height", "180"]).arg(&first).args(more);
        command.output().unwrap()
    };
    let results = folder.join("first-toeline");
    assert_eq!(measure(&[]).status.code(), Some(0));
    let alone = plus_minus(&results);
    let output = measure(&["--review", "--and", second.to_str().unwrap()]);
    let out = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success() && out.contains("second.mp4: 2 of 2 strokes matched"), "{output:?}");
    only_listed(&results, toeline::table::Writer::Clip);

    let notes: Value = serde_json::from_str(&fs::read_to_string(results.join("clip.json")).unwrap()).unwrap();
    let camera = &notes["second_camera"];
    assert_eq!((&camera["strokes_matched"], &camera["view"]), (&2.into(), &"side".into()), "{camera}");
    // Cameras that look the same way see nothing that the other doesn't.
    assert_eq!(camera["strokes_joined"], 0);
    assert!((camera["offset_s"].as_f64().unwrap() + 1.0).abs() < 0.1, "{camera}");
    let taken: Vec<_> = rows(&results.join("measures.csv"))
        .into_iter()
        .filter(|row| ["side view", "both views"].contains(&row["method"].as_str()))
        .collect();
    assert_eq!(
        camera["values_of_second"].as_u64().zip(camera["values_of_both"].as_u64()).map(|(a, b)| a + b),
        Some(taken.len() as u64)
    );
    assert!(!taken.is_empty());
    let both = plus_minus(&results);
    // Nothing is lost, and what was taken is surer, unless it has a better grade.
    assert!(alone.keys().all(|key| both.contains_key(key)));
    let surer = taken.iter().filter(|row| {
        let key = (row["stroke"].clone(), row["measure"].clone());
        alone.get(&key).is_none_or(|half| both[&key] <= *half)
    });
    assert!(2 * surer.count() > taken.len());
    let page = fs::read_to_string(results.join("review.html")).unwrap();
    assert!(page.contains("from the side and from the side") && page.contains("Contact, from the side"));
}
