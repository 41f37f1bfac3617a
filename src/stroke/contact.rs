//! The instant of impact: from the hand's movement, and fused with whatever else witnessed it.

use super::correction::SPREAD_IN_PICTURES;
use super::kind::Kind;
use super::{Mark, Method, search};
use crate::geometry::Court;
use crate::scene::CourtMotion;
use crate::units::{Reading, Seconds};

/// One way of reading contact from a curve: how long contact comes after the curve's extreme, and how far that varies
/// (1 standard deviation). Means over rendered and recorded players whose contact is known; a real player's habit is
/// part of the spread.
#[derive(Debug, Clone, Copy)]
struct Cue {
    lead: Seconds,
    spread: Seconds,
}

/// Peak of the hand's speed toward the net.
const FASTEST_FOREHAND: Cue = Cue { lead: Seconds(0.030), spread: Seconds(0.018) };
const FASTEST_OTHER: Cue = Cue { lead: Seconds(0.026), spread: Seconds(0.020) };

/// The speed toward the net fallen to half its peak: later than the peak, but where the speed stays high for long it is
/// the end of the plateau that follows contact, not its highest point.
const FALLEN_SHARE: f64 = 0.5;
const FALLEN_FOREHAND: Cue = Cue { lead: Seconds(-0.046), spread: Seconds(0.014) };
const FALLEN_OTHER: Cue = Cue { lead: Seconds(-0.028), spread: Seconds(0.022) };

/// The hand farthest out to its side: the swing comes from the inside and crosses over after the ball.
const WIDEST: Cue = Cue { lead: Seconds(0.028), spread: Seconds(0.013) };

/// Contact is looked for this far on either side of the peak of the hand's speed.
const REACH: Seconds = Seconds(0.13);

/// From behind or in front the speed's peak is read late, out of depth and finish; the widest point lies farther back.
const WIDEST_REACH: Seconds = Seconds(0.25);

/// Step of the differences that give the hand's velocity.
const STEP: Seconds = Seconds(0.008);

/// Contact as it was settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// When the ball was met and how that was told.
    pub mark: Mark,
    /// Standard deviation of the time.
    pub spread: Seconds,
    /// Where the hand's movement was read, if contact hangs on it alone: errors of the landmarks then move it.
    movement: Option<Movement>,
}

/// What it takes to read contact from the hand's path again.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Movement {
    peak: Seconds,
    path: Option<(Seconds, f64)>,
}

/// Contact as the player's movement tells it, without ball and sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moved {
    /// The time and its spread.
    pub contact: Reading,
    /// When the hand's path has it, and how much that counts in the time, 0 to 1; `None` where the path tells nothing.
    pub path: Option<(Seconds, f64)>,
}

/// An impact that is known less surely (1 standard deviation) is not told from what happens beside it.
const INSTANT: Seconds = Seconds(0.006);

/// A witness with less than this share in a fused time is not named.
const NAMED_SHARE: f64 = 0.1;

impl Contact {
    /// Contact from the movement alone, whose hand is fastest at `peak`. Where the clip's other strokes show how much later
    /// the ball is met, `shift` corrects it.
    pub fn by_movement(moved: Moved, peak: Seconds, shift: Option<Reading>) -> Self {
        let (time, spread, method) = match shift {
            Some(shift) => (moved.contact.time + shift.time, shift.spread, Method::SoundKinematic),
            None => (moved.contact.time, moved.contact.spread, Method::Kinematic),
        };
        let movement = Some(Movement { peak, path: moved.path });
        Self { mark: Mark { time, method }, spread, movement }
    }

    /// Contact from all witnesses, each with the method it is named by: the mean weighted by 1/spread². Witnesses are
    /// taken to err independently; `None` without any.
    pub fn fused(witnesses: &[(Method, Reading)]) -> Option<Self> {
        let weight = |reading: &Reading| reading.spread.0.powi(-2);
        let all: f64 = witnesses.iter().map(|(_, r)| weight(r)).sum();
        let time = witnesses.iter().map(|(_, r)| r.time.0 * weight(r)).sum::<f64>() / all;
        let method = witnesses
            .iter()
            .filter(|(_, r)| weight(r) > NAMED_SHARE * all)
            .map(|(method, _)| *method)
            .reduce(Method::joined)?;
        let spread = Seconds(all.powf(-0.5));
        Some(Self { mark: Mark { time: Seconds(time), method }, spread, movement: None })
    }

