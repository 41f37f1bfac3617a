//! What was typed, as it was typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand};
use clap_complete::Shell;

use super::colour::Colour;
use super::explain::exit_codes_in_short;
use crate::geometry::Point2;
use crate::model::Device;
use crate::pose::Side;
use crate::scene::{NetSide, View};
use crate::season::known::COLUMNS as SEASON_COLUMNS;
use crate::season::names::whole_date;
use crate::table::exchange::Exchange;
use crate::table::{Drill, Grip};

/// Measures a tennis player's strokes in practice clips.
///
/// Give it a clip that shows one player from head to foot. It finds every stroke and measures what coaches look at
/// (takeback, contact point, weight, rotation, timing). Each number comes with its uncertainty.
#[derive(Debug, Parser)]
#[command(name = "toeline", version, max_term_width = 100, after_help = after_help())]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// When to use colour in help and messages
    #[arg(long, value_enum, value_name = "WHEN", default_value = "auto", global = true)]
    pub color: Colour,
}

/// What stands below the list of commands.
fn after_help() -> String {
    format!(
        "Start with:  toeline measure practice.mp4 --height 178\nThen open the folder practice-toeline beside the \
         clip.\n\n{}\ntoeline works on this computer alone and never uses the network.",
        exit_codes_in_short()
    )
}

/// The subcommands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Measure every stroke in one or more clips
    Measure(Box<MeasureArgs>),
    /// Measure a folder of clips and join the results into tables, charts and pages
    Season(Box<SeasonArgs>),
    /// Compare two sessions: what has changed, what has not, and what is uncertain
    Compare(CompareArgs),
    /// Say what a clip is good for: where the camera stood, what it can measure, how to film better
    Inspect(Box<InspectArgs>),
    /// Explain a measure, a file, a mark, a verdict or an exit code
    Explain(ExplainArgs),
    /// Print completions for a shell
    Completions(CompletionsArgs),
    /// Print the manual page of the program or of a command
    Man(ManArgs),
}

/// Arguments of `completions`.
#[derive(Debug, ClapArgs)]
#[command(after_help = COMPLETIONS_HELP)]
pub struct CompletionsArgs {
    /// The shell
    pub shell: Shell,
}

const COMPLETIONS_HELP: &str = "\
For one user, with bash:  toeline completions bash > ~/.local/share/bash-completion/completions/toeline\n\
With fish:  toeline completions fish > ~/.config/fish/completions/toeline.fish\n\
With zsh:  toeline completions zsh > FOLDER/_toeline, where FOLDER is one that $fpath names.";

/// Arguments of `man`.
#[derive(Debug, ClapArgs)]
pub struct ManArgs {
    /// A command; without one, the page of the program
    pub command: Option<String>,
    /// Write all pages into this folder instead
    #[arg(short, long, value_name = "DIR", conflicts_with = "command")]
    pub out: Option<PathBuf>,
}

/// Arguments of `compare`.
#[derive(Debug, ClapArgs)]
#[command(after_help = COMPARE_HELP)]
pub struct CompareArgs {
    /// The earlier session: a clip, a folder of clips or of results, a table of results, or (with --season) a day
    pub before: PathBuf,
    /// The later session
    pub after: PathBuf,
    /// Folder for compare.csv, compare.json, compare.svg and compare.txt [default: beside AFTER]
    #[arg(short, long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// All results of this player: with four or more other sessions, only a change larger than the usual difference between sessions counts
    #[arg(long, value_name = "DIR")]
    pub season: Option<PathBuf>,
    /// The targets, whose margins say what counts as the same: `club`, `drill` or a file [default: club]
    #[arg(long, value_name = "FILE")]
    pub targets: Option<PathBuf>,
    /// Print no progress and no notes, only warnings and errors
    #[arg(short, long)]
    pub quiet: bool,
    /// Print one JSON document instead of the table: the paragraph and all measures
    #[arg(long)]
    pub json: bool,
}

