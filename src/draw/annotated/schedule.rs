//! What of a clip is shown when: forward swings slowly, contact held, the rest as it was.

use crate::units::Seconds;
use crate::video::{SOUND_RATE, Sound};

/// How much slower forward swings are shown.
pub const SLOWER: f64 = 4.0;
/// Slow motion begins so long before the forward swing and ends so long after contact.
const BEFORE: Seconds = Seconds(0.10);
const AFTER: Seconds = Seconds(0.15);
/// A forward swing whose begin is not known is taken to be so long.
const USUAL_SWING: Seconds = Seconds(0.30);
/// Contact is held so long.
const HOLD: Seconds = Seconds(1.5);
/// Sound rises and falls over this many samples where it is cut, so that it doesn't click.
const RAMP: usize = SOUND_RATE as usize / 200;

/// How a part of the clip is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// As it was.
    Real,
    /// In slow motion.
    Slow,
    /// Standing still at the contact of the stroke at this place.
    Held(usize),
}

/// A part of the annotated clip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// When it begins in the annotated clip.
    pub begin: Seconds,
    /// How long it is there.
    pub length: Seconds,
    /// The clip's own time at its begin.
    pub from: Seconds,
    /// How it is shown.
    pub pace: Pace,
}

/// The parts of an annotated clip, without gaps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Schedule {
    parts: Vec<Part>,
}

impl Schedule {
    /// The schedule of a clip of the given length with strokes that begin their forward swing and meet the ball at these
    /// times, in order.
    pub fn new(swings: &[(Option<Seconds>, Seconds)], length: Seconds) -> Self {
        let mut schedule = Self::default();
        let mut now = Seconds(0.0);
        for (place, (forward, contact)) in swings.iter().enumerate() {
            let contact = contact.max(now).min(length);
            let forward = forward.unwrap_or(contact - USUAL_SWING) - BEFORE;
            let slow_from = forward.max(now).min(contact);
            let next = swings.get(place + 1).map_or(length, |(_, contact)| *contact);
            let slow_to = (contact + AFTER).min(length).min(next.max(contact));
            schedule.add(now, slow_from, Pace::Real);
            schedule.add(slow_from, contact, Pace::Slow);
            schedule.push(contact, HOLD, Pace::Held(place));
            schedule.add(contact, slow_to, Pace::Slow);
            now = slow_to;
        }
        schedule.add(now, length, Pace::Real);
        schedule
    }

    fn add(&mut self, from: Seconds, to: Seconds, pace: Pace) {
        let length = if pace == Pace::Slow { (to - from) * SLOWER } else { to - from };
        self.push(from, length, pace);
    }

    fn push(&mut self, from: Seconds, length: Seconds, pace: Pace) {
        if length.0 > 0.0 {
            self.parts.push(Part { begin: self.length(), length, from, pace });
        }
    }

    /// The parts in order.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// How long the annotated clip is.
    pub fn length(&self) -> Seconds {
        self.parts.last().map_or(Seconds(0.0), |part| part.begin + part.length)
    }

    /// What is shown at a time of the annotated clip: the clip's own time and how; `None` after the end.
    pub fn at(&self, time: Seconds) -> Option<(Seconds, Pace)> {
        let next = self.parts.partition_point(|part| part.begin <= time);
        let part = self.parts.get(next.checked_sub(1)?)?;
        let into = time - part.begin;
        let own = match part.pace {
            Pace::Real => part.from + into,
            Pace::Slow => part.from + into / SLOWER,
            Pace::Held(_) => part.from,
        };
        (into < part.length).then_some((own, part.pace))
    }

