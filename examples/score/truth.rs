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
use toeline::stroke::{Boundary, Hands, Kind, Mark, Method, Phases, Sort, Stroke};
use toeline::units::{Degrees, Metres, Seconds};

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
    pub sort: Sort,
    pub contact: f64,
    phases: Value,
    metrics: Value,
    flags: Vec<String>,
    /// Height of the racket's tip over the eyes in the ready pose, cm.
    ready_tip: Option<f64>,
    /// The player's true motion with the true phases, for measures whose truth is computed from frames.
    motion: Stroke,
    /// Whether the racket was laid into a recorded player's hand the wrong way round.
    mirrored_racket: bool,
}

impl Truth {
    pub fn read(path: &Path) -> Result<Self, Box<dyn Error>> {
        let json: Value = serde_json::from_reader(GzDecoder::new(File::open(path)?))?;
        let hand = if json["handedness"] == "left" { Side::Left } else { Side::Right };
        let whole = court_motion(&json, hand);
        let height = json["person"]["height_m"].as_f64().ok_or("no height in the truth")?;
        let mirrored_racket = path.to_string_lossy().contains("captured_backhand60");
        let one = |s: &Value| TrueStroke::new(s, &json, &whole, height, mirrored_racket);
        let strokes = json["strokes"].as_array().ok_or("no strokes in the truth")?;
        Ok(Self {
            view: json["view"].as_str().unwrap_or_default().to_owned(),
            player: json["person"]["key"].as_str().unwrap_or_default().to_owned(),
            height,
            hand,
            rackets: racket::of_truth(&json),
            strokes: strokes.iter().filter_map(one).collect(),
            json: json.clone(),
        })
    }
}

impl Truth {
    /// From where the camera looks.
    pub fn seen_from(&self) -> View {
        match self.view.as_str() {
            "side" | "side_opp" | "side_skew" => View::Side,
            "behind" => View::Back,
            "front" => View::Front,
            _ => View::Diagonal,
        }
    }
}

impl TrueStroke {
    /// The player's true motion.
    pub const fn motion(&self) -> &CourtMotion {
        &self.motion.motion
    }

    /// Its kind.
    pub const fn kind(&self) -> Kind {
        self.motion.kind
    }

    fn new(
        json: &Value,
        clip: &Value,
        whole: &CourtMotion,
        height: f64,
        mirrored_racket: bool,
    ) -> Option<Self> {
        let contact = json["phases"]["contact"].as_f64()?;
        let volley = json["kind"] == "volley";
        let kind = match json[if volley { "side" } else { "kind" }].as_str() {
            None | Some("forehand") => Kind::Forehand,
            Some("backhand") => Kind::Backhand,
            Some("serve" | "smash" | "overhead") => Kind::Overhead,
            Some(_) => Kind::Unknown,
        };
        let hands = if json["metrics"]["two_handed"] == true { Hands::Two } else { Hands::One };
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
            sort: Sort::of(kind, volley),
            contact,
            mirrored_racket,
            phases: json["phases"].clone(),
            metrics: json["metrics"].clone(),
            flags,
            ready_tip: json["phases"]["prep_start"].as_f64().and_then(|start| ready_tip(clip, start)),
            motion: Stroke {
                kind,
                hands,
                volley,
                stance: None,
                phases,
                ball: None,
                motion: whole.clone(),
                racket: None,
                flight: None,
                struck: None,
                stature: Metres(height),
            },
        })
    }

    /// True time of a boundary, where it is defined.
    pub fn boundary(&self, boundary: Boundary) -> Option<f64> {
        let name = if boundary == Boundary::FinishEnd { "finish" } else { boundary.name() };
        self.phases[name].as_f64()
    }

    /// Whether the back foot steps after contact, so that its heel has no lift.
    pub fn steps(&self) -> bool {
        self.flags.iter().any(|flag| flag.starts_with("rear_foot_steps"))
    }

    /// Peak speed of the hand, m/s.
    pub fn peak_speed(&self) -> Option<f64> {
        self.metrics["peak_wrist_speed_mps"].as_f64()
    }

    /// True value of a measure, in the measure's unit; `None` where truth has none.
    pub fn value(&self, measure: &Measure) -> Option<f64> {
        let of_racket = measure.id.starts_with("tip_") || measure.id == "swing_slope_deg";
        if !measure.kinds.contains(&self.sort) || of_racket && self.mirrored_racket {
            return None;
        }
        // Forehands of earlier clips know only the hitting shoulder, which is their rear one.
        let rear = self.metrics.get("rear_shoulder").is_some();
        let (name, factor) = match measure.id {
            "hand_behind_shoulder_cm" if rear => ("hand_behind_rear_shoulder_cm", 1.0),
            "hand_above_shoulder_cm" if rear => ("hand_height_vs_rear_shoulder_cm", 1.0),
            "hand_above_shoulder_cm" => ("hand_height_vs_shoulder_cm", 1.0),
            "contact_ahead_of_front_toe_cm" => ("contact_ahead_of_nearest_toe_cm", 1.0),
            "contact_over_stature" => ("contact_height_over_stature", 1.0),
            "tip_direction_in_drop_deg" => ("tip_direction_low_point_deg", 1.0),
            "finish_hand_above_shoulder_cm" => ("finish_hand_above_off_shoulder_cm", 1.0),
            "hips_before_contact_ms" => ("hip_speed_peak_before_contact_ms", 1.0),
            "shoulders_before_contact_ms" => ("shoulder_speed_peak_before_contact_ms", 1.0),
            "toss_arm_up_ms" => ("toss_hand_down_before_contact_ms", 1.0),
            "trunk_side_lean_at_contact_deg" => ("trunk_tilt_contact_lateral_deg", 1.0),
            "elbow_in_drop_deg" => ("elbow_at_drop_deg", 1.0),
            "lag_peak_deg" => ("lag_max_deg", 1.0),
            "lag_peak_before_contact_ms" => ("lag_max_before_contact_s", 1000.0),
            "lag_onset_before_contact_ms" => ("lag_onset_before_contact_s", 1000.0),
            "hand_ahead_of_front_toe_cm" => ("wrist_ahead_of_nearest_toe_cm", 1.0),
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
            "back_heel_lift_cm" if self.steps() => return None,
            other => (other, 1.0),
        };
        // Of recorded forehands the front foot is the one whose toe is nearest the net only in the keys that say so; of rendered
        // ones it is the off foot, and where that is not nearest nothing is known.
        const BY_FOOT: [&str; 4] =
            ["pelvis_frac_contact", "pelvis_frac_finish", "back_heel_lift_cm", "step_length_cm"];
        let nearest = format!("{name}_nearest");
        if let Some(value) = self.metrics.get(&nearest) {
            return value.as_f64().map(|v| v * factor);
        }
        let other_foot = self.sort == Sort::Forehand && self.metrics["nearest_toe"] == "hitting";
        if other_foot && (BY_FOOT.contains(&name) || measure.id == "mass_over_base_at_finish") {
            return None;
        }
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
            | "mass_over_base_at_finish" => measure.of(&self.motion).ok(),
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
        ground: 0.0,
    }
}
