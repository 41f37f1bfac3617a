//! Two people who come close in the picture: who is who once they are apart again.

use super::body::Colours;
use super::person::{COLOUR_WEIGHT, Person};
use crate::geometry::Point2;
use crate::units::Seconds;

/// Two people meet when their circles' centres are closer than this, in mean radii …
const MEET: f64 = 0.9;
/// … and part when they are further away than this.
const PART: f64 = 1.1;
/// They are exchanged where that fits better by at least this much.
const MARGIN: f64 = 0.1;
/// Longest time over which the motion from before the meeting says where somebody should be, seconds.
const LONGEST: f64 = 2.5;
/// How fast the motion from before the meeting loses weight, 1/s.
const FADING: f64 = 0.5;
/// A place that is further off than this is no worse, in radii.
const PLACE_MOST: f64 = 2.0;

/// What was known of a person when a meeting began.
#[derive(Debug, Clone, Copy)]
struct Before {
    id: usize,
    centre: Point2,
    radius: f64,
    /// Pixels per second.
    speed: (f64, f64),
    colours: Option<Colours>,
}

impl Before {
    fn of(person: &Person) -> Self {
        Self {
            id: person.id(),
            centre: person.circle().centre,
            radius: person.circle().radius(),
            speed: person.lasting_speed(),
            colours: person.colours(),
        }
    }

    /// How badly a person seen `span` seconds after the meeting began fits the one from before.
    fn misfit(&self, seen: &Person, colours: &Colours, span: f64) -> f64 {
        let span = span.min(LONGEST);
        let expected = Point2::new(self.centre.x + self.speed.0 * span, self.centre.y + self.speed.1 * span);
        // The longer the meeting, the less the motion from before it says.
        let place =
            (expected.distance(seen.circle().centre) / self.radius).min(PLACE_MOST) / (1.0 + FADING * span);
        let size = (seen.circle().radius() / self.radius).ln().abs();
        place + size + COLOUR_WEIGHT * self.colours.map_or(0.0, |own| own.difference(colours))
    }
}

/// A meeting of two people that hasn't ended.
#[derive(Debug, Clone)]
pub struct Encounter {
    before: [Before; 2],
    start: Seconds,
    /// Smallest distance of the two so far, mean radii, and the number of frames before it.
    closest: (f64, usize),
}

/// What follows from a meeting in a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The two are still close, or one of them is out of sight.
    GoesOn,
    /// The two are apart and are who they were.
    Kept,
    /// The two are apart and were exchanged at this frame.
    Exchanged(usize),
}

/// Distance of two people, mean radii.
fn distance(a: &Person, b: &Person) -> f64 {
    let (a, b) = (a.circle(), b.circle());
    a.centre.distance(b.centre) / (0.5 * (a.radius() + b.radius()))
}

impl Encounter {
    /// A meeting, where two people in sight are close.
    pub fn begin(a: &Person, b: &Person, time: Seconds) -> Option<Self> {
        let apart = distance(a, b);
        (a.active && b.active && apart < MEET).then(|| Self {
            before: [Before::of(a), Before::of(b)],
            start: time,
            closest: (apart, a.frames.len()),
        })
    }

    /// Whether the meeting is one of these two, in either order.
    pub fn is_of(&self, a: usize, b: usize) -> bool {
        let ids = self.before.map(|before| before.id);
        ids == [a, b] || ids == [b, a]
    }

    /// The numbers of the two who meet.
    pub fn ids(&self) -> [usize; 2] {
        self.before.map(|before| before.id)
    }

