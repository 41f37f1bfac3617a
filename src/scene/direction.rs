//! Which way the net is, seen from the camera, and the view that follows from it.

use serde::{Deserialize, Serialize};

use super::body::{BodyPrior, facing};
use super::space::Space;
use crate::geometry::{Camera, wrapped};
use crate::pose::{Landmark, Side};
use crate::units::{Degrees, Seconds};

/// From where the camera looks at the player.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum View {
    /// Along the net: the stroke runs across the picture.
    Side,
    /// From behind the player toward the net.
    Back,
    /// From the net toward the player.
    Front,
    /// Between those.
    Diagonal,
}

impl View {
    /// The word used in options and columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Side => "side",
            Self::Back => "back",
            Self::Front => "front",
            Self::Diagonal => "diagonal",
        }
    }

    /// The view from which the net lies at `angle` (0 = right in the picture, 90 = away from the camera).
    pub fn from_angle(angle: Degrees) -> Self {
        let (sin, cos) = angle.radians().sin_cos();
        // Within 27° of an axis the view is named after it; what lies across is foreshortened by less than a half.
        const NEAR: f64 = 0.89;
        match () {
            () if cos.abs() >= NEAR => Self::Side,
            () if sin >= NEAR => Self::Back,
            () if sin <= -NEAR => Self::Front,
            () => Self::Diagonal,
        }
    }
}

/// On which side of the picture the net is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum NetSide {
    /// To the left in the picture.
    Left,
    /// To the right in the picture.
    Right,
}

/// The horizontal direction to the net in the camera's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction {
    /// 0 = right in the picture, 90 = straight away from the camera, ±180 = left, −90 = toward the camera.
    pub angle: Degrees,
    /// Standard deviation of the angle.
    pub spread: Degrees,
    /// The view that follows.
    pub view: View,
}

impl Direction {
    /// A direction that is known for sure.
    pub fn at(angle: Degrees) -> Self {
        Self { angle, spread: Degrees(0.0), view: View::from_angle(angle) }
    }
}

/// A swing that was seen: when the hand was fastest, and which hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// When the hand was fastest.
    pub peak: Seconds,
    /// The hitting hand.
    pub hand: Side,
}

/// What the user may have said about the camera's place.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stated {
    /// The view.
    pub view: Option<View>,
    /// The side of the picture on which the net is.
    pub net: Option<NetSide>,
}

/// Spread of the facing of a player who waits for the ball, degrees, and of the hand's path through contact: both from
/// rendered players whose direction is known.
const READY_SPREAD: f64 = 9.0;
const HAND_SPREAD: f64 = 16.0;

/// Share of evidence that is simply wrong: a player who looks aside, a hand that the model lost.
const OUTLIERS: f64 = 0.15;

/// How closely coaches set up the camera square to the shot or behind it, degrees, and how often each view is chosen.
const SQUARE_SPREAD: f64 = 8.0;
const DIAGONAL_SPREAD: f64 = 16.0;
const DIAGONAL_SHARE: f64 = 0.2;

/// A hand slower than this, relative to the hips, belongs to a waiting player, metres per second.
const QUIET: f64 = 0.6;

