//! Follows one person, who was followed through a clip in single pictures, through all pictures of a stretch of it.

use std::ops::Range;

use super::follow::{FollowError, Settings, Shot};
use super::landmarker::{Landmarker, Reading};
use super::person::Person;
use super::region::{Circle, bounds, circle_of};
use super::track::{Pose, Track, TrackFrame};
use crate::model::{Image, ModelError, Region};
use crate::units::{FrameIndex, Seconds};
use crate::video::{Frame, VideoError};

/// Between two pictures farther apart than this nobody says where the person is (seconds).
const LONGEST_STEP: f64 = 0.4;

/// A body whose middle is farther than this from where the person is known to be is somebody else's, radii …
const ASTRAY: f64 = 0.6;
/// … and so is one that is larger or smaller by this.
const GROWTH: f64 = 1.6;

/// Where the player moves slowly, at least so many frames a second are looked at: the filter that smooths landmarks leaves no more of
/// the movement than these show, and those between them are bridged.
const LEAST_RATE: f64 = 25.0;

/// Where a person was seen in single pictures of a clip, and in which others they are looked for.
#[derive(Debug)]
pub struct Guide<'a> {
    track: &'a Track,
    care: Care,
    /// Where the player moves slowly, every so many-th frame is looked at.
    step: usize,
    seen: Vec<(Seconds, Circle, [f64; 4])>,
}

/// How much care stretches of a clip need, each from one time to another.
#[derive(Debug, Clone, Default)]
pub struct Care {
    /// When the player may move fast, so that every frame is looked at; elsewhere fewer are enough.
    pub fast: Vec<(Seconds, Seconds)>,
    /// When all frames are looked at alike, those that were seen singly too, so that none differs from its neighbours by where it was
    /// looked at.
    pub alike: Vec<(Seconds, Seconds)>,
}

fn are_within(spans: &[(Seconds, Seconds)], time: Seconds) -> bool {
    spans.iter().any(|(from, to)| (*from..=*to).contains(&time))
}

/// How far apart frames are that are looked at where the player moves slowly, in a clip of so many frames a second.
pub fn slow_step(rate: f64) -> usize {
    (rate / LEAST_RATE).floor().max(1.0) as usize
}

impl<'a> Guide<'a> {
    /// The pictures of a track in which the person was seen; the clip has `rate` pictures a second.
    pub fn of(track: &'a Track, rate: f64, care: Care) -> Self {
        let seen = track.frames.iter().filter_map(|frame| {
            let pose = frame.pose.as_ref()?;
            Some((frame.time, circle_of(pose)?, bounds(pose, 0.2)?))
        });
        Self { track, care, step: slow_step(rate), seen: seen.collect() }
    }

    /// Whether a frame is to be looked at; `last` is the number of the one that was looked at before it in the same stretch.
    fn is_due(&self, index: FrameIndex, time: Seconds, last: Option<usize>) -> bool {
        last.is_none_or(|last| index.0 >= last + self.step)
            || are_within(&self.care.fast, time)
            || self.known(index).is_some()
    }

    /// In how many pictures of a range the network is asked.
    pub fn looks(&self, range: &Range<usize>) -> usize {
        let mut last = None;
        let is_asked = |frame: &&TrackFrame| {
            let is_due = self.is_due(frame.index, frame.time, last);
            if is_due {
                last = Some(frame.index.0);
            }
            is_due && self.known(frame.index).is_none()
        };
        self.track.frames.get(range.clone()).unwrap_or_default().iter().filter(is_asked).count()
    }

