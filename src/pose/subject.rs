//! Which of the followed people the clip is about.

use std::borrow::Cow;

use super::background::Course;
use super::follow::Seed;
use super::landmark::{Joint, Side};
use super::region::bounds;
use super::track::{Pose, Track};
use crate::error::ErrorKind;
use crate::geometry::Point2;
use crate::order::{median, quantile};
use crate::units::FrameIndex;

/// A hand's travel is taken over this time, and over no more than so much longer, seconds: the jitter of small people
/// between neighbouring pictures looks like speed, but it leads nowhere.
const TRAVEL_SPAN: f64 = 0.2;
const TRAVEL_SPAN_MOST: f64 = 0.3;
/// Which of a clip's travels stands for its strokes.
const TRAVEL_SHARE: f64 = 0.95;
/// Who moves the hand this far swings, body heights: a larger swing is no more of a stroke.
const SWING: f64 = 0.8;
/// Somebody whose hands are hidden doesn't seem to swing, and somebody small seems to by the network's slips: this much is
/// added to everybody's travel, body heights.
const SLIPS: f64 = 0.1;
/// Nobody is measured against people who are seen in less than this share of the frames in which the one seen most is.
const OFTEN: f64 = 0.2;
/// How much a person's size counts: a clip is filmed of the largest person in it. From real clips.
const SIZE_POWER: f64 = 1.5;
/// What a person at the picture's left or right edge counts against one in its middle.
const AT_EDGE: f64 = 0.5;
/// A joint is in sight from this visibility on.
const IN_SIGHT: f32 = 0.3;

/// How far beside a person's box a click may be, in the box's longer side.
const CLICK_MARGIN: f64 = 0.1;

/// A person who was followed.
#[derive(Debug, Clone)]
pub struct Candidate<'a> {
    /// Where the person was seen, over the whole clip.
    pub track: Cow<'a, Track>,
    /// Typical height of the person's box, pixels.
    pub height: f64,
    /// How far a hand moves relative to the hips within a fifth of a second in the person's fastest movements, body heights.
    pub hand_travel: f64,
    /// Share of the pictures in which the person was seen, 0 to 1.
    pub seen: f64,
    /// Share of the limbs' joints that are in sight, 0 to 1.
    pub whole: f64,
    /// Where the hips are across the picture, from −1 (left edge) to 1.
    pub across: f64,
}

/// Everybody who was followed through a clip.
#[derive(Debug, Clone)]
pub struct People<'a> {
    /// In order of appearance.
    pub candidates: Vec<Candidate<'a>>,
    /// How the background moved, and where the clip is cut.
    pub background: Cow<'a, Course>,
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

impl<'a> Candidate<'a> {
    fn new(track: Cow<'a, Track>) -> Self {
        let height = typical_height(&track);
        let poses = || track.frames.iter().filter_map(|frame| frame.pose.as_ref());
        let seen = poses().count() as f64 / track.frames.len().max(1) as f64;
        let whole = median(poses().map(|pose| {
            let joints = WHOLE_BODY.iter().flat_map(|joint| [joint.on(Side::Left), joint.on(Side::Right)]);
            joints.filter(|joint| pose.visibility(*joint) >= IN_SIGHT).count() as f64
                / (2 * WHOLE_BODY.len()) as f64
        }));
        let middle = 0.5 * f64::from(track.size.0);
        let across = median(poses().map(|pose| (hips(pose).x - middle) / middle));
        Self {
            height,
            hand_travel: hand_travel(&track, height),
            seen,
            whole: whole.unwrap_or(0.0),
            across: across.unwrap_or(0.0).clamp(-1.0, 1.0),
            track,
        }
    }
}

/// Joints whose being in sight tells whether a person is whole.
const WHOLE_BODY: [Joint; 6] =
    [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Hip, Joint::Knee, Joint::Ankle];

impl Choice {
    /// Where somebody stands who has to be followed for this choice.
    pub fn seed(self) -> Option<Seed> {
        match self {
            Self::Swinging => None,
            Self::At(at) => Some(Seed { at, from: FrameIndex(0) }),
            Self::AtPicture(at, from) => Some(Seed { at, from }),
        }
    }
}

impl People<'static> {
    /// Measures the people from their tracks.
    pub fn new(tracks: impl Iterator<Item = Track>, background: Course) -> Self {
        let candidates = tracks.map(|track| Candidate::new(Cow::Owned(track))).collect();
        Self { candidates, background: Cow::Owned(background) }
    }
}