const COMPARE_HELP: &str = "\
     Only like is compared with like: strokes of one kind, hand and view, measured with one model. Clips that have not \
     been measured yet are measured first; measure them yourself beforehand to give --height. With --season a \
     session may be named by its day: 2025-06-14 or PLAYER:2025-06-14.\n\
     `toeline explain verdicts` says what changed, unclear, same, described and refused mean.\n\
     Exit code 1: nothing could be compared; compare.txt says why. Exit code 6: some of the clips could not be \
     measured; the others are compared.";

/// Arguments of `inspect`.
#[derive(Debug, ClapArgs)]
#[command(after_help = INSPECT_HELP)]
pub struct InspectArgs {
    /// The clip
    pub clip: PathBuf,

    #[command(flatten)]
    pub input: InputArgs,
    #[command(flatten)]
    pub method: MethodArgs,
    /// Folder for inspect.png [default: beside the clip]
    #[arg(short, long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
    /// Print no progress and no notes, only warnings and errors
    #[arg(short, long, help_heading = OUTPUT)]
    pub quiet: bool,
    /// Print one JSON document instead of the text
    #[arg(long, help_heading = OUTPUT)]
    pub json: bool,
}

const INSPECT_HELP: &str = "\
     inspect.png is a frame of the clip over which the camera is drawn as toeline read it: the lines of the court, the \
     horizon, the ground around the player and the direction to the net. Where they are drawn in the wrong place, the \
     numbers are wrong: mark three or more points of the court (`court_point` in `toeline explain marks`) and give them with --marks.\n\
     Of a clip longer than a minute the first 45 seconds are looked at, and more of it where these show no stroke.";

/// Arguments of `explain`.
#[derive(Debug, ClapArgs)]
pub struct ExplainArgs {
    /// A measure, a boundary between phases or a drill; or one of the lists: files, columns, marks, targets, verdicts,
    /// exit-codes. Without a name, everything that can be explained is listed
    #[arg(value_name = "NAME")]
    pub name: Vec<String>,
}

impl ExplainArgs {
    /// The name in one piece, if there is one.
    pub fn words(&self) -> Option<String> {
        (!self.name.is_empty()).then(|| self.name.join(" "))
    }
}

/// Arguments of `measure`.
#[derive(Debug, ClapArgs)]
#[command(after_help = MEASURE_HELP)]
pub struct MeasureArgs {
    /// The clips (MP4, MOV, MKV, AVI, WebM and others)
    #[arg(required = true, value_name = "CLIP")]
    pub clips: Vec<PathBuf>,

    /// A second clip of the same strokes, from another side: the movement is put together from both, and what that doesn't give is taken
    /// from the view that sees it better. Height, hand and drill hold for both clips, options about the camera for the first
    #[arg(long, value_name = "CLIP")]
    pub and: Option<PathBuf>,

    #[command(flatten)]
    pub input: InputArgs,
    /// A pixel on the player, from the top left, where other people are in view [default: the player who swings]
    #[arg(long, value_name = "X,Y", value_parser = pixel, help_heading = PLAYER)]
    pub subject: Option<Point2>,
    /// The date of the clip, for the tables
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day, help_heading = PLAYER)]
    pub date: Option<String>,
    #[command(flatten)]
    pub method: MethodArgs,
    #[command(flatten)]
    pub output: OutputArgs,
    /// Folder for the results; with several clips, the folder that holds one for each [default: beside each clip]
    #[arg(short, long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
    /// Also write the motion as OpenSim TRC or COCO keypoints, or the phases as WebVTT captions; join several with commas
    #[arg(long, value_enum, value_name = "FORMAT", value_delimiter = ',', help_heading = OUTPUT)]
    pub export: Vec<Exchange>,
    /// Also write marks.csv, a table to fill in and pass back with --marks
    #[arg(long, help_heading = OUTPUT)]
    pub marks_template: bool,
    #[command(flatten)]
    pub pictures: PictureArgs,
    #[command(flatten)]
    pub page: PageArgs,
}

