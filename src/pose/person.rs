//! One person while being followed.

use super::body::Colours;
use super::landmark::{Joint, Side};
use super::landmarker::Reading;
use super::one_euro::{Cutoffs, OneEuro};
use super::region::{Circle, bounds};
use super::track::{Pose, TrackFrame};
use crate::geometry::Point2;
use crate::units::{FrameIndex, Seconds};

/// How the region is steadied; the divisor of its values is the circle's diameter.
const STEADY: Cutoffs = Cutoffs { minimum: 0.01, slope: 10.0, speed: 1.0 };
/// How far the circle's centre may move from one picture to the next beyond its own speed, in radii …
const JUMP: f64 = 0.35;
/// … and further for each second between the pictures, in radii per second.
const JUMP_RATE: f64 = 4.0;
/// How much a radius may grow or shrink from one picture to the next.
const GROWTH: f64 = 1.5;
/// How long a lost person is taken to go on moving, seconds.
const COAST: f64 = 0.5;
/// How far around its expected place a lost person is taken for the same when found again, in radii …
const REJOIN: f64 = 0.6;
/// … how that grows, in radii per second …
const REJOIN_RATE: f64 = 3.0;
/// … and where it ends, in radii.
const REJOIN_MOST: f64 = 8.0;
/// How much the size of one person varies from one sight to another, as the logarithm of the radius, and the colours of
/// their clothes (1 standard deviation each).
const SIZE_SPREAD: f64 = 0.2;
const CLOTHES_SPREAD: f64 = 0.06;
/// Size and clothes together may be this many standard deviations off, right after a person was lost …
const UNLIKE: f64 = 3.5;
/// … and after a second, when the place says little.
const UNLIKE_LATER: f64 = 2.0;
/// Nobody is taken up again sooner after a cut: gaps of up to 0.15 s are bridged.
const AFTER_CUT: Seconds = Seconds(0.2);
/// How fast the remembered colours follow the seen ones, share a picture.
const COLOUR_SHARE: f32 = 0.05;
/// How fast the remembered speed follows the seen one, seconds.
const SPEED_MEMORY: f64 = 0.1;

/// Who moves hips, hands and feet less than this from one picture to the next stands still, radii per second …
const STILL: f64 = 0.6;
/// … and who has moved them less than this over a picture that was passed over was between the two places in it, radii.
const PASSED: f64 = 0.15;
/// What moves in somebody who doesn't stand still.
const MOVING: [Joint; 3] = [Joint::Wrist, Joint::Hip, Joint::Ankle];

/// Weight of a difference in colours (0 to 1) against one in place (radii).
pub(super) const COLOUR_WEIGHT: f64 = 6.0;
/// How fast a last place loses weight, 1/s …
const MISFIT_FADING: f64 = 1.5;
/// … and where it is no worse, in radii.
const MISFIT_MOST: f64 = 2.0;
/// How far back the lasting speed looks, seconds.
const LASTING_MEMORY: f64 = 0.5;

/// A person with all that was seen of them so far.
#[derive(Debug, Clone)]
pub struct Person {
    id: usize,
    /// Every picture since the clip's first.
    pub frames: Vec<TrackFrame>,
    /// Whether the person was seen in the last picture.
    pub active: bool,
    /// Number of pictures with a pose.
    pub seen: usize,
    /// The shot of the clip in which the person was seen; nobody is followed from one into another.
    pub shot: usize,
    /// Whether the person made room for somebody larger and isn't looked for any more.
    pub given_up: bool,
    /// Whether the clip was cut while they were in sight: then they may be anywhere.
    is_cut_off: bool,
    /// Whether this is the one whom a user has pointed at.
    pub is_meant: bool,
    circle: Circle,
    steady: Circle,
    corners: Option<[f64; 4]>,
    time: Seconds,
    /// Speed of the circle's centre, pixels per second.
    speed: (f64, f64),
    /// The same over a longer time.
    lasting_speed: (f64, f64),
    filter: OneEuro<4>,
    colours: Option<Colours>,
}

