//! Follows up to a few people through a clip, picture after picture.

use super::background::Background;
use super::body::{self, Colours};
use super::encounter::{Encounter, Verdict};
use super::finder::{Care, Models, Proposal, corners_of};
use super::landmarker::Reading;
use super::person::Person;
use super::region::{Circle, overlap};
use super::subject::{self, People};
use super::track::{Pose, Track, TrackFrame};
use crate::error::ErrorKind;
use crate::geometry::Point2;
use crate::model::card::Refinement;
use crate::model::{Image, ModelError};
use crate::units::{FrameIndex, Seconds};
use crate::video::{Frame, VideoError, ahead};

/// How often the detectors look for more people, seconds; in a long clip less often …
const SCAN: f64 = 1.0;
const SCAN_LONG: f64 = 2.0;
/// … and how often in the first second of a shot, seconds.
const SCAN_FIRST: f64 = 0.25;
const FIRST: f64 = 1.0;
/// How often they look while somebody was lost a short time ago, seconds …
const SCAN_LOST: f64 = 0.15;
/// … and what a short time is, seconds.
const LOST_LONG: f64 = 2.0;
/// How often the object detector looks where the person detector is enough otherwise: every so many times.
const SCAN_OBJECTS: f64 = 2.0;
/// Where nobody in sight is larger than this, somebody may have been overlooked; radius in heights of the picture.
const ALL_SMALL: f64 = 0.12;
/// How often parts of the picture are looked at for them, seconds.
const CLOSEST_ALL_SMALL: f64 = 5.0;
/// Below this radius the person detector misses people, pixels.
const SMALL: f64 = 70.0;
/// Someone who takes over a body that another person has is forgotten where they were seen in fewer pictures.
const BRIEF: usize = 30;
/// Such a person's box shares more than this with the other's (intersection over union).
const DOUBLE_OVERLAP: f64 = 0.5;
/// Two readings are exchanged between two people where that fits better by at least this much.
const EXCHANGE_MARGIN: f64 = 0.3;
/// Somebody new shares no more than this of the box of anybody in sight (intersection over union).
const NEW_OVERLAP: f64 = 0.35;
/// No more people than this are remembered of a shot.
const REMEMBERED: usize = 12;
/// Where all room is taken, people whose radius is this share of the largest one's get more room …
const COMPARABLE: f64 = 0.6;
/// … up to so many times as many people; and whoever is this many times as large as the smallest takes their place.
const MORE_ROOM: usize = 2;
const LARGER: f64 = 1.3;

/// How to follow.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Settings {
    /// How many people are followed at the same time, at least 1.
    pub people: usize,
    /// How the heat map sharpens landmarks; `None` leaves it to the card.
    pub refinement: Option<Refinement>,
    /// Somebody who is looked for until they are found, and never given up for others.
    pub seed: Option<Seed>,
    /// Whether the clip is so long that new people, and those who stand still, may be looked for less often.
    pub is_long: bool,
}

/// Where somebody stands whom a user has pointed at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seed {
    /// A pixel of the person.
    pub at: Point2,
    /// The first frame in which they stand there.
    pub from: FrameIndex,
}

impl Default for Settings {
    fn default() -> Self {
        Self { people: 3, refinement: Some(Refinement::Blend), seed: None, is_long: false }
    }
}

/// Following failed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FollowError {
    /// A model failed.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// The clip can't be read.
    #[error(transparent)]
    Video(#[from] VideoError),
}

impl FollowError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Model(error) => error.kind(),
            Self::Video(error) => error.kind(),
        }
    }
}

/// A picture that is to be followed.
#[derive(Debug, Clone, Copy)]
pub struct Shot<'a> {
    /// Number in the clip.
    pub index: FrameIndex,
    /// When it was taken.
    pub time: Seconds,
    /// Its pixels; all pictures of a clip have one size.
    pub image: Image<'a>,
    /// Whether it repeats the one before it.
    pub duplicate: bool,
}

