//! `clip.json`: how a clip's numbers came about, given and estimated values, networks, checksums, versions, warnings.

use std::collections::BTreeMap;

use serde::Serialize;

use super::cell::rounded;
use super::results::{ModelNote, Results, SaidBy};
use super::warnings;
use crate::measure::clip::Corrected;
use crate::measure::pair::{Second, SecondNote};
use crate::pose::Side;
use crate::racket::Length;
use crate::scene::space::Lift;
use crate::scene::{Estimate, NetSide, Stature, StatureSource, Teller, Witness};

/// Name of the program, by which its results are known.
pub const PROGRAM: &str = "toeline";

/// Goes up when files or columns change their meaning.
pub const FORMAT: u32 = 3;

/// Half width of a 95 % interval in standard deviations.
const TWO_SIDED_95: f64 = 1.96;

/// Under this share of the way to the net lying across the picture, the net is on neither side.
const BESIDE: f64 = 0.26;

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// The user said so.
    Given,
    /// The user corrected it after seeing the numbers.
    Marked,
    /// The video file says so.
    File,
    /// It was read from the pictures.
    Estimated,
    /// It was read from the court's painted lines.
    #[serde(rename = "court lines")]
    Lines,
    /// It was read from points of the court that the user has placed.
    #[serde(rename = "court points")]
    Points,
    /// Other clips of the player's season have shown it.
    Season,
    /// It was read from things that stand upright.
    #[serde(rename = "posts and walls")]
    Uprights,
    /// It follows from the player: feet, stature, facing and strokes.
    Player,
    /// Nothing better was known.
    Assumed,
}

/// A setting with where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Setting<T> {
    /// What was used; none where it could not be told.
    pub value: Option<T>,
    /// Half width of the 95 % interval, where known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plus_minus: Option<f64>,
    /// Where it comes from; none without a value.
    pub source: Option<Source>,
}

impl From<Witness> for Source {
    fn from(witness: Witness) -> Self {
        match witness {
            Witness::Stated => Self::Given,
            Witness::File => Self::File,
            Witness::Lines => Self::Lines,
            Witness::Points => Self::Points,
            Witness::Uprights => Self::Uprights,
            Witness::Player => Self::Player,
            Witness::Assumed => Self::Assumed,
        }
    }
}

impl Setting<f64> {
    /// A quantity of the camera; none where its ± is not known.
    fn of_camera(told: Option<(Estimate, Witness)>, digits: u32) -> Self {
        let told = told.filter(|(found, _)| found.value.is_finite() && found.plus_minus.is_finite());
        match told {
            Some((found, witness)) => Self::new(Some(rounded(found.value, digits)), witness.into())
                .within(Some(rounded(found.plus_minus, digits))),
            None => Self::new(None, Source::Assumed),
        }
    }
}

impl<T> Setting<T> {
    fn new(value: Option<T>, source: Source) -> Self {
        let source = value.is_some().then_some(source);
        Self { value, plus_minus: None, source }
    }

    fn given_or(value: Option<T>, given: bool, otherwise: Source) -> Self {
        Self::new(value, if given { Source::Given } else { otherwise })
    }

    fn within(self, plus_minus: Option<f64>) -> Self {
        Self { plus_minus, ..self }
    }
}

/// Everything in `clip.json`.
#[derive(Debug, Clone, Serialize)]
pub struct Notes {
    program: &'static str,
    format: u32,
    versions: Versions,
    clip: ClipNote,
    video: VideoNote,
    sound: SoundNote,
    /// Values on which the numbers depend.
    pub settings: Settings,
    labels: LabelNote,
    /// Another clip of the same strokes.
    #[serde(skip_serializing_if = "Option::is_none")]
    second_camera: Option<SecondNote>,
    model: ModelNote,
    detectors: Vec<ModelNote>,
    player: PlayerNote,
    strokes: usize,
    /// What a person has corrected.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Corrected>,
    /// What a person should know before believing the numbers.
    pub warnings: Vec<String>,
}

#[derive(Debug, Clone, Serialize)]
struct Versions {
    toeline: &'static str,
    onnx_runtime_build: String,
    ffmpeg_libavformat: String,
}

#[derive(Debug, Clone, Serialize)]
struct ClipNote {
    file: String,
    sha256: String,
    codec: String,
    width: u32,
    height: u32,
    quarter_turns: u8,
    mirrored: bool,
    colour_space: String,
    bit_depth: u8,
    stored_rate: f64,
    stated_frames: Option<u64>,
    stated_duration_s: Option<f64>,
    has_audio: bool,
}

#[derive(Debug, Clone, Serialize)]
struct VideoNote {
    frames: usize,
    rate: Option<f64>,
    variable_rate: bool,
    duplicates: usize,
    damaged: usize,
    skipped: usize,
    repaired_times: usize,
    clock_restarts: usize,
    slow_motion: bool,
    truncated: bool,
}

