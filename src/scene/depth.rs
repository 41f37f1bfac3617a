//! How far each landmark of one picture is from the lens, relative to the hips.
//!
//! The depth network tells it for the joints that move the body; landmarks that hang on one of them (face, knuckles, heel)
//! take that joint's depth and their own place on it. Without that network the pose network's own depth serves, which is
//! flattened and unsteady.

use super::lens::MAIN_LENS;
use super::stand::Sights;
use crate::geometry::{Camera, Point2};
use crate::pose::landmark::COUNT;
use crate::pose::{Depth, Joint, Landmark, Motion, Side};
use crate::units::Degrees;

/// Correlation between the errors of an elbow's and its wrist's depth, and a wrist's and its fingers': where the forearm is
/// placed too far away, it is so as a whole. From rendered players who were kept out, whose forearms' depths were known to a
/// quarter of what independent errors would leave.
pub const ALONG_ARM: f64 = 0.8;

/// Standard deviation of the difference of two depths along an arm.
pub fn difference_spread(a: f64, b: f64) -> f64 {
    (a * a + b * b - 2.0 * ALONG_ARM * a * b).max(0.0).sqrt()
}

/// The pose network sees no horizon and takes every camera for one tilted like those that it has learnt from: its own body stands along
/// an axis this far above the horizontal, degrees, however the camera really looked. From rendered players filmed from a fence
/// (really −14°) and from the ground (really +8°).
const TOLD_PITCH: f64 = -2.7;

/// What told how far the landmarks of a motion are from the lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Teller {
    /// Nothing did: all landmarks lie in one upright plane.
    Nothing,
    /// The pose network's own body.
    PoseNetwork,
    /// The depth network.
    DepthNetwork,
}

impl Teller {
    /// What tells the depth of this motion's landmarks.
    pub fn of(motion: &Motion) -> Self {
        if motion.depth.is_told() { Self::DepthNetwork } else { Self::of_size(motion) }
    }

    /// What tells how far the body as a whole is, by its size: the pose network's own body, or nothing but the lengths of its legs.
    pub fn of_size(motion: &Motion) -> Self {
        if motion.world.iter().any(Option::is_some) { Self::PoseNetwork } else { Self::Nothing }
    }

    /// The direction along which it told the depth of a body whose hips are at the pixel `hips` of a picture of `size` pixels.
    pub fn axis(self, camera: &Sights, hips: Point2, size: (u32, u32)) -> Axis {
        match self {
            Self::Nothing => Axis::level(),
            Self::PoseNetwork => Axis::of_pose_network(camera, hips, size),
            Self::DepthNetwork => Axis::over_ground(camera, hips),
        }
    }
}

/// The direction along which depths were told, in the camera's frame held level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis(Camera);

impl Axis {
    /// The direction along which the pose network's own body is deep where its hips are at the pixel `hips` of a picture of `size`
    /// pixels. It takes the lens for a usual one whose axis meets the picture's middle, so that its axis lies as far from
    /// the line of sight to the hips as that lens would have it.
    pub fn of_pose_network(camera: &Sights, hips: Point2, size: (u32, u32)) -> Self {
        let (width, longer) = (f64::from(size.0), f64::from(size.0.max(size.1)));
        let believed = ((hips.x - 0.5 * width) / (MAIN_LENS * longer)).atan();
        let (sin, cos) = (camera.azimuth(hips).radians() - believed).sin_cos();
        let (sin_p, cos_p) = Degrees(TOLD_PITCH).radians().sin_cos();
        Self(Camera::new(sin * cos_p, sin_p, cos * cos_p))
    }

    /// The way over the ground from the camera to the hips at the pixel `hips`: the depth network has learnt to tell depth along it,
    /// because neither lens nor crop nor tilt of the camera changes it.
    pub fn over_ground(camera: &Sights, hips: Point2) -> Self {
        let (sin, cos) = camera.azimuth(hips).radians().sin_cos();
        Self(Camera::new(sin, 0.0, cos))
    }

    /// The horizontal direction away from the camera.
    pub const fn level() -> Self {
        Self(Camera::new(0.0, 0.0, 1.0))
    }

    /// How far along it something is.
    pub fn along(&self, what: Camera) -> f64 {
        self.0.dot(what)
    }

    /// What is left of something without what lies along this direction.
    pub fn beside(&self, what: Camera) -> Camera {
        what - self.0 * self.along(what)
    }

    /// The point on a `ray` from the lens that lies `told` farther along this direction than `from`.
    pub fn meet(&self, ray: Camera, from: Camera, told: f64) -> Camera {
        ray * ((told + self.along(from)) / self.along(ray).max(0.05))
    }

    /// Directions to the right and down of a picture that was taken along this axis with the roll of `camera`.
    pub fn across(&self, camera: &Sights) -> Option<[Camera; 2]> {
        let [right, ..] = camera.axes();
        let right = self.beside(right).unit()?;
        let (a, b) = (self.0, right);
        let up = Camera::new(
            a.up * b.away - a.away * b.up,
            a.away * b.right - a.right * b.away,
            a.right * b.up - a.up * b.right,
        );
        Some([right, -up])
    }
}