    /// Looks at the two (in the order of [`Self::ids`]) in a picture; `colours` are what is seen of each.
    pub fn look(&mut self, people: [&Person; 2], colours: [Option<Colours>; 2], time: Seconds) -> Verdict {
        let [a, b] = people;
        if !a.active || !b.active {
            // Somebody is hidden: it is here that the other may have taken over.
            self.closest = (0.0, self.closest.1.max(a.frames.len().saturating_sub(1)));
            return Verdict::GoesOn;
        }
        let [Some(colours_a), Some(colours_b)] = colours else { return Verdict::GoesOn };
        let apart = distance(a, b);
        if apart < self.closest.0 {
            self.closest = (apart, a.frames.len());
        }
        if apart < PART {
            return Verdict::GoesOn;
        }
        let span = (time - self.start).0;
        let fit = |before: usize, person: &Person, colours: &Colours| {
            self.before[before].misfit(person, colours, span)
        };
        let kept = fit(0, a, &colours_a) + fit(1, b, &colours_b);
        let exchanged = fit(0, b, &colours_b) + fit(1, a, &colours_a);
        if exchanged + MARGIN < kept { Verdict::Exchanged(self.closest.1) } else { Verdict::Kept }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Region;
    use crate::pose::Pose;
    use crate::pose::landmark::COUNT;
    use crate::pose::landmarker::Reading;
    use crate::pose::region::Circle;
    use crate::units::FrameIndex;

    const STEP: f64 = 1.0 / 30.0;
    const RADIUS: f64 = 100.0;

    fn sight(x: f64) -> (Reading, Circle) {
        let centre = Point2::new(x, 300.0);
        let circle = Circle { centre, top: Point2::new(x, 300.0 - RADIUS) };
        let pose = Pose {
            points: vec![centre; COUNT],
            visibility: vec![1.0; COUNT],
            world: Vec::new(),
            presence: 1.0,
        };
        (Reading { pose, circle: Some(circle), region: Region::square(centre, RADIUS) }, circle)
    }

    fn see(person: &mut Person, x: f64, picture: usize) {
        let (reading, circle) = sight(x);
        let time = Seconds(picture as f64 * STEP);
        person.take(&reading, circle, time);
        person.record(FrameIndex(picture), time, false, Some(reading.pose));
    }

    fn stranger(id: usize, x: f64) -> Person {
        let (reading, circle) = sight(x);
        Person::new(id, 0, Vec::new(), &reading, circle, Seconds(0.0))
    }

    /// Somebody walks past somebody who stands, both in the same clothes; `first` and `second` are where the
    /// walker and the one who stands are taken to be.
    fn walk_past(first: impl Fn(f64) -> f64, second: impl Fn(f64) -> f64) -> (Person, Person, Verdict) {
        let (mut walker, mut stands) = (stranger(0, 200.0), stranger(1, 400.0));
        let image = [90; 3 * 700 * 4];
        let image = crate::model::Image::new(700, 4, &image).unwrap();
        let colours = Colours::of(&sight(0.0).0.pose, image);
        let mut meeting: Option<Encounter> = None;
        for picture in 0..80 {
            let walked = 200.0 + 6.0 * picture as f64;
            // Up to the middle of the meeting everybody is still followed rightly.
            let (x, y) = if walked < 400.0 { (walked, 400.0) } else { (first(walked), second(walked)) };
            see(&mut walker, x, picture);
            see(&mut stands, y, picture);
            let time = Seconds(picture as f64 * STEP);
            match &mut meeting {
                None => meeting = Encounter::begin(&walker, &stands, time),
                Some(meeting) => {
                    let verdict = meeting.look([&walker, &stands], [Some(colours); 2], time);
                    if verdict != Verdict::GoesOn {
                        return (walker, stands, verdict);
                    }
                }
            }
        }
        panic!("the two never parted");
    }

    #[test]
    fn people_who_stay_themselves_are_kept() {
        let (_, _, verdict) = walk_past(|walked| walked, |_| 400.0);
        assert_eq!(verdict, Verdict::Kept);
    }

    #[test]
    fn people_who_took_over_each_others_body_are_exchanged() {
        let (mut walker, mut stands, verdict) = walk_past(|_| 400.0, |walked| walked);
        let Verdict::Exchanged(from) = verdict else { panic!("{verdict:?}") };
        walker.exchange(&mut stands, from);
        assert_eq!((walker.id(), stands.id()), (0, 1));
        assert_eq!(walker.frames.len(), stands.frames.len());
        for (index, pair) in walker.frames.windows(2).enumerate() {
            let x = |i: usize| pair[i].pose.as_ref().unwrap().points[0].x;
            assert!((x(1) - x(0) - 6.0).abs() < 12.1, "jump after frame {index}: {} {}", x(0), x(1));
        }
        assert!(walker.circle().centre.x > 500.0 && stands.circle().centre.x == 400.0);
    }
}
