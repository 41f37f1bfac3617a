//! Which of a clip's short sounds are the player's own hits.
//!
//! A clip is full of hits: other courts', bounces, the feeder's. The player's own come at much the same moment of every
//! swing (what the hand's movement says, plus one shift for the whole clip, which is the player's own habit and how late
//! the sound is on the pictures) and with much the same loudness, and both
//! are shared over the strokes. Sounds elsewhere in the clip tell how often and how loud something else would fall into
//! a swing by chance. Moment and loudness of the clip's hits are the pair that explains most swings; each sound is then
//! weighed against chance under that pair.

use super::offset::{self, normal};
use crate::sound::{Heard, Onset};
use crate::units::{Reading, Seconds};

/// A hit is heard at most this long before and after the contact that the hand's movement tells: the sound may be early or
/// late by [`offset::LARGEST`], and it is under way for up to 60 ms.
const WINDOW: (Seconds, Seconds) = (Seconds(-0.170), Seconds(0.240));

/// A swing in whose window nothing is heard may have been timed wrongly, the hand having been lost from sight: a sound
/// within this of it, as loud as the clip's hits where little else is, is its hit all the same.
const WIDE: Seconds = Seconds(0.25);

/// Spread of the moments around the shift from stroke to stroke, apart from the pictures' interval.
const MOMENT_SPREAD: f64 = 0.010;

/// What half the pictures' interval, evenly distributed, adds (1/√12 of an interval).
const INTERVAL_SHARE: f64 = 0.29;

/// One moment in twenty may lie anywhere in the window: the hand was lost from sight.
const STRAY: f64 = 0.05;

/// Spread of one player's hits in loudness, and of clips' usual loudness, dB.
const LEVEL_SPREAD: f64 = 5.0;
const CLIP_LEVEL_SPREAD: f64 = 15.0;

/// Loudness of the other sounds is smoothed by this, dB; beside those that were heard, `UNHEARD` of one may lie anywhere
/// over `LEVELS`.
const KERNEL: f64 = 4.0;
const UNHEARD: f64 = 0.3;
const LEVELS: f64 = 40.0;

/// Share of hits that are heard.
const AUDIBLE: f64 = 0.9;

/// The clip's hits are believed from these odds on (natural logarithm), a single one from this probability on.
const CLIP_ODDS: f64 = 2.3;
const BELIEVED: f64 = 0.9;

/// The moment at which everything else is explained better by this much (natural logarithm) is the right one.
const CLEARLY_BETTER: f64 = 3.0;

/// Most pairs of moment and loudness that are tried.
const MOST_TRIED: usize = 300;

/// How often a pair is improved by the hits it explains.
const ROUNDS: usize = 4;

/// In louder surroundings than this (dB of full scale) a hit may go unheard.
const QUIET: f64 = -45.0;

/// Where other sounds are rarer than this a second, and hits stand this far over the usual level (dB), a hit does not go
/// unheard.
const BUSY: f64 = 0.6;
const CLEAR: f64 = 30.0;

/// A sound this much quieter than the clip's hits is none of them, dB.
const TOO_QUIET: f64 = 3.0 * LEVEL_SPREAD;

/// So many hits set the shift for swings whose hit was not heard, and show that hits are heard at all.
const FEWEST: usize = 3;

/// What is known of a swing before its sound is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swung {
    /// Contact from the hand's movement.
    pub kinematic: Reading,
    /// How long the sound takes to the microphone.
    pub delay: Reading,
}

/// What the sound says of a clip's swings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hits {
    /// When each swing's hit was at the racket by the sound's own time, where it was heard. The spread is the sound's;
    /// how late the clip's sound is on its pictures is told by [`offset::Evidence`].
    pub of_swings: Vec<Option<Reading>>,
    /// Whether each swing met a ball; `None` where the sound doesn't tell.
    pub ball: Vec<Option<bool>>,
    /// How much later than by the hand's movement the hits are heard, where enough were: for swings whose hit was not.
    pub shift: Option<Reading>,
    /// Whether the hits fit the swings only if sound and pictures of the clip belong to altogether different times.
    pub apart: bool,
}

/// A sound in a swing's window.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    onset: Onset,
    /// At the racket, after the contact that the hand's movement tells.
    moment: f64,
    /// How often something else as loud is heard at any moment, each second and dB.
    chance: f64,
}

/// Moment and loudness that a clip's hits have in common.
#[derive(Debug, Clone, Copy)]
struct Common {
    shift: f64,
    level: f64,
}

