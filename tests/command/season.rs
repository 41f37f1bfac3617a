//! A folder of clips: measured one by one, joined, and whole whatever happens in between.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use rand::{Rng, SeedableRng};
use serde_json::Value;

use crate::browser;
use crate::support::{contents, only_listed, rows, small_clip, toeline};

/// Runs of the test with `kill -9`; the environment variable asks for more.
const KILLS: usize = 4;
const KILLS_WANTED: &str = "TOELINE_KILLS";

/// A folder with some clips, a broken one and one that is there twice; none where there is no `ffmpeg`.
fn clips(folder: &Path) -> Option<()> {
    for (name, title) in [
        ("P01/2025-06-14/shadow.mp4", "a"),
        ("P01/2025-06-21_rally.mkv", "b"),
        ("P02/20250621/VID.mov", "c"),
        ("=left over.mp4", "d"),
    ] {
        small_clip(folder, name, 80, title).then_some(())?;
    }
    fs::copy(folder.join("P02/20250621/VID.mov"), folder.join("P02/the same.mov")).unwrap();
    fs::write(folder.join("P02/broken.mp4"), "no clip at all").unwrap();
    fs::write(folder.join("season.csv"), "file,player,drill,height_cm\nP02,P07,machine,181\n").unwrap();
    fs::write(folder.join("toeline.toml"), "coach = 'Kim'\n").unwrap();
    Some(())
}

fn season(folder: &Path) -> Command {
    let mut command = toeline();
    command.args(["season", "--model", "lite", "--quiet"]).arg(folder);
    command
}

/// The season's own files: tables, charts, page; not the clips' results.
fn joined(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = contents(&folder.join("season"));
    all.retain(|name, _| !name.starts_with("clips/"));
    all
}