impl Person {
    /// A person first seen in the picture that comes next after `frames` (which have no pose), in the shot of this number.
    pub fn new(
        id: usize,
        shot: usize,
        frames: Vec<TrackFrame>,
        reading: &Reading,
        circle: Circle,
        time: Seconds,
    ) -> Self {
        let mut person = Self {
            id,
            frames,
            active: true,
            seen: 0,
            shot,
            given_up: false,
            is_cut_off: false,
            is_meant: false,
            circle,
            steady: circle,
            corners: None,
            time,
            speed: (0.0, 0.0),
            lasting_speed: (0.0, 0.0),
            filter: OneEuro::new(STEADY),
            colours: None,
        };
        person.take(reading, circle, time);
        person
    }

    /// A number that no other person of the clip has.
    pub fn id(&self) -> usize {
        self.id
    }

    /// Speed of the circle's centre over the last half second, pixels per second.
    pub fn lasting_speed(&self) -> (f64, f64) {
        self.lasting_speed
    }

    /// The remembered colours.
    pub fn colours(&self) -> Option<Colours> {
        self.colours
    }

    /// The circle as it was last seen.
    pub fn circle(&self) -> Circle {
        self.circle
    }

    /// Box of the last pose's visible points.
    pub fn corners(&self) -> Option<[f64; 4]> {
        self.corners
    }

    /// When the person was last seen.
    pub fn last_seen(&self) -> Seconds {
        self.time
    }

    /// The circle to look at next while the person is in sight.
    pub fn steady(&self) -> Circle {
        self.steady
    }

    /// Where the circle should be at a time, by its last place and speed.
    pub fn expected(&self, time: Seconds) -> Circle {
        let span = (time - self.time).0.clamp(0.0, COAST);
        let moved = |p: Point2| Point2::new(p.x + self.speed.0 * span, p.y + self.speed.1 * span);
        Circle { centre: moved(self.circle.centre), top: moved(self.circle.top) }
    }

    /// Whether a circle can be this person's in the next picture.
    pub fn continues_in(&self, circle: &Circle, time: Seconds) -> bool {
        let span = (time - self.time).0.max(0.0);
        let ratio = circle.radius() / self.circle.radius().max(1e-6);
        let limit = (JUMP + JUMP_RATE * span) * self.circle.radius();
        let away = circle
            .centre
            .distance(self.expected(time).centre)
            .min(circle.centre.distance(self.circle.centre));
        (1.0 / GROWTH..=GROWTH).contains(&ratio) && away <= limit
    }

    /// How badly a reading fits what is known of this person; 0 fits perfectly, 1 is bad.
    pub fn misfit(&self, circle: &Circle, colours: &Colours, time: Seconds) -> f64 {
        let radius = self.circle.radius();
        // The longer somebody hasn't been seen, the less their last place says.
        let fading = 1.0 + MISFIT_FADING * (time - self.time).0.max(0.0);
        let place = (circle.centre.distance(self.expected(time).centre) / radius).min(MISFIT_MOST) / fading;
        let size = (circle.radius() / radius).ln().abs();
        let clothes = self.colours.map_or(0.0, |own| own.difference(colours));
        place + size + COLOUR_WEIGHT * clothes
    }

    /// Whether a body found at `time` can be this lost person: near enough to where they should be, and the longer they were
    /// out of sight, the more alike in size and clothes together.
    pub fn can_be(&self, circle: &Circle, colours: &Colours, time: Seconds) -> bool {
        let radius = self.circle.radius();
        let span = (time - self.time).0.max(0.0);
        let size = (circle.radius() / radius).ln() / SIZE_SPREAD;
        let clothes = self.colours.map_or(0.0, |own| own.difference(colours)) / CLOTHES_SPREAD;
        let alike = size.hypot(clothes);
        if self.is_cut_off {
            return alike <= UNLIKE_LATER;
        }
        let most = UNLIKE - (UNLIKE - UNLIKE_LATER) * span.min(1.0);
        let limit = (REJOIN + REJOIN_RATE * span).min(REJOIN_MOST);
        alike <= most && circle.centre.distance(self.expected(time).centre) <= limit * radius
    }

    /// Whether it is too early to take this person up again after a cut: a gap so short would be bridged, as if they had moved from
    /// where they were.
    pub fn must_wait(&self, time: Seconds) -> bool {
        self.is_cut_off && time - self.time <= AFTER_CUT
    }

    /// The shot in which the person was is cut.
    pub fn cut_off(&mut self) {
        self.is_cut_off |= self.active;
        self.active = false;
    }

