//! Reading the court's lines: pictures of the clip without the people in them.

use crate::court::{self, Assumptions, Empty, Hidden, Reading, Shot, Shrink, Standing, Uprights};
use crate::geometry::Point2;
use crate::pose::{Motion, Pose, Track, feet_and_nose, guessed_feet_and_nose};
use crate::units::{FrameIndex, Seconds};
use crate::video::{Frame, seen_first};

/// So many pictures, spread over the clip, show the court without the people.
const PICTURES: usize = 11;

/// People reach beyond their landmarks by this share of their height.
const BEYOND: f64 = 0.12;

/// Takes the pictures from which the lines are read, beside another look at the clip.
pub(super) struct Sampler<'a> {
    tracks: &'a [Track],
    /// The player among them.
    person: usize,
    motion: &'a Motion,
    /// Places of the pictures that are still to come, last first.
    wanted: Vec<usize>,
    /// How much smaller they are made.
    shrink: Shrink,
    shots: Vec<Shot>,
    /// Feet and nose in each of these, wherever the feet are out of sight.
    guesses: Vec<Option<[Point2; 2]>>,
}

impl<'a> Sampler<'a> {
    /// Of a clip in which the people of `tracks` were followed; `motion` is that of the one of them who plays.
    pub fn new(tracks: &'a [Track], person: usize, motion: &'a Motion) -> Self {
        let n = motion.indices.len();
        let count = PICTURES.min(n);
        let mut wanted: Vec<usize> =
            (0..count).map(|i| motion.indices[(2 * i + 1) * n / (2 * count)].0).collect();
        wanted.reverse();
        Self { tracks, person, wanted, ..Self::idle(motion) }
    }

    /// Nothing to take.
    pub fn idle(motion: &'a Motion) -> Self {
        Self {
            tracks: &[],
            person: 0,
            motion,
            wanted: Vec::new(),
            shrink: Shrink::of(motion.size),
            shots: Vec::new(),
            guesses: Vec::new(),
        }
    }

    /// When the pictures are that it waits for.
    pub fn spans(&self) -> Vec<(Seconds, Seconds)> {
        let place = |index: &usize| self.motion.indices.binary_search(&FrameIndex(*index)).ok();
        let times = self.wanted.iter().filter_map(|index| Some(self.motion.times[place(index)?]));
        times.map(|time| (time, time)).collect()
    }

    /// Whether pictures are still to come.
    pub fn is_waiting(&self) -> bool {
        !self.wanted.is_empty()
    }

    /// The same pictures for somebody else to look at, each seen by this first.
    pub fn beside<'l, E>(
        &'l mut self,
        frames: &'l mut impl Iterator<Item = Result<Frame, E>>,
    ) -> impl Iterator<Item = Result<Frame, E>> {
        seen_first(frames, |frame| self.see(frame))
    }

    fn see(&mut self, frame: &Frame) {
        let mut is_wanted = false;
        while self.wanted.last().is_some_and(|next| *next <= frame.index.0) {
            self.wanted.pop();
            is_wanted = true;
        }
        if !is_wanted || frame.damaged {
            return;
        }
        let pose_of = |track: &'a Track| {
            let place = track.frames.binary_search_by_key(&frame.index, |seen| seen.index).ok()?;
            track.frames[place].pose.as_ref()
        };
        let player = self.tracks.get(self.person).and_then(pose_of);
        let shrink = self.shrink;
        let landmarks = |pose: &'a Pose| {
            move |landmark| Some((shrink.point(pose.point(landmark)), f64::from(pose.visibility(landmark))))
        };
        self.guesses.push(player.and_then(|pose| guessed_feet_and_nose(landmarks(pose))));
        let player = player.and_then(|pose| feet_and_nose(landmarks(pose)));
        let poses = self.tracks.iter().filter_map(pose_of);
        let people =
            poses.filter_map(|pose| Hidden::around(pose.points.iter().map(|p| shrink.point(*p)), BEYOND));
        let (people, picture) = (people.collect(), shrink.picture(&frame.picture));
        self.shots.push(Shot { frame: frame.index, picture, people, player });
    }

    /// What the lines in the pictures that were taken say, and what stands upright in them; `None` where none were.
    pub fn reading(self) -> Option<(Reading, Uprights)> {
        let Self { mut shots, guesses, shrink, .. } = self;
        // Feet that are never in sight are better guessed than left out: the court tells most of where the player stands by itself.
        let in_sight = shots.iter().any(|shot| shot.player.is_some());
        if !in_sight {
            shots.iter_mut().zip(guesses).for_each(|(shot, guess)| shot.player = guess);
        }
        let empty = Empty::of(&shots)?;
        // They fill much memory, and so does what follows.
        drop(shots);
        let known = if in_sight { Standing::unknown } else { Standing::guessed };
        let standing = empty.player.map(|[foot, head]| known(foot, head));
        let size = (empty.picture.width, empty.picture.height);
        let reading = court::read(&empty, standing, &Assumptions::of_size(size));
        Some((shrink.reading_back(reading), shrink.uprights_back(Uprights::of(&empty))))
    }

    /// Looks at what is left of the pictures as far as needed.
    ///
    /// # Errors
    /// The error of a picture that can't be read.
    pub fn look_on<E>(&mut self, frames: &mut impl Iterator<Item = Result<Frame, E>>) -> Result<(), E> {
        while self.is_waiting() {
            match frames.next() {
                Some(frame) => self.see(&frame?),
                None => break,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::TrackFrame;
    use crate::pose::landmark::COUNT;
    use crate::video::Picture;

    #[test]
    fn large_pictures_are_kept_smaller_with_all_that_is_known_of_them() {
        let (width, height) = (2560, 1440);
        let pose = Pose {
            points: (0..COUNT).map(|k| Point2::new(1000.5 + 2.0 * k as f64, 600.5)).collect(),
            visibility: vec![1.0; COUNT],
            world: Vec::new(),
            presence: 1.0,
        };
        let (index, time) = (FrameIndex(0), Seconds(0.0));
        let frames = vec![TrackFrame { index, time, duplicate: false, pose: Some(pose) }];
        let tracks = [Track { size: (width, height), frames }];
        let motion = Motion::from_track(&tracks[0]);
        let mut sampler = Sampler::new(&tracks, 0, &motion);
        let picture = Picture { width, height, rgb: vec![90; (3 * width * height) as usize] };
        sampler.see(&Frame { index, time, picture, duplicate: false, damaged: false });
        let shot = &sampler.shots[0];
        assert_eq!((shot.picture.width, shot.picture.height), (1280, 720));
        let nose = shot.player.unwrap()[1];
        assert_eq!(nose, Point2::new(500.0, 300.0));
        assert!((shot.people[0].from.x - 500.0).abs() < 1e-9 && (shot.people[0].to.x - 532.0).abs() < 1e-9);
        let (reading, _) = sampler.reading().unwrap();
        assert_eq!(reading.size, (width, height), "the reading is of the clip's own pictures");
    }
}
