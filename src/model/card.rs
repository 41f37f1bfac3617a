//! Model cards: one TOML file beside each model says what it is, where it comes from and how it is fed and read.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::{ModelError, checksum};

/// Everything that a model's card says.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Card {
    /// Name of the model, the card's file name without its ending.
    pub name: String,
    /// What the model is for.
    pub role: Role,
    /// The model's file, relative to the card.
    pub file: PathBuf,
    /// SHA-256 of the model's file, hexadecimal.
    pub sha256: String,
    /// SPDX identifier of the weights' licence.
    pub licence: String,
    /// Where the weights come from.
    #[serde(default)]
    pub source: Option<Source>,
    /// How a picture becomes the model's input.
    pub input: Input,
    /// Which part of the picture the model is shown.
    pub region: RegionRule,
    /// How the model's outputs are read.
    pub head: Head,
    /// What the model's points are; detectors and landmark models have it.
    #[serde(default)]
    pub landmarks: Landmarks,
    /// Class numbers of an object detector.
    #[serde(default)]
    pub classes: Option<Classes>,
    /// Known offsets of the model's points against joint centres; read where motions are lifted into space.
    #[serde(default)]
    pub offsets: toml::Table,
    /// The card's own file; filled in when it is read.
    #[serde(skip)]
    pub path: PathBuf,
}

/// What a model is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Body points of one person in a region.
    Landmarks,
    /// Finds people in a whole picture.
    PersonDetector,
    /// Finds people, rackets and balls in a whole picture.
    ObjectDetector,
    /// Points of the racket around the hitting hand.
    RacketPoints,
}

/// The published file that the weights were taken from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Registry and package.
    pub package: String,
    /// Version of the package.
    #[serde(default)]
    pub version: String,
    /// File in the package.
    #[serde(default)]
    pub file: String,
    /// SHA-256 of that file, hexadecimal.
    #[serde(default)]
    pub sha256: String,
}

/// How a picture becomes a model's input: value = (byte − mean) / std, per channel in the model's own order.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Input {
    /// Name of the input in the model's file.
    pub name: String,
    /// Order of the dimensions.
    pub layout: Layout,
    /// Width, pixels.
    pub width: usize,
    /// Height, pixels.
    pub height: usize,
    /// Order of the colours.
    pub channels: Channels,
    /// Subtracted from each byte.
    pub mean: [f64; 3],
    /// Divisor after that.
    pub std: [f64; 3],
}

/// Order of an input's dimensions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Layout {
    /// Batch, height, width, channel.
    Nhwc,
    /// Batch, channel, height, width.
    Nchw,
}

/// Order of an input's colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Channels {
    /// Red, green, blue.
    Rgb,
    /// Blue, green, red.
    Bgr,
}

/// Which part of the picture a model is shown.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegionRule {
    /// Shape of the region.
    pub kind: RegionKind,
    /// How much larger than the body (its circle or its box) the region is.
    #[serde(default = "one")]
    pub scale: f64,
    /// What lies outside the picture.
    pub border: Border,
    /// Which grid the input's pixels are read on.
    #[serde(default)]
    pub sampling: Sampling,
}

fn one() -> f64 {
    1.0
}

/// Shape of a model's region.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegionKind {
    /// A square around the body, turned with it.
    RotatedSquare,
    /// An upright box around the body with the input's proportions.
    UprightBox,
    /// An upright square around the hand; its side is `scale` racket lengths.
    AroundHand,
    /// The whole picture in the middle of a square.
    LetterboxCentre,
    /// The whole picture in the upper left corner of a square.
    LetterboxCorner,
}

/// What lies outside the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Border {
    /// The picture's edge goes on.
    Replicate,
    /// Black.
    Zero,
}

/// Which grid an input's pixels are read on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sampling {
    /// Pixel (0, 0) of the input lies on the region's corner.
    #[default]
    Corner,
    /// The middle of pixel (0, 0) lies half a pixel inside the region's corner.
    Centre,
}

/// How the landmarks of a regression head are sharpened by its heat map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Refinement {
    /// Regressed points only.
    Off,
    /// The heat map's mean where its largest value reaches `refine_minimum`, the regressed point elsewhere.
    #[default]
    Threshold,
    /// A mixture of both that changes smoothly with the heat map's largest value.
    Blend,
}

