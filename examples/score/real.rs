//! How the program does on real clips of one stroke each, whose strokes were labelled by eye; and on clips without tennis.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use serde::Deserialize;
use toeline::measure::clip::MeasuredStroke;
use toeline::stroke::{Boundary, Kind, Method};

use crate::by_hand;
use crate::direction::Directions;
use crate::report::quantile;
use crate::unaided::{Measurer, Unaided, clips};

/// Directions that a person has read in clips whose lines show it.
const BY_HAND: &str = "tests/court/by_hand.csv";

/// A contact this many frames from the label is right.
const FRAMES_OFF: f64 = 2.0;
/// A label that is sure may be this many frames beside the truth.
const LABEL_FRAMES: f64 = 1.0;
/// Slack for frames whose times are rounded, frames.
const ROUNDING: f64 = 0.05;

/// What was read by eye of a clip.
#[derive(Debug, Clone, Deserialize)]
struct Label {
    file: String,
    kind: String,
    hand: String,
    view: String,
    contact_frame: Option<usize>,
    usable: String,
    slow: String,
    camera: String,
    contact_sure: String,
}

impl Label {
    /// The name of the clip's file up to its number: forehand, b_volley …
    fn class(&self) -> &str {
        self.file.trim_end_matches(".mp4").trim_end_matches(|c: char| c.is_ascii_digit())
    }

    /// The view in the program's words.
    fn view(&self) -> &str {
        match self.view.as_str() {
            "behind" => "back",
            "diagonal_front" | "diagonal_behind" => "diagonal",
            other => other,
        }
    }

    /// Whether the ball was taken out of the air, by the clip's class.
    fn is_volley(&self) -> bool {
        self.class().contains("volley")
    }

    fn is_usable(&self) -> bool {
        self.usable == "yes"
    }
}

/// A contact against its label.
#[derive(Debug, Clone, Copy)]
struct Contact {
    /// Found minus labelled, frames.
    error: f64,
    /// Its ±, frames.
    half: f64,
    /// How it was told.
    method: Method,
}

impl Contact {
    /// Whether its ± and the label's own frame hold the difference.
    fn is_inside(&self) -> bool {
        self.error.abs() <= self.half + LABEL_FRAMES
    }
}

/// What the program found against the label.
struct LabelledClip {
    label: Label,
    strokes: usize,
    /// Kind of the only stroke, or of the one nearest to the label.
    kind: Option<Kind>,
    is_kind: bool,
    is_volley: bool,
    is_hand: bool,
    is_view: bool,
    /// Where the label is sure and there is one stroke.
    contact: Option<Contact>,
    line: String,
}

impl LabelledClip {
    fn new(label: Label, found: &Unaided) -> Self {
        let strokes = &found.measures.strokes;
        let frame =
            |label: &Label| found.motion.indices.iter().position(|i| Some(i.0) == label.contact_frame);
        let at = frame(&label).map(|i| found.motion.times[i]);
        let away =
            |stroke: &MeasuredStroke| at.map_or(0.0, |at| (stroke.stroke.phases.contact.time - at).abs().0);
        let nearest = strokes.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
        let kind = nearest.map(|stroke| stroke.stroke.kind);
        let hand = nearest.map(|stroke| stroke.stroke.motion.hand.name());
        let view = found.measures.direction.map(|direction| direction.view.name());
        let one = strokes.len() == 1;
        let timed = nearest.zip(at).map(|(stroke, at)| {
            let off = stroke.stroke.phases.contact.time - at;
            let half = stroke.measured.boundaries[Boundary::Contact as usize].map_or(0.0, |half| half.0);
            let rate = found.motion.rate;
            Contact { error: off.0 * rate, half: half * rate, method: stroke.stroke.phases.contact.method }
        });
        let is_kind = one && kind.is_some_and(|kind| kind.name() == label.kind);
        let volley = nearest.is_some_and(|stroke| stroke.stroke.volley);
        let is_hand = one && hand.is_some_and(|hand| hand == label.hand);
        let line = format!(
            "{:<14} {:<9} {:<5} {:<5}{}: {} strokes, {} {}{} seen from {}{}{}",
            found.name,
            label.kind,
            label.hand,
            label.camera,
            if label.is_usable() { String::new() } else { format!(" ({})", label.usable) },
            strokes.len(),
            hand.unwrap_or("-"),
            kind.map_or("-", Kind::name),
            if volley { " volley" } else { "" },
            view.unwrap_or("-"),
            timed.map_or(String::new(), |timed| format!(
                ", contact {:+.1} ± {:.1} frames by {}",
                timed.error,
                timed.half,
                timed.method.name()
            )),
            match (one, is_kind, is_hand) {
                (false, ..) => " <- not one stroke",
                (_, false, false) => " <- kind and hand",
                (_, false, _) => " <- kind",
                (.., false) => " <- hand",
                _ => "",
            },
        );
        Self {
            strokes: strokes.len(),
            kind,
            is_kind,
            is_volley: one && volley == label.is_volley(),
            is_hand,
            is_view: one && view == Some(label.view()),
            contact: timed.filter(|_| one && label.contact_sure == "yes"),
            line,
            label,
        }
    }
}