/// Follows people through a clip.
#[derive(Debug)]
pub struct Follower<'m> {
    models: &'m mut Models,
    settings: Settings,
    people: Vec<Person>,
    encounters: Vec<Encounter>,
    /// Number of the next new person.
    next_id: usize,
    /// The clip's pictures so far, for people who come later.
    frames: Vec<TrackFrame>,
    /// The picture before, where it was passed over.
    passed: Option<(FrameIndex, Seconds)>,
    size: (u32, u32),
    last_scan: Option<Seconds>,
    last_objects: Option<Seconds>,
    last_closest: Option<Seconds>,
    last_seek: Option<Seconds>,
    background: Background,
    /// The shot that the last picture was of, and when it began.
    shot: usize,
    shot_start: Option<Seconds>,
}

impl<'m> Follower<'m> {
    /// A follower that has seen no picture yet.
    pub fn new(models: &'m mut Models, settings: Settings) -> Self {
        models.landmarker.set_refinement(settings.refinement);
        Self {
            models,
            settings,
            people: Vec::new(),
            encounters: Vec::new(),
            next_id: 0,
            frames: Vec::new(),
            passed: None,
            size: (0, 0),
            last_scan: None,
            last_objects: None,
            last_closest: None,
            last_seek: None,
            background: Background::default(),
            shot: 0,
            shot_start: None,
        }
    }

    /// Follows everybody into the next picture.
    ///
    /// # Errors
    /// [`ModelError`] where a model fails.
    pub fn push(&mut self, shot: Shot<'_>) -> Result<(), ModelError> {
        let number = self.background.push(shot.image, shot.time, shot.duplicate);
        self.follow(shot, number)
    }

    /// Follows everybody into the next picture, which is of the shot of this number.
    fn follow(&mut self, shot: Shot<'_>, number: usize) -> Result<(), ModelError> {
        self.size = (shot.image.width(), shot.image.height());
        if self.may_pass(shot.time, number) {
            self.passed = Some((shot.index, shot.time));
            return Ok(());
        }
        if shot.duplicate && !self.frames.is_empty() && self.passed.is_none() {
            for person in &mut self.people {
                let pose = person.frames.last().and_then(|frame| frame.pose.clone());
                person.record(shot.index, shot.time, true, pose);
            }
            self.remember(shot.index, shot.time, shot.duplicate);
            return Ok(());
        }
        if number != self.shot || self.shot_start.is_none() {
            self.begin_shot(number, shot.time);
        }
        let mut sights = self.continue_all(&shot)?;
        self.sort_out(&shot, &mut sights);
        let mut poses: Vec<Option<Pose>> = Vec::with_capacity(sights.len());
        for (person, sight) in self.people.iter_mut().zip(sights) {
            match sight {
                Some(Sight { reading, circle, .. }) => {
                    person.take(&reading, circle, shot.time);
                    poses.push(Some(reading.pose));
                }
                None => {
                    person.lose();
                    poses.push(None);
                }
            }
        }
        self.record_passed(&poses);
        if self.scan_is_due(shot.time) {
            self.scan(&shot, &mut poses)?;
        }
        self.seek_meant(&shot, &mut poses)?;
        let colours: Vec<Option<Colours>> =
            poses.iter().map(|pose| pose.as_ref().map(|pose| Colours::of(pose, shot.image))).collect();
        for (person, pose) in self.people.iter_mut().zip(poses) {
            person.record(shot.index, shot.time, shot.duplicate, pose);
        }
        self.watch_encounters(&colours, shot.time);
        for (person, colours) in self.people.iter_mut().zip(&colours) {
            let meets = self.encounters.iter().any(|encounter| encounter.ids().contains(&person.id()));
            if let Some(colours) = colours.as_ref().filter(|_| !meets) {
                person.look(colours);
            }
        }
        self.remember(shot.index, shot.time, shot.duplicate);
        Ok(())
    }

