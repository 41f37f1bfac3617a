//! How late a clip's sound is on its pictures: one number for the whole clip, wherever the two are compared.
//!
//! Recorders, phones and programs that write files shift sound against pictures by up to a tenth of a second, and the
//! distance to the microphone is known only so well. What a clip tells of it is weighed on a grid: what is usual, how
//! late the hits are on what the hands' movement says (which has a lead of its own in every player), and how late they
//! are on balls that were seen to turn. A reading of hand or ball that is plain wrong must not carry the clip along, so
//! each has a share that may lie anywhere.

use std::f64::consts::PI;

use crate::order::median;
use crate::units::{Reading, Seconds};

/// How late the sound usually is: mostly by little, now and then by much (weight, 1 standard deviation in seconds), in a
/// file as a camera has written it and in one that some program has written anew.
const AS_RECORDED: [(f64, f64); 2] = [(0.95, 0.015), (0.05, 0.060)];
const REWRITTEN: [(f64, f64); 2] = [(0.50, 0.015), (0.50, 0.070)];

/// Spread of what is between the contact that the hand's movement tells and the true one and common to a clip: the way a
/// player swings, and how the view shows it (1 standard deviation); a share of clips is misread by far more.
const HABIT: f64 = 0.020;
const MISREAD: (f64, f64) = (0.08, 0.080);

/// Spread of that from stroke to stroke.
const STRAY: f64 = 0.010;

/// A share of the balls that were seen to turn is something else; its time lies anywhere within this.
const OTHER_BALL: (f64, f64) = (0.08, 0.25);

/// What is left of a sound's time when the clip's offset is known, at least: where the ball was met (1 standard deviation).
const LEAST: Seconds = Seconds(0.0015);

/// The sound is at most this late or early, and the steps in which that is looked at, seconds.
pub const LARGEST: f64 = 0.13;
const STEP: f64 = 0.0005;

/// What is usual, before anything was compared: how likely the hits are `late` on the contact that the hand's movement
/// tells, by the clip's sound and the player's habit together (density per second), when single ones stray by `stray`.
pub fn expected(late: f64, stray: f64, rewritten: bool) -> f64 {
    let parts = usual(rewritten);
    parts.iter().map(|(weight, spread)| weight * normal(late, spread.hypot(HABIT).hypot(stray))).sum()
}

const fn usual(rewritten: bool) -> [(f64, f64); 2] {
    if rewritten { REWRITTEN } else { AS_RECORDED }
}

/// What a clip shows of how late its sound is; each list has one entry per swing.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// Whether a program has written the file anew.
    pub rewritten: bool,
    /// When the hits were at the racket by the sound, the way of the sound taken off.
    pub sounds: &'a [Option<Reading>],
    /// Contact by the hand's movement.
    pub hands: &'a [Reading],
    /// When balls were seen to turn.
    pub balls: &'a [Option<Reading>],
    /// Error of the time that sound is under way, common to the clip (1 standard deviation).
    pub way: Seconds,
}

impl Evidence<'_> {
    /// How late the sound is (negative: early), the way of the sound taken off.
    pub fn offset(&self) -> Reading {
        self.likely().offset()
    }

    /// The sounds in the time of the pictures. For a swing whose own ball was seen to turn, the others and the hands tell
    /// the offset, so that its sound is a witness beside its ball and no echo of it.
    pub fn in_pictures(&self) -> Vec<Option<Reading>> {
        let likely = self.likely();
        let offset = likely.offset();
        let moved = |i: usize| {
            let sound = self.sounds[i]?;
            let late = self.by_ball(i).map_or(offset, |own| likely.without(&own).offset());
            let spread = Seconds(sound.spread.0.hypot(late.spread.0).hypot(LEAST.0));
            Some(Reading { time: sound.time - late.time, spread })
        };
        (0..self.sounds.len()).map(moved).collect()
    }

    /// How likely each offset is by all that the clip shows.
    fn likely(&self) -> Likely {
        let prior = usual(self.rewritten).map(|(weight, spread)| (weight, spread.hypot(self.way.0)));
        let hands = self.late_on_hands();
        let beside_balls = Likely::of(|late| {
            let usual: f64 = prior.iter().map(|(weight, spread)| weight * normal(late, *spread)).sum();
            let by_hands = hands.map_or(1.0, |hands| {
                let off = hands.time.0 - late;
                (1.0 - MISREAD.0) * normal(off, hands.spread.0) + MISREAD.0 * normal(off, MISREAD.1)
            });
            usual.ln() + by_hands.ln()
        });
        (0..self.sounds.len()).filter_map(|i| self.by_ball(i)).fold(beside_balls, |all, ball| all.with(&ball))
    }

    /// How likely each offset is by the ball of one swing; `None` where it was not both heard and seen.
    fn by_ball(&self, i: usize) -> Option<Likely> {
        let (sound, ball) = (self.sounds[i]?, (*self.balls.get(i)?)?);
        let (at, spread) = ((sound.time - ball.time).0, sound.spread.0.hypot(ball.spread.0).hypot(LEAST.0));
        Some(Likely::of(|late| {
            ((1.0 - OTHER_BALL.0) * normal(at - late, spread) + OTHER_BALL.0 / OTHER_BALL.1).ln()
        }))
    }

    /// How late the hits are on the hand's movement: the median, with what may be the player's habit.
    fn late_on_hands(&self) -> Option<Reading> {
        let pairs = || self.sounds.iter().zip(self.hands).filter_map(|(s, h)| Some(((*s)?, *h)));
        let middle = median(pairs().map(|(s, h)| (s.time - h.time).0))?;
        // What the movement itself is unsure of, as from behind, is unsure in all strokes alike.
        let own = median(pairs().map(|(_, h)| h.spread.0)).unwrap_or(HABIT);
        let single = STRAY / (pairs().count() as f64).sqrt();
        Some(Reading { time: Seconds(middle), spread: Seconds(own.max(HABIT).hypot(single)) })
    }
}

