//! Follows one person, who was followed through a clip in single pictures, through all pictures of a stretch of it.

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

/// Where a person was seen in single pictures of a clip.
#[derive(Debug)]
pub struct Guide<'a> {
    track: &'a Track,
    /// When all frames are looked at alike, those that were seen singly too.
    alike: Vec<(Seconds, Seconds)>,
    seen: Vec<(Seconds, Circle, [f64; 4])>,
}

impl<'a> Guide<'a> {
    /// The pictures of a track in which the person was seen. From the first to the second time of each of `alike` these are looked at
    /// once more with all others, so that none differs from its neighbours by where it was looked at.
    pub fn of(track: &'a Track, alike: Vec<(Seconds, Seconds)>) -> Self {
        let seen = track.frames.iter().filter_map(|frame| {
            let pose = frame.pose.as_ref()?;
            Some((frame.time, circle_of(pose)?, bounds(pose, 0.2)?))
        });
        Self { track, alike, seen: seen.collect() }
    }

    /// The person as a single picture has shown them, where it need not be looked at again.
    fn known(&self, index: FrameIndex) -> Option<&'a Pose> {
        let frame = self.track.frames.get(index.0).filter(|frame| frame.index == index)?;
        let is_again = |(from, to): &(Seconds, Seconds)| (*from..=*to).contains(&frame.time);
        frame.pose.as_ref().filter(|_| !self.alike.iter().any(is_again))
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
) -> Result<Vec<TrackFrame>, FollowError> {
    landmarker.set_refinement(settings.refinement);
    let mut closely = Closely { landmarker, guide, person: None };
    let mut found: Vec<TrackFrame> = Vec::new();
    for frame in frames {
        let frame = frame?;
        let last = found.last().filter(|last| last.index.0 + 1 == frame.index.0);
        if last.is_none() {
            closely.person = None;
        }
        let pose = match last {
            Some(last) if frame.duplicate => last.pose.clone(),
            _ => {
                let picture = &frame.picture;
                let image = Image::new(picture.width, picture.height, &picture.rgb)?;
                let (index, time, duplicate) = (frame.index, frame.time, frame.duplicate);
                closely.push(&Shot { index, time, image, duplicate })?
            }
        };
        found.push(TrackFrame { index: frame.index, time: frame.time, duplicate: frame.duplicate, pose });
        go_on()?;
    }
    Ok(found)
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
        let track = Track { size: (100, 100), frames: (0..20).map(frame).collect() };
        let guide = Guide::of(&track, vec![(Seconds(0.15), Seconds(0.2))]);
        let known: Vec<usize> = (0..22).filter(|i| guide.known(FrameIndex(*i)).is_some()).collect();
        assert_eq!(known, [0, 5, 15]);
    }
}
