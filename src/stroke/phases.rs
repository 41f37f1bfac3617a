//! Splitting a stroke into preparation, drop, forward swing, contact and finish.

use serde::{Deserialize, Serialize};

use super::search::{first_at_or_under, last_at_or_under, maximum, minimum, samples_backward};
use super::{Method, Sort};
use crate::geometry::{Court, wrapped};
use crate::pose::{Joint, Side};
use crate::scene::CourtMotion;
use crate::scene::court::Moment;
use crate::units::Seconds;

/// A boundary between phases.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[repr(usize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "defined in the catalogue of boundaries")]
pub enum Boundary {
    PrepStart,
    DropStart,
    BackswingEnd,
    LowPoint,
    ForwardStart,
    Contact,
    FinishEnd,
}

impl Boundary {
    /// All boundaries in the usual order.
    pub const ALL: [Self; 7] = [
        Self::PrepStart,
        Self::DropStart,
        Self::BackswingEnd,
        Self::LowPoint,
        Self::ForwardStart,
        Self::Contact,
        Self::FinishEnd,
    ];

    /// The name used in columns.
    pub const fn name(self) -> &'static str {
        match self {
            Self::PrepStart => "prep_start",
            Self::DropStart => "drop_start",
            Self::BackswingEnd => "backswing_end",
            Self::LowPoint => "low_point",
            Self::ForwardStart => "forward_start",
            Self::Contact => "contact",
            Self::FinishEnd => "finish_end",
        }
    }
}

/// A boundary's time and how it was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Seconds since the clip's first picture.
    pub time: Seconds,
    /// What it was read from.
    pub method: Method,
}

/// The boundaries of one stroke; `None` where a boundary doesn't exist or can't be seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phases {
    /// The unit turn begins.
    pub prep_start: Option<Mark>,
    /// The hand is highest before it drops; absent in a takeback without a loop.
    pub drop_start: Option<Mark>,
    /// The hand is farthest from the net.
    pub backswing_end: Option<Mark>,
    /// The hand is lowest before contact.
    pub low_point: Option<Mark>,
    /// The hand starts toward the net.
    pub forward_start: Option<Mark>,
    /// The ball is met.
    pub contact: Mark,
    /// The hand has come to rest.
    pub finish_end: Option<Mark>,
}

/// Shoulders within this of their ready direction have not begun the unit turn, degrees.
const READY_TURN: f64 = 6.0;

/// Length of the ready pose that is averaged.
const READY_LENGTH: Seconds = Seconds(0.25);

/// Hands slower than this belong to a ready pose, metres per second.
const READY_SPEED: f64 = 0.45;

/// Preparation is looked for at most this long before contact, and starts there when nothing else is known.
const LONGEST_PREPARATION: Seconds = Seconds(2.6);
const DEFAULT_PREPARATION: Seconds = Seconds(1.0);

/// The forward swing starts where the speed toward the net is this share of its peak, which lies in the last
/// `FORWARD_WINDOW` before contact.
const FORWARD_SHARE: f64 = 0.25;
const FORWARD_WINDOW: Seconds = Seconds(0.30);

/// The finish is over when the hand's speed falls under this share of its peak.
const FINISH_SHARE: f64 = 0.15;
const LONGEST_FINISH: Seconds = Seconds(1.5);

/// A hand that gets as far in so short a time as it would at this share of its peak speed has not come to rest: in a rally the next
/// movement follows, and which of its slow moments is the slow one hangs on little. Told by its way and not by its speed, which a
/// hand that is hidden seems to have while it rests.
const RESTLESS_SHARE: f64 = 0.15;
const REST: Seconds = Seconds(0.25);

/// A hand that rises less than this over its low point makes no loop, metres.
const SMALLEST_DROP: f64 = 0.03;

/// The takeback has begun when the hand retreats at this share of its fastest retreat.
const RETREAT_SHARE: f64 = 0.15;

/// Step of the differences that give velocities.
const STEP: Seconds = Seconds(0.008);

impl Phases {
    /// Finds the boundaries of a stroke around its contact. The motion should reach back to the ready pose and on to the
    /// finish; what it doesn't cover is absent.
    pub fn split(motion: &CourtMotion, contact: Mark, sort: Sort) -> Self {
        Self::split_between(motion, contact, sort, [None; 7])
    }

    /// Finds the boundaries again, in the same stroke's motion with other errors or around another contact. What a person
    /// has marked stays where it is.
    pub fn again(&self, motion: &CourtMotion, contact: Mark, sort: Sort) -> Self {
        let marked = |boundary| self.get(boundary).filter(|mark| mark.method == Method::Marked);
        Self::split_between(motion, contact, sort, Boundary::ALL.map(marked))
    }

