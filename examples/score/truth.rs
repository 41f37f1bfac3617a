//! Reading a clip's truth.

use std::error::Error;
use std::fs::File;
use std::path::Path;

use flate2::read::GzDecoder;
use serde_json::Value;

use crate::racket::{self, TrueRacket};
use toeline::geometry::Court;
use toeline::measure::Measure;
use toeline::pose::landmark::COUNT;
use toeline::pose::{Landmark, Side};
use toeline::scene::{CourtMotion, Direction, View};
use toeline::stroke::{Boundary, Hands, Kind, Mark, Method, Phases, Stroke};
use toeline::units::{Degrees, Seconds};

/// What is true about a clip.
pub struct Truth {
    pub view: String,
    pub player: String,
    pub height: f64,
    pub hand: Side,
    pub strokes: Vec<TrueStroke>,
    pub rackets: Vec<TrueRacket>,
    pub json: Value,
}

/// What is true about one stroke.
pub struct TrueStroke {
    pub kind: Kind,
    pub contact: f64,
    phases: Value,
    metrics: Value,
    flags: Vec<String>,
    /// Height of the racket's tip over the eyes in the ready pose, cm.
    ready_tip: Option<f64>,
    /// The player's true motion with the true phases, for measures whose truth is computed from frames.
    motion: Stroke,
}

impl Truth {
    pub fn read(path: &Path) -> Result<Self, Box<dyn Error>> {
        let json: Value = serde_json::from_reader(GzDecoder::new(File::open(path)?))?;
        let hand = if json["handedness"] == "left" { Side::Left } else { Side::Right };
        let whole = court_motion(&json, hand);
        let strokes = json["strokes"].as_array().ok_or("no strokes in the truth")?;
        Ok(Self {
            view: json["view"].as_str().unwrap_or_default().to_owned(),
            player: json["person"]["key"].as_str().unwrap_or_default().to_owned(),
            height: json["person"]["height_m"].as_f64().ok_or("no height in the truth")?,
            hand,
            rackets: racket::of_truth(&json),
            strokes: strokes.iter().filter_map(|s| TrueStroke::new(s, &json, &whole)).collect(),
            json: json.clone(),
        })
    }
}

impl TrueStroke {
    fn new(json: &Value, clip: &Value, whole: &CourtMotion) -> Option<Self> {
        let contact = json["phases"]["contact"].as_f64()?;
        let kind = match json["kind"].as_str() {
            None | Some("forehand") => Kind::Forehand,
            Some("backhand") => Kind::Backhand,
            Some("serve" | "overhead") => Kind::Overhead,
            Some(_) => Kind::Unknown,
        };
        let mark =
            |name: &str, method| json["phases"][name].as_f64().map(|t| Mark { time: Seconds(t), method });
        let phases = Phases {
            prep_start: mark("prep_start", Method::ShoulderTurn),
            drop_start: mark("drop_start", Method::HandPosition),
            backswing_end: mark("backswing_end", Method::HandPosition),
            low_point: mark("low_point", Method::HandPosition),
            forward_start: mark("forward_start", Method::HandSpeed),
            contact: Mark { time: Seconds(contact), method: Method::Kinematic },
            finish_end: mark("finish", Method::HandSpeed),
        };
        let flags = json["flags"]
            .as_array()
            .map_or(Vec::new(), |list| list.iter().filter_map(|f| Some(f.as_str()?.to_owned())).collect());
        Some(Self {
            kind,
            contact,
            phases: json["phases"].clone(),
            metrics: json["metrics"].clone(),
            flags,
            ready_tip: json["phases"]["prep_start"].as_f64().and_then(|start| ready_tip(clip, start)),
            motion: Stroke {
                kind,
                hands: Hands::One,
                volley: false,
                stance: None,
                phases,
                ball: None,
                motion: whole.clone(),
                racket: None,
                flight: None,
                struck: None,
            },
        })
    }

    /// True time of a boundary, where it is defined.
    pub fn boundary(&self, boundary: Boundary) -> Option<f64> {
        let name = if boundary == Boundary::FinishEnd { "finish" } else { boundary.name() };
        self.phases[name].as_f64()
    }

    /// Peak speed of the hand, m/s.
    pub fn peak_speed(&self) -> Option<f64> {
        self.metrics["peak_wrist_speed_mps"].as_f64()
    }

