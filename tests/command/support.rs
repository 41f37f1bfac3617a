//! What the tests of the program share.

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The program, with no settings of the machine's own in its way.
pub fn toeline() -> Command {
    Command::new(env!("CARGO_BIN_EXE_toeline"))
}

/// The clip that comes with the project.
pub fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo.mp4")
}

/// Makes a clip with the `ffmpeg` program; says so and answers false where there is none.
pub fn ffmpeg(arguments: &[&str], clip: &Path) -> bool {
    let made = Command::new("ffmpeg").args(["-v", "error", "-y"]).args(arguments).arg(clip).output();
    match made {
        Ok(output) => {
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
            true
        }
        Err(error) => {
            eprintln!("left out: a clip is made with ffmpeg, which can't be run here ({error})");
            false
        }
    }
}

/// A short clip in which nobody is.
pub fn test_pattern(clip: &Path) -> bool {
    ffmpeg(&["-f", "lavfi", "-i", "testsrc=size=320x240:rate=30:duration=0.5"], clip)
}

/// The first stroke of the demo as a clip of its own, 90 pictures; none where there is no `ffmpeg`.
pub fn clip(folder: &Path, name: &str) -> Option<PathBuf> {
    let clip = folder.join(name);
    let demo = demo();
    ffmpeg(&["-i", demo.to_str()?, "-frames:v", "90", "-an", "-preset", "ultrafast"], &clip).then_some(clip)
}

/// The demo's first picture and so many after it as a small, quickly followed clip; `title` makes its content its own.
pub fn small_clip(folder: &Path, name: &str, pictures: u32, title: &str) -> bool {
    let clip = folder.join(name);
    fs::create_dir_all(clip.parent().unwrap()).unwrap();
    let (demo, pictures, title) = (demo(), pictures.to_string(), format!("title={title}"));
    let arguments = [
        "-i",
        demo.to_str().unwrap(),
        "-frames:v",
        &pictures,
        "-an",
        "-vf",
        "scale=480:-2",
        "-preset",
        "ultrafast",
        "-metadata",
        &title,
    ];
    ffmpeg(&arguments, &clip)
}

/// All files in a folder and below it, by their paths within it, with their contents.
pub fn contents(folder: &Path) -> std::collections::BTreeMap<String, Vec<u8>> {
    let mut found = std::collections::BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_str().unwrap().to_owned();
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// Names in a folder, in order.
pub fn entries(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// Sees that `toeline explain files` is true of a folder: nothing else is in it, and what needs no option is.
pub fn only_listed(folder: &Path, writer: toeline::table::Writer) {
    let listed: Vec<_> = toeline::table::files_of(writer).collect();
    let found = entries(folder);
    for name in &found {
        assert!(listed.iter().any(|file| file.name == name), "{name} is not in `explain files`");
    }
    for file in listed.iter().filter(|file| file.option.is_empty()) {
        assert!(found.iter().any(|name| name == file.name), "{} is not there: {found:?}", file.name);
    }
}

/// The rows of a table by column.
pub fn rows(path: &Path) -> Vec<HashMap<String, String>> {
    csv::Reader::from_path(path).unwrap().deserialize().map(Result::unwrap).collect()
}

/// The one line that standard error must consist of.
pub fn one_line(output: &Output) -> String {
    let text = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(text.trim_end().lines().count(), 1, "{text}");
    text
}