    /// Finds those boundaries that are not `known` (in the order of [`Boundary::ALL`]); each is looked for between the
    /// known ones. Only ground strokes have the takeback and the forward swing that the boundaries before contact part; an
    /// overhead has a finish, a volley contact alone.
    pub fn split_between(motion: &CourtMotion, contact: Mark, sort: Sort, known: [Option<Mark>; 7]) -> Self {
        let known = |boundary: Boundary| known[boundary as usize];
        let mut phases = Self {
            prep_start: known(Boundary::PrepStart),
            drop_start: known(Boundary::DropStart),
            backswing_end: known(Boundary::BackswingEnd),
            low_point: known(Boundary::LowPoint),
            forward_start: known(Boundary::ForwardStart),
            contact,
            finish_end: known(Boundary::FinishEnd),
        };
        let Some((first, last)) = motion.span() else { return phases };
        let met = contact.time;
        let hand = Hand::new(motion, met);
        if sort.is_ground_stroke() {
            phases.split_swing(motion, &hand, first, known);
        }
        if sort.is_ground_stroke() || sort == Sort::Overhead {
            phases.find_finish(&hand, last);
        }
        phases
    }

    /// Finds the boundaries up to the forward swing's start that are not known.
    fn split_swing(
        &mut self,
        motion: &CourtMotion,
        hand: &Hand<'_>,
        first: Seconds,
        known: impl Fn(Boundary) -> Option<Mark>,
    ) {
        let phases = self;
        let met = phases.contact.time;
        let mark = |time: Seconds, method: Method| Some(Mark { time, method });
        let net = |t: Seconds| hand.at(t).map(|p| p.net);
        let up = |t: Seconds| hand.at(t).map(|p| p.up);

        // The preparation's start and the backswing's end are defined by each other: a first backswing's end comes from
        // the usual length of a preparation, the final one from the preparation found with it.
        let usual = first.max(met - DEFAULT_PREPARATION);
        let farthest_from = |begin| match known(Boundary::BackswingEnd) {
            Some(mark) => Some(mark.time),
            None => minimum(net, begin, met).map(|(time, _)| time),
        };
        let Some(farthest) = farthest_from(usual) else { return };
        if phases.prep_start.is_none() {
            phases.prep_start = prep_start(motion, hand, first.max(met - LONGEST_PREPARATION), farthest);
        }
        let begin = phases.preparation_begin().max(first);
        let Some(farthest) = farthest_from(begin) else { return };
        phases.backswing_end = phases.backswing_end.or(mark(farthest, Method::HandPosition));

        let speed = |t: Seconds| hand.velocity(t).map(|v| v.net);
        if phases.forward_start.is_none()
            && let Some((fastest, peak)) = maximum(speed, begin.max(met - FORWARD_WINDOW), met)
            && peak > 0.0
        {
            let start = last_at_or_under(speed, FORWARD_SHARE * peak, farthest.min(fastest), fastest);
            // Where the hand is never that slow, as in a swing without a pause, nothing shows the start but where it turns.
            phases.forward_start = match start {
                Some(start) => mark(start.max(farthest), Method::HandSpeed),
                None => mark(farthest, Method::BackswingEnd),
            };
        }

        // The low point belongs to the drop, so it is not looked for while the hand still rises in the takeback.
        let rise_ends = maximum(up, begin, farthest.max(begin)).map_or(farthest, |(t, _)| t);
        let lowest = match phases.low_point {
            Some(mark) => up(mark.time).map(|low| (mark.time, low)),
            None => minimum(up, phases.drop_start.map_or(rise_ends, |mark| mark.time), met),
        };
        if let Some((lowest, low)) = lowest {
            phases.low_point = phases.low_point.or(mark(lowest, Method::HandPosition));
            if phases.drop_start.is_none()
                && let Some((highest, high)) = maximum(up, begin, lowest)
                && high - low > SMALLEST_DROP
                && highest > begin + STEP
            {
                phases.drop_start = mark(highest, Method::HandPosition);
            }
        }
    }

    /// Finds the end of the finish where it is not known.
    fn find_finish(&mut self, hand: &Hand<'_>, last: Seconds) {
        let phases = self;
        let met = phases.contact.time;
        let total = |t: Seconds| hand.velocity(t).map(Court::norm);
        let from = phases.forward_start.map_or(met - FORWARD_WINDOW, |m| m.time);
        if phases.finish_end.is_none()
            && let Some((fastest, peak)) = maximum(total, from, met + Seconds(0.5))
        {
            let end = (met + LONGEST_FINISH).min(last - STEP);
            phases.finish_end =
                first_at_or_under(total, FINISH_SHARE * peak, fastest.max(met), end).map(|time| {
                    let from = hand.at(time);
                    let way = |t: Seconds| Some((hand.at(t)? - from?).norm());
                    let after = maximum(way, time, (time + REST).min(last - STEP));
                    let rests = after.is_none_or(|(_, way)| way < RESTLESS_SHARE * peak * REST.0);
                    Mark { time, method: if rests { Method::HandSpeed } else { Method::HandSlowed } }
                });
        }
    }