#[derive(Debug, Clone, Serialize)]
struct SoundNote {
    /// Whether it was listened to.
    used: bool,
    /// Why it was not, or why its hits were not believed.
    reason: Option<String>,
    length_s: Option<f64>,
    short_sounds: Option<usize>,
    own_hits: Option<usize>,
    /// How late the sound is on the pictures, the way of the sound taken off (negative: early), with half the width of its
    /// 95 % interval, ms.
    late_ms: Option<f64>,
    late_plus_minus_ms: Option<f64>,
    /// How much later than by the hand's movement alone the ball is met, ms.
    contact_after_movement_ms: Option<f64>,
}

impl Notes {
    /// What the clip's sound gave, as a sentence.
    pub fn sound_in_words(&self) -> String {
        match (&self.sound.reason, self.sound.own_hits) {
            (Some(reason), _) => format!("the sound does not time contact: {reason}"),
            (None, Some(hits)) => format!("the sound is heard, with {hits} of the strokes' hits"),
            (None, None) => "the sound is heard".to_owned(),
        }
    }
}

impl SoundNote {
    fn of(results: &Results<'_>) -> Self {
        let (heard, hits) = (results.seen.sound.as_ref(), results.measures.hits.as_ref());
        let late = results.measures.sound_late;
        let apart = hits.is_some_and(|hits| hits.apart);
        let reason = results.no_sound.or(apart.then_some(
            "the hits are heard at other times than the swings are seen: sound and video are out of step",
        ));
        Self {
            used: heard.is_some() && !apart,
            reason: reason.map(str::to_owned),
            length_s: heard.map(|heard| rounded(heard.length.0, 3)),
            short_sounds: heard.map(|heard| heard.onsets.len()),
            own_hits: hits.map(|hits| hits.of_swings.iter().flatten().count()),
            late_ms: late.map(|late| rounded(late.time.milliseconds(), 1)),
            late_plus_minus_ms: late.map(|late| rounded(TWO_SIDED_95 * late.spread.milliseconds(), 1)),
            contact_after_movement_ms: hits
                .and_then(|hits| hits.shift)
                .zip(late)
                .map(|(shift, late)| rounded((shift.time - late.time).milliseconds(), 1)),
        }
    }
}