    /// True value of a measure, in the measure's unit; `None` where truth has none.
    pub fn value(&self, measure: &Measure) -> Option<f64> {
        let (name, factor) = match measure.id {
            "hand_above_shoulder_cm" => ("hand_height_vs_shoulder_cm", 1.0),
            "lag_peak_deg" => ("lag_max_deg", 1.0),
            "lag_peak_before_contact_ms" => ("lag_max_before_contact_s", 1000.0),
            "lag_onset_before_contact_ms" => ("lag_onset_before_contact_s", 1000.0),
            "hand_ahead_of_front_toe_cm" => ("wrist_ahead_of_front_toe_cm", 1.0),
            "contact_height_cm" => ("contact_height_m", 100.0),
            "contact_reach_cm" => ("contact_lateral_cm", 1.0),
            "pelvis_over_base_at_contact" => ("pelvis_frac_contact", 1.0),
            "pelvis_over_base_at_finish" => ("pelvis_frac_finish", 1.0),
            "pelvis_advance_cm" => ("pelvis_travel_cm", 1.0),
            "trunk_lean_at_contact_deg" => ("trunk_tilt_contact_deg", 1.0),
            "trunk_lean_at_finish_deg" => ("trunk_tilt_finish_deg", 1.0),
            "off_arm_hold_ms" => ("off_arm_hold_s", 1000.0),
            "separation_deg" => ("x_factor_deg", 1.0),
            "hand_speed_peak_mps" => ("peak_wrist_speed_mps", 1.0),
            "tip_speed_at_contact_mps" => ("racket_tip_speed_contact_mps", 1.0),
            "back_heel_lift_cm" if self.flags.iter().any(|f| f == "rear_foot_steps") => return None,
            other => (other, 1.0),
        };
        if self.metrics.get(name).is_some() {
            return self.metrics[name].as_f64().map(|v| v * factor);
        }
        if measure.id == "ready_tip_above_eyes_cm" {
            return self.ready_tip;
        }
        // Phase lengths and the measures that truth leaves to the frames come from the true motion.
        match measure.id {
            "preparation_ms"
            | "drop_ms"
            | "forward_swing_ms"
            | "elbow_at_backswing_end_deg"
            | "elbow_off_ribs_deg"
            | "hand_to_body_in_drop_cm"
            | "contact_elbow_deg"
            | "mass_over_base_at_finish" => (measure.compute)(&self.motion).ok(),
            _ => None,
        }
    }
}

/// Mean height of the racket's tip over the eyes in the quarter second before `start`, cm.
fn ready_tip(clip: &Value, start: f64) -> Option<f64> {
    let eyes = [Landmark::LeftEye as usize, Landmark::RightEye as usize];
    let heights: Vec<f64> = clip["frames"]
        .as_array()?
        .iter()
        .filter(|frame| frame["t"].as_f64().is_some_and(|t| t >= start - 0.25 && t <= start))
        .filter_map(|frame| {
            let eye = |k: usize| frame["lm3d"][k][2].as_f64();
            Some(frame["racket3d"][2][2].as_f64()? - 0.5 * (eye(eyes[0])? + eye(eyes[1])?))
        })
        .collect();
    (!heights.is_empty()).then(|| 100.0 * heights.iter().sum::<f64>() / heights.len() as f64)
}

/// The true motion of a whole clip: the world's y is toward the net, x the player's right, z up.
fn court_motion(json: &Value, hand: Side) -> CourtMotion {
    let sign = if hand == Side::Right { 1.0 } else { -1.0 };
    let frames = json["frames"].as_array().map_or(&[] as &[Value], Vec::as_slice);
    let points = frames
        .iter()
        .map(|frame| {
            let mut points = [None; COUNT];
            for (k, point) in points.iter_mut().enumerate() {
                let at = |axis: usize| frame["lm3d"][k][axis].as_f64();
                *point = (|| Some(Court::new(at(1)?, sign * at(0)?, at(2)?)))();
            }
            points
        })
        .collect();
    CourtMotion {
        hand,
        times: frames.iter().filter_map(|f| f["t"].as_f64().map(Seconds)).collect(),
        points,
        visibility: vec![[1.0; COUNT]; frames.len()],
        depth_spread: vec![[0.0; COUNT]; frames.len()],
        direction: Direction { angle: Degrees(0.0), spread: Degrees(0.0), view: View::Side },
    }
}