    /// The sound of the annotated clip: the clip's own where it is shown as it was, silence elsewhere.
    pub fn sound(&self, sound: &Sound) -> Vec<f32> {
        let place = |time: Seconds| (time.0 * f64::from(SOUND_RATE)).round() as i64;
        let mut samples = vec![0.0; place(self.length()).max(0) as usize];
        for part in self.parts.iter().filter(|part| part.pace == Pace::Real) {
            let (begin, end) = (place(part.begin), place(part.begin + part.length));
            for stretch in &sound.stretches {
                let shift = place(part.begin) + place(stretch.start) - place(part.from);
                for to in begin.max(shift)..end.min(shift + stretch.samples.len() as i64) {
                    let edge = (to - begin).min(end - 1 - to) as usize;
                    let gain = (edge as f32 / RAMP as f32).min(1.0);
                    if let (Some(sample), Some(own)) =
                        (samples.get_mut(to as usize), stretch.samples.get((to - shift) as usize))
                    {
                        *sample = own * gain;
                    }
                }
            }
        }
        samples
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::Stretch;
    use proptest::prelude::*;

    fn schedule() -> Schedule {
        Schedule::new(&[(Some(Seconds(1.8)), Seconds(2.0)), (None, Seconds(5.0))], Seconds(6.0))
    }

    #[test]
    fn swings_are_slow_and_contact_is_held() {
        let schedule = schedule();
        let paces: Vec<Pace> = schedule.parts().iter().map(|part| part.pace).collect();
        use Pace::{Held, Real, Slow};
        assert_eq!(paces, [Real, Slow, Held(0), Slow, Real, Slow, Held(1), Slow, Real]);
        let slow = 0.3 + 0.15 + 0.4 + 0.15;
        assert!((schedule.length().0 - (6.0 - slow + SLOWER * slow + 2.0 * HOLD.0)).abs() < 1e-9);
        assert_eq!(schedule.at(Seconds(1.0)), Some((Seconds(1.0), Real)));
        let (own, pace) = schedule.at(Seconds(1.7 + 0.4)).unwrap();
        assert!((own.0 - 1.8).abs() < 1e-9 && pace == Slow);
        assert_eq!(schedule.at(Seconds(1.7 + 1.2 + 0.5)), Some((Seconds(2.0), Held(0))));
        assert_eq!(schedule.at(schedule.length()), None);
    }

    #[test]
    fn sound_stays_with_its_pictures() {
        let samples = (0..6 * SOUND_RATE as usize).map(|i| i as f32 / SOUND_RATE as f32).collect();
        let sound = Sound { stretches: vec![Stretch { start: Seconds(0.0), samples }], ..Sound::default() };
        let schedule = schedule();
        let heard = schedule.sound(&sound);
        assert_eq!(heard.len(), (schedule.length().0 * f64::from(SOUND_RATE)).round() as usize);
        for i in (0..heard.len()).step_by(1000) {
            let time = Seconds(i as f64 / f64::from(SOUND_RATE));
            let (own, pace) = schedule.at(time).unwrap();
            let expected = if pace == Pace::Real { own.0 as f32 } else { 0.0 };
            let near_cut = schedule.parts().iter().any(|p| (time - p.begin).abs().0 < 0.006);
            assert!(near_cut || (heard[i] - expected).abs() < 1e-3, "{time:?} {} {expected}", heard[i]);
        }
    }

    proptest! {
        #[test]
        fn nothing_is_left_out_and_time_never_runs_back(
            mut contacts in prop::collection::vec(0.0..20.0f64, 0..6), swing in prop::option::of(0.0..1.0f64),
        ) {
            contacts.sort_by(f64::total_cmp);
            let swings: Vec<_> =
                contacts.iter().map(|c| (swing.map(|s| Seconds(c - s)), Seconds(*c))).collect();
            let schedule = Schedule::new(&swings, Seconds(18.0));
            let mut own = 0.0;
            for part in schedule.parts() {
                prop_assert!((part.from.0 - own).abs() < 1e-9);
                own = match part.pace {
                    Pace::Real => own + part.length.0,
                    Pace::Slow => own + part.length.0 / SLOWER,
                    Pace::Held(_) => own,
                };
            }
            prop_assert!((own - 18.0).abs() < 1e-9);
        }
    }
}
