//! Results in other programs' hands: LibreOffice opens the tables, frictionless checks them against their dictionary.
//!
//! Where a program is not installed its test says so and passes; with `TOELINE_ALL_PROGRAMS` set, as `scripts/test.sh`
//! does, it must be there.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::support::{clip, toeline};

/// Text that would be a formula, and what is said of the clip besides.
const SAID: [&str; 8] = ["--player", "=1+1", "--date", "2025-06-14", "--drill", "drop", "--height", "181.5"];

/// How LibreOffice is to read CSV: between cells, around text, UTF-8, from the first line, no column types, the country's
/// numbers (1033 United States, 1031 Germany), quoted cells are not text only, dates are dates.
const POINT: &str = "CSV:44,34,76,1,,1033,false,true";
const COMMA: &str = "CSV:59,34,76,1,,1031,false,true";

/// A program's path; none where it is not installed.
pub fn program(name: &str) -> Option<PathBuf> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/checkers/bin");
    let folders =
        env::var_os("PATH").map(|path| env::split_paths(&path).collect::<Vec<_>>()).unwrap_or_default();
    let found = folders.into_iter().chain([own]).map(|folder| folder.join(name)).find(|path| path.is_file());
    if found.is_none() {
        assert!(
            env::var_os("TOELINE_ALL_PROGRAMS").is_none(),
            "{name} is not installed: scripts/setup.sh --tests"
        );
        eprintln!("left out: {name} is not installed (scripts/setup.sh --tests installs it)");
    }
    found
}

/// A clip's results; none where the clip can't be made.
fn measured(place: &Path, folder: &str, arguments: &[&str]) -> Option<PathBuf> {
    let name = "=one.mp4";
    let clip = if place.join(name).exists() { place.join(name) } else { clip(place, name)? };
    let out = place.join(folder);
    let output = toeline()
        .args(["measure", "--quiet"])
        .args(SAID)
        .args(arguments)
        .arg(&clip)
        .arg("--out")
        .arg(&out)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    Some(out)
}

/// A cell as LibreOffice holds it.
#[derive(Debug, Clone, PartialEq)]
enum Cell {
    Empty,
    Number(f64),
    Text(String),
    Date(String),
}

/// Opens a file in LibreOffice and answers with its sheets' names and cells. No cell may be a formula.
fn opened(soffice: &Path, file: &Path, reading: Option<&str>) -> Vec<(String, Vec<Vec<Cell>>)> {
    let place = tempfile::tempdir().unwrap();
    let mut command = Command::new(soffice);
    command.arg(format!("-env:UserInstallation=file://{}", place.path().join("profile").display()));
    command.args(["--headless", "--convert-to", "fods", "--outdir"]).arg(place.path());
    command.args(reading.map(|reading| format!("--infilter={reading}"))).arg(file);
    let output = command.output().unwrap();
    let out = place.path().join(file.with_extension("fods").file_name().unwrap());
    let text = fs::read_to_string(&out).unwrap_or_else(|error| panic!("{error}: {output:?}"));
    let document = roxmltree::Document::parse(&text).unwrap();
    let attribute = |node: roxmltree::Node<'_, '_>, name: &str| {
        node.attributes().find(|a| a.name() == name).map(|a| a.value().to_owned())
    };
    let repeated =
        |node, name: &str| attribute(node, name).map_or(1, |count| count.parse::<usize>().unwrap());
    let tables = document.descendants().filter(|node| node.has_tag_name_local("table"));
    tables
        .map(|table| {
            let mut rows = Vec::new();
            for row in table.descendants().filter(|node| node.has_tag_name_local("table-row")) {
                let mut cells = Vec::new();
                for cell in row.children().filter(|node| node.has_tag_name_local("table-cell")) {
                    assert_eq!(attribute(cell, "formula"), None, "{file:?}");
                    let paragraphs = || cell.descendants().filter(|node| node.has_tag_name_local("p"));
                    let texts = || paragraphs().flat_map(|p| p.descendants()).filter(|node| node.is_text());
                    let words = || texts().filter_map(|node| node.text()).collect::<String>();
                    let value = match attribute(cell, "value-type").as_deref() {
                        Some("float") => Cell::Number(attribute(cell, "value").unwrap().parse().unwrap()),
                        Some("date") => Cell::Date(attribute(cell, "date-value").unwrap()),
                        Some("string") => Cell::Text(words()),
                        Some(other) => panic!("a cell of type {other} in {file:?}: {}", words()),
                        None => Cell::Empty,
                    };
                    // The last cell of a row stands for all that follow it.
                    let count = repeated(cell, "number-columns-repeated").min(200);
                    cells.extend(std::iter::repeat_n(value, count));
                }
                rows.push(cells);
            }
            (attribute(table, "name").unwrap(), rows)
        })
        .collect()
}

