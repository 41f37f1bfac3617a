//! The player's landmarks in metres in the camera's frame held level.

use super::body::BodyPrior;
use super::depth::Teller;
use super::stand::Stand;
use super::sway::Sway;
use super::{depth, distance, footing};
use crate::geometry::Camera;
use crate::order::median;
use crate::pose::landmark::COUNT;
use crate::pose::{Compact, Depth, Joint, Landmark, Motion, Side};
use crate::units::{Metres, Seconds};

/// How the picture is turned into metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lift {
    /// Through the lens, with the depth of each landmark.
    #[default]
    Perspective,
    /// As if everything stood in one upright plane at the hips' distance.
    Planar,
}

/// The player's motion in the camera's frame held level: `up` is against gravity, from the lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// Times of the pictures.
    pub times: Vec<Seconds>,
    /// Pictures per second.
    pub rate: f64,
    /// Joints per picture, metres; `None` where a landmark was not seen.
    pub points: Compact<Camera>,
    /// Visibility of each landmark, 0 to 1: 0 where it was not seen, which a bridge over more than a picture or two is
    /// not, and at most [`SIDE_IN_DOUBT`] where it may be the other side's.
    pub visibility: Vec<[f32; COUNT]>,
    /// Standard deviation of each landmark's depth relative to the hips, metres.
    pub depth_spread: Vec<[f32; COUNT]>,
    /// The camera through which it was lifted.
    pub stand: Stand,
    /// Size of its pictures, pixels.
    pub size: (u32, u32),
    /// How the camera was moved: places are those that one which stood still would have shown.
    pub sway: Sway,
    /// Metres per pixel at the hips, per picture.
    pub scale: Vec<Option<f64>>,
    /// The player's stature used for the scale.
    pub stature: Metres,
    /// What told depth along the lens.
    pub teller: Teller,
    /// Median over the clip of the landmarks' jitter after smoothing, metres per axis.
    pub jitter: f64,
}

/// A landmark where left and right had to be turned back is no surer than this.
pub const SIDE_IN_DOUBT: f32 = 0.4;

/// A landmark that was bridged for longer than this was not seen; a repeated picture is nothing to worry about.
const SHORT_BRIDGE: Seconds = Seconds(0.05);

/// In which pictures a landmark lies on a long bridge.
fn long_bridges(motion: &Motion, k: usize) -> Vec<bool> {
    let mut long = vec![false; motion.len()];
    let is_seen = |i: &usize| motion.points.get(*i, k).is_some_and(|point| !point.bridged);
    let mut last = None;
    for i in (0..motion.len()).filter(is_seen) {
        if let Some(last) = last
            && motion.times[i] - motion.times[last] > SHORT_BRIDGE
        {
            long[last + 1..i].fill(true);
        }
        last = Some(i);
    }
    long
}

/// Whether left and right were turned back in a picture or one beside it.
fn side_in_doubt(motion: &Motion, i: usize) -> bool {
    let turned = &motion.straightened;
    (i.saturating_sub(1)..=i + 1).any(|i| turned.get(i).is_some_and(|turned| *turned))
}

impl Space {
    /// Lifts a motion in the picture into the camera's frame.
    ///
    /// The distance to the player comes from [`distance::of`], depths from [`depth::of`]; where no depth is told, every
    /// landmark lies in one plane.
    pub fn lift(motion: &Motion, stand: &Stand, stature: Metres, body: &BodyPrior, lift: Lift) -> Self {
        let sway = Sway::of(motion);
        let motion = &*sway.steadied(motion);
        let body_scale = stature.0 / body.stature;
        let teller = if lift == Lift::Perspective { Teller::of(motion) } else { Teller::Nothing };
        let with_depth = teller != Teller::Nothing;
        let by_size = Teller::of_size(motion);
        let distance = distance::of(motion, stand, stature, body_scale);
        let mut points = Compact::nothing(motion.len());
        let mut visibility = vec![[0.0; COUNT]; motion.len()];
        let mut depth_spread = vec![[depth::UNKNOWN as f32; COUNT]; motion.len()];
        let mut scale = vec![None; motion.len()];
        let camera = stand.sights();
        let [_, _, along] = camera.axes();
        let unseen: Vec<Vec<bool>> = (0..COUNT).map(|k| long_bridges(motion, k)).collect();
        for i in 0..motion.len() {
            let (Some(away), Some(hips)) = (distance[i], distance::hips(motion, i)) else { continue };
            let axis = teller.axis(&camera, hips, motion.size);
            let way = by_size.axis(&camera, hips, motion.size);
            let hips = way.meet(camera.ray(hips), Camera::default(), away);
            let metres = hips.dot(along) / stand.lens.focal;
            scale[i] = Some(metres);
            let depths = if with_depth { depth::of(motion, i, metres, body_scale) } else { [None; COUNT] };
            let mut lifted = [None; COUNT];
            for (k, point) in motion.points.at(i).into_iter().enumerate() {
                let Some(point) = point else { continue };
                let depth = depths[k].unwrap_or(Depth { away: 0.0, spread: depth::UNKNOWN });
                lifted[k] = Some(axis.meet(camera.ray(point.at), hips, depth.away));
                visibility[i][k] = if unseen[k][i] { 0.0 } else { point.visibility as f32 };
                if side_in_doubt(motion, i) {
                    visibility[i][k] = visibility[i][k].min(SIDE_IN_DOUBT);
                }
                depth_spread[i][k] = depth.spread as f32;
            }
            if with_depth {
                // The depth network tells where joints are, the picture and the pose network where landmarks are.
                let told = (teller == Teller::DepthNetwork).then_some(axis);
                body.correct(&mut lifted, body_scale, told);
            }
            points.put(i, lifted);
        }
        if with_depth {
            footing::settle(&mut points, &motion.times, &mut depth_spread);
        }
        let median_scale = median(scale.iter().flatten().copied()).unwrap_or(0.0);
        let jitter = median(motion.jitter.iter().copied()).unwrap_or(0.0).hypot(sway.left()) * median_scale;
        Self {
            times: motion.times.clone(),
            rate: motion.rate,
            points,
            visibility,
            depth_spread,
            stand: *stand,
            size: motion.size,
            sway,
            scale,
            stature,
            teller,
            jitter,
        }
    }

    /// Gives back the memory of what was lifted: to be called where it will be lifted anew, as a long clip fills much of it.
    pub fn forget(&mut self) {
        (self.points, self.visibility, self.depth_spread) = Default::default();
    }

    /// A joint in a picture.
    pub fn at(&self, frame: usize, landmark: Landmark) -> Option<Camera> {
        self.points.get(frame, landmark as usize)
    }

    /// Middle of the hips in a picture.
    pub fn hips(&self, frame: usize) -> Option<Camera> {
        Some(self.at(frame, Landmark::LeftHip)?.middle(self.at(frame, Landmark::RightHip)?))
    }

    /// Median distance over the ground from the camera to the player's hips, metres.
    pub fn camera_distance(&self) -> Option<Metres> {
        let away = (0..self.points.len()).filter_map(|i| self.hips(i)).map(|p| p.horizontal().norm());
        median(away).map(Metres)
    }

    /// Hand (wrist) relative to the hips in a picture.
    pub fn hand(&self, frame: usize, side: Side) -> Option<Camera> {
        Some(self.at(frame, Joint::Wrist.on(side))? - self.hips(frame)?)
    }
}
