//! What was typed, as it was typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

use crate::geometry::Point2;
use crate::season::names::whole_date;

/// Measures a tennis player's strokes in practice clips.
///
/// Give it a clip that shows one player from head to foot. It finds every stroke and writes down what coaches look at
/// (takeback, contact point, weight, rotation, tempo), each number with its uncertainty, as tables for a spreadsheet.
#[derive(Debug, Parser)]
#[command(name = "toeline", version, max_term_width = 100, after_help = AFTER_HELP)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

const AFTER_HELP: &str = "\
Start with:  toeline measure practice.mp4 --height 178
Then open the folder practice-toeline beside the clip.

Exit codes: 0 done; 1 done but no player or no stroke found; 2 wrong usage; 3 clip unreadable; 4 network or runtime
library missing or damaged; 5 results not writable; 6 some of several clips failed; 130 interrupted.
toeline works on this computer alone and never uses the network.";

/// The subcommands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Measure every stroke of a clip or of several
    Measure(Box<MeasureArgs>),
    /// Measure a folder of clips and join the results: tables of strokes and sessions, trends
    Season(Box<SeasonArgs>),
    /// Say what changed from one session to another, what did not, and what can't be told
    Compare(CompareArgs),
    /// Say what a clip is good for: its camera, which measures it gives how well, and what would better them
    Inspect(Box<InspectArgs>),
    /// Say what a measure means: definition, unit, sign, views, target and source
    Explain(ExplainArgs),
}

/// Arguments of `compare`.
#[derive(Debug, ClapArgs)]
#[command(after_help = COMPARE_HELP)]
pub struct CompareArgs {
    /// The earlier session: a folder of results or of clips, a table, a clip, or with --season a day
    pub before: PathBuf,
    /// The later session
    pub after: PathBuf,
    /// Folder for compare.csv, compare.json, compare.svg and compare.txt [default: beside AFTER]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Earlier results of this player: from four sessions on, what is ordinary change between sessions is known
    #[arg(long, value_name = "DIR")]
    pub season: Option<PathBuf>,
    /// The targets, with the margins within which a measure stayed the same: `club`, `drill` or a file [default: club]
    #[arg(long, value_name = "FILE")]
    pub targets: Option<PathBuf>,
    /// No progress and no notes; warnings and errors only
    #[arg(long)]
    pub quiet: bool,
    /// Print one JSON document with the paragraph and all measures instead of the table
    #[arg(long)]
    pub json: bool,
}

const COMPARE_HELP: &str = "\
Only like is compared with like: strokes of one kind, hand and view, measured with one network.
Clips without results beside them are measured first. With --season a session may be named by its
day, 2025-06-14 or PLAYER:2025-06-14.
Exit code 1: nothing could be compared; compare.txt says why. Exit code 6: some of the clips could not
be measured; the others are compared.";

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
    #[arg(long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
    /// No progress and no notes; warnings and errors only
    #[arg(long, help_heading = OUTPUT)]
    pub quiet: bool,
    /// Print one JSON document instead of the text
    #[arg(long, help_heading = OUTPUT)]
    pub json: bool,
}

const INSPECT_HELP: &str = "\
inspect.png shows the court's lines as they were read (those that were seen in rust), the horizon, the ground around the
player and the way to the net over a picture of the clip: where they lie wrong, the numbers are wrong.";

/// Arguments of `explain`.
#[derive(Debug, ClapArgs)]
pub struct ExplainArgs {
    /// Name of a measure, of a boundary between phases, or of a drill; `targets club` and `targets drill` print a set of
    /// targets; without it all are listed
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