    /// One contact of what two cameras saw of it, `other` being the second one's with its time on the first one's clock, and the share
    /// of the first one in it. Two impacts that were heard or seen err independently; movements err alike in both.
    pub fn of_both(&self, other: &Self) -> (Self, f64) {
        let is_marked = |contact: &Self| contact.mark.method == Method::Marked;
        match (is_marked(self), is_marked(other)) {
            (true, _) => return (*self, 1.0),
            (false, true) => return (*other, 0.0),
            (false, false) => {}
        }
        let weights = [self, other].map(|contact| contact.spread.0.powi(-2));
        let share = weights[0] / (weights[0] + weights[1]);
        let apart = (self.mark.time - other.mark.time).abs().0;
        if apart > MISLED * self.spread.0.hypot(other.spread.0) {
            return if share >= 0.5 { (*self, 1.0) } else { (*other, 0.0) };
        }
        let time = self.mark.time.0 * share + other.mark.time.0 * (1.0 - share);
        let method = match share {
            share if share > 1.0 - NAMED_SHARE => self.mark.method,
            share if share < NAMED_SHARE => other.mark.method,
            _ => self.mark.method.joined(other.mark.method),
        };
        let spread = match self.movement.is_none() && other.movement.is_none() {
            true => Seconds((weights[0] + weights[1]).powf(-0.5)),
            false => self.spread.min(other.spread),
        };
        (Self { mark: Mark { time: Seconds(time), method }, spread, movement: None }, share)
    }

    /// The same contact at a time on another clock.
    pub fn at(&self, time: Seconds) -> Self {
        Self { mark: Mark { time, ..self.mark }, ..*self }
    }

    /// Whether contact hangs on the hand's movement alone.
    pub const fn is_by_movement(&self) -> bool {
        self.movement.is_some()
    }

    /// The same contact where another witness, told as surely, has it `apart` from this.
    pub fn disputed(self, apart: Seconds) -> Self {
        Self { spread: Seconds(self.spread.0.hypot(0.5 * apart.0)), ..self }
    }

    /// Contact as a person has read it off the pictures, of which there are `rate` a second.
    pub fn marked(time: Seconds, rate: f64) -> Self {
        let spread = Seconds(SPREAD_IN_PICTURES / rate);
        Self { mark: Mark { time, method: Method::Marked }, spread, movement: None }
    }

    /// Contact in a motion that differs by drawn errors, off by `draw` standard deviations (a normal deviate): it follows the hand's
    /// path as far as that counts.
    pub fn again(&self, motion: &CourtMotion, kind: Kind, draw: f64) -> Option<Mark> {
        let moved = match self.movement {
            Some(Movement { peak, path: Some((path, share)) }) => {
                (kinematic(motion, kind, peak)?.time - path) * share
            }
            _ => Seconds(0.0),
        };
        Some(Mark { time: self.mark.time + moved + self.spread * draw, ..self.mark })
    }

    /// Whether the instant of impact itself is known, between pictures.
    pub fn is_instant(&self) -> bool {
        self.movement.is_none() && self.mark.method != Method::Marked && self.spread <= INSTANT
    }

    /// The least ± that is stated, 95 %: what was read from pictures alone is not known better than half their
    /// `interval`.
    pub fn least(&self, interval: Seconds) -> Seconds {
        if self.movement.is_some() { interval * 0.5 } else { Seconds(0.0) }
    }
}