/// Values on which the numbers depend.
#[derive(Debug, Clone, Serialize)]
pub struct Settings {
    /// The hitting hand.
    pub hand: Setting<&'static str>,
    /// The player's stature.
    pub height_cm: Setting<f64>,
    /// From where the camera looks.
    pub view: Setting<&'static str>,
    /// On which side of the picture the net is.
    pub net: Setting<&'static str>,
    /// Direction to the net: 0 = right in the picture, 90 = away from the camera.
    pub net_direction_deg: Setting<f64>,
    /// Distance over the ground from the camera to the player.
    pub camera_distance_m: Setting<f64>,
    /// Height of the lens over the ground.
    pub camera_height_m: Setting<f64>,
    /// The lens's axis against the horizontal: negative looks down.
    pub camera_pitch_deg: Setting<f64>,
    /// Turn of the picture's content: positive is clockwise.
    pub camera_roll_deg: Setting<f64>,
    /// Focal length in pixels.
    pub focal_length_px: Setting<f64>,
    /// Horizontal field of view.
    pub field_of_view_deg: Setting<f64>,
    /// Pictures a second that the camera took.
    pub capture_rate: Setting<f64>,
    /// Where the player stands, pixels.
    pub subject: Setting<[f64; 2]>,
    /// The racket's true length.
    pub racket_length_cm: Setting<f64>,
    /// How the picture is turned into metres.
    pub method: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct LabelNote {
    player: Option<String>,
    date: Option<String>,
    drill: Option<&'static str>,
    grip: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    coach: Option<String>,
    /// What said each of the things that were said of clip and player.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    said_by: BTreeMap<&'static str, SaidBy>,
}

#[derive(Debug, Clone, Serialize)]
struct PlayerNote {
    people_seen: usize,
    frames_with_player: usize,
    frames_with_sides_exchanged: usize,
}

impl Notes {
    /// What is to be noted of a clip.
    pub fn of(results: &Results<'_>) -> Self {
        let (info, report, motion) = (results.info, results.report, results.motion);
        let settings = Settings::of(results);
        let warnings = warnings::of(results, &settings);
        Self {
            program: PROGRAM,
            format: FORMAT,
            versions: Versions {
                toeline: env!("CARGO_PKG_VERSION"),
                onnx_runtime_build: results.runtime.to_owned(),
                ffmpeg_libavformat: crate::video::library_version(),
            },
            clip: ClipNote {
                file: results.clip.to_owned(),
                sha256: results.sha256.to_owned(),
                codec: info.codec.clone(),
                width: info.width,
                height: info.height,
                quarter_turns: info.rotation,
                mirrored: info.mirrored,
                colour_space: info.colour_space.clone(),
                bit_depth: info.bit_depth,
                stored_rate: rounded(info.stored_rate, 3),
                stated_frames: info.stated_frames,
                stated_duration_s: info.stated_duration.map(|duration| rounded(duration.0, 3)),
                has_audio: info.has_audio,
            },
            video: VideoNote {
                frames: report.frames,
                rate: report.median_interval.filter(|step| step.0 > 0.0).map(|step| rounded(1.0 / step.0, 3)),
                variable_rate: report.variable_rate,
                duplicates: report.duplicates,
                damaged: report.damaged,
                skipped: report.skipped,
                repaired_times: report.repaired_times,
                clock_restarts: report.clock_restarts,
                slow_motion: info.is_slow_motion(),
                truncated: report.truncated,
            },
            sound: SoundNote::of(results),
            settings,
            labels: LabelNote {
                player: results.labels.player.clone(),
                date: results.labels.date.clone(),
                drill: results.labels.drill.map(super::Drill::name),
                grip: results.labels.grip.map(super::Grip::name),
                coach: results.labels.coach.clone(),
                said_by: results.labels.said_by.clone(),
            },
            second_camera: results.second.map(Second::note),
            model: results.model.clone(),
            detectors: results.detectors.to_vec(),
            player: PlayerNote {
                people_seen: results.people,
                frames_with_player: (0..motion.len()).filter(|&frame| motion.points.is_known(frame)).count(),
                frames_with_sides_exchanged: motion.straightened.iter().filter(|turned| **turned).count(),
            },
            strokes: results.measures.strokes.len(),
            corrections: results.measures.corrected.clone(),
            warnings,
        }
    }
}

/// A stature and half the width of its 95 % interval in cm, as they are written.
pub fn height_cm(stature: &Stature) -> (f64, f64) {
    let cm = 100.0 * stature.metres.0;
    (rounded(cm, 1), rounded(TWO_SIDED_95 * stature.spread * cm, 1))
}

impl Settings {
    fn of(results: &Results<'_>) -> Self {
        let (measures, stated) = (results.measures, results.stated);
        let (filmed, stature) = (&measures.filmed, measures.filmed.stature);
        let racket_length = Length::of(stated.racket_length, stature.told());
        let (height, height_plus_minus) = height_cm(&stature);
        let stature_source = match (stated.corrections.height, stature.source) {
            (Some(_), _) => Source::Marked,
            (None, StatureSource::Given) => Source::Given,
            (None, StatureSource::Lines) => Source::Lines,
            (None, StatureSource::Points) => Source::Points,
            (None, StatureSource::Season) => Source::Season,
            (None, StatureSource::Assumed) => Source::Assumed,
        };
        let angle = measures.direction.map(|direction| direction.angle);
        let net = angle.and_then(|angle| match angle.radians().cos() {
            across if across > BESIDE => Some("right"),
            across if across < -BESIDE => Some("left"),
            _ => None,
        });
        let stated_net = stated.direction.net.map(|net| match net {
            NetSide::Left => "left",
            NetSide::Right => "right",
        });
        let hand: Option<Side> = measures.hitting.map(|hitting| hitting.hand).or(stated.hand);
        let hand_source = match measures.hitting {
            _ if stated.corrections.hand.is_some() => Source::Marked,
            Some(hitting) if hitting.assumed => Source::Assumed,
            _ => Source::Estimated,
        };
        let net_source = filmed.court.map_or(Source::Player, Source::from);
        Self {
            hand: Setting::given_or(
                hand.map(Side::name),
                stated.hand.is_some() && hand_source != Source::Marked,
                hand_source,
            ),
            height_cm: Setting::new(Some(height), stature_source).within(Some(height_plus_minus)),
            view: Setting::given_or(
                measures
                    .direction
                    .map(|direction| direction.view)
                    .or(stated.direction.view)
                    .map(|view| view.name()),
                stated.direction.view.is_some(),
                Source::Estimated,
            ),
            net: Setting::given_or(stated_net.or(net), stated_net.is_some(), Source::Estimated),
            net_direction_deg: Setting::new(angle.map(|angle| rounded(angle.0, 1)), net_source)
                .within(measures.direction.map(|d| rounded(TWO_SIDED_95 * d.spread.0, 1))),
            camera_distance_m: Setting::of_camera(filmed.distance(), 2),
            camera_height_m: Setting::of_camera(filmed.height(), 2),
            camera_pitch_deg: Setting::of_camera(Some(filmed.pitch()), 1),
            camera_roll_deg: Setting::of_camera(Some(filmed.roll()), 1),
            focal_length_px: Setting::of_camera(Some(filmed.focal()), 0),
            racket_length_cm: Setting::given_or(
                Some(rounded(100.0 * racket_length.value.0, 1)),
                stated.racket_length.is_some(),
                Source::Assumed,
            ),
            field_of_view_deg: Setting::of_camera(Some(filmed.view(results.info.width)), 1),
            capture_rate: Setting::given_or(
                Some(rounded(results.info.capture_rate, 3)),
                stated.capture_rate.is_some(),
                Source::File,
            ),
            subject: Setting::new(stated.subject.map(|point| [point.x, point.y]), Source::Given),
            method: match (
                stated.planar,
                measures.space.teller != Teller::Nothing || measures.strokes.is_empty(),
            ) {
                (false, true) => method(Lift::Perspective),
                _ => method(Lift::Planar),
            },
        }
    }
}

const fn method(lift: Lift) -> &'static str {
    match lift {
        Lift::Perspective => "perspective",
        Lift::Planar => "planar",
    }
}
