//! Which of the followed people the clip is about.

use super::landmark::{Joint, Side};
use super::region::bounds;
use super::track::{Pose, Track, TrackFrame};
use crate::error::ErrorKind;
use crate::geometry::Point2;
use crate::units::FrameIndex;

/// Wrist speeds are taken over at least this span, seconds: jitter between neighbouring pictures isn't speed.
const SPEED_SPAN: f64 = 0.06;
/// Which of a clip's wrist speeds stands for its strokes.
const SPEED_SHARE: f64 = 0.97;
/// How far beside a person's box a click may be, in the box's longer side.
const CLICK_MARGIN: f64 = 0.1;

/// A person who was followed.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Where the person was seen, over the whole clip.
    pub track: Track,
    /// Typical height of the person's box, pixels.
    pub height: f64,
    /// Fast wrist speed relative to the hips, body heights per second.
    pub wrist_speed: f64,
    /// Share of the pictures in which the person was seen, 0 to 1.
    pub seen: f64,
}

/// Everybody who was followed through a clip.
#[derive(Debug, Clone)]
pub struct People {
    /// In order of appearance.
    pub candidates: Vec<Candidate>,
}

/// How the subject is chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Choice {
    /// The one who swings.
    Swinging,
    /// The one who stands at this pixel in the first picture in which somebody does.
    At(Point2),
    /// The one who stands at this pixel in this picture, or in the first one after it in which somebody does.
    AtPicture(Point2, FrameIndex),
}

/// There is no subject.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoSubject {
    /// Nobody was found in the clip.
    #[error("nobody was found in the clip; a player of at least 60 pixels must be in view")]
    Nobody,
    /// Nobody stands at the pixel.
    #[error("nobody stands at {x:.0},{y:.0}; people were seen at {seen}")]
    NotThere {
        /// The pixel's column.
        x: f64,
        /// The pixel's row.
        y: f64,
        /// Where each person was first seen, as pixels.
        seen: String,
    },
}

impl NoSubject {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Nobody | Self::NotThere { .. } => ErrorKind::Usage,
        }
    }
}

impl People {
    /// Measures the people from their frames.
    pub fn new(size: (u32, u32), people: impl Iterator<Item = Vec<TrackFrame>>) -> Self {
        let candidates = people
            .map(|frames| {
                let track = Track { size, frames };
                let height = typical_height(&track);
                let seen = track.frames.iter().filter(|frame| frame.pose.is_some()).count() as f64
                    / track.frames.len().max(1) as f64;
                Candidate { height, wrist_speed: wrist_speed(&track, height), seen, track }
            })
            .collect();
        Self { candidates }
    }

    /// The number of the subject among the candidates.
    ///
    /// # Errors
    /// [`NoSubject`] where nobody was found, or nobody at the chosen place.
    pub fn subject(&self, choice: Choice) -> Result<usize, NoSubject> {
        let (place, first) = match choice {
            Choice::At(place) => (place, 0),
            Choice::AtPicture(place, picture) => (place, picture.0),
            Choice::Swinging => {
                return (0..self.candidates.len())
                    .filter(|i| self.candidates[*i].seen > 0.0)
                    .max_by(|a, b| self.swings(*a).total_cmp(&self.swings(*b)))
                    .ok_or(NoSubject::Nobody);
            }
        };
        let pictures = self.candidates.iter().map(|c| c.track.frames.len()).max().unwrap_or(0);
        for picture in first..pictures {
            let here = self
                .candidates
                .iter()
                .enumerate()
                .filter_map(|(i, c)| Some((i, miss(c.track.frames.get(picture)?.pose.as_ref()?, place)?)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((index, _)) = here {
                return Ok(index);
            }
        }
        let seen: Vec<String> = self.candidates.iter().filter_map(|c| first_place(&c.track)).collect();
        if seen.is_empty() {
            return Err(NoSubject::Nobody);
        }
        Err(NoSubject::NotThere { x: place.x, y: place.y, seen: seen.join("; ") })
    }

    /// How much a person looks like the one who plays: fast hands, and neither tiny nor rarely seen beside the others.
    fn swings(&self, index: usize) -> f64 {
        let tallest = self.candidates.iter().map(|c| c.height).fold(1.0, f64::max);
        let candidate = &self.candidates[index];
        candidate.wrist_speed * (candidate.height / tallest).sqrt() * candidate.seen.sqrt()
    }
}

/// Distance from the middle of a pose's box in its longer sides, where the place is in the box or a little beside it.
fn miss(pose: &Pose, place: Point2) -> Option<f64> {
    let [left, top, right, bottom] = bounds(pose, 0.2)?;
    let side = (right - left).max(bottom - top);
    let margin = CLICK_MARGIN * side;
    let inside = place.x >= left - margin
        && place.x <= right + margin
        && place.y >= top - margin
        && place.y <= bottom + margin;
    let middle = Point2::new(0.5 * (left + right), 0.5 * (top + bottom));
    inside.then(|| middle.distance(place) / side.max(1.0))
}

fn first_place(track: &Track) -> Option<String> {
    let frame = track.frames.iter().find(|frame| frame.pose.is_some())?;
    let [left, top, right, bottom] = bounds(frame.pose.as_ref()?, 0.2)?;
    Some(format!("{:.0},{:.0} ({})", 0.5 * (left + right), 0.5 * (top + bottom), frame.index))
}

fn typical_height(track: &Track) -> f64 {
    let mut heights: Vec<f64> = track
        .frames
        .iter()
        .filter_map(|frame| bounds(frame.pose.as_ref()?, 0.2))
        .map(|[_, top, _, bottom]| bottom - top)
        .collect();
    percentile(&mut heights, 0.5)
}

fn wrist_speed(track: &Track, height: f64) -> f64 {
    if height <= 0.0 {
        return 0.0;
    }
    let mut speeds = Vec::new();
    let mut earlier = 0;
    for (later, frame) in track.frames.iter().enumerate() {
        while earlier + 1 < later && (frame.time - track.frames[earlier + 1].time).0 >= SPEED_SPAN {
            earlier += 1;
        }
        let span = (frame.time - track.frames[earlier].time).0;
        let (Some(now), Some(then)) = (&frame.pose, &track.frames[earlier].pose) else { continue };
        if frame.duplicate || span < SPEED_SPAN {
            continue;
        }
        let fastest = [Side::Left, Side::Right]
            .into_iter()
            .filter(|side| {
                let wrist = Joint::Wrist.on(*side);
                now.visibility(wrist).min(then.visibility(wrist)) >= 0.3
            })
            .map(|side| {
                let (a, b) = (from_hips(then, side), from_hips(now, side));
                a.distance(b) / span / height
            })
            .fold(f64::NAN, f64::max);
        if fastest.is_finite() {
            speeds.push(fastest);
        }
    }
    percentile(&mut speeds, SPEED_SHARE)
}

/// A wrist as seen from between the hips, pixels.
fn from_hips(pose: &Pose, side: Side) -> Point2 {
    let hips = pose.point(Joint::Hip.on(Side::Left)).lerp(pose.point(Joint::Hip.on(Side::Right)), 0.5);
    let wrist = pose.point(Joint::Wrist.on(side));
    Point2::new(wrist.x - hips.x, wrist.y - hips.y)
}

fn percentile(values: &mut [f64], share: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share).round() as usize]
}
