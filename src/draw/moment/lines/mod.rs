//! What is drawn at each moment of a stroke: the measures' own geometry in pixels of the picture.

mod arm;
mod racket;
mod toe;
mod trunk;
mod weight;

use crate::geometry::{Court, Point2};
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::measure::{CATALOGUE, Family, Grade, Measure, Outcome, contact_point};
use crate::pose::{Joint, Landmark, Motion};
use crate::racket::Racket;
use crate::scene::{CourtMotion, Projection};
use crate::stroke::{Boundary, Phases};
use crate::units::Seconds;

use super::super::racket::areas;
use super::super::words;
use super::{Instant, Lines, body};

/// More numbers than this make a picture that nobody reads; the table has the others.
const MOST_NUMBERS: usize = 4;

/// A direction of which the view shows less than this share can't be drawn in the picture.
const IN_PICTURE: f64 = 0.5;

/// How a line looks. Each kind differs in dashes or width as well as in colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// The front toe's line and distances to it.
    Toe,
    /// Shoulders, and what is measured from them.
    Shoulder,
    /// The hitting arm.
    Arm,
    /// The trunk.
    Trunk,
    /// The vertical.
    Plumb,
    /// Feet and base.
    Base,
    /// Where something has moved.
    Path,
    /// The racket, where it surely is.
    Racket,
    /// The racket, where it may be elsewhere.
    Doubtful,
    /// The angle between forearm and racket.
    Lag,
}

/// A mark on a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A joint.
    Joint,
    /// The hitting hand.
    Hand,
    /// The point of contact on the racket.
    Contact,
    /// A place on the base.
    Place,
    /// The centre of mass.
    Mass,
}

/// A number to be written beside its line.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    /// The measure.
    pub measure: &'static Measure,
    /// Its value on this stroke.
    pub outcome: Outcome,
    /// Where its line is.
    pub at: Point2,
    /// What the line looks like.
    pub ink: Ink,
    /// What the value is of all that the stroke went through: `largest`, `smallest`; empty where it is of this moment.
    pub of_all: &'static str,
}

/// Lines that belong together.
#[derive(Debug, Clone, Default)]
pub struct Element {
    /// The measures that they show, by id.
    pub ids: Vec<&'static str>,
    /// Whether they are left out unless they are asked for.
    pub on_request: bool,
    /// Whether it is told why a number is missing.
    pub key: bool,
    /// Lines.
    pub lines: Vec<(Vec<Point2>, Ink)>,
    /// Marks.
    pub marks: Vec<(Point2, Mark)>,
    /// Numbers.
    pub readings: Vec<Reading>,
    /// Short names beside points.
    pub names: Vec<(Point2, &'static str)>,
}

/// A stroke at the picture that shows one of its moments.
#[derive(Debug)]
pub struct Moment<'a> {
    /// The stroke.
    pub stroke: &'a MeasuredStroke,
    /// Which moment.
    pub instant: Instant,
    /// When it is.
    pub time: Seconds,
    /// When the picture was taken: lines on the body lie where the body is in it.
    pub shown: Seconds,
    projection: Projection,
}

impl<'a> Moment<'a> {
    /// Of a stroke at a time, over the picture that was taken at another.
    pub fn new(
        clip: &ClipMeasures,
        stroke: &'a MeasuredStroke,
        instant: Instant,
        time: Seconds,
        shown: Seconds,
    ) -> Self {
        let projection = Projection::new(&clip.space, &stroke.stroke.motion, shown);
        Self { stroke, instant, time, shown, projection }
    }

    /// The lines of this moment.
    pub fn elements(&self, lines: Lines<'_>) -> Vec<Element> {
        let all = [
            toe::contact(self),
            toe::hand(self),
            trunk::trunk(self),
            trunk::shoulder_line(self),
            racket::axis(self),
            racket::lag(self),
            racket::height(self),
            racket::level(self),
            racket::reach(self),
            racket::ready(self),
            arm::path(self),
            arm::travel(self),
            arm::elbow(self),
            arm::ribs(self),
            arm::forearm(self),
            arm::off_arm(self),
            arm::finish(self),
            toe::behind_shoulder(self),
            toe::above_shoulder(self),
            toe::from_hip(self),
            weight::base(self),
            weight::stance(self),
            weight::mass(self),
            weight::advance(self),
            weight::heel(self),
            weight::step(self),
            trunk::knees(self),
            trunk::head(self),
            trunk::turn(self),
        ];
        let mut elements: Vec<Element> = all.into_iter().flatten().collect();
        match lines {
            Lines::All => {
                elements.retain(|e| !e.on_request);
                // A line whose number says too little to be told is no line worth drawing; a line that never has one is.
                elements.retain(|e| e.readings.is_empty() || e.readings.iter().any(|r| is_told(e.key, r)));
                let mut room = MOST_NUMBERS;
                for element in &mut elements {
                    let key = element.key;
                    element.readings.retain(|reading| is_told(key, reading));
                    element.readings.truncate(room);
                    room -= element.readings.len();
                }
            }
            Lines::Of(wanted) => {
                elements.retain(|e| e.ids.iter().any(|id| wanted.contains(id)));
                for element in &mut elements {
                    element.readings.retain(|reading| wanted.contains(&reading.measure.id));
                }
            }
        }
        elements
    }

