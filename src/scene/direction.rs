//! Which way the net is, seen from the camera, and the view that follows from it.

use serde::{Deserialize, Serialize};

use super::body::{BodyPrior, forward_of};
use super::depth::Teller;
use super::filmed::Bearings;
use super::space::Space;
use crate::geometry::{Camera, wrapped};
use crate::pose::{Landmark, Side};
use crate::units::{Degrees, Seconds};

/// From where the camera looks at the player.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "lowercase")]
pub enum View {
    /// Beside the player, square to the line of the shot.
    Side,
    /// Behind the player.
    Back,
    /// In front of the player.
    Front,
    /// Between these.
    Diagonal,
}

impl Stated {
    /// How far the direction is known from what is stated alone (1 standard deviation).
    pub fn spread(&self) -> Option<Degrees> {
        match self.view? {
            View::Side | View::Back | View::Front => Some(Degrees(STATED_SPREAD)),
            View::Diagonal => None,
        }
    }
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
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "lowercase")]
pub enum NetSide {
    /// The left of the frame.
    Left,
    /// The right of the frame.
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
    /// How many times slower than life it is shown.
    pub pace: f64,
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
const READY_SPREAD: f64 = 5.0;
const HAND_SPREAD: f64 = 26.0;

/// A player who is still for fewer quarter seconds than this in all does not wait but stands between two shots, facing
/// anywhere: spread in recorded rallies, degrees.
const FEWEST_WAITS: usize = 4;
const BETWEEN_SHOTS_SPREAD: f64 = 40.0;

/// Spread of the hand's path where it runs along the lens and is the model's guess, degrees.
const DEPTH_SPREAD: f64 = 40.0;

/// Share of evidence that is simply wrong: a player who looks aside, a hand that the model lost.
const OUTLIERS: f64 = 0.15;

/// How far the depth network turns a waiting player in profile toward the camera, degrees: both hands on the racket turn
/// the chest by as much. From rendered players, each lifted by a network that had not seen them.
const LIFTED_PROFILE_TURN: f64 = 2.5;

/// How often a reading of the court's lines is simply wrong.
const LINES_WRONG: f64 = 0.03;

/// Most that readings with the net elsewhere may weigh where nothing tells them apart: a ± is to hold in 95 %, to either side.
const LEFT_OPEN: f64 = 0.025;

/// What the steps of the circle add to a spread, degrees.
const GRID_SPREAD: f64 = 0.8;

/// Who states a view means it to about this, degrees (1 standard deviation).
const STATED_SPREAD: f64 = 5.0;

/// How closely coaches set up the camera square to the shot or behind it, degrees, and how often each view is chosen.
const SQUARE_SPREAD: f64 = 8.0;
const DIAGONAL_SPREAD: f64 = 16.0;
const SIDE_SHARE: f64 = 0.4;
const DIAGONAL_SHARE: f64 = 0.3;

/// A hand slower than this, relative to the hips, belongs to a waiting player, metres per second.
const QUIET: f64 = 0.4;

/// The spread is that around the mode; what lies farther away belongs to another reading.
const OTHER_MODE: f64 = 50.0;

/// How far from a first guess the direction may be refined, degrees.
const REFINE: f64 = 30.0;

/// Hips that move faster than this across the picture belong to a running player, metres per second.
const STANDING: f64 = 0.25;

/// Cosine of the largest angle between hips and shoulders, and hips and feet, in a waiting pose.
const UNWOUND: f64 = 0.86;

/// What a clip says of the direction to the net besides its strokes.
#[derive(Debug, Clone)]
pub struct Signs<'a> {
    /// The way the player faces in each quarter second of waiting.
    pub waiting: Vec<Degrees>,
    /// What the user says.
    pub stated: Stated,
    /// The directions that the court's lines allow, where lines were read.
    pub lines: Option<&'a Bearings>,
}

/// A direction with what speaks for it.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// The posterior's mean around its mode.
    pub direction: Direction,
    /// Logarithm of the posterior there, up to a constant that depends on the number of swings alone.
    pub evidence: f64,
    /// Logarithm of what everything but the lines says of each whole degree from −180.
    pub player: Vec<f64>,
}