    /// Takes over what was seen in a picture; the frame itself is added by [`Self::record`].
    pub fn take(&mut self, reading: &Reading, circle: Circle, time: Seconds) {
        let span = (time - self.time).0;
        if !self.active {
            self.filter = OneEuro::new(STEADY);
            self.speed = (0.0, 0.0);
            self.lasting_speed = (0.0, 0.0);
        } else if span > 0.0 {
            let moved = (circle.centre.x - self.circle.centre.x, circle.centre.y - self.circle.centre.y);
            for (speed, memory) in
                [(&mut self.speed, SPEED_MEMORY), (&mut self.lasting_speed, LASTING_MEMORY)]
            {
                let share = 1.0 - (-span / memory).exp();
                speed.0 += share * (moved.0 / span - speed.0);
                speed.1 += share * (moved.1 / span - speed.1);
            }
        }
        (self.active, self.is_cut_off) = (true, false);
        self.circle = circle;
        self.time = time;
        self.corners = bounds(&reading.pose, 0.2);
        let values = [circle.centre.x, circle.centre.y, circle.top.x, circle.top.y];
        let [x, y, top_x, top_y] = self.filter.filter(time.0, values, 0.5 / circle.radius());
        self.steady = Circle { centre: Point2::new(x, y), top: Point2::new(top_x, top_y) };
    }

    /// Remembers the person's colours.
    pub fn look(&mut self, colours: &Colours) {
        match &mut self.colours {
            Some(own) => own.approach(colours, COLOUR_SHARE),
            None => self.colours = Some(*colours),
        }
    }

    /// The person wasn't seen in this picture.
    pub fn lose(&mut self) {
        self.active = false;
    }

    /// Exchanges two people from the frame `from` on: what each was followed on is the other's from there, and so is where
    /// they are now. Numbers, colours and earlier frames stay.
    pub fn exchange(&mut self, other: &mut Self, from: usize) {
        std::mem::swap(self, other);
        std::mem::swap(&mut self.id, &mut other.id);
        std::mem::swap(&mut self.colours, &mut other.colours);
        let from = from.min(self.frames.len()).min(other.frames.len());
        let (own, others) = (self.frames.split_off(from), other.frames.split_off(from));
        std::mem::swap(&mut self.frames, &mut other.frames);
        self.frames.extend(own);
        other.frames.extend(others);
        for person in [self, other] {
            person.seen = person.frames.iter().filter(|frame| frame.pose.is_some()).count();
        }
    }

    /// Whether the person hardly moved between the last two pictures.
    pub fn is_still(&self) -> bool {
        let [.., before, now] = self.frames.as_slice() else { return false };
        let (Some(a), Some(b)) = (&before.pose, &now.pose) else { return false };
        self.moved(a, b) <= STILL * (now.time - before.time).0
    }

    /// How far hips, hands and feet are from one pose to another, at most, radii.
    fn moved(&self, from: &Pose, to: &Pose) -> f64 {
        let landmarks = MOVING.iter().flat_map(|joint| [joint.on(Side::Left), joint.on(Side::Right)]);
        let apart = landmarks.map(|landmark| from.point(landmark).distance(to.point(landmark)));
        apart.fold(0.0, f64::max) / self.circle.radius().max(1e-6)
    }

    /// Adds a picture that was passed over, in which the person was half way from where they were last to `now`; without a pose where
    /// they have moved since, or weren't seen.
    pub fn record_passed(&mut self, index: FrameIndex, time: Seconds, now: Option<&Pose>) {
        let last = self.frames.last().and_then(|frame| frame.pose.as_ref());
        let pose = last.zip(now).filter(|(last, now)| self.moved(last, now) <= PASSED);
        let pose = pose.map(|(last, now)| last.half_way(now));
        self.record(index, time, false, pose);
    }

    /// Adds the picture to the person's frames.
    pub fn record(&mut self, index: FrameIndex, time: Seconds, duplicate: bool, pose: Option<Pose>) {
        self.seen += usize::from(pose.is_some());
        self.frames.push(TrackFrame { index, time, duplicate, pose });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Image, Region};
    use crate::pose::landmark::{COUNT, Landmark};

    fn body(x: f64, radius: f64) -> (Reading, Circle) {
        let centre = Point2::new(x, 300.0);
        let circle = Circle { centre, top: Point2::new(x, 300.0 - radius) };
        let pose = Pose {
            points: vec![centre; COUNT],
            visibility: vec![1.0; COUNT],
            world: Vec::new(),
            presence: 1.0,
        };
        (Reading { pose, circle: Some(circle), region: Region::square(centre, radius) }, circle)
    }