trait LocalName {
    fn has_tag_name_local(&self, name: &str) -> bool;
}

impl LocalName for roxmltree::Node<'_, '_> {
    fn has_tag_name_local(&self, name: &str) -> bool {
        self.is_element() && self.tag_name().name() == name
    }
}

/// What the dictionary says of a table's columns: name and type.
fn columns(folder: &Path, table: &str) -> Vec<(String, String)> {
    let package: Value = serde_json::from_slice(&fs::read(folder.join("datapackage.json")).unwrap()).unwrap();
    let resource = package["resources"].as_array().unwrap().iter().find(|r| r["name"] == table).unwrap();
    let fields = resource["schema"]["fields"].as_array().unwrap();
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    fields.iter().map(|field| (word(&field["name"]), word(&field["type"]))).collect()
}

/// Compares what LibreOffice holds with a table with points, cell by cell.
fn same(cells: &[Vec<Cell>], table: &Path, columns: &[(String, String)], apostrophe: bool) {
    let mut reader = csv::Reader::from_path(table).unwrap();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert!(!records.is_empty());
    let mut numbers = 0;
    for (row, record) in cells.iter().zip(&records) {
        for (place, (text, (name, kind))) in record.iter().zip(columns).enumerate() {
            let cell = row.get(place).cloned().unwrap_or(Cell::Empty);
            let plain = if apostrophe { text } else { text.strip_prefix('\'').unwrap_or(text) };
            let wanted = match kind.as_str() {
                _ if text.is_empty() => Cell::Empty,
                "number" | "integer" => {
                    numbers += 1;
                    Cell::Number(text.parse().unwrap())
                }
                "date" => Cell::Date(text.to_owned()),
                // UCUM's code for a plain number is the text 1, which CSV can't tell from the number.
                _ if apostrophe && text == "1" => Cell::Number(1.0),
                _ => Cell::Text(plain.to_owned()),
            };
            assert_eq!(cell, wanted, "{name} in {}", table.display());
        }
    }
    assert!(numbers > 20, "{numbers}");
}

#[test]
fn libreoffice_opens_tables_with_numbers_as_numbers_and_text_as_text() {
    let Some(soffice) = program("soffice") else { return };
    let place = tempfile::tempdir().unwrap();
    let Some(point) = measured(place.path(), "point", &["--xlsx"]) else { return };
    let comma = measured(place.path(), "comma", &["--decimal-comma"]).unwrap();
    for table in ["strokes", "measures", "phases"] {
        let wanted = columns(&point, table);
        let file = format!("{table}.csv");
        for (folder, reading) in [(&point, POINT), (&comma, COMMA)] {
            let sheets = opened(&soffice, &folder.join(&file), Some(reading));
            let cells = &sheets[0].1;
            let header: Vec<Cell> = wanted.iter().map(|(name, _)| Cell::Text(name.clone())).collect();
            assert_eq!(cells[0][..header.len()], header);
            same(&cells[1..], &point.join(&file), &wanted, true);
        }
    }
    let sheets = opened(&soffice, &point.join("tables.xlsx"), None);
    let names: Vec<&str> = sheets.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["strokes", "measures", "definitions"]);
    for (name, cells) in &sheets[..2] {
        // Units stand below the header.
        same(&cells[2..], &point.join(format!("{name}.csv")), &columns(&point, name), false);
    }
    let strokes = &sheets[0].1;
    let column =
        strokes[0].iter().position(|c| *c == Cell::Text("hand_behind_shoulder_cm".to_owned())).unwrap();
    assert_eq!(strokes[1][column], Cell::Text("cm".to_owned()));
    assert!(strokes[2].contains(&Cell::Text("=1+1".to_owned())), "a player's code that is no formula");
}