impl<'a> People<'a> {
    /// Measures the people whose tracks somebody else keeps.
    pub fn of(tracks: &'a [Track], background: &'a Course) -> Self {
        let candidates = tracks.iter().map(|track| Candidate::new(Cow::Borrowed(track))).collect();
        Self { candidates, background: Cow::Borrowed(background) }
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

    /// How much a person looks like the one whom the clip is about: hands that swing, large beside the others, whole, in
    /// the middle, and often seen.
    fn swings(&self, index: usize) -> f64 {
        let most_seen = self.candidates.iter().map(|c| c.seen).fold(0.0, f64::max);
        let tallest = self
            .candidates
            .iter()
            .filter(|candidate| candidate.seen >= OFTEN * most_seen)
            .map(|candidate| candidate.height)
            .fold(1.0, f64::max);
        let candidate = &self.candidates[index];
        (candidate.hand_travel.min(SWING) + SLIPS)
            * (candidate.height / tallest).min(1.0).powf(SIZE_POWER)
            * candidate.whole.powi(2)
            * (1.0 - (1.0 - AT_EDGE) * candidate.across.powi(2))
            * candidate.seen.sqrt()
    }
}

/// Distance from the middle of a pose's box in its longer sides, where the place is in the box or a little beside it.
pub(super) fn miss(pose: &Pose, place: Point2) -> Option<f64> {
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
    let boxes = track.frames.iter().filter_map(|frame| bounds(frame.pose.as_ref()?, 0.2));
    median(boxes.map(|[_, top, _, bottom]| bottom - top)).unwrap_or(0.0)
}

/// How far a hand travels relative to the hips within [`TRAVEL_SPAN`] in the fastest movements, body heights.
fn hand_travel(track: &Track, height: f64) -> f64 {
    let seen: Vec<(f64, &Pose)> = track
        .frames
        .iter()
        .filter(|frame| !frame.duplicate)
        .filter_map(|frame| Some((frame.time.0, frame.pose.as_ref()?)))
        .collect();
    let mut travels = Vec::new();
    let mut earlier = 0;
    for (later, (time, now)) in seen.iter().enumerate() {
        while earlier + 1 < later && time - seen[earlier + 1].0 >= TRAVEL_SPAN {
            earlier += 1;
        }
        let (then_time, then) = seen[earlier];
        if !(TRAVEL_SPAN..=TRAVEL_SPAN_MOST).contains(&(time - then_time)) {
            continue;
        }
        let farthest = [Side::Left, Side::Right]
            .into_iter()
            .filter(|side| {
                let wrist = Joint::Wrist.on(*side);
                now.visibility(wrist).min(then.visibility(wrist)) >= IN_SIGHT
            })
            .map(|side| from_hips(then, side).distance(from_hips(now, side)) / height.max(1.0))
            .max_by(f64::total_cmp);
        travels.extend(farthest);
    }
    quantile(travels, TRAVEL_SHARE).unwrap_or(0.0)
}

/// A wrist as seen from between the hips, pixels.
fn from_hips(pose: &Pose, side: Side) -> Point2 {
    let (hips, wrist) = (hips(pose), pose.point(Joint::Wrist.on(side)));
    Point2::new(wrist.x - hips.x, wrist.y - hips.y)
}

/// The point between the hips.
fn hips(pose: &Pose) -> Point2 {
    pose.point(Joint::Hip.on(Side::Left)).lerp(pose.point(Joint::Hip.on(Side::Right)), 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::{COUNT, Landmark};
    use crate::pose::track::TrackFrame;
    use crate::units::Seconds;

    const SIZE: (u32, u32) = (1280, 720);

    /// A standing person of this height around a column, whose right hand is moved as `hand` says (body heights by time); the
    /// hand has this visibility.
    fn person(height: f64, x: f64, visible: f32, hand: impl Fn(f64) -> f64) -> Vec<TrackFrame> {
        let places = [
            (Joint::Shoulder, 0.11, 0.18),
            (Joint::Elbow, 0.14, 0.35),
            (Joint::Wrist, 0.15, 0.45),
            (Joint::Hip, 0.08, 0.50),
            (Joint::Knee, 0.08, 0.72),
            (Joint::Ankle, 0.08, 0.95),
        ];
        (0..60)
            .map(|i| {
                let time = f64::from(i) / 30.0;
                let mut points = vec![Point2::new(x, 300.0); COUNT];
                let mut visibility = vec![0.0; COUNT];
                for (joint, across, down) in places {
                    for (side, sign) in [(Side::Left, 1.0), (Side::Right, -1.0)] {
                        let at = Point2::new(x + sign * height * across, 300.0 + height * (down - 0.5));
                        points[joint.on(side) as usize] = at;
                        visibility[joint.on(side) as usize] = 1.0;
                    }
                }
                points[Landmark::RightWrist as usize].x += height * hand(time);
                visibility[Landmark::RightWrist as usize] = visible;
                let pose = Pose { points, visibility, world: Vec::new(), presence: 1.0 };
                TrackFrame {
                    index: FrameIndex(i as usize),
                    time: Seconds(time),
                    duplicate: false,
                    pose: Some(pose),
                }
            })
            .collect()
    }

    fn subject(people: Vec<Vec<TrackFrame>>) -> usize {
        let tracks = people.into_iter().map(|frames| Track { size: SIZE, frames });
        People::new(tracks, Course::default()).subject(Choice::Swinging).unwrap()
    }

    fn swing(time: f64) -> f64 {
        if (1.0..1.3).contains(&time) { 0.9 * (1.0 - ((time - 1.15) / 0.15).powi(2)) } else { 0.0 }
    }

    #[test]
    fn whoever_swings_is_the_subject_beside_a_nearer_bystander() {
        let people = vec![person(400.0, 300.0, 1.0, |_| 0.0), person(300.0, 700.0, 1.0, swing)];
        assert_eq!(subject(people), 1);
    }

    #[test]
    fn spectators_whose_hands_slip_are_not() {
        // Half of a player's swing is hidden by the body; a spectator's hand jumps from frame to frame.
        let slips = |time: f64| if (time * 15.0) as i32 % 2 == 0 { 0.0 } else { 0.55 };
        let people =
            vec![person(75.0, 300.0, 1.0, slips), person(280.0, 600.0, 1.0, |time| 0.05 * swing(time))];
        assert_eq!(subject(people), 1);
    }

    #[test]
    fn of_two_who_swing_it_is_the_one_in_the_middle() {
        let people = vec![person(300.0, 60.0, 1.0, swing), person(300.0, 640.0, 1.0, swing)];
        assert_eq!(subject(people), 1);
    }
}