#[test]
fn a_folder_is_measured_once_and_joined() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    if clips(folder).is_none() {
        return;
    }
    let output = season(folder).output().unwrap();
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(6), "{err}");
    assert!(err.contains("P02/broken.mp4: ") && err.contains("1 of 6 clips failed"), "{err}");
    let out = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(out.contains("P07     2025-06-21  machine"), "{out}");

    let results = folder.join("season");
    only_listed(&results, toeline::table::Writer::Season);
    let clips = rows(&results.join("clips.csv"));
    let of = |file: &str| clips.iter().find(|row| row["clip"] == file).unwrap();
    assert_eq!(of("P01/2025-06-14/shadow.mp4")["drill"], "shadow");
    assert_eq!(
        (of("P02/broken.mp4")["state"].as_str(), of("P02/the same.mov")["state"].as_str()),
        ("failed", "same")
    );
    assert_eq!(of("'=left over.mp4")["player"], "");
    let strokes = rows(&results.join("strokes.csv"));
    assert_eq!(strokes.len(), 4);
    let measures = rows(&results.join("measures.csv"));
    assert_eq!(measures.len(), 4 * toeline::measure::CATALOGUE.len());
    let p07 = strokes.iter().find(|row| row["clip"] == "P02/20250621/VID.mov").unwrap();
    assert_eq!(
        (p07["player"].as_str(), p07["date"].as_str(), p07["height_cm"].as_str()),
        ("P07", "2025-06-21", "181")
    );
    let sessions = rows(&results.join("sessions.csv"));
    let speed =
        sessions.iter().find(|r| r["player"] == "P07" && r["measure"] == "hand_speed_peak_mps").unwrap();
    assert_eq!(speed["n"], "1");
    assert!(
        (speed["mean"].parse::<f64>().unwrap() - p07["hand_speed_peak_mps"].parse::<f64>().unwrap()).abs()
            < 0.05
    );
    let page = fs::read_to_string(results.join("season.html")).unwrap();
    // One session is no trend, and the page shows none; the chart lies beside it.
    let chart = "charts/P07_side_forehand_hand_speed_peak_mps.svg";
    assert!(results.join(chart).is_file() && !page.contains(chart) && page.contains("P02/broken.mp4"));
    browser::check(&results.join("season.html"), 3);
    // Everybody has a page, who has no code too.
    for (file, title) in [
        ("P07.html", "P07: forehands, filmed from the side"),
        ("player.html", "Your forehands, filmed from the side"),
    ] {
        assert!(page.contains(&format!("players/{file}")) && out.contains(file), "{out}");
        let file = results.join("players").join(file);
        let page = fs::read_to_string(&file).unwrap();
        assert!(page.contains(title) && page.contains(" Coach: Kim."), "{}", file.display());
        browser::check(&file, 2);
    }
    let told = fs::read_to_string(results.join("clips/P02/20250621/VID.mov-toeline/clip.json")).unwrap();
    let told: Value = serde_json::from_str(&told).unwrap();
    let by = &told["labels"]["said_by"];
    assert_eq!(
        (&by["height_cm"], &by["player"], &by["date"]),
        (&"season.csv".into(), &"season.csv".into(), &"names".into())
    );

    // Again, where no network can be loaded: nothing is left to do but the broken clip, and nothing changes.
    let before = joined(folder);
    let again = |change: &dyn Fn(&mut Command)| -> Output {
        let mut command = season(folder);
        change(command.env("ORT_DYLIB_PATH", "/nowhere/library.so"));
        command.output().unwrap()
    };
    assert_eq!(again(&|_| {}).status.code(), Some(6));
    assert_same(&before, &joined(folder), "again");
    // A clip under another name is known by its content; another height needs no network either.
    fs::rename(folder.join("P01/2025-06-21_rally.mkv"), folder.join("P01/2025-06-22_rally.mkv")).unwrap();
    let output = again(&|command| {
        command.args(["--height", "170", "--json"]);
    });
    assert_eq!(output.status.code(), Some(6), "{output:?}");
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(document["sessions"].as_array().unwrap().iter().any(|row| row["date"] == "2025-06-22"));
    assert_eq!(document["clips"].as_array().unwrap().len(), 6);
    // What is typed counts more than what season.csv says.
    assert!(rows(&results.join("strokes.csv")).iter().all(|row| row["height_cm"] == "170"));
}

#[test]
fn parts_joined_are_the_whole() {
    let place = tempfile::tempdir().unwrap();
    let whole = place.path().join("whole");
    if clips(&whole).is_none() {
        return;
    }
    fs::remove_file(whole.join("P02/broken.mp4")).unwrap();
    let parts = copied(&whole, place.path().join("parts"));
    assert_eq!(season(&whole).output().unwrap().status.code(), Some(0));
    assert_eq!(season(&parts).args(["--part", "2/3"]).output().unwrap().status.code(), Some(0));
    let early = season(&parts).arg("--gather").output().unwrap();
    assert_eq!(early.status.code(), Some(6));
    assert!(String::from_utf8_lossy(&early.stderr).contains("not measured yet"), "{early:?}");
    for part in ["1/3", "3/3"] {
        assert_eq!(season(&parts).args(["--part", part]).output().unwrap().status.code(), Some(0));
    }
    assert_eq!(season(&parts).arg("--gather").output().unwrap().status.code(), Some(0));
    assert_same(&joined(&whole), &joined(&parts), "parts");
}

#[test]
fn wrong_folders_and_tables_are_told_of() {
    let place = tempfile::tempdir().unwrap();
    let code = |command: &mut Command| command.output().unwrap().status.code();
    assert_eq!(code(&mut season(&place.path().join("missing"))), Some(3));
    assert_eq!(code(&mut season(place.path())), Some(1), "no clip");
    fs::write(place.path().join("a.mp4"), "no clip").unwrap();
    fs::write(place.path().join("season.csv"), "file,date\na.mp4,14.6.2025\n").unwrap();
    let output = season(place.path()).output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(
        String::from_utf8_lossy(&output.stderr).contains("season.csv, line 2: date is `14.6.2025`"),
        "{output:?}"
    );
    fs::remove_file(place.path().join("season.csv")).unwrap();
    fs::create_dir(place.path().join("season")).unwrap();
    fs::write(place.path().join("season/photo.jpg"), "x").unwrap();
    assert_eq!(code(&mut season(place.path())), Some(5), "somebody else's folder");
    for wrong in [&["--part", "3/2"][..], &["--part", "1/2", "--gather"], &["--jobs", "0"]] {
        assert_eq!(code(season(place.path()).args(wrong)), Some(2), "{wrong:?}");
    }
}

