//! What is known about bodies before a clip is seen: segment lengths by stature, and where a pose model's landmarks sit
//! against the joints they stand for.

use super::depth::Axis;
use crate::error::ErrorKind;
use crate::geometry::Camera;
use crate::model::Card;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};

/// Segment lengths as shares of stature (Drillis and Contini 1966, as given by Winter, Biomechanics and Motor Control of
/// Human Movement, 4th ed., fig. 4.1).
pub mod share {
    /// Hip to knee.
    pub const THIGH: f64 = 0.245;
    /// Knee to ankle.
    pub const SHANK: f64 = 0.246;
    /// Shoulder to elbow.
    pub const UPPER_ARM: f64 = 0.186;
    /// Elbow to wrist.
    pub const FOREARM: f64 = 0.146;
    /// Shoulder joint to shoulder joint.
    pub const SHOULDERS: f64 = 0.259;
}

/// Offset of a landmark from its joint in the body's own frame, metres on a person of [`BodyPrior::stature`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Offset {
    /// In the direction the pelvis, chest or foot faces.
    pub forward: f64,
    /// Away from the body's middle plane.
    pub outward: f64,
    /// Upward.
    pub up: f64,
}

/// Known properties of a pose model's body, from its card.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyPrior {
    /// Stature of the body that the model's world coordinates describe, metres.
    pub stature: f64,
    /// How far the model turns a body seen in profile toward the camera, degrees.
    pub profile_turn: f64,
    /// Landmark minus joint, for joints that are off.
    pub offsets: Vec<(Joint, Offset)>,
    /// How far a joint's landmark may lie from the joint after that, metres per axis (1 standard deviation).
    pub spreads: Vec<(Joint, f64)>,
}

/// Spread of landmarks about which a card says nothing, metres.
const USUAL_SPREAD: f64 = 0.025;

impl Default for BodyPrior {
    /// A model about which nothing is known: landmarks on the joints.
    fn default() -> Self {
        Self {
            stature: super::ASSUMED_STATURE.0,
            profile_turn: 0.0,
            offsets: Vec::new(),
            spreads: Vec::new(),
        }
    }
}

impl BodyPrior {
    /// Spread of each landmark about its joint in the picture's plane, metres (1 standard deviation).
    pub fn landmark_spread(&self) -> [f64; COUNT] {
        let mut spread = [USUAL_SPREAD; COUNT];
        for &(joint, value) in &self.spreads {
            for side in [Side::Left, Side::Right] {
                spread[joint.on(side) as usize] = value;
            }
        }
        spread
    }

    /// Moves landmarks onto the joints they stand for. `scale` is the player's stature over [`BodyPrior::stature`]. Along `told` the
    /// points are where the joints are already: nothing is moved that way.
    pub fn correct(&self, points: &mut [Option<Camera>; COUNT], scale: f64, told: Option<Axis>) {
        let upright = |(forward, right)| Axes { forward, right, up: UP };
        let pelvis = facing(points, Landmark::LeftHip, Landmark::RightHip).map(upright);
        let chest = facing(points, Landmark::LeftShoulder, Landmark::RightShoulder).map(upright);
        let mut moved = *points;
        for &(joint, offset) in &self.offsets {
            for side in [Side::Left, Side::Right] {
                let axes = match joint {
                    Joint::Shoulder | Joint::Elbow | Joint::Wrist | Joint::Ear => chest,
                    Joint::Ankle | Joint::Heel | Joint::Toe | Joint::Knee => foot(points, side).or(pelvis),
                    _ => pelvis,
                };
                let (Some(axes), Some(at)) = (axes, points[joint.on(side) as usize]) else { continue };
                let outward = if side == Side::Right { axes.right } else { -axes.right };
                let shift = axes.forward * offset.forward + outward * offset.outward + axes.up * offset.up;
                let shift = told.map_or(shift, |axis| axis.beside(shift));
                moved[joint.on(side) as usize] = Some(at - shift * scale);
            }
        }
        *points = moved;
    }
}

/// The vertical.
const UP: Camera = Camera::new(0.0, 1.0, 0.0);

/// A body part's own directions, unit vectors at right angles.
#[derive(Debug, Clone, Copy)]
struct Axes {
    forward: Camera,
    right: Camera,
    up: Camera,
}