/// Weighs how coaches stand, the way the player faces while waiting, the way the hand travels through the ball and what the
/// court's lines allow, on a circle of one-degree steps; answers with the posterior around its mode within `REFINE` of `near`.
/// Without any evidence that is how coaches stand.
pub fn estimate(space: &Space, signs: &Signs<'_>, swings: &[Swing], near: Degrees) -> Weighed {
    let Signs { waiting, stated, lines } = signs;
    let mut log_posterior: Vec<f64> =
        (0..360).map(|a| prior(Degrees(f64::from(a) - 180.0), *stated).max(1e-12).ln()).collect();
    let mut weigh = |angle: Degrees, spread: f64, weight: f64| {
        for (a, value) in log_posterior.iter_mut().enumerate() {
            let off = wrapped(a as f64 - 180.0 - angle.0) / spread;
            let density =
                ((1.0 - OUTLIERS) * (-0.5 * off * off).exp() / spread + OUTLIERS / 143.6) * READY_SPREAD;
            *value += weight * density.ln();
        }
    };
    // Readings of one clip share their causes of error: all waits together count like two, all strokes like one.
    let share = |worth: f64, n: usize| worth.min(n as f64) / n as f64;
    let facing_spread = if waiting.len() < FEWEST_WAITS { BETWEEN_SHOTS_SPREAD } else { READY_SPREAD };
    for angle in waiting {
        weigh(*angle, facing_spread, share(2.0, waiting.len()));
    }
    for swing in swings {
        if let Some(travel) = travel_through_ball(space, swing) {
            let angle = Degrees::from_radians(travel.away.atan2(travel.right));
            let depth = (travel.away / travel.norm()).abs();
            weigh(angle, HAND_SPREAD + (DEPTH_SPREAD - HAND_SPREAD) * depth, share(1.0, swings.len()));
        }
    }
    let player = log_posterior.clone();
    if let Some(lines) = lines {
        for (a, value) in log_posterior.iter_mut().enumerate() {
            *value += allowed(lines, Degrees(a as f64 - 180.0)).ln();
        }
    }
    let mode = (0..360)
        .filter(|&a| wrapped(f64::from(a) - 180.0 - near.0).abs() <= REFINE)
        .map(|a| a as usize)
        .max_by(|&a, &b| log_posterior[a].total_cmp(&log_posterior[b]))
        .unwrap_or_default();
    let top = log_posterior[mode];
    let (mut mass, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (a, value) in log_posterior.iter().enumerate() {
        let off = wrapped(a as f64 - mode as f64);
        if off.abs() > OTHER_MODE {
            continue;
        }
        let share = (value - top).exp();
        mass += share;
        mean += share * off;
        square += share * off * off;
    }
    mean /= mass;
    let spread = (square / mass - mean * mean).max(4.0).sqrt();
    let angle = Degrees(wrapped(mode as f64 - 180.0 + mean));
    let view = stated.view.unwrap_or(View::from_angle(angle));
    Weighed { direction: Direction { angle, spread: Degrees(spread), view }, evidence: top, player }
}

/// The direction in a clip without strokes, from the court's lines and the way the player waits; `None` where the lines leave another one
/// open, which only strokes could tell from it.
pub fn without_strokes(space: &Space, body: &BodyPrior, stated: Stated, lines: &Bearings) -> Option<Weighed> {
    let (_, likeliest, _) = lines.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let is_elsewhere = |angle: Degrees| wrapped(angle.0 - likeliest.0).abs() > OTHER_MODE;
    let elsewhere: f64 =
        lines.iter().filter(|(_, angle, _)| is_elsewhere(*angle)).map(|(weight, ..)| weight).sum();
    let total: f64 = lines.iter().map(|(weight, ..)| weight).sum();
    if elsewhere > LEFT_OPEN * total {
        return None;
    }
    let signs = Signs { waiting: facing_while_waiting(space, body), stated, lines: Some(lines) };
    Some(estimate(space, &signs, &[], *likeliest))
}

/// How likely lines make a direction, up to a factor; readings that are simply wrong leave every direction possible.
fn allowed(lines: &Bearings, angle: Degrees) -> f64 {
    let near = lines.iter().map(|(weight, middle, spread)| {
        // No finer than the steps of the circle.
        let spread = spread.0.hypot(GRID_SPREAD);
        let off = wrapped(angle.0 - middle.0) / spread;
        weight * (-0.5 * off * off).exp() / (2.507 * spread)
    });
    (1.0 - LINES_WRONG) * near.sum::<f64>() + LINES_WRONG / 360.0
}

/// How likely a direction is before anything was seen, up to a factor.
fn prior(angle: Degrees, stated: Stated) -> f64 {
    let bell = |middle: f64, spread: f64| {
        let off = wrapped(angle.0 - middle) / spread;
        (-0.5 * off * off).exp() / spread
    };
    let square = if stated.view.is_some() { STATED_SPREAD } else { SQUARE_SPREAD };
    let side = bell(0.0, square) + bell(180.0, square);
    let diagonal: f64 =
        [-135.0, -45.0, 45.0, 135.0].into_iter().map(|middle| bell(middle, DIAGONAL_SPREAD)).sum();
    let likely = match stated.view {
        None => {
            let along = bell(90.0, SQUARE_SPREAD) + bell(-90.0, SQUARE_SPREAD);
            0.5 * SIDE_SHARE * side
                + 0.5 * (1.0 - SIDE_SHARE - DIAGONAL_SHARE) * along
                + 0.25 * DIAGONAL_SHARE * diagonal
        }
        Some(View::Side) => 0.5 * side,
        Some(View::Back) => bell(90.0, square),
        Some(View::Front) => bell(-90.0, square),
        Some(View::Diagonal) => 0.25 * diagonal,
    };
    let right = angle.radians().cos();
    match stated.net {
        Some(NetSide::Right) if right < 0.0 => 0.0,
        Some(NetSide::Left) if right > 0.0 => 0.0,
        _ => likely,
    }
}

/// The way the player faces in each quarter second in which they wait for the ball: pelvis, chest and feet in line, hips and
/// hands still. Players face the net then; in a rally nobody waits, and there is none.
pub fn facing_while_waiting(space: &Space, body: &BodyPrior) -> Vec<Degrees> {
    const WINDOW: Seconds = Seconds(0.25);
    if space.teller == Teller::Nothing {
        return Vec::new();
    }
    let profile_turn =
        if space.teller == Teller::DepthNetwork { LIFTED_PROFILE_TURN } else { body.profile_turn };
    let calm: Vec<Option<(f64, Camera)>> = (0..space.times.len()).map(|i| calm_frame(space, i)).collect();
    let mut found = Vec::new();
    let mut start = 0;
    while start < calm.len() {
        let end = space.times.partition_point(|t| *t <= space.times[start] + WINDOW);
        let window: Vec<_> = calm[start..end].iter().flatten().collect();
        // A window counts only when the player waits all through it.
        let whole = window.len() >= 3 && window.len() as f64 >= 0.8 * WINDOW.0 * space.rate;
        let pace = window.iter().map(|(pace, _)| pace).sum::<f64>() / window.len() as f64;
        let sum = window.iter().fold(Camera::default(), |sum, (_, forward)| sum + *forward);
        if whole
            && pace < QUIET
            && let Some(forward) = sum.unit()
        {
            let seen = Degrees::from_radians(forward.away.atan2(forward.right));
            found.push(Degrees(seen.0 + profile_turn * seen.radians().cos()));
            start = end;
        } else {
            start += 1;
        }
    }
    found
}

/// Lines across the body, and how far their ends may lie from where they are seen, metres: a long line turns less by that.
const ACROSS: [(Landmark, Landmark, f64); 3] = [
    (Landmark::LeftHip, Landmark::RightHip, 0.027),
    (Landmark::LeftShoulder, Landmark::RightShoulder, 0.020),
    (Landmark::LeftAnkle, Landmark::RightAnkle, 0.014),
];

/// Speed of the faster hand relative to the hips and the direction that pelvis, chest and feet face together, each line
/// across the body weighed by its length and its ends' spread, in a picture that may belong to a waiting pose.
fn calm_frame(space: &Space, i: usize) -> Option<(f64, Camera)> {
    // Over a few pictures, so that jitter between neighbours is not taken for speed.
    const SPAN: Seconds = Seconds(0.03);
    let before = space.times.partition_point(|t| *t < space.times[i] - SPAN).min(i.checked_sub(1)?);
    let step = (space.times[i] - space.times[before]).0;
    let frame = space.points.at(i);
    let lines = ACROSS.map(|(left, right, spread)| {
        let across = (frame[right as usize]? - frame[left as usize]?).horizontal();
        Some((across.unit()?, across / (spread * spread)))
    });
    let [(hips, _), (chest, _)] = [lines[0]?, lines[1]?];
    let apart = |line: &Camera| hips.dot(*line) < UNWOUND;
    // Wound up for a stroke the shoulders are turned farther than the hips, in a stride the feet are, and a player on the
    // way to the ball does not wait, however still the hands are.
    let run = (space.hips(i)? - space.hips(before)?).right.abs() / step;
    if apart(&chest) || lines[2].is_some_and(|(feet, _)| apart(&feet)) || run > STANDING {
        return None;
    }
    let pace = [Side::Left, Side::Right]
        .into_iter()
        .filter_map(|side| Some((space.hand(i, side)? - space.hand(before, side)?).norm() / step))
        .fold(0.0, f64::max);
    let across = lines.into_iter().flatten().fold(Camera::default(), |sum, (_, line)| sum + line);
    Some((pace, forward_of(across.unit()?)))
}

/// The hand's travel through the ball is read from this long before its fastest moment to this long after it, seconds of life.
const THROUGH_BALL: (f64, f64) = (0.07, 0.03);

/// Horizontal travel of the hand around its fastest moment, as much of that as is seen, metres; `None` where it is too short
/// to point anywhere.
fn travel_through_ball(space: &Space, swing: &Swing) -> Option<Camera> {
    let frame = |from_peak: f64| {
        let time = swing.peak + Seconds(from_peak * swing.pace);
        space.times.partition_point(|t| *t < time).min(space.times.len().saturating_sub(1))
    };
    let mut places =
        (frame(-THROUGH_BALL.0)..=frame(THROUGH_BALL.1)).filter_map(|i| space.hand(i, swing.hand));
    let (from, to) = (places.next()?, places.next_back()?);
    let travel = (to - from).horizontal();
    (travel.norm() > 0.1).then_some(travel)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::COUNT;
    use crate::scene::Stand;
    use crate::scene::lens::Lens;
    use crate::units::Metres;

    #[test]
    fn lines_tell_the_direction_where_there_is_no_stroke() {
        let size = (1280, 720);
        let space = Space {
            times: vec![Seconds(0.0)],
            rate: 30.0,
            points: vec![[None; COUNT]].into(),
            visibility: vec![[0.0; COUNT]],
            depth_spread: vec![[0.1; COUNT]],
            stand: Stand::level(Lens::usual(size)),
            size,
            sway: Default::default(),
            scale: vec![None],
            stature: Metres(1.8),
            teller: Teller::Nothing,
            jitter: 0.003,
        };
        let of = |elsewhere: f64| {
            let lines = vec![
                (1.0 - elsewhere, Degrees(70.0), Degrees(1.0)),
                (elsewhere, Degrees(-20.0), Degrees(1.0)),
            ];
            without_strokes(&space, &BodyPrior::default(), Stated::default(), &lines)
        };
        let told = of(0.01).unwrap().direction;
        assert!((told.angle.0 - 70.0).abs() < 1.0 && told.spread.0 < 5.0, "{told:?}");
        // One in ten is too much to be left out of a ± of 95 %.
        assert!(of(0.1).is_none());
    }
}