/// Finds the player's hits. `interval` is the time between pictures.
pub fn among_swings(swings: &[Swung], heard: &Heard, interval: Seconds) -> Hits {
    let n = swings.len();
    let sounds = SwingSounds::new(swings, heard, interval);
    let within = sounds.best(|c| c.shift.abs() <= offset::LARGEST);
    let anywhere = sounds.best(|_| true);
    let odds = |found: &Option<(Common, f64)>| found.as_ref().map_or(0.0, |f| f.1);
    let apart = odds(&anywhere) > odds(&within).max(CLIP_ODDS) + CLEARLY_BETTER;
    let wide: Vec<Vec<Candidate>> =
        swings.iter().map(|s| sounds.others.around(s, &heard.onsets, (-WIDE, WIDE))).collect();
    let Some((common, _)) = within.filter(|found| found.1 >= CLIP_ODDS && !apart) else {
        let unheard = (1.0 - AUDIBLE).ln() * n as f64;
        let against = within.map_or(unheard, |found| found.1) < -CLIP_ODDS + f64::EPSILON;
        let ball = (against && !apart && heard.floor < QUIET).then_some(false);
        return Hits { of_swings: vec![None; n], ball: vec![ball; n], shift: None, apart };
    };
    let of_swings: Vec<Option<Reading>> = (0..n)
        .map(|i| {
            let odds = |c: &Candidate| sounds.odds(c, common);
            let stray = |c: &Candidate| sounds.stray_odds(c, common);
            believed(&sounds.candidates[i], odds, &swings[i])
                .or_else(|| believed(&wide[i], stray, &swings[i]))
        })
        .collect();
    // A single hit may be drowned by something else; that it is missing means little but where little else is heard.
    let calm = sounds.others.levels.len() as f64 / sounds.others.listened < BUSY
        && common.level > heard.floor + CLEAR
        && of_swings.iter().flatten().count() >= FEWEST;
    let ball = (0..n)
        .map(|i| {
            let nothing = wide[i].iter().all(|c| c.onset.level < common.level - TOO_QUIET);
            match (of_swings[i], nothing && calm) {
                (Some(_), _) => Some(true),
                (None, true) => Some(false),
                (None, false) => None,
            }
        })
        .collect();
    Hits { shift: shift(swings, &of_swings), of_swings, ball, apart }
}

/// What is to be heard outside of all swings.
struct Others {
    levels: Vec<f64>,
    /// How long it was listened to, seconds.
    listened: f64,
}

impl Others {
    fn new(swings: &[Swung], heard: &Heard) -> Self {
        let outside = |o: &&Onset| {
            swings.iter().all(|s| {
                let off = o.time - s.kinematic.time;
                off < WINDOW.0 || off > WINDOW.1
            })
        };
        let windows = (WINDOW.1 - WINDOW.0).0 * swings.len() as f64;
        Self {
            levels: heard.onsets.iter().filter(outside).map(|o| o.level).collect(),
            listened: (heard.length.0 - windows).max(1.0),
        }
    }

    /// Sum of their densities at a level.
    fn as_loud(&self, level: f64) -> f64 {
        self.levels.iter().map(|other| normal(level - other, KERNEL)).sum()
    }

    /// How often something is heard, when those as loud have this sum.
    fn chance(&self, as_loud: f64) -> f64 {
        (as_loud + UNHEARD / LEVELS) / self.listened
    }

    /// The sounds that lie in a window around the contact that a swing's movement tells.
    fn around(&self, swing: &Swung, onsets: &[Onset], window: (Seconds, Seconds)) -> Vec<Candidate> {
        let (from, to) = (swing.kinematic.time + window.0, swing.kinematic.time + window.1);
        let first = onsets.partition_point(|o| o.time < from);
        onsets[first..]
            .iter()
            .take_while(|o| o.time <= to)
            .map(|&onset| Candidate {
                onset,
                moment: (onset.time - swing.delay.time - swing.kinematic.time).0,
                chance: self.chance(self.as_loud(onset.level)),
            })
            .collect()
    }
}

/// The swings' sounds against everything else that is to be heard.
struct SwingSounds {
    candidates: Vec<Vec<Candidate>>,
    /// Spread of the moments around the clip's shift, seconds.
    spread: f64,
    /// Whether a program has written the file anew.
    rewritten: bool,
    others: Others,
}