/// The page for the player.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = OUTPUT)]
pub struct PageArgs {
    /// Also write review.html, one file to send to the player: findings, stills, drills, charts; implies --stills
    #[arg(long, group = "drawn")]
    pub review: bool,
    /// An earlier folder of results of this player, to show beside these in the review
    #[arg(long, value_name = "DIR", requires = "review")]
    pub before: Option<PathBuf>,
    /// Also write card.html, a sheet for the court (A5): the first finding with its still, drill and number to watch
    #[arg(long, group = "drawn")]
    pub card: bool,
    /// Your own words for the review: a text file with empty lines between paragraphs
    #[arg(long, value_name = "FILE", requires = "review")]
    pub note: Option<PathBuf>,
}

/// What is drawn over the clip's own pictures.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = OUTPUT)]
#[command(group = clap::ArgGroup::new("drawn").args(["stills", "annotated"]).multiple(true))]
pub struct PictureArgs {
    /// Also write stills with a coach's lines: ready, end of takeback, low point, largest lag, contact and finish of the
    /// most typical stroke, of the one nearest to the targets and of the one farthest from them
    #[arg(long)]
    pub stills: bool,
    /// Also write annotated.mp4: the clip with body lines, racket, paths and phases; forward swings in slow motion
    #[arg(long)]
    pub annotated: bool,
    /// Make all faces unrecognisable in the stills and in the annotated clip
    #[arg(long, requires = "drawn")]
    pub blur_faces: bool,
}

const PLAYER: &str = "Clip and player";
const OUTPUT: &str = "Output";

const MEASURE_HELP: &str = "\
     Whatever you don't give is estimated, and the results say what was. The most useful things to give are --height, \
     because every length scales with it, and --capture-fps for slow motion.\n\
     `toeline explain files` says what each file of the results holds.";

/// Arguments of `season`.
#[derive(Debug, ClapArgs)]
#[command(after_help = season_help())]
pub struct SeasonArgs {
    /// The folder of the clips; folders in it are searched too
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,

    #[command(flatten)]
    pub input: InputArgs,
    #[command(flatten)]
    pub method: MethodArgs,
    /// How many clips to measure at a time [default: by the number of cores]
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256), help_heading = METHOD)]
    pub jobs: Option<u16>,
    /// Measure only the I-th of N shares of the clips, and join nothing yet (for several computers)
    #[arg(long, value_name = "I/N", value_parser = part, conflicts_with = "gather", help_heading = METHOD)]
    pub part: Option<Part>,
    /// Measure nothing; join what the parts have measured
    #[arg(long, help_heading = METHOD)]
    pub gather: bool,
    #[command(flatten)]
    pub output: OutputArgs,
    /// Make all faces unrecognisable in the players' pages
    #[arg(long, help_heading = OUTPUT)]
    pub blur_faces: bool,
    /// Where to make the folder `season` for the results [default: in the folder of the clips]
    #[arg(short, long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
}

const METHOD: &str = "Method";

/// What stands below the options of `season`.
fn season_help() -> String {
    format!(
        "Dates (2025-06-14, 20250614), player codes (P01) and drills are read from the names of files and folders. A table \
         season.csv in the folder can say more, with one line for a clip or for a whole folder; all columns but the \
         first may be left out:\n  {}\nThe column and names the clip of a second camera that filmed the same strokes: they are counted once, each number \
         from the camera that sees it better. Clips of one player, day and drill from different sides are joined by themselves where the \
         times of their strokes leave no doubt.\nSettings that stay can be put into toeline.toml, in the folder or \
         in folders below it:\n  height_cm = 178\n  fov = 65\n  racket_length_cm = 68.5\n  coach = \"Kim\"\n  targets = \"drill\"\n  \
         [players.P01]\n  height_cm = 181\n  hand = \"left\"\nOptions count most, then season.csv, then toeline.toml, \
         then names, then the date that the clip's file holds; clip.json says which it was.\nA height that the court tells in \
         clips of a player, with its ±, serves the player's other clips, less surely the more time lies between, because children \
         grow; a height that is stated counts more. Clips that contradict one another tell none.\nStop at any \
         time: the same command continues where it stopped. Clips that have not changed are not measured again.",
        SEASON_COLUMNS.join(",")
    )
}

