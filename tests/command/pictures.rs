//! Stills and the annotated clip.

use std::fs;

use crate::support::{demo, ffmpeg, only_listed, toeline};
use toeline::video::{Clip, Frame, Sound};

#[test]
fn stills_and_the_annotated_clip_are_written_with_the_rest_and_again_without_the_networks() {
    let place = tempfile::tempdir().unwrap();
    let clip = place.path().join("one.mp4");
    let demo = demo();
    if !ffmpeg(&["-i", demo.to_str().unwrap(), "-t", "3", "-preset", "ultrafast"], &clip) {
        return;
    }
    let folder = place.path().join("one-toeline");
    let run = |options: &[&str]| {
        let output = toeline().args(["measure", "--quiet"]).args(options).arg(&clip).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    };
    run(&["--stills", "--annotated"]);
    only_listed(&folder, toeline::table::Writer::Clip);
    let names: Vec<String> = {
        let mut names: Vec<String> = fs::read_dir(folder.join("stills"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    for moment in ["1_ready", "2_takeback", "3_low_point", "4_largest_lag", "5_contact", "6_finish"] {
        assert!(names.contains(&format!("stroke_01_{moment}.png")), "{names:?}");
    }
    let words = fs::read_to_string(folder.join("stills/stills.csv")).unwrap();
    assert!(words.contains("most typical stroke") && words.contains("front toe"), "{words}");
    let contact = folder.join("stills/stroke_01_5_contact.png");
    let clear = image::open(&contact).unwrap().to_rgb8();
    assert_eq!(clear.width(), 1080);

    // One forehand: three seconds, a swing slowed down, a hold.
    let annotated = Clip::open(&folder.join("annotated.mp4"), None).unwrap();
    let info = annotated.info().clone();
    let mut frames = annotated.frames().unwrap();
    let read: Vec<Frame> = frames.by_ref().map(Result::unwrap).collect();
    let length = read.last().unwrap().time.0 + 1.0 / info.stored_rate;
    assert!((5.0..7.5).contains(&length), "{length}");
    assert!((read.len() as f64 - length * info.stored_rate).abs() < 1.5, "{} {length}", read.len());
    assert_eq!((info.width, info.height), (1280, 720));
    let sound = Sound::read(&info, &frames.report()).unwrap();
    let heard: f64 =
        sound.stretches.iter().map(|s| s.samples.len() as f64 / f64::from(toeline::video::SOUND_RATE)).sum();
    assert!((heard - length).abs() < 0.2, "{heard} {length}");
    let loudest = sound.stretches.iter().flat_map(|s| &s.samples).fold(0.0f32, |a, b| a.max(b.abs()));
    assert!(loudest > 0.0, "the real-time parts keep their sound");

    // Again from the kept motion, with faces covered; what isn't asked for any more is gone.
    run(&["--stills", "--blur-faces"]);
    assert!(!folder.join("annotated.mp4").exists());
    let covered = image::open(&contact).unwrap().to_rgb8();
    assert_eq!(clear.dimensions(), covered.dimensions());
    let changed = clear.pixels().zip(covered.pixels()).filter(|(a, b)| a != b).count() as f64;
    let share = changed / f64::from(clear.width() * clear.height());
    assert!((0.005..0.2).contains(&share), "{share}");
    run(&[]);
    assert!(!folder.join("stills").exists());
}

#[test]
fn faces_can_be_covered_only_where_something_is_drawn() {
    let output = toeline().args(["measure", "--blur-faces", "x.mp4"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--stills"));
}