#[test]
fn frictionless_finds_every_data_package_valid() {
    let Some(frictionless) = program("frictionless") else { return };
    let place = tempfile::tempdir().unwrap();
    let Some(point) = measured(place.path(), "point", &[]) else { return };
    let comma = measured(place.path(), "comma", &["--decimal-comma"]).unwrap();
    let mut command = toeline();
    let compared = place.path().join("compared");
    command.args(["compare", "--out"]).arg(&compared).args([&point, &point]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let mut packages =
        vec![(point, "datapackage.json"), (comma, "datapackage.json"), (compared, "compare.json")];
    for (name, arguments) in [("season", &[][..]), ("season with commas", &["--decimal-comma"])] {
        let out = place.path().join(name);
        fs::create_dir(&out).unwrap();
        let mut command = toeline();
        command
            .args(["season", "--quiet", "--player", "P01", "--out"])
            .arg(&out)
            .args(arguments)
            .arg(place.path());
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        packages.push((out.join("season"), "datapackage.json"));
    }
    for (folder, package) in packages {
        // It takes only paths below where it stands.
        let output =
            Command::new(&frictionless).args(["validate", package]).current_dir(&folder).output().unwrap();
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.success(), "{}: {text}", folder.display());
    }
    // A check that finds nothing would find nothing: a word in the place of a number is found.
    let spoilt = place.path().join("season/season/strokes.csv");
    let text = fs::read_to_string(&spoilt).unwrap();
    fs::write(&spoilt, text.replacen(",181,", ",tall,", 1).replacen(",175,", ",tall,", 1)).unwrap();
    let output = Command::new(&frictionless)
        .args(["validate", "datapackage.json"])
        .current_dir(spoilt.parent().unwrap())
        .output()
        .unwrap();
    assert!(!output.status.success(), "{output:?}");
}

#[test]
fn motion_and_phases_go_out_in_open_formats() {
    let place = tempfile::tempdir().unwrap();
    let Some(folder) = measured(place.path(), "out", &["--export", "trc,coco", "--export", "vtt"]) else {
        return;
    };
    let frames = csv::Reader::from_path(folder.join("frames.csv")).unwrap().into_records().count();

    let trc = fs::read_to_string(folder.join("motion.trc")).unwrap();
    let lines: Vec<Vec<&str>> = trc.lines().map(|line| line.split('\t').collect()).collect();
    assert_eq!(lines[0][..3], ["PathFileType", "4", "(X/Y/Z)"]);
    let field = |name: &str| lines[2][lines[1].iter().position(|head| *head == name).unwrap()];
    assert_eq!((field("Units"), field("NumMarkers")), ("m", "33"));
    assert_eq!(field("NumFrames"), frames.to_string());
    assert_eq!(lines.len(), 6 + frames);
    let data = &lines[6..];
    assert!(data.iter().all(|row| row.len() == 2 + 3 * 33));
    // A player stands on the ground, nose up, and the ankles are on it.
    let value = |row: &[&str], marker: &str, axis: usize| -> f64 {
        let place = lines[3].iter().position(|name| *name == marker).unwrap();
        row[place + axis].parse().unwrap()
    };
    let nose = value(&data[0], "nose", 1);
    assert!((1.3..1.9).contains(&nose), "{nose}");
    assert!(value(&data[0], "left_ankle", 1).abs() < 0.25);
    // A right-hander's right shoulder is to the right of the left one when ready.
    assert!(value(&data[0], "right_shoulder", 2) > value(&data[0], "left_shoulder", 2));

    let coco: Value = serde_json::from_slice(&fs::read(folder.join("motion.coco.json")).unwrap()).unwrap();
    assert_eq!(coco["images"].as_array().unwrap().len(), frames);
    assert_eq!(coco["categories"][0]["keypoints"].as_array().unwrap().len(), 17);
    for annotation in coco["annotations"].as_array().unwrap() {
        let points = annotation["keypoints"].as_array().unwrap();
        assert_eq!(points.len(), 51);
        let seen = points.iter().skip(2).step_by(3).filter(|sight| sight.as_f64() > Some(0.0)).count();
        assert_eq!(annotation["num_keypoints"], seen);
    }

    let vtt = fs::read_to_string(folder.join("phases.vtt")).unwrap();
    assert!(vtt.starts_with("WEBVTT\n\n") && vtt.contains("Stroke 1 · forehand · forward swing"), "{vtt}");
    assert_eq!(vtt.matches(" --> ").count(), 4, "{vtt}");
    // Slow motion: captions keep to the file's own time.
    let slow = measured(place.path(), "slow", &["--capture-fps", "60", "--export", "vtt"]).unwrap();
    let last = |folder: &Path| {
        let text = fs::read_to_string(folder.join("phases.vtt")).unwrap();
        let stamp = text.rsplit(" --> ").next().unwrap()[..12].to_owned();
        stamp[6..].parse::<f64>().unwrap()
    };
    assert!((last(&slow) - last(&folder)).abs() < 0.3, "{} {}", last(&slow), last(&folder));
}