    /// A boundary, where it exists.
    pub fn get(&self, boundary: Boundary) -> Option<Mark> {
        match boundary {
            Boundary::PrepStart => self.prep_start,
            Boundary::DropStart => self.drop_start,
            Boundary::BackswingEnd => self.backswing_end,
            Boundary::LowPoint => self.low_point,
            Boundary::ForwardStart => self.forward_start,
            Boundary::Contact => Some(self.contact),
            Boundary::FinishEnd => self.finish_end,
        }
    }

    /// A boundary to be moved, where it exists.
    pub fn get_mut(&mut self, boundary: Boundary) -> Option<&mut Mark> {
        match boundary {
            Boundary::PrepStart => self.prep_start.as_mut(),
            Boundary::DropStart => self.drop_start.as_mut(),
            Boundary::BackswingEnd => self.backswing_end.as_mut(),
            Boundary::LowPoint => self.low_point.as_mut(),
            Boundary::ForwardStart => self.forward_start.as_mut(),
            Boundary::Contact => Some(&mut self.contact),
            Boundary::FinishEnd => self.finish_end.as_mut(),
        }
    }

    /// Where windows begin that are defined from the preparation's start: there, or 1.0 s before contact when it could
    /// not be seen.
    pub fn preparation_begin(&self) -> Seconds {
        self.prep_start.map_or(self.contact.time - DEFAULT_PREPARATION, |m| m.time)
    }
}

/// The hitting hand as the phases read it: over the ground, or relative to the hips where the player runs, because a hand
/// that is carried along neither retreats nor comes to rest.
struct Hand<'a> {
    motion: &'a CourtMotion,
    carried: bool,
}

/// A player runs whose hips move along the direction to the net faster than this before contact, metres per second. A step
/// into the ball moves them at half of it.
const RUNNING: f64 = 1.5;
const RUN: Seconds = Seconds(0.5);

impl<'a> Hand<'a> {
    fn new(motion: &'a CourtMotion, met: Seconds) -> Self {
        let hips = |t: Seconds| motion.middle(Joint::Hip, t).map(|p| p.net);
        let from = motion.span().map_or(met, |(first, _)| first.max(met - RUN));
        let span = (met - from).0;
        let pace = hips(met).zip(hips(from)).map(|(end, start)| ((end - start) / span).abs());
        Self { motion, carried: span > 0.5 * RUN.0 && pace.is_some_and(|pace| pace > RUNNING) }
    }

    fn at(&self, time: Seconds) -> Option<Court> {
        let now = self.motion.moment(time);
        let hand = now.hand()?;
        if !self.carried {
            return Some(hand);
        }
        Some(hand - now.middle(Joint::Hip)?.horizontal())
    }

    fn velocity(&self, time: Seconds) -> Option<Court> {
        CourtMotion::velocity(|t| self.at(t), time, STEP)
    }
}

/// Velocity of the hitting hand over the ground, metres per second.
pub fn velocity(motion: &CourtMotion, time: Seconds) -> Option<Court> {
    CourtMotion::velocity(|t| motion.hand_at(t), time, STEP)
}

/// Turn of the shoulder line about the vertical in degrees: 0 facing the net, + with the hitting shoulder back.
pub fn shoulder_turn(motion: &CourtMotion, time: Seconds) -> Option<f64> {
    turn(motion, Joint::Shoulder, time)
}

/// Turn of the line through a joint's left and right about the vertical in degrees, −180 to 180: 0 facing the net, + with
/// the hitting side back.
pub fn turn(motion: &CourtMotion, joint: Joint, time: Seconds) -> Option<f64> {
    turn_in(&motion.moment(time), joint)
}

/// The same at a moment.
pub fn turn_in(now: &Moment<'_>, joint: Joint) -> Option<f64> {
    let line = now.hitting(joint)? - now.off(joint)?;
    (line.horizontal().norm() > 1e-6).then(|| (-line.net).atan2(line.side).to_degrees())
}