/// Weighs how coaches stand, the way the player faces while waiting and the way the hand travels through the ball, on a
/// circle of one-degree steps; answers with the posterior's mean around its mode. `None` without any evidence.
pub fn estimate(
    space: &Space,
    body: &BodyPrior,
    swings: &[Swing],
    stated: Stated,
) -> Option<Direction> {
    let mut weighed = false;
    let mut log_posterior: Vec<f64> =
        (0..360).map(|a| prior(Degrees(f64::from(a) - 180.0), stated).max(1e-12).ln()).collect();
    let mut weigh = |angle: Degrees, spread: f64, weight: f64| {
        for (a, value) in log_posterior.iter_mut().enumerate() {
            let off = wrapped(a as f64 - 180.0 - angle.0) / spread;
            let density = (1.0 - OUTLIERS) * (-0.5 * off * off).exp() + OUTLIERS * spread / 143.6;
            *value += weight * density.ln();
        }
        weighed = true;
    };
    // Strokes of one clip share their causes of error, so all of them together count like two.
    let weight = 2.0_f64.min(swings.len() as f64) / swings.len() as f64;
    for swing in swings {
        if space.has_depth
            && let Some(angle) = facing_while_ready(space, body, swing.peak)
        {
            weigh(angle, READY_SPREAD, weight);
        }
        if let Some(travel) = travel_through_ball(space, swing)
        {
            weigh(Degrees::from_radians(travel.away.atan2(travel.right)), HAND_SPREAD, weight);
        }
    }
    if !weighed {
        return None;
    }
    let mode = (0..360).max_by(|&a, &b| log_posterior[a].total_cmp(&log_posterior[b]))?;
    let top = log_posterior[mode];
    let (mut mass, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (a, value) in log_posterior.iter().enumerate() {
        let off = wrapped(a as f64 - mode as f64);
        let share = (value - top).exp();
        mass += share;
        mean += share * off;
        square += share * off * off;
    }
    mean /= mass;
    let spread = (square / mass - mean * mean).max(4.0).sqrt();
    let angle = Degrees(wrapped(mode as f64 - 180.0 + mean));
    Some(Direction { angle, spread: Degrees(spread), view: stated.view.unwrap_or(View::from_angle(angle)) })
}

/// How likely a direction is before anything was seen, up to a factor.
fn prior(angle: Degrees, stated: Stated) -> f64 {
    let bell = |middle: f64, spread: f64| {
        let off = wrapped(angle.0 - middle) / spread;
        (-0.5 * off * off).exp() / spread
    };
    let side = bell(0.0, SQUARE_SPREAD) + bell(180.0, SQUARE_SPREAD);
    let diagonal: f64 =
        [-135.0, -45.0, 45.0, 135.0].into_iter().map(|middle| bell(middle, DIAGONAL_SPREAD)).sum();
    let square = match stated.view {
        None => {
            (1.0 - DIAGONAL_SHARE) * 0.25 * (side + bell(90.0, SQUARE_SPREAD) + bell(-90.0, SQUARE_SPREAD))
                + DIAGONAL_SHARE * 0.25 * diagonal
        }
        Some(View::Side) => 0.5 * side,
        Some(View::Back) => bell(90.0, SQUARE_SPREAD),
        Some(View::Front) => bell(-90.0, SQUARE_SPREAD),
        Some(View::Diagonal) => 0.25 * diagonal,
    };
    let right = angle.radians().cos();
    match stated.net {
        Some(NetSide::Right) if right < 0.0 => 0.0,
        Some(NetSide::Left) if right > 0.0 => 0.0,
        _ => square,
    }
}

/// The way pelvis and chest face in the quietest quarter second before a swing; `None` where the player never waits.
fn facing_while_ready(space: &Space, body: &BodyPrior, peak: Seconds) -> Option<Degrees> {
    const WINDOW: f64 = 0.25;
    let speeds: Vec<(usize, f64)> = (1..space.times.len())
        .filter(|&i| space.times[i].0 > peak.0 - 3.0 && space.times[i].0 < peak.0 - 0.6)
        .filter_map(|i| {
            let step = (space.times[i] - space.times[i - 1]).0;
            let speed = [Side::Left, Side::Right]
                .into_iter()
                .filter_map(|s| Some((space.hand(i, s)? - space.hand(i - 1, s)?).norm() / step))
                .fold(0.0, f64::max);
            Some((i, speed))
        })
        .collect();
    let quietest = speeds
        .iter()
        .filter_map(|&(start, _)| {
            let window: Vec<_> = speeds
                .iter()
                .filter(|(i, _)| {
                    space.times[*i] >= space.times[start]
                        && space.times[*i].0 <= space.times[start].0 + WINDOW
                })
                .collect();
            let mean = window.iter().map(|(_, s)| s).sum::<f64>() / window.len() as f64;
            (window.len() >= 3).then_some((start, mean))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, mean)| *mean < QUIET)?;
    let end = space.times[quietest.0].0 + WINDOW;
    let mut sum = Camera::default();
    for i in (quietest.0..space.times.len()).take_while(|&i| space.times[i].0 <= end) {
        let frame = &space.points[i];
        for (left, right) in
            [(Landmark::LeftHip, Landmark::RightHip), (Landmark::LeftShoulder, Landmark::RightShoulder)]
        {
            if let Some((forward, _)) = facing(frame, left, right) {
                sum += forward;
            }
        }
    }
    let forward = sum.unit()?;
    let seen = Degrees::from_radians(forward.away.atan2(forward.right));
    Some(Degrees(seen.0 + body.profile_turn * seen.radians().cos()))
}

/// Horizontal travel of the hand in the tenth of a second around its peak speed, metres; `None` where it is too short
/// to point anywhere.
fn travel_through_ball(space: &Space, swing: &Swing) -> Option<Camera> {
    let frame =
        |time: f64| space.times.partition_point(|t| t.0 < time).min(space.times.len().saturating_sub(1));
    let from = space.hand(frame(swing.peak.0 - 0.07), swing.hand)?;
    let to = space.hand(frame(swing.peak.0 + 0.03), swing.hand)?;
    let travel = (to - from).horizontal();
    (travel.norm() > 0.1).then_some(travel)
}