/// Logarithm of how likely the sound is so late, in even steps from the earliest to the latest.
struct Likely(Vec<f64>);

impl Likely {
    fn of(late: impl Fn(f64) -> f64) -> Self {
        Self(Self::steps().map(late).collect())
    }

    fn steps() -> impl Iterator<Item = f64> {
        let most = (LARGEST / STEP) as i32;
        (-most..=most).map(|i| f64::from(i) * STEP)
    }

    /// With another witness.
    fn with(mut self, other: &Self) -> Self {
        self.0.iter_mut().zip(&other.0).for_each(|(all, one)| *all += one);
        self
    }

    /// Without one of its witnesses.
    fn without(&self, other: &Self) -> Self {
        Self(self.0.iter().zip(&other.0).map(|(all, one)| all - one).collect())
    }

    /// Mean and spread.
    fn offset(&self) -> Reading {
        let best = self.0.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum = |value: &dyn Fn(f64) -> f64| -> f64 {
            Self::steps().zip(&self.0).map(|(late, l)| (l - best).exp() * value(late)).sum()
        };
        let all = sum(&|_| 1.0);
        let mean = sum(&|late| late) / all;
        let variance = sum(&|late| (late - mean).powi(2)) / all;
        Reading { time: Seconds(mean), spread: Seconds(variance.sqrt()) }
    }
}

/// Density of a normal distribution.
pub(super) fn normal(off: f64, spread: f64) -> f64 {
    (-0.5 * (off / spread).powi(2)).exp() / (spread * (2.0 * PI).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(times: &[f64], spread: f64) -> Vec<Option<Reading>> {
        let reading =
            |t: &f64| t.is_finite().then_some(Reading { time: Seconds(*t), spread: Seconds(spread) });
        times.iter().map(reading).collect()
    }

    const NONE: f64 = f64::NAN;

    /// The offset and the sounds of four hits at whole seconds, heard `late`, with hands that lead by `habit`.
    fn offset_of(
        late: f64,
        habit: f64,
        balls: &[f64; 4],
        rewritten: bool,
    ) -> (Reading, Vec<Option<Reading>>) {
        let times = [1.0, 2.0, 3.0, 4.0];
        let sounds = at(&times.map(|t| t + late), 0.0005);
        let hands: Vec<Reading> = at(&times.map(|t| t - habit), 0.018).into_iter().flatten().collect();
        let balls = at(balls, 0.001);
        let (sounds, hands, balls) = (&sounds[..], &hands[..], &balls[..]);
        let evidence = Evidence { rewritten, sounds, hands, balls, way: Seconds(0.003) };
        (evidence.offset(), evidence.in_pictures())
    }

    #[test]
    fn balls_that_were_seen_tell_when_the_other_hits_were() {
        for late in [0.012, 0.040, -0.080] {
            let (offset, sounds) = offset_of(late, 0.010, &[1.0, 2.001, NONE, 4.0], true);
            assert!((offset.time.0 - late).abs() < 0.001 && offset.spread.0 < 0.0015, "{offset:?}");
            let third = sounds[2].unwrap();
            assert!((third.time.0 - 3.0).abs() < 1e-3 && third.spread < Seconds(0.003), "{third:?}");
        }
    }

    #[test]
    fn one_ball_among_others_that_lies_does_not_carry_the_clip_along() {
        let (offset, _) = offset_of(0.012, 0.0, &[1.0, 2.0, 3.030, 4.0], true);
        assert!((offset.time.0 - 0.012).abs() < 0.001 && offset.spread.0 < 0.002, "{offset:?}");
    }

    #[test]
    fn without_balls_an_offset_is_open_and_the_spread_says_so() {
        for late in [-0.080, -0.040, -0.020, 0.0, 0.020, 0.040, 0.080] {
            for habit in [-0.02, 0.0, 0.02] {
                let (offset, sounds) = offset_of(late, habit, &[NONE; 4], true);
                let off = (offset.time.0 - late).abs();
                assert!(off < 2.6 * offset.spread.0, "{late} {habit}: {offset:?}");
                assert!((0.008..0.045).contains(&sounds[0].unwrap().spread.0), "{late} {habit}: {offset:?}");
            }
        }
        // A file as the camera wrote it is less likely to be shifted.
        let (known, open) =
            (offset_of(0.02, 0.0, &[NONE; 4], false).0, offset_of(0.02, 0.0, &[NONE; 4], true).0);
        assert!(known.spread < open.spread);
    }

    #[test]
    fn a_single_ball_tells_the_clip_but_is_no_echo_of_itself() {
        let (offset, sounds) = offset_of(0.030, 0.0, &[1.0, NONE, NONE, NONE], true);
        assert!((offset.time.0 - 0.030).abs() < 0.004, "{offset:?}");
        assert!(sounds[0].unwrap().spread.0 > 0.008, "its own ball has told the first: {sounds:?}");
    }
    #[test]
    fn a_sound_is_told_by_the_other_strokes_balls_as_if_its_own_had_not_been_seen() {
        let balls = [1.0, 2.004, 2.998, NONE];
        let (_, sounds) = offset_of(0.020, 0.005, &balls, true);
        for i in 0..3 {
            let mut others = balls;
            others[i] = NONE;
            let (without, _) = offset_of(0.020, 0.005, &others, true);
            let told = sounds[i].unwrap();
            let heard = [1.0, 2.0, 3.0][i] + 0.020;
            assert!((heard - without.time.0 - told.time.0).abs() < 1e-12, "{i}: {told:?} {without:?}");
        }
    }
}