/// The last moment before the backswing's end at which the shoulders still had their ready direction; without a quiet
/// ready pose, the start of the hand's retreat.
fn prep_start(
    motion: &CourtMotion,
    hand: &Hand<'_>,
    earliest: Seconds,
    backswing_end: Seconds,
) -> Option<Mark> {
    let by_turn = ready_turn(motion, earliest, backswing_end).and_then(|(ready_end, ready)| {
        let off = |t: Seconds| shoulder_turn(motion, t).map(|turn| wrapped(turn - ready).abs());
        last_at_or_under(off, READY_TURN, ready_end - READY_LENGTH, backswing_end)
    });
    if let Some(time) = by_turn {
        return Some(Mark { time, method: Method::ShoulderTurn });
    }
    let retreat = |t: Seconds| hand.velocity(t).map(|v| -v.net);
    let from = earliest.max(backswing_end - DEFAULT_PREPARATION);
    let (fastest, peak) = maximum(retreat, from, backswing_end)?;
    if peak <= 0.0 {
        return None;
    }
    let time = last_at_or_under(retreat, RETREAT_SHARE * peak, from, fastest)?;
    Some(Mark { time, method: Method::HandRetreat })
}

/// End and mean shoulder turn of the last quiet quarter second before the takeback in which the player faces the net.
fn ready_turn(motion: &CourtMotion, earliest: Seconds, backswing_end: Seconds) -> Option<(Seconds, f64)> {
    // A loop may pause at its top with the shoulders fully turned; that is no ready pose.
    const FACES_NET: f64 = 45.0;
    const STRIDE: Seconds = Seconds(0.02);
    let pace = |t: Seconds| {
        let wrists = |t: Seconds| {
            let now = motion.moment(t);
            let hips = now.middle(Joint::Hip);
            [Side::Left, Side::Right].map(|side| Some(now.at(Joint::Wrist.on(side))? - hips?))
        };
        let (after, before) = (wrists(t + STEP), wrists(t - STEP));
        let ways = after.into_iter().zip(before).filter_map(|(after, before)| Some(after? - before?));
        ways.map(|way| (way / (2.0 * STEP.0)).norm()).reduce(f64::max)
    };
    let latest = backswing_end - Seconds(0.15);
    // In order of time, as sums hang on it in their last digit.
    let mean =
        |values: &[(Seconds, f64)]| values.iter().rev().map(|v| v.1).sum::<f64>() / values.len() as f64;
    // Last first, and only as far back as the ready pose is looked for.
    let mut left = samples_backward(pace, earliest, latest);
    let mut all: Vec<(Seconds, f64)> = Vec::new();
    let mut end = latest;
    while end - READY_LENGTH >= earliest {
        let start = end - READY_LENGTH;
        while all.last().is_none_or(|(t, _)| *t >= start)
            && let Some(earlier) = left.next()
        {
            all.push(earlier);
        }
        let paces = &all[all.partition_point(|(t, _)| *t > end)..all.partition_point(|(t, _)| *t >= start)];
        if paces.len() > 3 && mean(paces) < READY_SPEED {
            let turns: Vec<_> = samples_backward(|t| shoulder_turn(motion, t), start, end).collect();
            if turns.len() > 3 {
                let ready = mean(&turns);
                if ready.abs() < FACES_NET {
                    return Some((end, ready));
                }
            }
        }
        end = end - STRIDE;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::COUNT;

    /// A hand that swings through contact at 1.0 s, 5 m/s fast, and slows down until 1.4 s, about which `after` says where it is on top of
    /// that.
    fn finish(after: impl Fn(f64) -> f64) -> Mark {
        let times: Vec<Seconds> = (0..150).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let points = times.iter().map(|t| {
            let mut points = [Some(Court::new(0.0, 0.0, 1.0)); COUNT];
            let slowing = (t.0 - 1.0).clamp(0.0, 0.4);
            let net = 5.0 * (t.0.min(1.0) + slowing - slowing * slowing / 0.8);
            points[Joint::Wrist.on(Side::Right) as usize] = Some(Court::new(net + after(t.0), 0.4, 1.2));
            points
        });
        let motion = CourtMotion::plain(points.collect(), times.clone());
        let contact = Mark { time: Seconds(1.0), method: Method::Sound };
        Phases::split(&motion, contact, Sort::Forehand).finish_end.unwrap()
    }

    #[test]
    fn a_hidden_hand_that_trembles_rests_all_the_same() {
        // Three centimetres to and fro within a tenth of a second: up to 1.9 m/s.
        let trembles = |t: f64| if t > 1.4 { 0.03 * (63.0 * (t - 1.4)).sin() } else { 0.0 };
        assert_eq!(finish(|_| 0.0).method, Method::HandSpeed);
        assert_eq!(finish(trembles).method, Method::HandSpeed);
        let goes_on = |t: f64| 2.5 * (t - 1.45).max(0.0);
        assert_eq!(finish(goes_on).method, Method::HandSlowed);
    }
}