/// Reads contact near `peak`, the peak of the hand's speed relative to the hips. Its uncertainty is the spread between
/// players, without the landmarks' own noise.
///
/// From the side the peak of the speed toward the net is seen well; from behind or in front the hand's widest point is.
/// Both are weighed by how much of their movement lies in the picture's plane.
pub fn kinematic(motion: &CourtMotion, kind: Kind, peak: Seconds) -> Option<Reading> {
    let toward_net = |t: Seconds| velocity_from_hips(motion, t).map(|v| v.net);
    let (fastest, speed) = search::maximum(toward_net, peak - REACH, peak + REACH)?;
    let (at_peak, after_peak) = match kind {
        Kind::Forehand => (FASTEST_FOREHAND, FALLEN_FOREHAND),
        _ => (FASTEST_OTHER, FALLEN_OTHER),
    };
    let seen = motion.net_in_picture().max(0.05);
    let mut readings = vec![(fastest + at_peak.lead, at_peak.spread / seen)];
    let fallen =
        search::first_at_or_under(toward_net, FALLEN_SHARE * speed, fastest, fastest + REACH + REACH);
    if let Some(fallen) = fallen {
        readings.push((fallen + after_peak.lead, after_peak.spread / seen));
    }
    if kind == Kind::Forehand && motion.side_in_picture() > 0.3 {
        let out = |t: Seconds| motion.hand_from_hips(t).map(|p| p.side);
        let (from, to) = (peak - WIDEST_REACH, peak + REACH);
        if let Some((widest, _)) = search::maximum(out, from, to)
            && widest > from + STEP
            && widest < to - STEP
        {
            readings.push((widest + WIDEST.lead, WIDEST.spread / motion.side_in_picture()));
        }
    }
    let weights: f64 = readings.iter().map(|(_, s)| s.0.powi(-2)).sum();
    let time = readings.iter().map(|(t, s)| t.0 * s.0.powi(-2)).sum::<f64>() / weights;
    // Readings share the hand's errors, so together they are no surer than the best of them, and less sure where they
    // contradict each other.
    let best = readings.iter().map(|(_, s)| s.0).fold(f64::INFINITY, f64::min);
    let scatter = readings.iter().map(|(t, s)| (t.0 - time).powi(2) * s.0.powi(-2)).sum::<f64>() / weights;
    Some(Reading { time: Seconds(time), spread: Seconds(best.min(0.05).hypot(scatter.sqrt())) })
}

/// What the hand's path says and what the recogniser does err partly alike: together they are no surer than this share of the
/// surer one.
const TOGETHER: f64 = 0.9;

/// The hand's path as landmarks show it times contact less surely than it does in a body's movement: against recorded players and real clips
/// seen by any camera its readings err by this many times their spread.
const PATH: f64 = 4.0;

/// A reading of the hand's path this many standard deviations from the recognised contact was misled.
const MISLED: f64 = 3.0;

/// Contact from the hand's path and as it was recognised from the whole body; `None` without either.
pub fn from_movement(kinematic: Option<Reading>, recognised: Option<Reading>) -> Option<Moved> {
    let (kinematic, recognised) = match (kinematic, recognised) {
        (Some(kinematic), Some(recognised)) => (kinematic, recognised),
        (Some(alone), None) => return Some(Moved { contact: alone, path: Some((alone.time, 1.0)) }),
        (None, recognised) => return recognised.map(|contact| Moved { contact, path: None }),
    };
    let apart = (kinematic.time - recognised.time).abs().0;
    if apart > MISLED * kinematic.spread.0.hypot(recognised.spread.0) {
        return Some(Moved { contact: recognised, path: None });
    }
    let path = kinematic.spread * PATH;
    let [a, b] = [path, recognised.spread].map(|spread| spread.0.powi(-2));
    let share = a / (a + b);
    let time = recognised.time + (kinematic.time - recognised.time) * share;
    let surer = path.0.min(recognised.spread.0);
    let contact = Reading { time, spread: Seconds((TOGETHER * surer).hypot(0.5 * apart)) };
    Some(Moved { contact, path: Some((kinematic.time, share)) })
}