/// Measures the labelled clips of a folder and prints how they came out.
pub fn print(
    folder: &Path,
    labels: &Path,
    keep: Option<&Path>,
    only: Option<&str>,
    each: bool,
) -> Result<(), Box<dyn Error>> {
    let labels: BTreeMap<String, Label> = csv::Reader::from_path(labels)
        .map_err(|error| format!("{}: {error}", labels.display()))?
        .deserialize::<Label>()
        .map(|label| label.map(|label| (label.file.clone(), label)))
        .collect::<Result<_, _>>()
        .map_err(|error| format!("{}: {error}", labels.display()))?;
    let by_hand = by_hand::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(BY_HAND))?;
    let mut directions = Directions::default();
    let mut measurer = Measurer::new(keep)?;
    let mut rows = Vec::new();
    for clip in clips(folder, only)? {
        let file = clip.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let Some(label) = labels.get(&file) else {
            eprintln!("{file}: has no label and is left out");
            continue;
        };
        let found = measurer.measure(&clip)?;
        let row = LabelledClip::new(label.clone(), &found);
        let read = by_hand.iter().find(|read| read.file == file);
        let direction = read.and_then(|read| directions.add(read, &found.measures, &found.motion));
        if each {
            println!("{}", row.line);
            direction.iter().for_each(|words| println!("    {words}"));
            for warning in &found.warnings {
                println!("    {warning}");
            }
        } else if !row.label.is_usable() {
            println!("{} ({} warnings)", row.line, found.warnings.len());
        }
        rows.push(row);
    }
    let usable: Vec<&LabelledClip> = rows.iter().filter(|row| row.label.is_usable()).collect();
    print_groups(&usable);
    print_confusion(&usable);
    directions.print();
    Ok(())
}

fn print_groups(usable: &[&LabelledClip]) {
    println!(
        "\n{:<14} {:>4} {:>6} {:>6} {:>6} {:>6} {:>10} {:>6} | {:>8} {:>4} {:>9} {:>8} {:>7}",
        "usable clips",
        "n",
        "one",
        "kind",
        "volley",
        "hand",
        "kind, hand",
        "view",
        "contacts",
        "in 2",
        "median|e|",
        "bias",
        "inside"
    );
    let mut groups: BTreeMap<(usize, String), Vec<&LabelledClip>> = BTreeMap::new();
    for row in usable {
        let label = &row.label;
        groups.entry((0, label.class().to_owned())).or_default().push(row);
        groups.entry((1, format!("camera {}", label.camera))).or_default().push(row);
        groups.entry((1, format!("hand {}", label.hand))).or_default().push(row);
        groups.entry((1, format!("slow {}", label.slow))).or_default().push(row);
        groups.entry((2, "all".to_owned())).or_default().push(row);
    }
    for ((_, name), rows) in &groups {
        let count = |is: &dyn Fn(&LabelledClip) -> bool| rows.iter().filter(|row| is(row)).count();
        let contacts: Vec<Contact> = rows.iter().filter_map(|row| row.contact).collect();
        let errors: Vec<f64> = contacts.iter().map(|contact| contact.error).collect();
        let absolute: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
        println!(
            "{name:<14} {:>4} {:>6} {:>6} {:>6} {:>6} {:>10} {:>6} | {:>8} {:>4} {:>9.1} {:>+8.1} {:>7}",
            rows.len(),
            count(&|row| row.strokes == 1),
            count(&|row| row.is_kind),
            count(&|row| row.is_volley),
            count(&|row| row.is_hand),
            count(&|row| row.is_kind && row.is_hand),
            count(&|row| row.is_view),
            contacts.len(),
            absolute.iter().filter(|error| **error <= FRAMES_OFF + ROUNDING).count(),
            quantile(&absolute, 0.5),
            quantile(&errors, 0.5),
            contacts.iter().filter(|contact| contact.is_inside()).count(),
        );
    }
}

/// Kinds that were found against labelled ones, over the usable clips.
fn print_confusion(usable: &[&LabelledClip]) {
    let columns = ["none", "several", "forehand", "backhand", "overhead", "unknown"];
    println!("\n{:<14} {}", "label \\ found", columns.map(|column| format!("{column:>9}")).concat());
    let mut table: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    for row in usable {
        let found = match (row.strokes, row.kind) {
            (1, Some(kind)) => kind.name(),
            (0, _) => "none",
            _ => "several",
        };
        *table.entry(row.label.class()).or_default().entry(found).or_default() += 1;
    }
    for (class, found) in &table {
        let cells = columns.map(|column| format!("{:>9}", found.get(column).copied().unwrap_or(0)));
        println!("{class:<14} {}", cells.concat());
    }
}

/// Measures clips without tennis and prints what was invented.
pub fn print_none(folder: &Path, keep: Option<&Path>, only: Option<&str>) -> Result<(), Box<dyn Error>> {
    let mut measurer = Measurer::new(keep)?;
    let (mut all, mut with_strokes) = (0, 0);
    println!();
    for clip in clips(folder, only)? {
        let found = measurer.measure(&clip)?;
        let strokes: Vec<String> = found
            .measures
            .strokes
            .iter()
            .map(|stroke| {
                let (hand, kind) = (stroke.stroke.motion.hand.name(), stroke.stroke.kind.name());
                format!("{hand} {kind} at {:.2} s", stroke.stroke.phases.contact.time.0)
            })
            .collect();
        all += 1;
        with_strokes += usize::from(!strokes.is_empty());
        let said = if strokes.is_empty() { found.warnings } else { strokes };
        println!("{:<14} {}", found.name, said.join("; "));
    }
    println!("{with_strokes} of {all} clips without tennis give strokes");
    Ok(())
}