impl SwingSounds {
    fn new(swings: &[Swung], heard: &Heard, interval: Seconds) -> Self {
        let others = Others::new(swings, heard);
        Self {
            candidates: swings.iter().map(|s| others.around(s, &heard.onsets, WINDOW)).collect(),
            spread: MOMENT_SPREAD.hypot(INTERVAL_SHARE * interval.0),
            rewritten: heard.rewritten,
            others,
        }
    }

    /// How much likelier a sound is the swing's hit than something else that fell there by chance (natural logarithm).
    fn odds(&self, candidate: &Candidate, common: Common) -> f64 {
        let window = (WINDOW.1 - WINDOW.0).0;
        let moment = (1.0 - STRAY) * normal(candidate.moment - common.shift, self.spread) + STRAY / window;
        let level = normal(candidate.onset.level - common.level, LEVEL_SPREAD);
        (moment * level / candidate.chance).max(f64::MIN_POSITIVE).ln()
    }

    /// The same for a sound that may lie anywhere around a swing which was timed wrongly.
    fn stray_odds(&self, candidate: &Candidate, common: Common) -> f64 {
        let level = candidate.onset.level;
        // Such a sound counts among the others; it is no evidence against itself.
        let itself = if self.others.levels.contains(&level) { normal(0.0, KERNEL) } else { 0.0 };
        let chance = self.others.chance((self.others.as_loud(level) - itself).max(0.0));
        let moment = STRAY / (2.0 * WIDE.0);
        (moment * normal(level - common.level, LEVEL_SPREAD) / chance).max(f64::MIN_POSITIVE).ln()
    }

    /// Weight of each of a swing's sounds under a pair, and what the swing adds to the pair's odds.
    fn weigh(&self, swing: usize, common: Common) -> (Vec<f64>, f64) {
        weights(&self.candidates[swing], |c| self.odds(c, common))
    }