/// How a model's outputs are read; each variant names them.
#[derive(Debug, Clone, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Head {
    /// Regressed points with a heat map that sharpens them.
    RegressionHeatmap {
        /// `[N, 5·points]`: x, y, z in input pixels, visibility and presence logits.
        landmarks: String,
        /// `[N, 1]`: the chance that a person is there.
        presence: String,
        /// `[N, points, h, w]`: logits.
        heatmap: String,
        /// `[N, 3·points]`: metres from the middle of the hips.
        #[serde(default)]
        world: Option<String>,
        /// Below this presence there is nobody.
        presence_minimum: f32,
        /// Side of the window around a point in heat-map cells, odd.
        refine_window: usize,
        /// The heat map counts where its largest value in the window reaches this.
        refine_minimum: f32,
        /// How the heat map is used.
        #[serde(default)]
        refinement: Refinement,
    },
    /// One heat map a point; the largest value is the point.
    Heatmap {
        /// `[N, points, h, w]`: values from 0 to about 1.
        heatmap: String,
        /// Input pixels per heat-map cell.
        stride: f64,
        /// How a place between cells is found.
        #[serde(default)]
        subcell: Subcell,
        /// Below this mean of the points' largest values there is nobody.
        #[serde(default = "default_presence")]
        presence_minimum: f32,
    },
    /// One distribution over the cells of a grid a point, and the chance that the point is in the region.
    CellChances {
        /// `[N, points, h, w]`: logits; their softmax over a point's cells is the chance of each.
        heatmap: String,
        /// `[N, points]`: probabilities.
        seen: String,
    },
    /// One distribution over columns and one over rows a point.
    Simcc {
        /// `[N, points, width·split_ratio]`.
        x: String,
        /// `[N, points, height·split_ratio]`.
        y: String,
        /// Bins per input pixel.
        split_ratio: f64,
        /// Below this mean of the points' largest values there is nobody.
        #[serde(default = "default_presence")]
        presence_minimum: f32,
    },
    /// Boxes and points on a grid of anchors.
    Anchors {
        /// `[N, anchors, 4 + 2·points]`: input pixels from the anchor.
        boxes: String,
        /// `[N, anchors, 1]`: logits.
        scores: String,
        /// Input pixels per grid cell, one grid after another.
        strides: Vec<usize>,
        /// Anchors in each cell of each grid.
        anchors_per_place: Vec<usize>,
        /// Points of each box.
        points: usize,
        /// Boxes with a smaller score are dropped.
        score_minimum: f32,
        /// Boxes that overlap more (intersection over union) become one.
        overlap_maximum: f64,
    },
    /// Boxes as distributions over the distances to their four sides.
    Distribution {
        /// `[N, cells, classes]`: probabilities.
        scores: String,
        /// `[N, cells, 4·bins]`: logits for left, top, right, bottom.
        distances: String,
        /// Input pixels per grid cell, one grid after another.
        strides: Vec<usize>,
        /// Bins a side; bin i means i strides.
        bins: usize,
        /// Boxes with a smaller score are dropped.
        score_minimum: f32,
        /// Boxes of a class that overlap more (intersection over union) become one.
        overlap_maximum: f64,
    },
}

fn default_presence() -> f32 {
    0.3
}

/// How a heat map's largest value is placed between cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Subcell {
    /// A quarter of a cell toward the larger neighbour.
    #[default]
    Quarter,
    /// The vertex of the parabola through the value and its two neighbours.
    Parabola,
}

impl Head {
    /// The outputs that the model must have.
    pub fn outputs(&self) -> Vec<&str> {
        match self {
            Self::RegressionHeatmap { landmarks, presence, heatmap, world, .. } => {
                let mut names = vec![landmarks.as_str(), presence, heatmap];
                names.extend(world.as_deref());
                names
            }
            Self::Heatmap { heatmap, .. } => vec![heatmap],
            Self::CellChances { heatmap, seen } => vec![heatmap, seen],
            Self::Simcc { x, y, .. } => vec![x, y],
            Self::Anchors { boxes, scores, .. } => vec![boxes, scores],
            Self::Distribution { scores, distances, .. } => vec![scores, distances],
        }
    }
}

/// What a model's points are.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Landmarks {
    /// Names in the order of the model's points; names outside this crate's vocabulary are points that nobody reads.
    #[serde(default)]
    pub names: Vec<String>,
    /// Number of the point in the middle of the region.
    #[serde(default)]
    pub region_centre: Option<usize>,
    /// Number of the point on the body's circle, straight up from the centre in an upright person.
    #[serde(default)]
    pub region_scale: Option<usize>,
}