/// What the user knows about clip and player.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = PLAYER)]
pub struct InputArgs {
    /// The hitting hand [default: the hand that swings]
    #[arg(long, value_enum, value_name = "SIDE")]
    pub hand: Option<Side>,
    /// The player's height in cm, 80 to 250; every length scales with it [default: 175 assumed, with a wide ±]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 80.0, 250.0, "cm"))]
    pub height: Option<f64>,
    /// Where the camera stands, to about 10° [default: estimated]
    #[arg(long, value_enum)]
    pub view: Option<View>,
    /// The side of the frame on which the net is [default: estimated]
    #[arg(long, value_enum, value_name = "SIDE")]
    pub net: Option<NetSide>,
    /// Frames per second at which the camera filmed, for slow motion stored at a lower rate [default: the file's rate]
    #[arg(long, value_name = "N", value_parser = |s: &str| number_in(s, 1.0, 10_000.0, "frames per second"))]
    pub capture_fps: Option<f64>,
    /// The camera's horizontal field of view in degrees [default: from the court, the file, or typical of phones]
    #[arg(long, value_name = "DEG", value_parser = |s: &str| number_in(s, 10.0, 150.0, "degrees"))]
    pub fov: Option<f64>,
    /// Distance from the camera to the player along the ground, in metres; makes the field of view and the delay of the sound more certain [default: estimated]
    #[arg(long, value_name = "M", value_parser = |s: &str| number_in(s, 1.0, 200.0, "metres"))]
    pub camera_distance: Option<f64>,
    /// Height of the camera above the ground in cm; makes the camera's tilt more certain [default: estimated]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 5.0, 2000.0, "cm"))]
    pub camera_height: Option<f64>,
    /// A code for the player, for the tables (a code is better than a name)
    #[arg(long, value_name = "CODE", value_parser = code)]
    pub player: Option<String>,
    /// How the ball was fed, for the tables; with `shadow`, toeline does not listen for hits
    #[arg(long, value_enum, value_name = "KIND")]
    pub drill: Option<Drill>,
    /// Length of the racket in cm, 40 to 75; shorter for juniors [default: 68.5]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 40.0, 75.0, "cm"))]
    pub racket_length: Option<f64>,
    /// The grip, for clip.json
    #[arg(long, value_enum)]
    pub grip: Option<Grip>,
    /// The coach's name, for the pages
    #[arg(long, value_name = "NAME")]
    pub coach: Option<String>,
}

/// How to measure.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = METHOD)]
pub struct MethodArgs {
    /// The pose model: full, lite (faster), heavy (steadier, five times slower; made by scripts/make-models.sh), or the path of a
    /// card or an ONNX file
    #[arg(long, value_name = "NAME|FILE", default_value = "full")]
    pub model: String,
    /// Treat all movement as if it lay in one upright plane, for comparison with the usual method
    #[arg(long)]
    pub planar: bool,
    /// Look at every frame, in long clips too [default: in clips longer than 20 s, every frame only around strokes]
    #[arg(long, conflicts_with = "coarse")]
    pub every_frame: bool,
    /// Look at every frame only around strokes, in short clips too
    #[arg(long)]
    pub coarse: bool,
    /// What the models run on
    #[arg(long, value_enum, value_name = "WHICH", default_value = "cpu")]
    pub device: Device,
    /// How many cores to use for one clip [default: all, at most 4, or 16 beside a graphics card; with --jobs a share of them]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=64))]
    pub threads: Option<u16>,
    /// A table of your corrections; `toeline explain marks` says what can be corrected
    #[arg(long, value_name = "FILE")]
    pub marks: Option<PathBuf>,
    /// The targets to judge by: `club` (what sound club players do), `drill` (strict aims) or a file [default: club]
    #[arg(long, value_name = "FILE")]
    pub targets: Option<PathBuf>,
}