    /// The pair allowed by `fits` that explains the swings best, with its odds against there being no hits at all.
    fn best(&self, fits: impl Fn(Common) -> bool) -> Option<(Common, f64)> {
        let all: Vec<&Candidate> = self.candidates.iter().flatten().collect();
        let stride = all.len().div_ceil(MOST_TRIED).max(1);
        let start = |c: &&Candidate| Common { shift: c.moment, level: c.onset.level };
        all.iter()
            .step_by(stride)
            .map(start)
            .filter(|common| fits(*common))
            .map(|common| {
                let improved = (0..ROUNDS).fold(common, |c, _| self.improved(c));
                let common = if fits(improved) { improved } else { common };
                (common, self.total(common))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The pair's moment and loudness as the weighted mean of what it explains.
    fn improved(&self, common: Common) -> Common {
        let (mut weights, mut shift, mut level) = (0.0, 0.0, 0.0);
        for (i, candidates) in self.candidates.iter().enumerate() {
            for (candidate, weight) in candidates.iter().zip(self.weigh(i, common).0) {
                weights += weight;
                shift += weight * candidate.moment;
                level += weight * candidate.onset.level;
            }
        }
        if weights > 1e-9 { Common { shift: shift / weights, level: level / weights } } else { common }
    }

    /// Odds of a pair against there being no hits at all (natural logarithm). A pair that was fitted to the clip explains
    /// more than one that was known beforehand; how likely such a shift and such a loudness are takes that back.
    fn total(&self, common: Common) -> f64 {
        let shift = offset::expected(common.shift, self.spread, self.rewritten) / normal(0.0, self.spread);
        let level = LEVEL_SPREAD / LEVEL_SPREAD.hypot(CLIP_LEVEL_SPREAD);
        shift.ln() + level.ln() + (0..self.candidates.len()).map(|i| self.weigh(i, common).1).sum::<f64>()
    }
}

/// Weight of each of some sounds by their `odds`, one of which is a hit that is heard with the usual chance, and the
/// odds of all that against chance (natural logarithm).
fn weights(candidates: &[Candidate], odds: impl Fn(&Candidate) -> f64) -> (Vec<f64>, f64) {
    // No evidence is stronger than this, so that numbers stay finite.
    const STRONGEST: f64 = 60.0;
    let likely: Vec<f64> = candidates.iter().map(|c| AUDIBLE * odds(c).min(STRONGEST).exp()).collect();
    let all = 1.0 - AUDIBLE + likely.iter().sum::<f64>();
    (likely.iter().map(|l| l / all).collect(), all.ln())
}

/// A swing's hit, if one of the sounds is believed to be it.
fn believed(candidates: &[Candidate], odds: impl Fn(&Candidate) -> f64, swung: &Swung) -> Option<Reading> {
    let (weights, _) = weights(candidates, odds);
    let best = (0..weights.len()).max_by(|&a, &b| weights[a].total_cmp(&weights[b]))?;
    let onset = candidates[best].onset;
    let sound = Reading { time: onset.time - swung.delay.time, spread: onset.spread };
    (weights[best] >= BELIEVED).then_some(sound)
}

/// How much later than by the hand's movement the hits come: the median, and how far single ones stray from it.
fn shift(swings: &[Swung], hits: &[Option<Reading>]) -> Option<Reading> {
    let mut moments: Vec<f64> = swings
        .iter()
        .zip(hits)
        .filter_map(|(s, h)| Some((h.as_ref()?.time - s.kinematic.time).0))
        .filter(|moment| moment.abs() < WINDOW.1.0)
        .collect();
    let n = moments.len();
    if n < FEWEST {
        return None;
    }
    moments.sort_by(f64::total_cmp);
    let middle = 0.5 * (moments[(n - 1) / 2] + moments[n / 2]);
    let square = moments.iter().map(|m| (m - middle).powi(2)).sum::<f64>() / (n - 1) as f64;
    // A few strokes show too little of how far they stray: the usual spread counts like three more.
    let usual = 3.0 * MOMENT_SPREAD.powi(2);
    let stray = ((square * n as f64 + usual) / (n as f64 + 3.0)).sqrt();
    Some(Reading { time: Seconds(middle), spread: Seconds(stray * (1.0 + 1.0 / n as f64).sqrt()) })
}

#[cfg(test)]
mod tests {
    use super::*;

    const INTERVAL: Seconds = Seconds(1.0 / 60.0);
    const DELAY: f64 = 0.015;

    fn swings(times: &[f64]) -> Vec<Swung> {
        let swung = |&time: &f64| Swung {
            kinematic: Reading { time: Seconds(time), spread: Seconds(0.02) },
            delay: Reading { time: Seconds(DELAY), spread: Seconds(0.001) },
        };
        times.iter().map(swung).collect()
    }

    /// What is heard of sounds at (time, level).
    fn heard(sounds: &[(f64, f64)], length: f64, floor: f64) -> Heard {
        let mut onsets: Vec<Onset> = sounds
            .iter()
            .map(|&(time, level)| Onset {
                time: Seconds(time),
                spread: Seconds(0.0003),
                level,
                rise: level - floor,
            })
            .collect();
        onsets.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
        Heard { onsets, length: Seconds(length), floor, rewritten: true }
    }

    const TIMES: [f64; 5] = [2.0, 5.0, 8.0, 11.0, 14.0];
    /// Where the hits truly are, off the hand's movement by a shift and a scatter.
    const OFF: [f64; 5] = [0.021, 0.012, 0.018, 0.009, 0.016];

    fn true_hits(level: f64) -> Vec<(f64, f64)> {
        TIMES.iter().zip(OFF).map(|(t, off)| (t + off + DELAY, level)).collect()
    }

    fn right(hits: &Hits) -> Vec<Option<bool>> {
        let near =
            |(i, hit): (usize, &Option<Reading>)| hit.map(|h| (h.time.0 - TIMES[i] - OFF[i]).abs() < 1e-9);
        hits.of_swings.iter().enumerate().map(near).collect()
    }

    #[test]
    fn plain_hits_are_taken_as_they_are() {
        let hits = among_swings(&swings(&TIMES), &heard(&true_hits(-20.0), 17.0, -60.0), INTERVAL);
        assert_eq!(right(&hits), [Some(true); 5]);
        assert_eq!(hits.ball, [Some(true); 5]);
        let shift = hits.shift.unwrap();
        assert!((shift.time.0 - 0.016).abs() < 1e-9 && shift.spread.0 < 0.012, "{shift:?}");
    }

    #[test]
    fn other_courts_do_not_lead_astray() {
        // A quieter hit from elsewhere in every window, another equally loud one at a different moment of one swing, and
        // plenty between.
        let mut sounds = true_hits(-20.0);
        let off = [-0.03, 0.05, 0.02, -0.02, 0.06];
        sounds.extend(TIMES.iter().zip(off).map(|(t, off)| (t + off, -33.0)));
        sounds.push((8.0 - 0.040, -21.0));
        sounds.extend((0..30).map(|i| (0.31 + 0.53 * f64::from(i), -35.0 + f64::from(i % 7))));
        let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -55.0), INTERVAL);
        assert_eq!(right(&hits), [Some(true); 5]);
    }

    #[test]
    fn what_cannot_be_told_apart_is_left_open() {
        let mut sounds = true_hits(-20.0);
        // As loud, and as near the usual moment on its other side.
        sounds.push((11.0 + 0.023 + DELAY, -20.0));
        let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -60.0), INTERVAL);
        assert_eq!(right(&hits), [Some(true), Some(true), Some(true), None, Some(true)]);
        assert_eq!(hits.ball[3], None);
        assert!(hits.shift.is_some());
    }

    #[test]
    fn a_swing_without_a_hit_among_hits_met_no_ball() {
        let mut sounds = true_hits(-20.0);
        sounds.remove(2);
        let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -60.0), INTERVAL);
        assert_eq!(hits.of_swings[2], None);
        assert_eq!(hits.ball, [Some(true), Some(true), Some(false), Some(true), Some(true)]);
    }

    #[test]
    fn a_swing_that_was_timed_wrongly_finds_its_hit_where_little_else_is_heard() {
        let late = [2.0, 5.0, 8.12, 11.0, 14.0];
        let hits = among_swings(&swings(&late), &heard(&true_hits(-20.0), 17.0, -60.0), INTERVAL);
        assert_eq!(right(&hits), [Some(true); 5]);
        // The shift is the usual one, not the slip's.
        assert!((hits.shift.unwrap().time.0 - 0.014).abs() < 0.003, "{hits:?}");
        // Among others as loud, nobody knows.
        let mut sounds = true_hits(-20.0);
        sounds.extend((0..12).map(|i| (0.55 + 1.37 * f64::from(i), -21.0)));
        let hits = among_swings(&swings(&late), &heard(&sounds, 17.0, -60.0), INTERVAL);
        assert_eq!((hits.of_swings[2], hits.ball[2]), (None, None));
    }

    #[test]
    fn chance_does_not_make_a_hit_of_a_shadow_swing() {
        // Hits of other courts, one of which falls into the second swing.
        let sounds: Vec<(f64, f64)> = (0..17).map(|i| (0.9 + 1.03 * f64::from(i), -30.0)).collect();
        let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -60.0), INTERVAL);
        assert_eq!(hits.of_swings, [None; 5]);
        assert!(hits.ball.iter().all(|b| *b != Some(true)));
        let hits = among_swings(&swings(&TIMES), &heard(&[], 17.0, -60.0), INTERVAL);
        assert_eq!(hits.ball, [Some(false); 5]);
        // In a gale nobody can say.
        let hits = among_swings(&swings(&TIMES), &heard(&[], 17.0, -30.0), INTERVAL);
        assert_eq!(hits.ball, [None; 5]);
    }

    #[test]
    fn a_single_swing_has_a_hit_when_little_else_is_heard() {
        let one = swings(&[2.0]);
        let hits = among_swings(&one, &heard(&[(2.02, -20.0)], 4.0, -60.0), INTERVAL);
        assert!(hits.of_swings[0].is_some() && hits.shift.is_none());
        let busy: Vec<(f64, f64)> = (0..40).map(|i| (0.02 + 0.1 * f64::from(i), -20.0)).collect();
        assert_eq!(among_swings(&one, &heard(&busy, 4.0, -60.0), INTERVAL).of_swings, [None]);
    }

    #[test]
    fn sound_that_lags_the_pictures_is_found() {
        for late in [-0.08, -0.04, 0.04, 0.08] {
            let sounds: Vec<(f64, f64)> = true_hits(-20.0).iter().map(|(t, l)| (t + late, *l)).collect();
            let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -60.0), INTERVAL);
            assert!(!hits.apart && hits.of_swings.iter().all(Option::is_some), "{late}: {hits:?}");
        }
    }

    #[test]
    fn sound_of_another_time_is_not_used() {
        let sounds: Vec<(f64, f64)> = true_hits(-20.0).iter().map(|(t, l)| (t + 0.160, *l)).collect();
        let hits = among_swings(&swings(&TIMES), &heard(&sounds, 17.0, -60.0), INTERVAL);
        assert!(hits.apart && hits.of_swings == [None; 5] && hits.ball == [None; 5], "{hits:?}");
    }
}
