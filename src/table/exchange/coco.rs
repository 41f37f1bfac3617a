//! COCO keypoints: 17 points of the player in every picture, pixels from the upper left.

use serde::Serialize;

use super::super::Results;
use super::super::cell::rounded;
use crate::pose::{Landmark, MotionPoint};

/// COCO's points in its own order, with its names.
const KEYPOINTS: [Landmark; 17] = [
    Landmark::Nose,
    Landmark::LeftEye,
    Landmark::RightEye,
    Landmark::LeftEar,
    Landmark::RightEar,
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

/// COCO's limbs: pairs of places in the list, from 1.
const SKELETON: [[u8; 2]; 19] = [
    [16, 14],
    [14, 12],
    [17, 15],
    [15, 13],
    [12, 13],
    [6, 12],
    [7, 13],
    [6, 7],
    [6, 8],
    [7, 9],
    [8, 10],
    [9, 11],
    [2, 3],
    [1, 2],
    [1, 3],
    [2, 4],
    [3, 5],
    [4, 6],
    [5, 7],
];

/// From this chance of being in sight on, a point counts as visible.
const VISIBLE: f64 = 0.5;

/// The whole file.
#[derive(Debug, Serialize)]
pub struct Document {
    info: Info,
    images: Vec<Image>,
    annotations: Vec<Annotation>,
    categories: [Category; 1],
}

#[derive(Debug, Serialize)]
struct Info {
    description: String,
}

#[derive(Debug, Serialize)]
struct Image {
    id: usize,
    file_name: String,
    width: u32,
    height: u32,
}

#[derive(Debug, Serialize)]
struct Annotation {
    id: usize,
    image_id: usize,
    category_id: u8,
    iscrowd: u8,
    num_keypoints: usize,
    keypoints: Vec<f64>,
    bbox: [f64; 4],
    area: f64,
}

#[derive(Debug, Serialize)]
struct Category {
    id: u8,
    name: &'static str,
    supercategory: &'static str,
    keypoints: [&'static str; 17],
    skeleton: [[u8; 2]; 19],
}

impl Document {
    /// The player's points in all pictures of a clip.
    pub fn of(results: &Results<'_>) -> Self {
        let motion = results.motion;
        let image = |frame: usize| Image {
            id: frame,
            file_name: format!("frame_{frame:06}.png"),
            width: motion.size.0,
            height: motion.size.1,
        };
        let annotations = (0..motion.len()).filter_map(|i| {
            let points = KEYPOINTS.map(|landmark| motion.point(i, landmark));
            annotation(motion.indices[i].0, &points)
        });
        let description = format!(
            "{}: one player, smoothed; file names number the clip's frames from 0, as `ffmpeg -i CLIP -fps_mode \
             passthrough -start_number 0 frame_%06d.png` writes them",
            results.clip
        );
        Self {
            info: Info { description },
            images: motion.indices.iter().map(|index| image(index.0)).collect(),
            annotations: annotations.collect(),
            categories: [Category {
                id: 1,
                name: "person",
                supercategory: "person",
                keypoints: KEYPOINTS.map(Landmark::name),
                skeleton: SKELETON,
            }],
        }
    }
}

/// A picture's points; none where the player is not in sight.
fn annotation(frame: usize, points: &[Option<MotionPoint>; 17]) -> Option<Annotation> {
    let seen = || points.iter().flatten();
    let ends = |axis: fn(&MotionPoint) -> f64| {
        seen().map(axis).fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(v), high.max(v)))
    };
    let ((left, right), (top, bottom)) = (ends(|p| p.at.x), ends(|p| p.at.y));
    let (width, height) = (rounded(right - left, 2), rounded(bottom - top, 2));
    (seen().count() > 0).then(|| Annotation {
        id: frame + 1,
        image_id: frame,
        category_id: 1,
        iscrowd: 0,
        num_keypoints: seen().count(),
        keypoints: points
            .iter()
            .flat_map(|point| match point {
                Some(p) => {
                    let sight = if p.visibility >= VISIBLE && !p.bridged { 2.0 } else { 1.0 };
                    [rounded(p.at.x, 2), rounded(p.at.y, 2), sight]
                }
                None => [0.0; 3],
            })
            .collect(),
        bbox: [rounded(left, 2), rounded(top, 2), width, height],
        area: rounded(width * height, 1),
    })
}