    /// The person as a single picture has shown them, where it need not be looked at again.
    fn known(&self, index: FrameIndex) -> Option<&'a Pose> {
        let frame = self.track.frames.get(index.0).filter(|frame| frame.index == index)?;
        frame.pose.as_ref().filter(|pose| pose.is_seen() && !are_within(&self.care.alike, frame.time))
    }

    /// The person's circle and box at a time, between the pictures next to it; none where they are too far apart.
    fn at(&self, time: Seconds) -> Option<(Circle, [f64; 4])> {
        let after = self.seen.partition_point(|(t, ..)| *t < time);
        let near = |place: Option<usize>| {
            place.and_then(|i| self.seen.get(i)).filter(|(t, ..)| (*t - time).abs().0 <= LONGEST_STEP)
        };
        match (near(after.checked_sub(1)), near(Some(after))) {
            (Some((from, a, box_a)), Some((to, b, box_b))) => {
                let share = ((time - *from).0 / (*to - *from).0.max(1e-9)).clamp(0.0, 1.0);
                let circle = Circle { centre: a.centre.lerp(b.centre, share), top: a.top.lerp(b.top, share) };
                let corners = std::array::from_fn(|k| box_a[k] + share * (box_b[k] - box_a[k]));
                Some((circle, corners))
            }
            (Some((_, circle, corners)), None) | (None, Some((_, circle, corners))) => {
                Some((*circle, *corners))
            }
            (None, None) => None,
        }
    }
}

/// Follows the person closely.
struct Closely<'a> {
    landmarker: &'a mut Landmarker,
    guide: &'a Guide<'a>,
    person: Option<Person>,
}

impl Closely<'_> {
    /// The person in the next picture.
    fn push(&mut self, shot: &Shot<'_>) -> Result<Option<Pose>, ModelError> {
        if let Some(known) = self.guide.known(shot.index) {
            return Ok(Some(known.clone()));
        }
        let guide = self.guide.at(shot.time);
        if let Some(person) = &self.person {
            let regions = [
                self.landmarker.region(&person.steady(), person.corners()),
                self.landmarker.region(&person.expected(shot.time), None),
            ];
            for region in regions {
                let reading = self.read(shot, region)?;
                if let Some((reading, circle)) = self.if_theirs(reading, guide, shot) {
                    return Ok(Some(self.take(reading, circle, shot)));
                }
            }
            if let Some(person) = &mut self.person {
                person.lose();
            }
        }
        let Some((circle, corners)) = guide else { return Ok(None) };
        // Afresh from where the person is known to be; once more from what was seen there.
        let region = self.landmarker.region(&circle, Some(corners));
        let Some(first) = self.read(shot, region)? else { return Ok(None) };
        let Some(circle) = first.circle else { return Ok(None) };
        let region = self.landmarker.region(&circle, bounds(&first.pose, 0.2));
        let second = self.read(shot, region)?;
        self.person = None;
        Ok(self.if_theirs(second, guide, shot).map(|(reading, circle)| self.take(reading, circle, shot)))
    }

    /// A body in a region.
    fn read(&mut self, shot: &Shot<'_>, region: Region) -> Result<Option<Reading>, ModelError> {
        Ok(self.landmarker.bodies(shot.image, &[region])?.pop().flatten())
    }

    /// A reading, if it can be the person's.
    fn if_theirs(
        &self,
        reading: Option<Reading>,
        guide: Option<(Circle, [f64; 4])>,
        shot: &Shot<'_>,
    ) -> Option<(Reading, Circle)> {
        let reading = reading?;
        let circle = reading.circle?;
        let continues = self.person.as_ref().is_none_or(|person| person.continues_in(&circle, shot.time));
        let is_theirs = match (guide, circle_of(&reading.pose)) {
            (Some((known, _)), Some(own)) => {
                let ratio = own.radius() / known.radius().max(1e-6);
                own.centre.distance(known.centre) <= ASTRAY * known.radius()
                    && (1.0 / GROWTH..=GROWTH).contains(&ratio)
            }
            (Some(_), None) => false,
            (None, _) => true,
        };
        (continues && is_theirs).then_some((reading, circle))
    }

    fn take(&mut self, reading: Reading, circle: Circle, shot: &Shot<'_>) -> Pose {
        match &mut self.person {
            Some(person) => person.take(&reading, circle, shot.time),
            None => self.person = Some(Person::new(0, 0, Vec::new(), &reading, circle, shot.time)),
        }
        reading.pose
    }
}

/// What was seen of one person.
#[derive(Debug, Default)]
pub struct SeenClosely {
    /// The pictures in which they were looked for, with their pose where they were found.
    pub frames: Vec<TrackFrame>,
    /// How many pictures were read.
    pub read: usize,
    /// How many of them repeat the one before.
    pub duplicates: usize,
}