/// Horizontal forward direction and the player's right of a body part whose left and right ends are given.
pub fn facing(points: &[Option<Camera>; COUNT], left: Landmark, right: Landmark) -> Option<(Camera, Camera)> {
    let across = (points[right as usize]? - points[left as usize]?).horizontal().unit()?;
    Some((forward_of(across), across))
}

/// The direction faced by someone whose right hand points to `across` (both horizontal).
pub fn forward_of(across: Camera) -> Camera {
    Camera::new(-across.away, 0.0, across.right)
}

/// Directions of one foot from its heel and toe: it tips with the foot, so a lifted heel keeps its offset along the sole.
fn foot(points: &[Option<Camera>; COUNT], side: Side) -> Option<Axes> {
    let toe = points[Joint::Toe.on(side) as usize]?;
    let along = toe - points[Joint::Heel.on(side) as usize]?;
    let (forward, level) = (along.unit()?, along.horizontal().unit()?);
    let right = Camera::new(level.away, 0.0, -level.right);
    let up = (UP - forward * forward.dot(UP)).unit()?;
    Some(Axes { forward, right, up })
}

/// A model card's offsets can't be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the card of {model}: [offsets] {problem}")]
pub struct OffsetsError {
    model: String,
    problem: String,
}

impl OffsetsError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        ErrorKind::Model
    }
}

impl BodyPrior {
    /// What a model's card says under `[offsets]`: `world_stature_m`, `profile_turn_deg`, and a table per joint with
    /// `forward_m`, `outward_m`, `up_m` (landmark minus joint) and `spread_m` (what is left, per axis).
    ///
    /// # Errors
    /// [`OffsetsError`] for a name that is not known or a value that is no number.
    pub fn from_card(card: &Card) -> Result<Self, OffsetsError> {
        let mut prior = Self::default();
        let wrong = |problem: String| OffsetsError { model: card.name.clone(), problem };
        let number = |key: &str, value: &toml::Value| {
            value
                .as_float()
                .or_else(|| value.as_integer().map(|i| i as f64))
                .ok_or_else(|| wrong(format!("{key} is not a number")))
        };
        for (key, value) in &card.offsets {
            match (key.as_str(), value.as_table()) {
                ("world_stature_m", _) => prior.stature = number(key, value)?,
                ("profile_turn_deg", _) => prior.profile_turn = number(key, value)?,
                (name, Some(table)) => {
                    let joint =
                        Joint::from_name(name).ok_or_else(|| wrong(format!("names no joint: {name}")))?;
                    let mut offset = Offset::default();
                    for (axis, value) in table {
                        let value = number(axis, value)?;
                        match axis.as_str() {
                            "forward_m" => offset.forward = value,
                            "outward_m" => offset.outward = value,
                            "up_m" => offset.up = value,
                            "spread_m" => prior.spreads.push((joint, value)),
                            _ => return Err(wrong(format!("{name} has no {axis}"))),
                        }
                    }
                    prior.offsets.push((joint, offset));
                }
                _ => return Err(wrong(format!("has no {key}"))),
            }
        }
        Ok(prior)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stay_where_depth_was_told() {
        // Hips in front of the joints, of a body that looks away from the camera and of one that looks to its right.
        let prior = BodyPrior {
            offsets: vec![(Joint::Hip, Offset { forward: 0.05, outward: 0.0, up: -0.02 })],
            ..BodyPrior::default()
        };
        let away = Axis::level();
        for (across, beside) in [(Camera::new(0.1, 0.0, 0.0), 0.0), (Camera::new(0.0, 0.0, -0.1), -0.05)] {
            let hips = Camera::new(0.0, 0.0, 4.0);
            let mut points = [None; COUNT];
            points[Landmark::LeftHip as usize] = Some(hips - across);
            points[Landmark::RightHip as usize] = Some(hips + across);
            let [mut landmarks, mut joints] = [points; 2];
            prior.correct(&mut landmarks, 1.0, None);
            prior.correct(&mut joints, 1.0, Some(away));
            let moved = |to: &[Option<Camera>; COUNT]| {
                to[Landmark::LeftHip as usize]
                    .zip(points[Landmark::LeftHip as usize])
                    .map(|(to, from)| to - from)
            };
            let forward = forward_of(across * 10.0) * -0.05;
            assert!((moved(&landmarks).unwrap() - forward - UP * 0.02).norm() < 1e-9);
            assert!((moved(&joints).unwrap() - Camera::new(beside, 0.02, 0.0)).norm() < 1e-9);
        }
    }
}
