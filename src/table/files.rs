//! Every file that the program writes, with what it holds: the one list behind `toeline explain files`, behind what is
//! replaced when a clip is measured again, and behind what a season and a comparison put in their places.

/// What writes a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Writer {
    /// `measure`: the folder of a clip's results.
    Clip,
    /// `season`: the folder `season`.
    Season,
    /// `compare`: the folder of a comparison.
    Comparison,
    /// `inspect`: beside the clip.
    Inspection,
}

/// A file or a folder that the program writes.
#[derive(Debug, Clone, Copy)]
pub struct File {
    /// Its name in the folder.
    pub name: &'static str,
    /// What writes it.
    pub writer: Writer,
    /// The option without which it is not written; empty where it always is.
    pub option: &'static str,
    /// What it holds.
    pub content: &'static str,
    /// Whether it is replaced, and removed where it is not written any more. What a person fills in is not.
    pub is_replaced: bool,
}

const fn clip(name: &'static str, option: &'static str, content: &'static str) -> File {
    File { name, writer: Writer::Clip, option, content, is_replaced: true }
}

const fn season(name: &'static str, option: &'static str, content: &'static str) -> File {
    File { name, writer: Writer::Season, option, content, is_replaced: true }
}

const fn comparison(name: &'static str, content: &'static str) -> File {
    File { name, writer: Writer::Comparison, option: "", content, is_replaced: true }
}

/// All of them. Where one is opened by a person, it stands before those that programs read.
pub const FILES: &[File] = &[
    clip(
        "strokes.csv",
        "",
        "One row per stroke: kind, hand, view, ball, stance, the times of the phases, then one column per measure.",
    ),
    clip(
        "measures.csv",
        "",
        "One row per stroke and measure: the value with its ±, grade and method, or the reason why it is missing. Lengths \
         are also given as shares of the player's height.",
    ),
    clip("phases.csv", "", "One row per stroke and boundary between phases: time, ± and method."),
    clip(
        "frames.csv",
        "",
        "One row per frame: 33 body points in pixels, the racket in strokes, the phase and the speed of the hand.",
    ),
    clip(
        "charts",
        "",
        "A folder of charts (SVG): speed of the hand with the phases, path of the hand and of the racket's tip, racket \
         lag, posture at contact, pelvis over the base, and a strip of all strokes for each measure.",
    ),
    clip(
        "stills",
        "--stills",
        "A folder of frames (PNG) with a coach's lines and the numbers; stills.csv says in words what each shows.",
    ),
    clip(
        "annotated.mp4",
        "--annotated",
        "The clip with body lines, racket, the paths of hand and racket and the names of the phases. Forward swings are \
         in slow motion.",
    ),
    clip("review.html", "--review", "The page for the player, in one file."),
    clip(
        "card.html",
        "--card",
        "A sheet for the court that prints on A5: one finding, its drill and its number.",
    ),
    clip(
        "tables.xlsx",
        "--xlsx",
        "strokes.csv, measures.csv and the definitions of all columns as one workbook.",
    ),
    clip("motion.trc", "--export trc", "Body points in metres, for OpenSim."),
    clip("motion.coco.json", "--export coco", "Body points in pixels, as COCO keypoints."),
    clip("phases.vtt", "--export vtt", "Phases as captions (WebVTT) for a video player."),
    File {
        name: "marks.csv",
        writer: Writer::Clip,
        option: "--marks-template",
        content: "A table of corrections to fill in and pass back with --marks. An existing one is kept.",
        is_replaced: false,
    },
    clip(
        "datapackage.json",
        "",
        "The data dictionary: every column with its meaning and unit (Data Package 2, units in UCUM).",
    ),
    clip(
        "clip.json",
        "",
        "Every setting (given, estimated or corrected), the camera with its ±, the models and the clip with checksums, \
         what was noticed in the video, and warnings.",
    ),
    clip(
        "motion.bin",
        "",
        "What the models saw. As long as it fits the clip, measuring again does not look at the video again.",
    ),
    clip("motion_and.bin", "--and", "What the models saw in the second camera's clip."),
    clip("next_time.json", "season", "Written by `season` only: what to film otherwise next time."),
    clip("season.json", "season", "Written by `season` only: what these results were measured from."),
    season("season.html", "", "The season on one page."),
    season(
        "players",
        "",
        "A folder with a page for each player who has a code: what to work on, what came of earlier advice, what \
         changed, and the coach's notes (notes/2025-06-14.txt beside the player's clips).",
    ),
    season("charts", "", "A folder of charts (SVG): each measure over the sessions, and drill by drill."),
    season("strokes.csv", "", "As for one clip, of all clips."),
    season("measures.csv", "", "As for one clip, of all clips."),
    season(
        "sessions.csv",
        "",
        "One row per player, day, drill, view, kind of stroke and measure: number of strokes, mean, median, standard \
         deviation and the 95 % interval of the mean.",
    ),
    season("clips.csv", "", "One row per clip: whether it was measured, and if not, why."),
    season("tables.xlsx", "--xlsx", "The tables as one workbook."),
    season("datapackage.json", "", "The data dictionary of these tables."),
    File {
        name: "clips",
        writer: Writer::Season,
        option: "",
        content: "The results of each clip.",
        is_replaced: false,
    },
    File {
        name: "toeline.json",
        writer: Writer::Season,
        option: "",
        content: "Marks the folder as one that may be replaced.",
        is_replaced: false,
    },
    comparison(
        "compare.csv",
        "One row per measure: number of strokes, mean and spread before and after, the difference with its 95 % \
         interval, Hedges' g, p, q, verdict and notes.",
    ),
    comparison("compare.json", "The data dictionary of compare.csv."),
    comparison(
        "compare.svg",
        "The strokes of both sessions with their medians, and the differences with their intervals.",
    ),
    comparison("compare.txt", "One paragraph for the player."),
    File {
        name: "inspect.png",
        writer: Writer::Inspection,
        option: "",
        content: "A frame with the camera as it was read: court lines, horizon, ground and the direction to the net.",
        is_replaced: true,
    },
];

/// The files that something writes.
pub fn files_of(writer: Writer) -> impl Iterator<Item = &'static File> {
    FILES.iter().filter(move |file| file.writer == writer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_stands_once_and_says_something() {
        for (place, file) in FILES.iter().enumerate() {
            let twice =
                FILES[..place].iter().any(|other| (other.writer, other.name) == (file.writer, file.name));
            assert!(!twice && file.content.ends_with('.'), "{file:?}");
        }
    }
}
