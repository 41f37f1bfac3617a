//! What the tables are made from.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::measure::clip::{ClipMeasures, Seen, Stated};
use crate::measure::pair::Second;
use crate::pose::Motion;
use crate::targets::Observed;
use crate::video::{ClipInfo, ClipReport};

/// How the ball came, as the user says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "kebab-case")]
pub enum Drill {
    /// Swings without a ball.
    Shadow,
    /// The player drops the ball.
    Drop,
    /// Somebody throws the ball.
    HandFeed,
    /// A ball machine feeds the ball.
    Machine,
    /// A rally.
    Rally,
}

impl Drill {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Shadow, Self::Drop, Self::HandFeed, Self::Machine, Self::Rally];

    /// The word used in options and columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Shadow => "shadow",
            Self::Drop => "drop",
            Self::HandFeed => "hand-feed",
            Self::Machine => "machine",
            Self::Rally => "rally",
        }
    }
}

/// How the racket is held, as the user says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the trade's own names")]
pub enum Grip {
    Continental,
    Eastern,
    SemiWestern,
    Western,
}

impl Grip {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Continental, Self::Eastern, Self::SemiWestern, Self::Western];

    /// The word used in options and columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Continental => "continental",
            Self::Eastern => "eastern",
            Self::SemiWestern => "semi-western",
            Self::Western => "western",
        }
    }
}

/// What the user says about a clip for the tables.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Labels {
    /// A code for the player.
    pub player: Option<String>,
    /// The day, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// How the ball came.
    pub drill: Option<Drill>,
    /// How the racket is held.
    pub grip: Option<Grip>,
    /// The coach's name.
    pub coach: Option<String>,
    /// Of everything that was said of clip and player, here and in what the numbers depend on, what said it.
    pub said_by: BTreeMap<&'static str, SaidBy>,
}

/// What has said something of a clip; the first counts most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum SaidBy {
    /// An option.
    #[serde(rename = "command line")]
    CommandLine,
    /// The table of a season.
    #[serde(rename = "season.csv")]
    Table,
    /// The settings beside the clips or above them.
    #[serde(rename = "toeline.toml")]
    Settings,
    /// Names of files and folders.
    #[serde(rename = "names")]
    Names,
    /// The video file itself.
    #[serde(rename = "the clip")]
    Clip,
}

/// A network that took part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ModelNote {
    /// Its name.
    pub name: String,
    /// Name of its file.
    pub file: String,
    /// SHA-256 of that file.
    pub sha256: String,
    /// SPDX identifier of its licence.
    pub licence: String,
}

/// Everything that is known of a measured clip.
#[derive(Debug, Clone, Copy)]
pub struct Results<'a> {
    /// The clip's name in the tables: its file name.
    pub clip: &'a str,
    /// SHA-256 of the clip.
    pub sha256: &'a str,
    /// What the file says of itself.
    pub info: &'a ClipInfo,
    /// What reading it has shown.
    pub report: &'a ClipReport,
    /// Why the clip's sound was not listened to, where it was not.
    pub no_sound: Option<&'a str>,
    /// What the user said about the clip.
    pub labels: &'a Labels,
    /// What the user said that the numbers depend on.
    pub stated: &'a Stated,
    /// What was seen besides the motion.
    pub seen: &'a Seen,
    /// How many people were seen.
    pub people: usize,
    /// The pose network.
    pub model: &'a ModelNote,
    /// The other networks.
    pub detectors: &'a [ModelNote],
    /// What the inference library says of its making.
    pub runtime: &'a str,
    /// The player's motion; without any pictures where nobody was seen.
    pub motion: &'a Motion,
    /// Its numbers.
    pub measures: &'a ClipMeasures,
    /// What of them comes from a second camera.
    pub second: Option<&'a Second>,
}

impl<'a> Results<'a> {
    /// The player's height as it was used, cm.
    pub fn height_cm(&self) -> f64 {
        100.0 * self.measures.filmed.stature.metres.0
    }

    /// The strokes as targets judge them.
    pub fn observed(&self) -> Vec<Observed<'a>> {
        let (grip, drill) = (self.labels.grip.map(Grip::name), self.labels.drill.map(Drill::name));
        self.measures.strokes.iter().map(|stroke| Observed::of(stroke, grip, drill)).collect()
    }
}