/// How much of an upright body's height is left in a picture that a ray meets: the cosine of the ray's slope.
pub fn shortening(ray: Camera) -> f64 {
    ray.horizontal().norm() / ray.norm().max(1e-9)
}

/// Spread of a depth of which nothing is known: within the body's reach, metres.
pub const UNKNOWN: f64 = 0.25;

/// A heel lies behind the ankle by this share of the way from ankle to toe.
const HEEL_SHARE: f64 = 0.35;

/// Spread of what hangs on a joint against the joint, metres: knuckles turn with the hand, the face with the head.
const HANGING: f64 = 0.05;

/// The depth network is surer of toes than it may be: from rendered players, seen from all sides.
const TOE_DOUBT: f64 = 1.6;

/// And it is surer of hips than it says, which lie near their middle, from where depth counts: rendered and recorded players err by a
/// quarter to two fifths of what it says.
const HIP_DOUBT: f64 = 0.5;

/// Spread of the pose network's own depth of a joint, metres; from rendered players.
fn own_spread(landmark: Landmark) -> f64 {
    const TABLE: [(Joint, f64); 10] = [
        (Joint::Shoulder, 0.09),
        (Joint::Elbow, 0.12),
        (Joint::Wrist, 0.17),
        (Joint::Index, 0.17),
        (Joint::Pinky, 0.17),
        (Joint::Hip, 0.03),
        (Joint::Knee, 0.10),
        (Joint::Ankle, 0.11),
        (Joint::Heel, 0.12),
        (Joint::Toe, 0.15),
    ];
    const HEAD: f64 = 0.08;
    let row = TABLE.iter().find(|(joint, _)| sides().into_iter().any(|side| joint.on(side) == landmark));
    row.map_or(HEAD, |(_, spread)| *spread)
}

const fn sides() -> [Side; 2] {
    [Side::Left, Side::Right]
}

/// Depths in one picture, metres. `metres` is metres per pixel at the hips, `body_scale` the player's stature over that of
/// the pose network's own body.
pub fn of(motion: &Motion, frame: usize, metres: f64, body_scale: f64) -> [Option<Depth>; COUNT] {
    let world = motion.world[frame].as_ref().map(|world| world.map(|p| f64::from(p[2]) * body_scale));
    let mut told =
        motion.depth.at(frame).map(|d| d.map(|d| Depth { away: d.away * metres, spread: d.spread * metres }));
    for (joint, doubt) in [(Joint::Toe, TOE_DOUBT), (Joint::Hip, HIP_DOUBT)] {
        for side in sides() {
            if let Some(depth) = &mut told[joint.on(side) as usize] {
                depth.spread *= doubt;
            }
        }
    }
    let mut depths = told;
    for landmark in Landmark::ALL {
        let k = landmark as usize;
        if depths[k].is_some() {
            continue;
        }
        depths[k] = match (support(landmark, &told), world) {
            (Some((base, on)), Some(world)) => {
                let hanging = world[k] - mean(on, |l| Some(world[l as usize])).unwrap_or(0.0);
                Some(Depth { away: base.away + hanging, spread: base.spread.hypot(HANGING) })
            }
            (Some((base, _)), None) => Some(Depth { spread: base.spread.hypot(2.0 * HANGING), ..base }),
            (None, Some(world)) => Some(Depth { away: world[k], spread: own_spread(landmark) }),
            (None, None) => None,
        };
    }
    for side in sides() {
        let at = |joint: Joint| told[joint.on(side) as usize];
        if let (Some(ankle), Some(toe)) = (at(Joint::Ankle), at(Joint::Toe)) {
            let away = ankle.away + HEEL_SHARE * (ankle.away - toe.away);
            depths[Joint::Heel.on(side) as usize] = Some(Depth { away, spread: ankle.spread.hypot(0.03) });
        }
    }
    depths
}

/// Depth of the joint, or of the middle of the joints, on which a landmark hangs, and which those are.
fn support(landmark: Landmark, told: &[Option<Depth>; COUNT]) -> Option<(Depth, &'static [Landmark])> {
    use Landmark as L;
    let on: &'static [Landmark] = match landmark {
        L::LeftPinky | L::LeftIndex | L::LeftThumb => &[L::LeftWrist],
        L::RightPinky | L::RightIndex | L::RightThumb => &[L::RightWrist],
        L::LeftHeel => &[L::LeftAnkle],
        L::RightHeel => &[L::RightAnkle],
        _ if (landmark as usize) <= (L::MouthRight as usize) => &[L::LeftShoulder, L::RightShoulder],
        _ => return None,
    };
    let away = mean(on, |l| told[l as usize].map(|d| d.away))?;
    let spread = mean(on, |l| told[l as usize].map(|d| d.spread))?;
    Some((Depth { away, spread }, on))
}

/// Mean over landmarks; `None` where one is missing.
fn mean(over: &[Landmark], value: impl Fn(Landmark) -> Option<f64>) -> Option<f64> {
    let sum = over.iter().try_fold(0.0, |sum, l| Some(sum + value(*l)?))?;
    Some(sum / over.len() as f64)
}
