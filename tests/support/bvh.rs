//! Reading recorded motion (BVH) and projecting it into a made-up camera.

use std::error::Error;
use std::fs::File;
use std::io::Read;
use std::path::Path;

use flate2::read::GzDecoder;

use toeline::pose::Landmark;
use toeline::pose::landmark::COUNT;

/// A recorded take: joints in metres, y up, at an even rate.
pub struct Take {
    /// Seconds between frames.
    pub step: f64,
    /// Landmarks per frame; points that the recording lacks are `None`.
    pub frames: Vec<[Option<[f64; 3]>; COUNT]>,
}

struct Node {
    name: String,
    parent: Option<usize>,
    offset: [f64; 3],
    channels: Vec<String>,
}

/// The landmark of a recorded joint or end site.
fn landmark(name: &str) -> Option<Landmark> {
    use Landmark as L;
    Some(match name {
        "LeftShoulder" => L::LeftShoulder,
        "RightShoulder" => L::RightShoulder,
        "LeftElbow" => L::LeftElbow,
        "RightElbow" => L::RightElbow,
        "LeftWrist" => L::LeftWrist,
        "RightWrist" => L::RightWrist,
        "LeftHip" => L::LeftHip,
        "RightHip" => L::RightHip,
        "LeftKnee" => L::LeftKnee,
        "RightKnee" => L::RightKnee,
        "LeftAnkle" => L::LeftAnkle,
        "RightAnkle" => L::RightAnkle,
        "LeftAnkle end" => L::LeftToe,
        "RightAnkle end" => L::RightToe,
        _ => return None,
    })
}

impl Take {
    /// Reads a BVH file, gzipped or not, with lengths in centimetres.
    pub fn read(path: &Path) -> Result<Self, Box<dyn Error>> {
        let mut text = String::new();
        if path.extension().is_some_and(|ending| ending == "gz") {
            GzDecoder::new(File::open(path)?).read_to_string(&mut text)?;
        } else {
            File::open(path)?.read_to_string(&mut text)?;
        }
        let (head, motion) = text.split_once("MOTION").ok_or("no MOTION section")?;
        let nodes = hierarchy(head)?;
        let mut lines = motion.lines().filter(|l| !l.trim().is_empty());
        let number = |line: Option<&str>| -> Result<f64, Box<dyn Error>> {
            Ok(line.and_then(|l| l.rsplit(':').next()).ok_or("header cut short")?.trim().parse()?)
        };
        let _ = number(lines.next())?;
        let step = number(lines.next())?;
        let mut frames = Vec::new();
        for line in lines {
            let values: Vec<f64> = line.split_whitespace().map(str::parse).collect::<Result<_, _>>()?;
            frames.push(pose(&nodes, &values)?);
        }
        Ok(Self { step, frames })
    }
}

fn hierarchy(text: &str) -> Result<Vec<Node>, Box<dyn Error>> {
    let mut nodes: Vec<Node> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["ROOT" | "JOINT", name] => nodes.push(Node {
                name: (*name).to_owned(),
                parent: open.last().copied(),
                offset: [0.0; 3],
                channels: Vec::new(),
            }),
            ["End", "Site"] => {
                let parent = *open.last().ok_or("end site without a joint")?;
                let name = format!("{} end", nodes[parent].name);
                nodes.push(Node { name, parent: Some(parent), offset: [0.0; 3], channels: Vec::new() });
            }
            ["{"] => open.push(nodes.len() - 1),
            ["}"] => {
                open.pop();
            }
            ["OFFSET", x, y, z] => {
                let node = *open.last().ok_or("offset outside a joint")?;
                nodes[node].offset = [x.parse()?, y.parse()?, z.parse()?];
            }
            ["CHANNELS", _, names @ ..] => {
                let node = *open.last().ok_or("channels outside a joint")?;
                nodes[node].channels = names.iter().map(|n| (*n).to_owned()).collect();
            }
            _ => {}
        }
    }
    Ok(nodes)
}

type Matrix = [[f64; 3]; 3];

fn product(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

fn rotation(axis: &str, degrees: f64) -> Matrix {
    let (s, c) = degrees.to_radians().sin_cos();
    match axis {
        "Xrotation" => [[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]],
        "Yrotation" => [[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]],
        _ => [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]],
    }
}

/// Nose and ears in the head's own frame, centimetres from its joint: left, up, forward.
const HEAD: [(Landmark, [f64; 3]); 3] = [
    (Landmark::Nose, [0.0, 6.0, 10.0]),
    (Landmark::LeftEar, [7.5, 8.0, 0.0]),
    (Landmark::RightEar, [-7.5, 8.0, 0.0]),
];

fn pose(nodes: &[Node], values: &[f64]) -> Result<[Option<[f64; 3]>; COUNT], Box<dyn Error>> {
    const IDENTITY: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let mut places: Vec<([f64; 3], Matrix)> = Vec::with_capacity(nodes.len());
    let mut points = [None; COUNT];
    let mut next = values.iter();
    for node in nodes {
        let (origin, turn) = node.parent.map_or(([0.0; 3], IDENTITY), |p| places[p]);
        let mut offset = node.offset;
        let mut own = IDENTITY;
        for channel in &node.channels {
            let value = *next.next().ok_or("frame with too few numbers")?;
            match channel.as_str() {
                "Xposition" => offset[0] = value,
                "Yposition" => offset[1] = value,
                "Zposition" => offset[2] = value,
                axis => own = product(&own, &rotation(axis, value)),
            }
        }
        let at: [f64; 3] =
            std::array::from_fn(|i| origin[i] + (0..3).map(|k| turn[i][k] * offset[k]).sum::<f64>());
        if node.name == "Head" {
            // The recording has the head's joint and crown; the face looks along its own z axis, its left along x.
            let own = product(&turn, &own);
            for (landmark, place) in HEAD {
                let shifted = (0..3).map(|i| at[i] + (0..3).map(|k| own[i][k] * place[k]).sum::<f64>());
                let shifted: Vec<f64> = shifted.map(|v| v / 100.0).collect();
                points[landmark as usize] = Some([shifted[0], shifted[1], shifted[2]]);
            }
        }
        if let Some(landmark) = landmark(&node.name) {
            points[landmark as usize] = Some(at.map(|v| v / 100.0));
        }
        places.push((at, product(&turn, &own)));
    }
    Ok(points)
}