/// Where results go.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = OUTPUT)]
pub struct OutputArgs {
    /// Also write the tables as one workbook, tables.xlsx
    #[arg(long)]
    pub xlsx: bool,
    /// In CSV, write numbers with a comma and put a semicolon between cells
    #[arg(long)]
    pub decimal_comma: bool,
    /// Print no progress, notes or cautions, only warnings and errors
    #[arg(short, long)]
    pub quiet: bool,
    /// Print one JSON document instead of the table: all strokes and measures
    #[arg(long)]
    pub json: bool,
}

/// A share of the clips: one of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Its number, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

fn part(text: &str) -> Result<Part, String> {
    let wrong = || "must be two numbers such as 2/8, the first no larger than the second".to_owned();
    let (number, of) = text.split_once('/').ok_or_else(wrong)?;
    let part = Part { number: number.parse().map_err(|_| wrong())?, of: of.parse().map_err(|_| wrong())? };
    if part.number >= 1 && part.number <= part.of { Ok(part) } else { Err(wrong()) }
}

fn number(text: &str) -> Result<f64, String> {
    text.trim().parse().ok().filter(|value: &f64| value.is_finite()).ok_or_else(|| "not a number".to_owned())
}

fn number_in(text: &str, low: f64, high: f64, unit: &str) -> Result<f64, String> {
    let value = number(text)?;
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(format!("must be between {low} and {high} {unit}"))
    }
}

fn pixel(text: &str) -> Result<Point2, String> {
    let wrong = || "must be two numbers of pixels with a comma between, such as 640,360".to_owned();
    let (x, y) = text.split_once(',').ok_or_else(wrong)?;
    let (x, y) = (number(x).map_err(|_| wrong())?, number(y).map_err(|_| wrong())?);
    if x < 0.0 || y < 0.0 { Err(wrong()) } else { Ok(Point2::new(x, y)) }
}

/// A player's code.
fn code(text: &str) -> Result<String, String> {
    const LONGEST: usize = 64;
    if text.is_empty() || text.chars().count() > LONGEST || text.chars().any(char::is_control) {
        Err(format!("must be 1 to {LONGEST} ordinary characters"))
    } else {
        Ok(text.to_owned())
    }
}

/// A day as `YYYY-MM-DD`.
///
/// # Errors
/// What is wrong with it.
pub fn day(text: &str) -> Result<String, String> {
    if whole_date(text) {
        Ok(text.to_owned())
    } else {
        Err("must be a day as YYYY-MM-DD, such as 2025-06-14".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definition_is_sound() {
        Args::command().debug_assert();
    }

    #[test]
    fn days_are_days() {
        assert!(day("2024-02-29").is_ok());
        for wrong in
            ["2025-02-29", "2025-13-01", "2025-00-10", "25-01-01", "2025/01/01", "2025-1-01", "２０２５-01"]
        {
            assert!(day(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn numbers_have_limits() {
        assert_eq!(number_in("80", 80.0, 250.0, "cm"), Ok(80.0));
        for wrong in ["79.9", "251", "NaN", "inf", "1,8", ""] {
            assert!(number_in(wrong, 80.0, 250.0, "cm").is_err(), "{wrong}");
        }
        assert_eq!(pixel("640,360"), Ok(Point2::new(640.0, 360.0)));
        for wrong in ["640", "640,", "-1,5", "a,b"] {
            assert!(pixel(wrong).is_err(), "{wrong}");
        }
    }
}