    /// Phase lengths, speeds and times that end or begin here, for the heading; of a low grade only where they are asked for.
    pub fn tempo(&self, lines: Lines<'_>) -> Vec<(&'static Measure, Outcome)> {
        const TIMES: [&str; 5] = [
            "lag_peak_before_contact_ms",
            "lag_onset_before_contact_ms",
            "hips_before_contact_ms",
            "shoulders_before_contact_ms",
            "toss_arm_up_ms",
        ];
        let mine = |m: &&Measure| {
            (m.family == Family::Tempo || TIMES.contains(&m.id)) && Instant::of(m) == self.instant
        };
        let told = |(m, outcome): &(&Measure, Outcome)| match lines {
            Lines::All => outcome.is_ok_and(|value| value.grade > Grade::Low),
            Lines::Of(ids) => ids.contains(&m.id),
        };
        let outcomes = CATALOGUE.iter().filter(mine).filter_map(|m| words::outcome(self.stroke, m.id));
        outcomes.filter(told).collect()
    }

    fn motion(&self) -> &CourtMotion {
        &self.stroke.stroke.motion
    }

    fn phases(&self) -> &Phases {
        &self.stroke.stroke.phases
    }

    /// Whether the view shows what lies along the direction to the net.
    fn shows_net(&self) -> bool {
        self.motion().net_in_picture() >= IN_PICTURE
    }

    /// Whether the view shows what lies across.
    fn shows_side(&self) -> bool {
        self.motion().side_in_picture() >= IN_PICTURE
    }

    /// Whether a step to the right by so many pixels leads toward the net.
    fn is_toward_net(&self, right: f64) -> bool {
        let origin = self.motion().middle(Joint::Hip, self.shown).unwrap_or_default();
        let ahead = self.pixel(origin).zip(self.pixel(origin + Court::new(1.0, 0.0, 0.0)));
        ahead.is_some_and(|(from, to)| (to.x - from.x) * right > 0.0)
    }

    fn boundary(&self) -> Option<Boundary> {
        match self.instant {
            Instant::Boundary(boundary) => Some(boundary),
            Instant::LargestLag => None,
        }
    }

    fn is(&self, boundary: Boundary) -> bool {
        self.instant == Instant::Boundary(boundary)
    }

    fn at(&self, landmark: Landmark) -> Option<Court> {
        self.motion().at(landmark, self.shown)
    }

    fn hitting(&self, joint: Joint) -> Option<Court> {
        self.at(self.motion().hitting(joint))
    }

    fn off(&self, joint: Joint) -> Option<Court> {
        self.at(self.motion().off(joint))
    }

    /// A joint of the front foot's side.
    fn front(&self, joint: Joint) -> Option<Court> {
        self.at(joint.on(self.stroke.stroke.front_foot().ok()?))
    }

    /// A joint of the back foot's side.
    fn back(&self, joint: Joint) -> Option<Court> {
        self.at(joint.on(self.stroke.stroke.front_foot().ok()?.other()))
    }

    /// The shoulder that is farther from the net at the end of the backswing.
    fn rear_shoulder(&self) -> Option<Court> {
        self.at(Joint::Shoulder.on(self.stroke.stroke.rear_shoulder().ok()?))
    }

    fn middle(&self, joint: Joint) -> Option<Court> {
        self.motion().middle(joint, self.shown)
    }

    /// A point of the court in the picture.
    pub fn pixel(&self, point: Court) -> Option<Point2> {
        self.projection.pixel(point)
    }

    /// A joint of the hitting side in the picture.
    pub fn hand_in_picture(&self) -> Option<Point2> {
        self.pixel(self.hitting(Joint::Wrist)?)
    }

    /// The hand at the moment itself, where that is not where it is in the picture.
    pub fn hand_at_moment(&self) -> Option<Point2> {
        self.pixel(self.motion().hand_at(self.time)?)
    }

    /// The middle of the strings in the picture.
    pub fn strings_in_picture(&self) -> Option<Point2> {
        Some(self.racket()?.middle.at)
    }

    /// The point of contact at the moment itself.
    pub fn contact_at_moment(&self) -> Option<Point2> {
        self.pixel(contact_point(&self.stroke.stroke).ok()?)
    }

    /// Squares (middle and half a side, pixels) that cover body and racket in the picture, the one at `place` of the clip's
    /// motion; `height` is the body's, pixels.
    pub fn covered(&self, picture: &Motion, place: usize, height: f64) -> Vec<(Point2, f64)> {
        let racket = self.racket().into_iter().flat_map(|racket| areas(&racket, height));
        body::areas(picture, place, height).into_iter().chain(racket).collect()
    }

    /// The racket as it was seen in the picture, if it was.
    fn racket(&self) -> Option<Racket> {
        self.stroke.racket.at_time(self.shown)
    }

    /// What lies on the racket a share of the way from butt to tip, in space.
    fn on_racket(&self, share: f64) -> Option<Court> {
        self.stroke.stroke.racket.as_ref()?.point(self.motion(), share, self.shown)
    }

    fn line(&self, points: &[Court], ink: Ink) -> Option<(Vec<Point2>, Ink)> {
        Some((points.iter().map(|p| self.pixel(*p)).collect::<Option<_>>()?, ink))
    }

    fn reading(&self, id: &str, at: Court, ink: Ink, of_all: &'static str) -> Option<Reading> {
        let (measure, outcome) = words::outcome(self.stroke, id)?;
        Some(Reading { measure, outcome, at: self.pixel(at)?, ink, of_all })
    }
}

/// Whether a number, or the reason why it is missing, is told where nobody has asked for it.
fn is_told(key: bool, reading: &Reading) -> bool {
    is_worth_it(reading) || key && reading.outcome.is_err()
}

/// A reading worth its place where nobody has asked for it.
fn is_worth_it(reading: &Reading) -> bool {
    reading.outcome.is_ok_and(|value| value.grade > Grade::Low)
}