    /// Everybody who was followed.
    pub fn finish(mut self) -> People<'static> {
        self.record_passed(&[]);
        let size = self.size;
        let tracks = self.people.into_iter().map(|person| Track { size, frames: person.frames });
        People::new(tracks, self.background.finish())
    }

    /// Whether nobody needs to be looked at in the picture of this time and shot: all were seen in the one before, and hardly moved.
    fn may_pass(&self, time: Seconds, number: usize) -> bool {
        let mut in_sight = self.people.iter().filter(|person| person.active).peekable();
        let is_sought = self.settings.seed.is_some() && !self.people.iter().any(|person| person.is_meant);
        self.settings.is_long
            && self.passed.is_none()
            && number == self.shot
            && !is_sought
            && self.encounters.is_empty()
            && !self.has_freshly_lost(time)
            && in_sight.peek().is_some()
            && in_sight.all(Person::is_still)
    }

    /// Adds the picture that was passed over, if one was; `poses` are what was seen of everybody in the one after it.
    fn record_passed(&mut self, poses: &[Option<Pose>]) {
        let Some((index, time)) = self.passed.take() else { return };
        for (place, person) in self.people.iter_mut().enumerate() {
            person.record_passed(index, time, poses.get(place).and_then(Option::as_ref));
        }
        self.remember(index, time, false);
    }

    /// The pictures are of another shot from here: nobody goes on from the one before.
    fn begin_shot(&mut self, number: usize, time: Seconds) {
        (self.shot, self.shot_start) = (number, Some(time));
        (self.last_scan, self.last_objects, self.last_closest) = (None, None, None);
        self.encounters.clear();
        for person in self.people.iter_mut().filter(|person| person.shot != number) {
            person.cut_off();
        }
    }

    /// The people of this shot who are looked for.
    fn of_this_shot(&self) -> impl Iterator<Item = &Person> {
        self.people.iter().filter(|person| person.shot == self.shot && !person.given_up)
    }

    fn remember(&mut self, index: FrameIndex, time: Seconds, duplicate: bool) {
        self.frames.push(TrackFrame { index, time, duplicate, pose: None });
    }

    /// Looks where the people in sight should be now; what was seen of each, if anything.
    fn continue_all(&mut self, shot: &Shot<'_>) -> Result<Vec<Option<Sight>>, ModelError> {
        let active: Vec<usize> = (0..self.people.len()).filter(|i| self.people[*i].active).collect();
        let regions: Vec<_> = active
            .iter()
            .map(|i| self.models.landmarker.region(&self.people[*i].steady(), self.people[*i].corners()))
            .collect();
        let readings = self.models.read_bodies(shot.image, &regions)?;
        let mut sights = vec![None; self.people.len()];
        for (index, reading) in active.into_iter().zip(readings) {
            let person = &self.people[index];
            let mut sight = Sight::of(person, reading, shot);
            if sight.is_none() {
                // The region may have been off: once more from where the person should be.
                let region = self.models.landmarker.region(&person.expected(shot.time), None);
                let second = self.models.read_body(shot.image, region)?;
                sight = Sight::of(&self.people[index], second, shot);
            }
            sights[index] = sight;
        }
        Ok(sights)
    }

    /// Where people come close, sees to it that each keeps their own body: a body that was read for two is left to the one
    /// whom it fits better, and readings that fit better the other way round are exchanged.
    fn sort_out(&mut self, shot: &Shot<'_>, sights: &mut Vec<Option<Sight>>) {
        let misfit = |person: &Person, sight: &Sight| person.misfit(&sight.circle, &sight.colours, shot.time);
        for index in 0..sights.len() {
            let Some(sight) = &sights[index] else { continue };
            // Whom this person has met and who isn't seen now: is this theirs?
            let met = (0..sights.len()).find(|other| {
                let (own, hidden) = (&self.people[index], &self.people[*other]);
                sights[*other].is_none()
                    && self.encounters.iter().any(|encounter| encounter.is_of(own.id(), hidden.id()))
                    && misfit(hidden, sight) + EXCHANGE_MARGIN < misfit(own, sight)
            });
            if let Some(other) = met {
                sights.swap(index, other);
            }
        }
        let mut forgotten = Vec::new();
        for first in 0..sights.len() {
            for second in first + 1..sights.len() {
                let (Some(a), Some(b)) = (&sights[first], &sights[second]) else { continue };
                let (one, two) = (&self.people[first], &self.people[second]);
                let radius = one.circle().radius().min(two.circle().radius());
                // Somebody who was taken up on a body that is followed already shares its box, whatever the points say.
                let newcomer = one.seen.min(two.seen) < BRIEF
                    && corners_of(&a.reading.pose)
                        .zip(corners_of(&b.reading.pose))
                        .is_some_and(|(a, b)| overlap(a, b) > DOUBLE_OVERLAP);
                if !newcomer && !body::is_same(&a.reading.pose, &b.reading.pose, radius) {
                    let crossed = misfit(one, b) + misfit(two, a) + EXCHANGE_MARGIN
                        < misfit(one, a) + misfit(two, b)
                        && one.continues_in(&b.circle, shot.time)
                        && two.continues_in(&a.circle, shot.time);
                    if crossed {
                        sights.swap(first, second);
                    }
                    continue;
                }
                // How much better each reading fits its own person than the other one.
                let own_a = misfit(two, a) - misfit(one, a);
                let own_b = misfit(one, b) - misfit(two, b);
                let loser = if one.seen.min(two.seen) < BRIEF && one.seen != two.seen {
                    if one.seen < two.seen { first } else { second }
                } else if own_a.min(own_b) > EXCHANGE_MARGIN {
                    // One hides most of the other, but they are two still.
                    continue;
                } else if own_a < own_b {
                    first
                } else {
                    second
                };
                sights[loser] = None;
                if self.people[loser].seen < BRIEF {
                    forgotten.push(loser);
                }
            }
        }
        forgotten.sort_unstable();
        forgotten.dedup();
        for index in forgotten.into_iter().rev() {
            self.people.remove(index);
            sights.remove(index);
        }
    }

    /// Notes who meets, and decides who is who where people who met are apart again.
    fn watch_encounters(&mut self, colours: &[Option<Colours>], time: Seconds) {
        let place = |people: &[Person], id: usize| people.iter().position(|person| person.id() == id);
        let mut going_on = Vec::new();
        for mut encounter in std::mem::take(&mut self.encounters) {
            let [a, b] = encounter.ids();
            let (Some(a), Some(b)) = (place(&self.people, a), place(&self.people, b)) else { continue };
            let verdict = encounter.look([&self.people[a], &self.people[b]], [colours[a], colours[b]], time);
            match verdict {
                Verdict::GoesOn => going_on.push(encounter),
                Verdict::Kept => {}
                Verdict::Exchanged(from) => {
                    let (low, high) = (a.min(b), a.max(b));
                    let (head, tail) = self.people.split_at_mut(high);
                    head[low].exchange(&mut tail[0], from);
                }
            }
        }
        self.encounters = going_on;
        for first in 0..self.people.len() {
            for second in first + 1..self.people.len() {
                let (a, b) = (&self.people[first], &self.people[second]);
                if self.encounters.iter().any(|encounter| encounter.is_of(a.id(), b.id())) {
                    continue;
                }
                self.encounters.extend(Encounter::begin(a, b, time));
            }
        }
    }

    fn scan_is_due(&self, time: Seconds) -> bool {
        let Some(last) = self.last_scan else { return true };
        let nobody = self.people.iter().all(|person| !person.active);
        let first = self.shot_start.is_none_or(|start| (time - start).0 < FIRST);
        let every = match (self.has_freshly_lost(time) || nobody, first) {
            (true, _) => SCAN_LOST,
            (false, true) => SCAN_FIRST,
            (false, false) => self.usual_scan(),
        };
        (time - last).0 >= every
    }

    /// Whether somebody was lost a short time ago.
    fn has_freshly_lost(&self, time: Seconds) -> bool {
        self.of_this_shot().any(|person| !person.active && (time - person.last_seen()).0 < LOST_LONG)
    }

    /// How often new people are looked for, seconds.
    fn usual_scan(&self) -> f64 {
        if self.settings.is_long { SCAN_LONG } else { SCAN }
    }

    /// Lists the people in the picture, finds the lost among them and begins to follow new ones.
    fn scan(&mut self, shot: &Shot<'_>, poses: &mut Vec<Option<Pose>>) -> Result<(), ModelError> {
        self.last_scan = Some(shot.time);
        let objects_wait = SCAN_OBJECTS * self.usual_scan();
        let objects_waited = self.last_objects.is_none_or(|last| (shot.time - last).0 >= objects_wait);
        let small_lost = self.of_this_shot().any(|p| !p.active && p.circle().radius() < SMALL);
        let largest =
            self.people.iter().filter(|p| p.active).map(|p| p.circle().radius()).fold(0.0, f64::max);
        let all_small = largest < ALL_SMALL * f64::from(shot.image.height());
        let wait = if largest > 0.0 { CLOSEST_ALL_SMALL } else { SCAN };
        let closest_waited = self.last_closest.is_none_or(|last| (shot.time - last).0 >= wait);
        let care = if all_small && closest_waited {
            self.last_closest = Some(shot.time);
            Care::Closest
        } else if objects_waited || small_lost {
            Care::Both
        } else {
            Care::Quick
        };
        if care > Care::Quick {
            self.last_objects = Some(shot.time);
        }
        let proposals = self.models.propose(shot.image, care)?;
        let mut found: Vec<(Reading, Circle)> = Vec::new();
        for proposal in proposals {
            if self.is_followed(&proposal, poses) {
                continue;
            }
            let Some(reading) = self.models.settle(shot.image, &proposal)? else { continue };
            let Some(circle) = reading.circle else { continue };
            let doubled = poses
                .iter()
                .flatten()
                .chain(found.iter().map(|(reading, _)| &reading.pose))
                .any(|known| body::is_same(known, &reading.pose, circle.radius()));
            if !doubled {
                found.push((reading, circle));
            }
        }
        found.sort_by(|(_, a), (_, b)| b.radius().total_cmp(&a.radius()));
        for (reading, circle) in found {
            self.welcome(shot, reading, circle, poses);
        }
        Ok(())
    }

    /// Looks for the one whom the user has pointed at, until they are found: among those in sight, or by a closer look around
    /// the place.
    fn seek_meant(&mut self, shot: &Shot<'_>, poses: &mut Vec<Option<Pose>>) -> Result<(), ModelError> {
        let Some(seed) = self.settings.seed.filter(|seed| shot.index >= seed.from) else { return Ok(()) };
        if self.people.iter().any(|person| person.is_meant) {
            return Ok(());
        }
        let there = |pose: &Pose| subject::miss(pose, seed.at);
        let nearest = (0..poses.len())
            .filter_map(|i| Some((i, there(poses[i].as_ref()?)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((index, _)) = nearest {
            self.people[index].is_meant = true;
            return Ok(());
        }
        if self.last_seek.is_some_and(|last| (shot.time - last).0 < SCAN_LOST) {
            return Ok(());
        }
        self.last_seek = Some(shot.time);
        for proposal in self.models.propose_around(shot.image, seed.at)? {
            let Some(reading) = self.models.settle(shot.image, &proposal)? else { continue };
            let Some(circle) = reading.circle.filter(|_| there(&reading.pose).is_some()) else { continue };
            let mut person =
                Person::new(self.next_id, self.shot, self.frames.clone(), &reading, circle, shot.time);
            person.is_meant = true;
            self.next_id += 1;
            self.people.push(person);
            poses.push(Some(reading.pose));
            break;
        }
        Ok(())
    }

    /// Whether a proposal is of somebody who is already followed in this picture.
    fn is_followed(&self, proposal: &Proposal, poses: &[Option<Pose>]) -> bool {
        self.people.iter().zip(poses).filter(|(_, pose)| pose.is_some()).any(|(person, _)| {
            let own = person.circle();
            let ratio = proposal.circle.radius() / own.radius();
            own.centre.distance(proposal.circle.centre) < 0.35 * own.radius() && (0.6..=1.67).contains(&ratio)
        })
    }

    /// A body that nobody is followed on: somebody lost, or somebody new where there is room.
    fn welcome(&mut self, shot: &Shot<'_>, reading: Reading, circle: Circle, poses: &mut Vec<Option<Pose>>) {
        let colours = Colours::of(&reading.pose, shot.image);
        let lost = (0..self.people.len())
            .filter(|i| {
                let person = &self.people[*i];
                let is_sought = !person.active && !person.given_up && person.shot == self.shot;
                is_sought && person.can_be(&circle, &colours, shot.time)
            })
            .map(|i| (i, self.people[i].misfit(&circle, &colours, shot.time)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((index, _)) = lost {
            if self.people[index].must_wait(shot.time) {
                return;
            }
            self.people[index].take(&reading, circle, shot.time);
            poses[index] = Some(reading.pose);
            return;
        }
        // Whoever shares most of a box with somebody in sight is more likely a mixture of two than somebody new.
        let corners = corners_of(&reading.pose);
        let double = self.people.iter().filter(|person| person.active).any(|person| {
            person.corners().zip(corners).is_some_and(|(own, new)| overlap(own, new) > NEW_OVERLAP)
        });
        let remembered = self.people.iter().filter(|person| person.shot == self.shot).count();
        if double || remembered >= REMEMBERED || !self.make_room(circle.radius(), poses) {
            return;
        }
        let id = self.next_id;
        self.next_id += 1;
        self.people.push(Person::new(id, self.shot, self.frames.clone(), &reading, circle, shot.time));
        poses.push(Some(reading.pose));
    }

    /// Whether somebody new of this size can be followed; where all room is taken, somebody much smaller is given up for it.
    fn make_room(&mut self, radius: f64, poses: &mut [Option<Pose>]) -> bool {
        let in_sight = || self.people.iter().enumerate().filter(|(_, person)| person.active);
        let (active, room) = (in_sight().count(), self.settings.people.max(1));
        let largest = in_sight().map(|(_, person)| person.circle().radius()).fold(radius, f64::max);
        if active < room || (radius >= COMPARABLE * largest && active < MORE_ROOM * room) {
            return true;
        }
        let smallest = in_sight()
            .filter(|(_, person)| !person.is_meant)
            .map(|(i, person)| (i, person.circle().radius()))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((index, _)) = smallest.filter(|(_, smallest)| radius >= LARGER * smallest) else {
            return false;
        };
        self.people[index].lose();
        self.people[index].given_up = true;
        poses[index] = None;
        true
    }
}

/// What was seen of a person in a picture.
#[derive(Debug, Clone)]
struct Sight {
    reading: Reading,
    circle: Circle,
    colours: Colours,
}

impl Sight {
    /// The reading, if it can be of this person.
    fn of(person: &Person, reading: Option<Reading>, shot: &Shot<'_>) -> Option<Self> {
        let reading = reading?;
        let circle = reading.circle?;
        let colours = Colours::of(&reading.pose, shot.image);
        person.continues_in(&circle, shot.time).then_some(Self { reading, circle, colours })
    }
}

/// Follows everybody through a clip. Pictures are decoded, and their background is followed, in a thread of its own, a few ahead.
///
/// `progress` is told how many pictures are done; where it fails, following ends with its error.
///
/// # Errors
/// [`FollowError`] where a model fails, the clip can't be read, or `progress` fails.
pub fn follow_clip<I>(
    frames: &mut I,
    models: &mut Models,
    settings: Settings,
    mut progress: impl FnMut(usize) -> Result<(), VideoError>,
) -> Result<People<'static>, FollowError>
where
    I: Iterator<Item = Result<Frame, VideoError>> + Send,
{
    let mut follower = Follower::new(models, settings);
    let mut background = Background::default();
    let numbered = frames.map(|frame| -> Result<(Frame, usize), FollowError> {
        let frame = frame?;
        let number = background.push(image_of(&frame)?, frame.time, frame.duplicate);
        Ok((frame, number))
    });
    ahead(numbered, |frames| -> Result<(), FollowError> {
        for (done, frame) in frames.enumerate() {
            let (frame, number) = frame?;
            let (index, time, duplicate) = (frame.index, frame.time, frame.duplicate);
            follower.follow(Shot { index, time, image: image_of(&frame)?, duplicate }, number)?;
            progress(done + 1)?;
        }
        Ok(())
    })?;
    follower.background = background;
    Ok(follower.finish())
}

fn image_of(frame: &Frame) -> Result<Image<'_>, ModelError> {
    Image::new(frame.picture.width, frame.picture.height, &frame.picture.rgb)
}
