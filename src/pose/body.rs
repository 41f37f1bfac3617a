//! What can be said of one reading by itself, or of two beside each other: is it a body, is it the same one.

use super::landmark::Landmark;
use super::landmarker::Reading;
use super::region::Circle;
use super::track::Pose;
use crate::geometry::Point2;
use crate::model::Image;

/// Points that tell bodies apart.
const CORE: [Landmark; 12] = [
    Landmark::LeftShoulder,
    Landmark::RightShoulder,
    Landmark::LeftElbow,
    Landmark::RightElbow,
    Landmark::LeftWrist,
    Landmark::RightWrist,
    Landmark::LeftHip,
    Landmark::RightHip,
    Landmark::LeftKnee,
    Landmark::RightKnee,
    Landmark::LeftAnkle,
    Landmark::RightAnkle,
];
/// The four corners of the trunk.
const TRUNK: [Landmark; 4] =
    [Landmark::LeftShoulder, Landmark::RightShoulder, Landmark::LeftHip, Landmark::RightHip];

/// Least mean visibility of the trunk's corners in a body.
const TRUNK_VISIBLE: f32 = 0.3;
/// Least share of the core points that lie in the picture in a body.
const CORE_INSIDE: f64 = 0.3;
/// Bodies with a smaller circle say nothing about strokes, pixels.
const LEAST_RADIUS: f64 = 12.0;
/// How far outside the picture a point may lie and still count as seen, in radii.
const EDGE: f64 = 0.04;
/// Difference of colours that one person shows from picture to picture.
const SAME_COLOUR: f64 = 0.03;
/// Two readings whose core points lie closer than this on average are of one body, in radii.
const SAME: f64 = 0.15;

/// Whether a reading is of a body in the picture.
pub fn is_body(reading: &Reading, image: Image<'_>, presence_minimum: f32) -> bool {
    let Some(circle) = reading.circle else { return false };
    let pose = &reading.pose;
    let trunk: f32 = TRUNK.iter().map(|l| pose.visibility(*l)).sum::<f32>() / TRUNK.len() as f32;
    let inside = CORE.iter().filter(|l| is_inside(pose.point(**l), image, 0.0)).count();
    pose.presence >= presence_minimum
        && circle.radius() >= LEAST_RADIUS
        && trunk >= TRUNK_VISIBLE
        && inside as f64 >= CORE_INSIDE * CORE.len() as f64
}

/// Sets the visibility of points outside the picture to 0: the models invent what they can't see.
pub fn gate_by_edge(pose: &mut Pose, circle: &Circle, image: Image<'_>) {
    let margin = EDGE * circle.radius();
    for (point, visibility) in pose.points.iter().zip(&mut pose.visibility) {
        if !is_inside(*point, image, margin) {
            *visibility = 0.0;
        }
    }
}

fn is_inside(point: Point2, image: Image<'_>, margin: f64) -> bool {
    let within = |value: f64, size: u32| value >= -margin && value <= f64::from(size - 1) + margin;
    within(point.x, image.width()) && within(point.y, image.height())
}

/// Mean distance of the core points of two poses, in units of `radius`.
pub fn distance(a: &Pose, b: &Pose, radius: f64) -> f64 {
    let sum: f64 = CORE.iter().map(|l| a.point(*l).distance(b.point(*l))).sum();
    sum / CORE.len() as f64 / radius
}

/// Whether two readings are of one body.
pub fn is_same(a: &Pose, b: &Pose, radius: f64) -> bool {
    distance(a, b, radius) < SAME
}

/// Mean colours of the trunk and the thighs, red green blue from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Colours([f32; 6]);

impl Colours {
    /// Reads the colours of a body from a picture.
    pub fn of(pose: &Pose, image: Image<'_>) -> Self {
        let [left, right, left_hip, right_hip] = TRUNK.map(|l| pose.point(l));
        let knees = [Landmark::LeftKnee, Landmark::RightKnee].map(|l| pose.point(l));
        let mut trunk = Mean::default();
        let mut thighs = Mean::default();
        // Inside the outline, where the background doesn't shine through.
        for across in [0.3, 0.5, 0.7] {
            for down in [0.15, 0.3, 0.45, 0.6, 0.75] {
                let upper = left.lerp(right, across);
                let lower = left_hip.lerp(right_hip, across);
                trunk.add(image, upper.lerp(lower, down));
            }
        }
        for (hip, knee) in [(left_hip, knees[0]), (right_hip, knees[1])] {
            for along in [0.2, 0.4, 0.6, 0.8] {
                thighs.add(image, hip.lerp(knee, along));
            }
        }
        let (a, b) = (trunk.mean(), thighs.mean());
        Self([a[0], a[1], a[2], b[0], b[1], b[2]])
    }

    /// Root mean square difference beyond what light and pose change on one person, 0 to 1.
    pub fn difference(&self, other: &Self) -> f64 {
        let sum: f32 = self.0.iter().zip(other.0).map(|(a, b)| (a - b) * (a - b)).sum();
        (f64::from(sum / self.0.len() as f32).sqrt() - SAME_COLOUR).max(0.0)
    }

    /// Moves a share of the way to newly read colours.
    pub fn approach(&mut self, other: &Self, share: f32) {
        for (own, new) in self.0.iter_mut().zip(other.0) {
            *own += share * (new - *own);
        }
    }
}

#[derive(Default)]
struct Mean {
    sum: [f32; 3],
    count: f32,
}

impl Mean {
    fn add(&mut self, image: Image<'_>, place: Point2) {
        for (sum, byte) in self.sum.iter_mut().zip(image.nearest(place.x, place.y)) {
            *sum += f32::from(byte) / 255.0;
        }
        self.count += 1.0;
    }

    fn mean(&self) -> [f32; 3] {
        self.sum.map(|sum| sum / self.count.max(1.0))
    }
}