    /// Clothes of one grey.
    fn clothes(grey: u8) -> Colours {
        let rgb = vec![grey; 3 * 700 * 4];
        Colours::of(&body(0.0, 100.0).0.pose, Image::new(700, 4, &rgb).unwrap())
    }

    #[test]
    fn nobody_becomes_somebody_else_through_a_gap() {
        let (reading, circle) = body(300.0, 100.0);
        let mut person = Person::new(0, 0, Vec::new(), &reading, circle, Seconds(0.0));
        person.look(&clothes(200));
        person.lose();
        let can_be = |x: f64, radius: f64, grey: u8, time: f64| {
            person.can_be(&body(x, radius).1, &clothes(grey), Seconds(time))
        };
        // The same clothes and size, a step further, soon or later.
        assert!(can_be(330.0, 105.0, 195, 0.1) && can_be(420.0, 105.0, 195, 1.0));
        // Other clothes, or a much smaller body, on the very spot a second later.
        assert!(!can_be(300.0, 100.0, 90, 1.0) && !can_be(300.0, 62.0, 200, 1.0));
        // A little of both is too much as well.
        assert!(can_be(300.0, 140.0, 200, 1.0) && can_be(300.0, 100.0, 165, 1.0));
        assert!(!can_be(300.0, 140.0, 165, 1.0));
    }

    #[test]
    fn after_a_cut_the_same_person_may_be_anywhere_but_not_at_once() {
        let (reading, circle) = body(300.0, 100.0);
        let mut person = Person::new(0, 0, Vec::new(), &reading, circle, Seconds(0.0));
        person.look(&clothes(200));
        person.cut_off();
        let can_be = |x: f64, grey: u8| person.can_be(&body(x, 105.0).1, &clothes(grey), Seconds(0.1));
        assert!(can_be(320.0, 195) && can_be(1500.0, 195) && !can_be(320.0, 90));
        assert!(person.must_wait(Seconds(0.1)) && !person.must_wait(Seconds(0.3)));
        person.take(&reading, circle, Seconds(0.3));
        assert!(!person.must_wait(Seconds(0.35)));
    }

    /// A body whose right hand is `hand` radii to the right of where all its other points are.
    fn reaching(hand: f64) -> Pose {
        let (reading, circle) = body(300.0, 100.0);
        let mut pose = reading.pose;
        pose.points[Landmark::RightWrist as usize].x += hand * circle.radius();
        pose
    }

    /// Somebody who was seen at these times, reaching so far.
    fn seen_at(places: &[(f64, f64)]) -> Person {
        let (reading, circle) = body(300.0, 100.0);
        let mut person = Person::new(0, 0, Vec::new(), &reading, circle, Seconds(0.0));
        for (i, (time, hand)) in places.iter().enumerate() {
            person.record(FrameIndex(10 * i), Seconds(*time), false, Some(reaching(*hand)));
        }
        person
    }

    #[test]
    fn who_moves_a_hand_does_not_stand_still() {
        assert!(seen_at(&[(0.0, 0.0), (0.08, 0.02)]).is_still());
        assert!(!seen_at(&[(0.0, 0.0), (0.08, 0.09)]).is_still());
        // Nobody knows yet whether somebody new stands still.
        assert!(!seen_at(&[(0.0, 0.0)]).is_still());
    }

    #[test]
    fn in_a_picture_that_was_passed_over_somebody_still_is_half_way_and_others_are_not_seen() {
        let mut person = seen_at(&[(0.0, 0.0)]);
        person.record_passed(FrameIndex(5), Seconds(0.08), Some(&reaching(0.04)));
        let hand = |person: &Person| {
            let pose = person.frames.last().and_then(|frame| frame.pose.clone());
            pose.map(|pose| pose.point(Landmark::RightWrist).x)
        };
        assert!((hand(&person).unwrap() - 302.0).abs() < 1e-9);
        for now in [Some(&reaching(0.4)), None] {
            let mut person = seen_at(&[(0.0, 0.0)]);
            person.record_passed(FrameIndex(5), Seconds(0.08), now);
            assert_eq!((person.frames.len(), hand(&person)), (2, None));
        }
    }
}