/// Class numbers of an object detector.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Classes {
    /// People.
    pub person: usize,
    /// Balls.
    #[serde(default)]
    pub ball: Option<usize>,
    /// Rackets.
    #[serde(default)]
    pub racket: Option<usize>,
}

/// Compares a file with its SHA-256 (hexadecimal); reads the whole file.
///
/// # Errors
/// [`ModelError::Unreadable`] and [`ModelError::Checksum`].
pub(super) fn verify(path: &Path, expected: &str) -> Result<(), ModelError> {
    let unreadable = |source| ModelError::Unreadable { path: path.to_owned(), source };
    let found = checksum(path).map_err(unreadable)?;
    if found.eq_ignore_ascii_case(expected) {
        Ok(())
    } else {
        Err(ModelError::Checksum { path: path.to_owned(), expected: expected.to_owned(), found })
    }
}

impl Card {
    /// Reads a card and checks what can be checked without the model's file.
    ///
    /// # Errors
    /// [`ModelError::Unreadable`] and [`ModelError::Card`].
    pub fn read(path: &Path) -> Result<Self, ModelError> {
        let text = std::fs::read_to_string(path)
            .map_err(|source| ModelError::Unreadable { path: path.to_owned(), source })?;
        let fail = |reason: String| ModelError::Card { path: path.to_owned(), reason };
        let mut card: Self = toml::from_str(&text).map_err(|error| fail(error.to_string()))?;
        card.check().map_err(fail)?;
        card.path = path.to_owned();
        Ok(card)
    }

    /// The model's file.
    pub fn model_path(&self) -> PathBuf {
        self.path.parent().unwrap_or(Path::new("")).join(&self.file)
    }

    /// Compares the model's file with the card's checksum; reads the whole file.
    ///
    /// # Errors
    /// [`ModelError::Unreadable`] and [`ModelError::Checksum`].
    pub fn verify(&self) -> Result<(), ModelError> {
        verify(&self.model_path(), &self.sha256)
    }

    /// An error about this card.
    pub fn error(&self, reason: impl Into<String>) -> ModelError {
        ModelError::Card { path: self.path.clone(), reason: reason.into() }
    }

    fn check(&self) -> Result<(), String> {
        if self.input.width == 0 || self.input.height == 0 {
            return Err("input: width and height must be at least 1".into());
        }
        if self.input.std.contains(&0.0) {
            return Err("input: std must not be 0".into());
        }
        if self.region.scale <= 0.0 || !self.region.scale.is_finite() {
            return Err("region: scale must be above 0".into());
        }
        let fits = match (&self.head, self.role) {
            (Head::RegressionHeatmap { .. } | Head::Heatmap { .. } | Head::Simcc { .. }, Role::Landmarks) => {
                matches!(self.region.kind, RegionKind::RotatedSquare | RegionKind::UprightBox)
            }
            (Head::Anchors { .. }, Role::PersonDetector) => self.region.kind == RegionKind::LetterboxCentre,
            (Head::Distribution { .. }, Role::ObjectDetector) => {
                self.region.kind == RegionKind::LetterboxCorner
            }
            (Head::CellChances { .. }, Role::RacketPoints) => self.region.kind == RegionKind::AroundHand,
            _ => return Err("role and head.kind don't go together".into()),
        };
        if !fits {
            return Err("role and region.kind don't go together".into());
        }
        self.check_head()
    }

    fn check_head(&self) -> Result<(), String> {
        match &self.head {
            Head::RegressionHeatmap { refine_window, .. } if refine_window % 2 == 0 => {
                Err("head: refine_window must be odd".into())
            }
            Head::Heatmap { stride, .. } if *stride <= 0.0 => Err("head: stride must be above 0".into()),
            Head::Simcc { split_ratio, .. } if *split_ratio <= 0.0 => {
                Err("head: split_ratio must be above 0".into())
            }
            Head::Anchors { strides, anchors_per_place, .. } if strides.len() != anchors_per_place.len() => {
                Err("head: strides and anchors_per_place must have the same length".into())
            }
            Head::Anchors { strides, .. } | Head::Distribution { strides, .. } if strides.contains(&0) => {
                Err("head: strides must be above 0".into())
            }
            Head::Distribution { bins: 0, .. } => Err("head: bins must be above 0".into()),
            Head::Distribution { .. } if self.classes.is_none() => {
                Err("an object detector needs the table [classes]".into())
            }
            _ if self.role == Role::Landmarks && self.landmarks.names.is_empty() => {
                Err("a landmark model needs landmarks.names".into())
            }
            _ => Ok(()),
        }
    }
}