/// Velocity of the hand relative to the hips, metres per second.
pub fn velocity_from_hips(motion: &CourtMotion, time: Seconds) -> Option<Court> {
    CourtMotion::velocity(|t| motion.hand_from_hips(t), time, STEP)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::COUNT;
    use crate::pose::{Joint, Side};

    fn reading(time: f64, spread: f64) -> Reading {
        Reading { time: Seconds(time), spread: Seconds(spread) }
    }

    #[test]
    fn the_surer_witness_counts_more_and_names_the_method() {
        let sound = (Method::Sound, reading(1.000, 0.002));
        let movement = (Method::Kinematic, reading(1.020, 0.020));
        let fused = Contact::fused(&[sound, movement]).unwrap();
        assert_eq!(fused.mark.method, Method::Sound);
        assert!((fused.mark.time.0 - 1.0002).abs() < 5e-5, "{fused:?}");
        assert!(fused.spread < Seconds(0.002));
        let vague = (Method::Sound, reading(1.000, 0.015));
        let fused = Contact::fused(&[vague, movement]).unwrap();
        assert_eq!(fused.mark.method, Method::SoundKinematic);
        assert!((fused.spread.0 - 0.012).abs() < 1e-9);
        assert_eq!(Contact::fused(&[]), None);
        let disputed = Contact::fused(&[sound]).unwrap().disputed(Seconds(0.024));
        assert!(
            disputed.mark.time == Seconds(1.0) && disputed.spread >= Seconds(0.012) && !disputed.is_instant()
        );
    }

    #[test]
    fn a_shift_learnt_from_other_strokes_moves_a_kinematic_contact() {
        let movement = from_movement(Some(reading(1.0, 0.018)), None).unwrap();
        let plain = Contact::by_movement(movement, Seconds(0.97), None);
        assert_eq!((plain.mark.method, plain.mark.time), (Method::Kinematic, Seconds(1.0)));
        let moved = Contact::by_movement(movement, Seconds(0.97), Some(reading(0.012, 0.009)));
        assert_eq!((moved.mark.method, moved.mark.time), (Method::SoundKinematic, Seconds(1.012)));
        assert_eq!(moved.spread, Seconds(0.009));
        assert!(moved.least(Seconds(0.1)) > moved.least(Seconds(0.01)));
    }

    #[test]
    fn path_and_recognised_contact_meet_between_them_unless_one_was_misled() {
        let recognised = reading(1.017, 0.020);
        let both = from_movement(Some(reading(1.000, 0.020)), Some(recognised)).unwrap();
        assert!((both.contact.time.0 - 1.016).abs() < 1e-9, "{both:?}");
        assert!(
            both.path.is_some_and(|(path, share)| path == Seconds(1.0) && (share - 1.0 / 17.0).abs() < 1e-9)
        );
        let misled = from_movement(Some(reading(1.200, 0.020)), Some(recognised)).unwrap();
        assert_eq!(misled, Moved { contact: recognised, path: None });
        assert_eq!(from_movement(None, Some(recognised)), Some(misled));
        assert_eq!(from_movement(None, None), None);
    }

    #[test]
    fn contact_read_again_in_the_same_motion_is_where_it_was() {
        // The hand swings forward and is fastest at 1 s.
        let times: Vec<Seconds> = (0..120).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let frame = |time: &Seconds| {
            let mut points = [None; COUNT];
            let mut put = |joint: Joint, side, at| points[joint.on(side) as usize] = Some(at);
            put(Joint::Hip, Side::Right, Court::new(0.0, 0.1, 0.90));
            put(Joint::Hip, Side::Left, Court::new(0.0, -0.1, 0.90));
            put(Joint::Wrist, Side::Right, Court::new(0.6 * ((time.0 - 1.0) / 0.1).tanh(), 0.5, 1.0));
            points
        };
        let motion = CourtMotion::plain(times.iter().map(frame).collect(), times);
        let fastest = Seconds(1.0);
        let path = kinematic(&motion, Kind::Forehand, fastest).unwrap();
        let recognised = Reading { time: path.time + Seconds(0.02), spread: Seconds(0.02) };
        let moved = from_movement(Some(path), Some(recognised)).unwrap();
        let contact = Contact::by_movement(moved, fastest, None);
        let again = contact.again(&motion, Kind::Forehand, 0.0).unwrap();
        assert!((again.time - contact.mark.time).abs() < Seconds(1e-9), "{again:?} {contact:?}");
    }
}
