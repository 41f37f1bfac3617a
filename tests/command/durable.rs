//! Disks that are full, folders that can't be written to or vanish: a clear line, the right exit code, earlier results intact.

#![cfg(unix)]

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::support::{contents, demo, entries, one_line, small_clip, toeline};

/// Runs the program where no file may grow beyond so many KiB, as on a disk that is full.
fn where_files_end_at(limit: u32, arguments: &[&str], folder: &Path) -> Output {
    let script = format!("trap '' XFSZ; ulimit -f {limit}; exec \"$@\"");
    Command::new("bash")
        .args(["-c", &script, "-", env!("CARGO_BIN_EXE_toeline")])
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

#[test]
fn a_full_disk_leaves_the_earlier_results() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    if !small_clip(folder, "a.mp4", 24, "a") {
        return;
    }
    let measure = ["measure", "--quiet", "--model", "lite", "--xlsx", "a.mp4"];
    let output = toeline().args(measure).current_dir(folder).output().unwrap();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
    let compare = ["compare", "--quiet", "--out", "compared", "a-toeline", "a-toeline"];
    let compared = toeline().args(compare).current_dir(folder).output().unwrap();
    assert!(matches!(compared.status.code(), Some(0 | 1)), "{compared:?}");
    let before = contents(folder);
    let (mut failed, mut done) = (0, 0);
    for limit in [0, 1, 2, 4, 8, 16, 32, 48, 64, 96, 128, 4096] {
        for arguments in [&measure[..], &compare] {
            let output = where_files_end_at(limit, arguments, folder);
            match output.status.code() {
                Some(5) => {
                    let line = one_line(&output);
                    assert!(
                        line.contains("cannot be written") || line.contains("can't be written"),
                        "{line}"
                    );
                    failed += 1;
                }
                Some(0 | 1) => done += 1,
                _ => panic!("{limit} KiB: {output:?}"),
            }
            assert!(contents(folder) == before, "{limit} KiB {arguments:?}: {:?}", entries(folder));
        }
    }
    assert!(failed >= 6 && done >= 2, "{failed} failed, {done} done");
}

#[test]
fn the_frame_of_inspect_is_replaced_as_a_whole() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    if !small_clip(folder, "a.mp4", 24, "a") {
        return;
    }
    let inspect = ["inspect", "--quiet", "--model", "lite", "a.mp4"];
    let output = toeline().args(inspect).current_dir(folder).output().unwrap();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
    assert_eq!(entries(folder), ["a.mp4", "inspect.png"]);
    let before = contents(folder);
    for limit in [0, 16] {
        let output = where_files_end_at(limit, &inspect, folder);
        assert_eq!(output.status.code(), Some(5), "{limit} KiB: {output:?}");
        let line = one_line(&output);
        assert!(line.contains("inspect.png") || line.contains("can't be written"), "{line}");
        assert!(contents(folder) == before, "{limit} KiB: {:?}", entries(folder));
    }
}

#[test]
fn a_place_that_nobody_may_write_to_is_named() {
    let place = tempfile::tempdir().unwrap();
    if !small_clip(place.path(), "a.mp4", 6, "a") {
        return;
    }
    // Not even root may make a folder there.
    for out in ["/proc/toeline", "/dev/null/results"] {
        let output =
            toeline().args(["measure", "--out", out]).arg(place.path().join("a.mp4")).output().unwrap();
        assert_eq!(output.status.code(), Some(5), "{output:?}");
        let line = one_line(&output);
        assert!(line.contains(out) && line.contains("--out"), "{line}");
        let output = toeline().args(["season", "--out", out]).arg(place.path()).output().unwrap();
        assert_eq!(output.status.code(), Some(5), "{output:?}");
        assert!(one_line(&output).contains(out));
    }
    assert_eq!(entries(place.path()), ["a.mp4"]);
}

#[test]
fn a_folder_that_vanishes_is_named() {
    let place = tempfile::tempdir().unwrap();
    let gone = place.path().join("gone");
    fs::create_dir(&gone).unwrap();
    let mut child = toeline()
        .args(["measure", "--quiet", "--model", "lite", "--out"])
        .arg(gone.join("results"))
        .arg(demo())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let started = Instant::now();
    while entries(&gone).is_empty() && started.elapsed() < Duration::from_secs(20) {
        std::thread::sleep(Duration::from_millis(10));
    }
    fs::remove_dir_all(&gone).unwrap();
    assert!(child.try_wait().unwrap().is_none(), "it vanished too late");
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(5), "{output:?}");
    assert!(String::from_utf8_lossy(&output.stderr).contains("gone"), "{output:?}");
    assert!(!gone.exists());
}