/// Width and height of the made-up pictures, pixels.
pub const SIZE: (f64, f64) = (1920.0, 1080.0);

/// Pixels per metre of the made-up camera.
pub const PIXELS_PER_METRE: f64 = 200.0;

impl Take {
    /// The take at another rate, straight between its frames.
    #[allow(dead_code, reason = "not every user of this file films at another rate")]
    pub fn at_rate(&self, rate: f64) -> Self {
        let last = self.frames.len() - 1;
        let count = (last as f64 * self.step * rate).floor() as usize;
        let frames = (0..count).map(|i| {
            let place = i as f64 / rate / self.step;
            let (low, share) = ((place.floor() as usize).min(last - 1), place.fract());
            std::array::from_fn(|k| {
                let (a, b) = (self.frames[low][k]?, self.frames[low + 1][k]?);
                Some(std::array::from_fn(|i| a[i] + share * (b[i] - a[i])))
            })
        });
        Self { step: 1.0 / rate, frames: frames.collect() }
    }

    /// Stature from the segments' lengths over the whole take, metres.
    pub fn stature(&self) -> f64 {
        let length = |a: Landmark, b: Landmark| -> f64 {
            let mut values: Vec<f64> = self
                .frames
                .iter()
                .filter_map(|f| {
                    let (p, q) = (f[a as usize]?, f[b as usize]?);
                    Some((0..3).map(|i| (p[i] - q[i]).powi(2)).sum::<f64>().sqrt())
                })
                .collect();
            values.sort_by(f64::total_cmp);
            values.get(values.len() / 2).copied().unwrap_or(0.0)
        };
        let leg = length(Landmark::RightHip, Landmark::RightKnee)
            + length(Landmark::RightKnee, Landmark::RightAnkle);
        leg / 0.491
    }

    /// Horizontal direction to the net: the median direction of the right hand's velocity relative to the hips where the
    /// hand is fast (unit vector x, z).
    pub fn net(&self) -> (f64, f64) {
        let hand = |f: &[Option<[f64; 3]>; COUNT]| -> Option<[f64; 3]> {
            let wrist = f[Landmark::RightWrist as usize]?;
            let (l, r) = (f[Landmark::LeftHip as usize]?, f[Landmark::RightHip as usize]?);
            Some(std::array::from_fn(|i| wrist[i] - 0.5 * (l[i] + r[i])))
        };
        let mut velocities: Vec<(f64, f64, f64)> = self
            .frames
            .windows(5)
            .filter_map(|w| {
                let (a, b) = (hand(&w[0])?, hand(&w[4])?);
                let (vx, vz) = ((b[0] - a[0]) / (4.0 * self.step), (b[2] - a[2]) / (4.0 * self.step));
                Some((vx.hypot(vz), vx, vz))
            })
            .collect();
        velocities.sort_by(|a, b| b.0.total_cmp(&a.0));
        let fast = &velocities[..(velocities.len() / 50).max(1)];
        let (x, z) = fast.iter().fold((0.0, 0.0), |(x, z), v| (x + v.1 / v.0, z + v.2 / v.0));
        let norm = x.hypot(z);
        (x / norm, z / norm)
    }

    /// The take seen without perspective from the right-hander's hitting side, the net to the right.
    pub fn seen_from_side(&self) -> toeline::pose::Motion {
        let (nx, nz) = self.net();
        self.seen(|[x, y, z]| (960.0 + PIXELS_PER_METRE * (x * nx + z * nz), 900.0 - PIXELS_PER_METRE * y))
    }

    /// The take with each point placed in the picture.
    pub fn seen(&self, mut project: impl FnMut([f64; 3]) -> (f64, f64)) -> toeline::pose::Motion {
        use toeline::geometry::Point2;
        use toeline::pose::{Pose, Track, TrackFrame};
        use toeline::units::{FrameIndex, Seconds};
        let frames = self
            .frames
            .iter()
            .enumerate()
            .map(|(i, frame)| {
                let points = frame.map(|p| {
                    p.map_or(Point2::default(), |p| {
                        let (x, y) = project(p);
                        Point2::new(x, y)
                    })
                });
                let pose = Pose {
                    points: points.to_vec(),
                    visibility: frame.map(|p| if p.is_some() { 1.0 } else { 0.0 }).to_vec(),
                    world: Vec::new(),
                    presence: 1.0,
                };
                TrackFrame {
                    index: FrameIndex(i),
                    time: Seconds(i as f64 * self.step),
                    duplicate: false,
                    pose: Some(pose),
                }
            })
            .collect();
        toeline::pose::Motion::from_track(&Track { size: (SIZE.0 as u32, SIZE.1 as u32), frames })
    }
}