/// Follows the person whom `guide` shows through pictures of a clip, where each stretch of pictures that follow one another is
/// begun afresh. `go_on` is called after each picture; where it fails, following ends with its error.
///
/// # Errors
/// [`FollowError`] where a model fails, the clip can't be read, or `go_on` fails.
pub fn follow_closely(
    frames: impl Iterator<Item = Result<Frame, VideoError>>,
    landmarker: &mut Landmarker,
    settings: &Settings,
    guide: &Guide<'_>,
    mut go_on: impl FnMut() -> Result<(), VideoError>,
) -> Result<SeenClosely, FollowError> {
    landmarker.set_refinement(settings.refinement);
    let mut closely = Closely { landmarker, guide, person: None };
    let mut seen = SeenClosely::default();
    // The picture before, and whether it was looked at.
    let mut before: Option<(usize, bool)> = None;
    for frame in frames {
        let frame = frame?;
        let (index, time, duplicate) = (frame.index, frame.time, frame.duplicate);
        before = before.filter(|(before, _)| before + 1 == index.0);
        if before.is_none() {
            closely.person = None;
        }
        let last = seen.frames.last().filter(|_| before.is_some());
        let pose = match last {
            // A repeat shows what the picture before it has shown, or is as little needed.
            Some(last) if duplicate => before.is_some_and(|(_, looked)| looked).then(|| last.pose.clone()),
            last if guide.is_due(index, time, last.map(|last| last.index.0)) => {
                let picture = &frame.picture;
                let image = Image::new(picture.width, picture.height, &picture.rgb)?;
                Some(closely.push(&Shot { index, time, image, duplicate })?)
            }
            _ => None,
        };
        before = Some((index.0, pose.is_some()));
        seen.frames.extend(pose.map(|pose| TrackFrame { index, time, duplicate, pose }));
        seen.read += 1;
        seen.duplicates += usize::from(duplicate);
        go_on()?;
    }
    Ok(seen)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point2;
    use crate::pose::landmark::COUNT;

    #[test]
    fn what_a_single_frame_has_shown_need_not_be_looked_at_again() {
        let pose = Pose {
            points: vec![Point2::new(50.0, 50.0); COUNT],
            visibility: vec![1.0; COUNT],
            world: Vec::new(),
            presence: 1.0,
        };
        let frame = |i: usize| TrackFrame {
            index: FrameIndex(i),
            time: Seconds(i as f64 / 60.0),
            duplicate: false,
            pose: i.is_multiple_of(5).then(|| pose.clone()),
        };
        let mut track = Track { size: (100, 100), frames: (0..20).map(frame).collect() };
        // This one was passed over.
        track.frames[3].pose = Some(pose.half_way(&pose));
        let care = Care { alike: vec![(Seconds(0.15), Seconds(0.2))], ..Care::default() };
        let guide = Guide::of(&track, 60.0, care);
        let known: Vec<usize> = (0..22).filter(|i| guide.known(FrameIndex(*i)).is_some()).collect();
        assert_eq!(known, [0, 5, 15]);
    }

    #[test]
    fn every_frame_is_looked_at_where_the_player_moves_fast_and_every_second_elsewhere() {
        let frame = |i: usize| TrackFrame {
            index: FrameIndex(i),
            time: Seconds(i as f64 / 60.0),
            duplicate: false,
            pose: None,
        };
        let track = Track { size: (100, 100), frames: (0..20).map(frame).collect() };
        let care = Care { fast: vec![(Seconds(0.115), Seconds(0.19))], ..Care::default() };
        let guide = Guide::of(&track, 60.0, care);
        let mut looked: Vec<usize> = Vec::new();
        for frame in &track.frames {
            if guide.is_due(frame.index, frame.time, looked.last().copied()) {
                looked.push(frame.index.0);
            }
        }
        assert_eq!(looked, [0, 2, 4, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19]);
        assert_eq!(guide.looks(&(0..20)), looked.len());
        assert_eq!([24.0, 30.0, 50.0, 59.94, 120.0].map(slow_step), [1, 1, 2, 2, 4]);
    }
}