#[test]
fn ten_thousand_files_that_are_no_clips_are_told_of_one_by_one() {
    const FILES: usize = 10_000;
    let place = tempfile::tempdir().unwrap();
    for day in 0..28 {
        let folder = place.path().join(format!("P{day:02}/2025-06-{:02}", day + 1));
        fs::create_dir_all(&folder).unwrap();
        for i in (day..FILES).step_by(28) {
            fs::write(folder.join(format!("{i}.mp4")), format!("no clip {i}")).unwrap();
        }
    }
    let run = || season(place.path()).output().unwrap();
    let output = run();
    assert_eq!(output.status.code(), Some(6));
    let told = String::from_utf8(output.stderr).unwrap();
    let of_files = told.lines().filter(|line| line.starts_with("toeline: P") && line.contains("not a video"));
    assert_eq!(of_files.count(), FILES);
    assert_eq!(told.lines().last(), Some("toeline: 10000 of 10000 clips failed, see clips.csv"));
    let listed = rows(&place.path().join("season/clips.csv"));
    assert_eq!(
        listed.iter().filter(|clip| clip["state"] == "failed" && !clip["note"].is_empty()).count(),
        FILES
    );
    let before = joined(place.path());
    assert_eq!(run().status.code(), Some(6));
    assert_same(&before, &joined(place.path()), "again");
}

/// A copy of a folder: containers made twice would not be the same bytes.
fn copied(from: &Path, to: PathBuf) -> PathBuf {
    for (file, bytes) in contents(from) {
        let file = to.join(file);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, bytes).unwrap();
    }
    to
}

/// Compares the files of two seasons and names those that differ.
fn assert_same(wanted: &BTreeMap<String, Vec<u8>>, found: &BTreeMap<String, Vec<u8>>, when: &str) {
    let names: std::collections::BTreeSet<&String> = wanted.keys().chain(found.keys()).collect();
    let differ: Vec<&&String> = names.iter().filter(|name| wanted.get(**name) != found.get(**name)).collect();
    assert!(differ.is_empty(), "{when}: {differ:?}");
}