    #[command(flatten)]
    pub input: InputArgs,
    /// A pixel on the player, counted from the top left, when others are in the picture [default: who swings]
    #[arg(long, value_name = "X,Y", value_parser = pixel, help_heading = PLAYER)]
    pub subject: Option<Point2>,
    /// The day of the clip, for the tables
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day, help_heading = PLAYER)]
    pub date: Option<String>,
    #[command(flatten)]
    pub method: MethodArgs,
    #[command(flatten)]
    pub output: OutputArgs,
    /// Folder of the results; with several clips, the folder that holds a folder for each [default: beside each clip]
    #[arg(long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
    /// Also write the motion as OpenSim TRC or COCO keypoints, or the phases as WebVTT captions; several with commas
    #[arg(long, value_enum, value_name = "FORMAT", value_delimiter = ',', help_heading = OUTPUT)]
    pub export: Vec<ExportArg>,
    /// Put a table for --marks into the folder, to fill in
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
    /// Also write review.html, one file to send to the player: findings, pictures, drills, charts; implies --stills
    #[arg(long, group = "drawn")]
    pub review: bool,
    /// Earlier results of this player, which the review sets beside these
    #[arg(long, value_name = "DIR", requires = "review")]
    pub before: Option<PathBuf>,
    /// Also write card.html, a sheet for the court (A5): the first finding with picture, drill and the number to watch
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
    /// Write stills: ready, end of takeback, low point, largest lag, contact and finish with a coach's lines, of the
    /// most typical stroke, the one nearest to the targets and the one farthest from them
    #[arg(long)]
    pub stills: bool,
    /// Write annotated.mp4: the clip with body lines, racket, paths and phases, forward swings in slow motion
    #[arg(long)]
    pub annotated: bool,
    /// Make all faces unrecognisable in stills and annotated clip
    #[arg(long, requires = "drawn")]
    pub blur_faces: bool,
}

const PLAYER: &str = "Clip and player";
const OUTPUT: &str = "Output";

const MEASURE_HELP: &str = "\
Everything that is not given is estimated, and the results say what was. The most useful things to give are --height
(all lengths hang on it) and, for slow motion, --capture-fps.";

/// Arguments of `season`.
#[derive(Debug, ClapArgs)]
#[command(after_help = SEASON_HELP)]
pub struct SeasonArgs {
    /// The folder; clips in folders below it count too
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,

    #[command(flatten)]
    pub input: InputArgs,
    #[command(flatten)]
    pub method: MethodArgs,
    /// So many clips are measured at the same time [default: by the number of cores]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256), help_heading = METHOD)]
    pub jobs: Option<u16>,
    /// Measure only the I-th of N shares of the clips, and join nothing yet
    #[arg(long, value_name = "I/N", value_parser = part, conflicts_with = "gather", help_heading = METHOD)]
    pub part: Option<Part>,
    /// Measure nothing; join what all parts have measured
    #[arg(long, help_heading = METHOD)]
    pub gather: bool,
    #[command(flatten)]
    pub output: OutputArgs,
    /// Folder in which the folder `season` with the results is made [default: the folder of the clips]
    #[arg(long, value_name = "DIR", help_heading = OUTPUT)]
    pub out: Option<PathBuf>,
}

const METHOD: &str = "Method";

const SEASON_HELP: &str = "\
Dates (2025-06-14, 20250614) and player codes (P01) are read from the names of files and folders, the drill too. A table
season.csv in the folder says it better: file,player,date,view,drill,height_cm,hand,grip,capture_fps, one line for a clip
or for a whole folder. A run that was stopped goes on where it was; clips that have not changed are not measured again.";

/// What the user knows about clip and player.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = PLAYER)]
pub struct InputArgs {
    /// The hitting hand [default: the one that swings]
    #[arg(long, value_enum, value_name = "SIDE", hide_possible_values = false)]
    pub hand: Option<Hand>,
    /// The player's height in cm, which sets the scale of all lengths [default: 175 assumed, with a wide ±]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 80.0, 250.0, "cm"))]
    pub height: Option<f64>,
    /// From where the camera looks at the player [default: estimated]
    #[arg(long, value_enum)]
    pub view: Option<ViewArg>,
    /// The side of the picture on which the net is [default: estimated]
    #[arg(long, value_enum, value_name = "SIDE")]
    pub net: Option<Net>,
    /// Pictures a second that the camera took, for slow motion that is stored at a lower rate [default: the file's]
    #[arg(long, value_name = "N", value_parser = |s: &str| number_in(s, 1.0, 10_000.0, "pictures a second"))]
    pub capture_fps: Option<f64>,
    /// The lens's horizontal field of view in degrees [default: from the court's lines, the file, or as phones have it]
    #[arg(long, value_name = "DEG", value_parser = |s: &str| number_in(s, 10.0, 150.0, "degrees"))]
    pub fov: Option<f64>,
    /// From the camera to the player in metres, for the lens and for how long sound is under way [default: from the court's lines and the player's size]
    #[arg(long, value_name = "M", value_parser = |s: &str| number_in(s, 1.0, 200.0, "metres"))]
    pub camera_distance: Option<f64>,
    /// The lens over the ground in cm, which says how far the camera looks down [default: from the court's lines and the player]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 5.0, 2000.0, "cm"))]
    pub camera_height: Option<f64>,
    /// A code for the player, for the tables (better not a name)
    #[arg(long, value_name = "CODE", value_parser = code)]
    pub player: Option<String>,
    /// How the ball came, for the tables; in shadow swings no hit is listened for
    #[arg(long, value_enum, value_name = "KIND")]
    pub drill: Option<DrillArg>,
    /// The racket's length in cm, by which its depth is told [default: 68.5]
    #[arg(long, value_name = "CM", value_parser = |s: &str| number_in(s, 40.0, 75.0, "cm"))]
    pub racket_length: Option<f64>,
    /// How the racket is held, for the notes
    #[arg(long, value_enum)]
    pub grip: Option<GripArg>,
}

/// How to measure.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = METHOD)]
pub struct MethodArgs {
    /// The pose network: full, lite (faster), heavy (steadier, slower), or the path of a card or ONNX file
    #[arg(long, value_name = "NAME|FILE", default_value = "full")]
    pub model: String,
    /// Take everything to lie in one upright plane, for comparison with the usual method
    #[arg(long)]
    pub planar: bool,
    /// Look at all pictures of a long clip [default: from 20 s on, single pictures first, and all of them around strokes]
    #[arg(long, conflicts_with = "coarse")]
    pub every_frame: bool,
    /// Look at single pictures first in a short clip too
    #[arg(long)]
    pub coarse: bool,
    /// What the networks run on: the computer's own processor, a graphics card through CUDA, or auto: the card if it can be used
    #[arg(long, value_enum, value_name = "WHICH", default_value = "cpu")]
    pub device: DeviceArg,
    /// Cores to use for one clip [default: all, at most 4; with --jobs a share of them]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=64))]
    pub threads: Option<u16>,
    /// A table of corrections: contact, phases, hand, kind, player, scale; measure --marks-template writes one to fill in
    #[arg(long, value_name = "FILE")]
    pub marks: Option<PathBuf>,
    /// The targets for the findings: `club` (what sound club players do), `drill` (strict aims) or a file [default: club]
    #[arg(long, value_name = "FILE")]
    pub targets: Option<PathBuf>,
}

/// Where results go.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = OUTPUT)]
pub struct OutputArgs {
    /// Write the tables also as one workbook, tables.xlsx
    #[arg(long)]
    pub xlsx: bool,
    /// Write numbers in CSV with a comma, and a semicolon between cells
    #[arg(long)]
    pub decimal_comma: bool,
    /// No progress, notes or cautions; warnings and errors only
    #[arg(long)]
    pub quiet: bool,
    /// Print one JSON document with all strokes and measures instead of the table
    #[arg(long)]
    pub json: bool,
}

/// A hand.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs, reason = "the values of an option")]
pub enum Hand {
    Right,
    Left,
}

/// A view.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum ViewArg {
    /// Across the line of the shot
    Side,
    /// From behind the player
    Back,
    /// From the net
    Front,
    /// Between those
    Diagonal,
}

/// A side of the picture.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs, reason = "the values of an option")]
pub enum Net {
    Left,
    Right,
}

/// What networks run on.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs, reason = "the values of an option")]
pub enum DeviceArg {
    Cpu,
    Cuda,
    Auto,
}

/// How the ball came.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum DrillArg {
    /// Swings without a ball
    Shadow,
    /// The player drops the ball
    Drop,
    /// Somebody throws it
    HandFeed,
    /// A machine throws it
    Machine,
    /// A rally
    Rally,
}

/// How the racket is held.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs, reason = "the values of an option")]
pub enum GripArg {
    Continental,
    Eastern,
    SemiWestern,
    Western,
}

/// A form in which motion or phases are handed to other programs.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum ExportArg {
    /// Body points in metres, as OpenSim reads them
    Trc,
    /// Body points in pixels, as COCO keypoints
    Coco,
    /// Phases as captions for a video player
    Vtt,
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