/// Runs a season and kills it after a while; says whether it was still running.
fn run_and_kill(folder: &Path, after: Duration) -> bool {
    let mut child = season(folder).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let started = Instant::now();
    while started.elapsed() < after {
        if child.try_wait().unwrap().is_some() {
            return false;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    true
}

#[test]
fn a_run_that_is_killed_at_any_moment_goes_on_to_the_same_bytes() {
    let kills = std::env::var(KILLS_WANTED).ok().map_or(KILLS, |count| count.parse().unwrap());
    let place = tempfile::tempdir().unwrap();
    let master = place.path().join("clips");
    if clips(&master).is_none() {
        return;
    }
    let copy = |name: &str| copied(&master, place.path().join(name));
    let whole = copy("undisturbed");
    let started = Instant::now();
    assert_eq!(season(&whole).output().unwrap().status.code(), Some(6));
    let usual = started.elapsed();
    let wanted = joined(&whole);

    let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(20_250_614);
    let mut caught = 0;
    for kill in 0..kills {
        let folder = copy(&format!("killed {kill}"));
        let after = usual.mul_f64(random.random_range(0.0..1.0));
        caught += usize::from(run_and_kill(&folder, after));
        let resumed = season(&folder).output().unwrap();
        assert_eq!(resumed.status.code(), Some(6), "after {after:?}: {resumed:?}");
        assert_same(&wanted, &joined(&folder), &format!("killed after {after:?} of {usual:?}"));
        let left = contents(&folder.join("season"));
        assert!(
            !left.keys().any(|name| name.contains(".part-") || name.contains(".old-")),
            "nothing temporary stays"
        );
        fs::remove_dir_all(folder).unwrap();
    }
    eprintln!("{caught} of {kills} runs were killed before their end ({usual:?})");
    assert!(2 * caught > kills, "{caught} of {kills}");
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_says_how_to_go_on() {
    let place = tempfile::tempdir().unwrap();
    if clips(place.path()).is_none() {
        return;
    }
    let child = season(place.path()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let started = Instant::now();
    while !place.path().join("season/clips").exists() && started.elapsed() < Duration::from_secs(20) {
        std::thread::sleep(Duration::from_millis(10));
    }
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130), "{output:?}");
    assert!(String::from_utf8_lossy(&output.stderr).contains("the same command continues"), "{output:?}");
}

/// What a clip's own results say of the player's height.
fn height_of(folder: &Path, clip: &str) -> Value {
    let path = folder.join("season/clips").join(format!("{clip}-toeline/clip.json"));
    let notes: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    notes["settings"]["height_cm"].clone()
}

#[test]
fn a_height_that_the_court_tells_in_one_clip_serves_the_players_other_clips() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    let [own, other] = ["P01/2025-06-14/a.mp4", "P01/2025-06-21/b.mp4"];
    if !small_clip(folder, own, 80, "a") || !small_clip(folder, other, 80, "b") {
        return;
    }
    assert_eq!(season(folder).output().unwrap().status.code(), Some(0));
    assert_eq!(height_of(folder, other)["source"], "assumed");
    // As a clip has it in which two directions of the court's lines are in sight.
    let lines = |cm: f64| {
        let path = folder.join("season/clips").join(format!("{own}-toeline/clip.json"));
        let mut notes: Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
        let told = serde_json::json!({ "value": cm, "plus_minus": 8.4, "source": "court lines" });
        notes["settings"]["height_cm"] = told;
        fs::write(&path, notes.to_string()).unwrap();
    };
    lines(164.0);
    let behind = season(folder).arg("--gather").output().unwrap();
    assert!(
        String::from_utf8_lossy(&behind.stderr).contains("1 of 2 clips were measured before"),
        "{behind:?}"
    );
    let again = || {
        let output = season(folder).env("ORT_DYLIB_PATH", "/nowhere/library.so").output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{output:?}");
    };
    again();
    let known = height_of(folder, other);
    let (value, within) = (known["value"].as_f64().unwrap(), known["plus_minus"].as_f64().unwrap());
    assert_eq!(known["source"], "season");
    assert!((value - 164.0).abs() < 1.0 && (8.0..9.5).contains(&within), "{known}");
    assert_eq!(height_of(folder, own)["source"], "court lines");
    let clips = rows(&folder.join("season/clips.csv"));
    let row = clips.iter().find(|row| row["clip"] == other).unwrap();
    assert_eq!((row["height_source"].as_str(), row["height_cm"].parse().ok()), ("season", Some(value)));
    let strokes = rows(&folder.join("season/strokes.csv"));
    assert!(strokes.iter().any(|row| row["clip"] == other && row["scale_source"] == "season"));
    let before = contents(&folder.join("season"));
    again();
    assert_same(&before, &contents(&folder.join("season")), "again");
    // A clip that tells it otherwise on another day takes the others along.
    lines(172.0);
    again();
    assert!(height_of(folder, other)["value"].as_f64().unwrap() > value + 5.0);
    // A height that is stated counts more.
    fs::write(folder.join("toeline.toml"), "[players.P01]\nheight_cm = 181\n").unwrap();
    again();
    assert_eq!(height_of(folder, other)["source"], "given");
}
