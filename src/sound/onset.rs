//! Where short sounds begin.
//!
//! A hit is told from voices, shoes and wind by its brevity, not by its pitch: the sound rises within a few milliseconds
//! out of what went before and is gone a twentieth of a second later. The start is read on the rising flank, so that what
//! follows (ringing, echo) does not move it.

use std::ops::Range;

use crate::filter::Section;
use crate::order;
use crate::units::Seconds;

/// Wind and handling noise lie below this, Hz; a hit is as strong above it.
const RUMBLE: f64 = 800.0;

/// Energies are averaged over blocks of this length (seconds).
const BLOCK: f64 = 0.0005;

/// A peak is the loudest block within this reach (seconds).
const PEAK_REACH: f64 = 0.008;

/// What went before is judged from here to there before the peak (seconds): further back than a lossy codec smears a
/// start forward, and no further than an earlier hit's sound lasts.
const PAST: (f64, f64) = (0.030, 0.006);

/// The peak stands this much over what went before, dB: as much as tells it from a fluctuation of noise.
const RISE: f64 = 8.0;

/// And this much over the usual level around it, dB.
const OVER_FLOOR: f64 = 12.0;

/// The usual level is the median over this reach (seconds), taken anew each `FLOOR_STEP`.
const FLOOR_REACH: f64 = 1.0;
const FLOOR_STEP: f64 = 0.25;

/// What a short sound leaves is judged from here to there after its start (seconds).
const AFTER: (f64, f64) = (0.040, 0.090);

/// There the sound is averaged over this (seconds), longer than the period of a low voice; and the lower third of it
/// counts, as another hit in that span says nothing about this one.
const AFTER_MEAN: f64 = 0.0125;
const LOWER: f64 = 0.3;

/// Its first `BODY` seconds are this much louder than that, dB. Voices, shoes and gusts go on; in a hall the echo lies
/// about 10 dB below.
const BREVITY: f64 = 6.0;
const BODY: f64 = 0.012;

/// No sound is quieter than this, mean square of full scale (−100 dB): the steps of 16 bits lie there.
pub(super) const QUIETEST: f64 = 1e-10;

/// The start is where the flank passes this share of the peak's amplitude; a codec's smear stays under it.
const FLANK: f64 = 0.3;

/// The flank has begun when the sound stayed under that share for so long (seconds), at most `LONGEST_FLANK` before the
/// peak.
const STILL: f64 = 0.001;
const LONGEST_FLANK: f64 = 0.010;

/// Sound is filtered and judged in stretches of this length (seconds), each with so much of what lies beside it, so that an hour of
/// it takes no more memory than a minute.
const STRETCH: f64 = 30.0;
const MARGIN: f64 = 2.0;

/// A start is never known better than this (1 standard deviation): a string bed's contact itself lasts 5 ms.
const LEAST_SPREAD: Seconds = Seconds(0.0003);

/// Noise as loud as the peak would hide this much of the flank (seconds); quieter noise hides its share.
const HIDDEN: f64 = 0.0015;

/// The start of a short sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// When it begins.
    pub time: Seconds,
    /// Standard deviation of that.
    pub spread: Seconds,
    /// Loudness of its first 12 ms above 800 Hz, dB of full scale.
    pub level: f64,
    /// How far it stands over what went before, dB.
    pub rise: f64,
}

/// Finds the short sounds in samples (fractions of full scale, `rate` a second); times count from the first sample.
pub fn onsets(samples: &[f32], rate: f64) -> Vec<Onset> {
    listen(samples, rate).0
}

/// The short sounds, and the usual energy above [`RUMBLE`] at each step of [`FLOOR_STEP`].
pub(super) fn listen(samples: &[f32], rate: f64) -> (Vec<Onset>, Vec<f64>) {
    let size = ((BLOCK * rate).round() as usize).max(1);
    if rate < 2.5 * RUMBLE || samples.len() < 4 * size {
        return (Vec::new(), Vec::new());
    }
    let blocks = |seconds: f64| (seconds * rate / size as f64).round() as usize;
    let step = blocks(FLOOR_STEP).max(1);
    // What is judged in a stretch hangs on nothing farther away than this.
    let (stretch, margin) = (blocks(STRETCH).next_multiple_of(step), blocks(MARGIN).next_multiple_of(step));
    let all = samples.len() / size;
    let mut filters =
        [Section::high_pass(RUMBLE, rate).running(), Section::high_pass(RUMBLE, rate).running()];
    let mut coming =
        samples.iter().map(|s| filters.iter_mut().fold(f64::from(*s), |x, filter| filter.next(x)));
    let (mut wave, mut begins) = (Vec::new(), 0);
    let (mut found, mut floors): (Vec<Onset>, Vec<f64>) = (Vec::new(), Vec::new());
    for first in (0..all).step_by(stretch) {
        let (from, to) = (first.saturating_sub(margin), (first + stretch + margin).min(all));
        wave.drain(..(from - begins) * size);
        begins = from;
        let end = if to == all { samples.len() } else { to * size };
        wave.extend(coming.by_ref().take(end - from * size - wave.len()));
        let energy: Vec<f64> =
            wave.chunks_exact(size).map(|b| b.iter().map(|x| x * x).sum::<f64>() / size as f64).collect();
        let listener = Listener { wave: &wave, energy: &energy, size, rate, from };
        let floor = listener.floor();
        let own = first - from..(first + stretch).min(all) - from;
        found.extend(listener.peaks(&floor, own.clone()).into_iter().filter_map(|peak| listener.judge(peak)));
        floors.extend(&floor[own.start / step..own.end.div_ceil(step)]);
    }
    // Two peaks of one sound may lead to the same flank.
    found.dedup_by(|later, first| (later.time - first.time).0 < LONGEST_FLANK);
    (found, floors)
}

/// Decibels of a ratio of energies.
pub(super) fn decibels(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Listens to one stretch of the sound.
struct Listener<'a> {
    wave: &'a [f64],
    energy: &'a [f64],
    size: usize,
    rate: f64,
    /// Number of its first block in the whole sound.
    from: usize,
}

impl Listener<'_> {
    /// Number of blocks in a span of seconds.
    fn blocks(&self, seconds: f64) -> usize {
        (seconds * self.rate / self.size as f64).round() as usize
    }

    /// Energies from `from` (inclusive) to `to` (exclusive), as far as there are any.
    fn span(&self, from: usize, to: usize) -> &[f64] {
        let to = to.min(self.energy.len());
        &self.energy[from.min(to)..to]
    }

    /// The usual level around each step of [`FLOOR_STEP`].
    fn floor(&self) -> Vec<f64> {
        let (step, reach) = (self.blocks(FLOOR_STEP).max(1), self.blocks(FLOOR_REACH));
        (0..self.energy.len().div_ceil(step))
            .map(|i| median(self.span((i * step).saturating_sub(reach), i * step + reach)))
            .collect()
    }

    /// Blocks among `own` that are the loudest around and stand over the usual level.
    fn peaks(&self, floor: &[f64], own: Range<usize>) -> Vec<usize> {
        let (step, reach) = (self.blocks(FLOOR_STEP).max(1), self.blocks(PEAK_REACH));
        let least = 10f64.powf(OVER_FLOOR / 10.0);
        own.filter(|&i| {
            let e = self.energy[i];
            e > least * floor[i / step].max(QUIETEST)
                && self.span(i.saturating_sub(reach), i).iter().all(|other| *other < e)
                && self.span(i + 1, i + 1 + reach).iter().all(|other| *other <= e)
        })
        .collect()
    }

    /// Judges the sound with its loudest block at `peak`; `None` if it doesn't stand out or isn't short.
    fn judge(&self, peak: usize) -> Option<Onset> {
        let (far, near) = (self.blocks(PAST.0), self.blocks(PAST.1));
        // The very start of a recording shows nothing of what went before.
        if self.from + peak < far {
            return None;
        }
        // Two milliseconds at a time, as single blocks of noise stand out by themselves.
        let past = self
            .span(peak - far, peak - near)
            .windows(self.blocks(0.002).max(1))
            .map(mean)
            .fold(QUIETEST, f64::max);
        let rise = decibels(self.energy[peak] / past);
        if rise < RISE {
            return None;
        }
        let (start, flank) = self.start(peak, past);
        let hidden = HIDDEN * (past / self.energy[peak]).sqrt();
        let first = (start * self.rate) as usize / self.size - self.from;
        let body = mean(self.span(first, first + self.blocks(BODY)));
        let after = self.span(first + self.blocks(AFTER.0), first + self.blocks(AFTER.1));
        let means: Vec<f64> = after.windows(self.blocks(AFTER_MEAN).max(1)).map(mean).collect();
        let after = order::quantile(means, LOWER).map_or(past, |level| level.max(QUIETEST));
        if decibels(body / after) < BREVITY {
            return None;
        }
        Some(Onset {
            time: Seconds(start),
            spread: Seconds(LEAST_SPREAD.0.hypot(0.5 * flank).hypot(hidden)),
            level: decibels(body.max(QUIETEST)),
            rise,
        })
    }

    /// When the flank that leads to a peak passes [`FLANK`], and how long it then takes to the peak's height (seconds).
    fn start(&self, peak: usize, past: f64) -> (f64, f64) {
        let (from, to) = (peak * self.size, ((peak + 1) * self.size).min(self.wave.len()));
        let loudest =
            (from..to).max_by(|&a, &b| self.wave[a].abs().total_cmp(&self.wave[b].abs())).unwrap_or(from);
        let amplitude = self.wave[loudest].abs();
        // Over loud surroundings the flank is only seen above them.
        let level = amplitude * FLANK.max((1.8 * past.sqrt() / amplitude).min(0.7));
        let (still, longest) = ((STILL * self.rate) as usize, (LONGEST_FLANK * self.rate) as usize);
        let earliest = loudest.saturating_sub(longest);
        let mut first = loudest;
        for i in (earliest..loudest).rev() {
            if self.wave[i].abs() >= level {
                first = i;
            } else if first - i > still {
                break;
            }
        }
        let high = (first..=loudest).find(|&i| self.wave[i].abs() >= 0.7 * amplitude).unwrap_or(loudest);
        // Between samples by a straight line.
        let before = first.checked_sub(1).map_or(0.0, |i| self.wave[i].abs());
        let at = self.wave[first].abs();
        let share = if at > before { ((level - before) / (at - before)).clamp(0.0, 1.0) } else { 1.0 };
        let begins = (self.from * self.size + first) as f64;
        ((begins - 1.0 + share).max(0.0) / self.rate, (high - first) as f64 / self.rate)
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Median of levels; 0 for none.
pub(super) fn median(values: &[f64]) -> f64 {
    order::median(values.iter().copied()).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use rand::{Rng, SeedableRng};
    use rand_distr::StandardNormal;
    use rand_pcg::Pcg64Mcg;

    use super::*;

    const RATE: f64 = 16_000.0;

    /// Two seconds of noise (standard deviation `noise`) with what `sound` adds at each time.
    fn recording(noise: f64, sound: impl Fn(f64) -> f64) -> Vec<f32> {
        let mut rng = Pcg64Mcg::seed_from_u64(5);
        (0..(2.0 * RATE) as usize)
            .map(|i| {
                let normal: f64 = rng.sample(StandardNormal);
                (noise * normal + sound(i as f64 / RATE)) as f32
            })
            .collect()
    }

    /// A hit at `start`: a burst of several tones that dies away within `decay` seconds.
    fn hit(t: f64, start: f64, decay: f64) -> f64 {
        let u = t - start;
        if u < 0.0 {
            return 0.0;
        }
        let tones = [(1400.0, 0.5), (2900.0, 0.4), (4700.0, 0.3)];
        tones.iter().map(|(f, a)| a * (2.0 * PI * f * u + 1.0).sin()).sum::<f64>() * (-u / decay).exp()
    }

    /// A vowel-like tone that rises within 10 ms and lasts from `start` for `length` seconds.
    fn voice(t: f64, start: f64, length: f64) -> f64 {
        let u = t - start;
        if u < 0.0 || u > length {
            return 0.0;
        }
        let swell = (u / 0.01).min(1.0) * ((length - u) / 0.01).min(1.0);
        (1..20).map(|k| (2.0 * PI * 160.0 * f64::from(k) * u).sin() / f64::from(k)).sum::<f64>() * 0.4 * swell
    }

    #[test]
    fn a_hit_is_timed_to_a_fraction_of_a_millisecond_at_any_loudness() {
        for (gain, noise, within) in [(1.0, 0.001, 0.0002), (0.2, 0.001, 0.0003), (0.1, 0.01, 0.0008)] {
            for start in [0.6, 0.60003, 1.23456] {
                let found = onsets(&recording(noise, |t| gain * hit(t, start, 0.008)), RATE);
                assert_eq!(found.len(), 1, "{gain} {noise} {found:?}");
                let off = (found[0].time.0 - start).abs();
                assert!(off < within && off < 2.0 * found[0].spread.0, "{gain} {noise} {off} {found:?}");
            }
        }
    }

    #[test]
    fn a_hit_where_two_stretches_meet_is_heard_once_and_as_elsewhere() {
        let starts = [5.0, STRETCH - 0.002, STRETCH + 5.0, 2.0 * STRETCH + 0.0004];
        let quiet = 1e-5 / RATE;
        let samples: Vec<f32> = (0..(65.0 * RATE) as usize)
            .map(|i| {
                let t = i as f64 / RATE;
                let nearest = starts.into_iter().rfind(|start| *start <= t).unwrap_or(t + 1.0);
                (quiet * (i % 7) as f64 + hit(t, nearest, 0.008)) as f32
            })
            .collect();
        let (found, floors) = listen(&samples, RATE);
        assert_eq!((found.len(), floors.len()), (starts.len(), 260));
        for (onset, start) in found.iter().zip(starts) {
            assert!((onset.time.0 - start).abs() < 0.0002, "{start}: {onset:?}");
            assert!((onset.level - found[0].level).abs() < 0.5 && onset.rise > 30.0, "{start}: {onset:?}");
        }
    }

    #[test]
    fn louder_hits_have_the_higher_level() {
        let found = onsets(&recording(0.001, |t| hit(t, 0.5, 0.008) + 0.1 * hit(t, 1.0, 0.008)), RATE);
        assert_eq!(found.len(), 2);
        assert!((found[0].level - found[1].level - 20.0).abs() < 0.5, "{found:?}");
    }

    #[test]
    fn voices_squeaks_and_wind_are_no_hits() {
        let squeak = |t: f64| {
            if (0.9..1.05).contains(&t) { (2.0 * PI * (2200.0 + 900.0 * t) * t).sin() * 0.5 } else { 0.0 }
        };
        assert_eq!(onsets(&recording(0.002, |t| voice(t, 0.7, 0.3)), RATE), Vec::new());
        assert_eq!(onsets(&recording(0.002, squeak), RATE), Vec::new());
        let gust = |t: f64| (2.0 * PI * 90.0 * t).sin() * (8.0 * (t - 1.0)).tanh().max(0.0);
        assert_eq!(onsets(&recording(0.002, gust), RATE), Vec::new());
        assert_eq!(onsets(&recording(0.2, |_| 0.0), RATE), Vec::new());
    }

    #[test]
    fn a_hit_is_heard_over_a_voice_and_in_an_echoing_hall() {
        let found = onsets(&recording(0.002, |t| 0.3 * voice(t, 0.5, 1.0) + hit(t, 1.0, 0.008)), RATE);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].time.0 - 1.0).abs() < 0.001);
        // Echo: noise that dies away by 60 dB in 1.5 s, as loud in sum as the hit itself.
        let mut rng = Pcg64Mcg::seed_from_u64(9);
        let echo: Vec<f64> = (0..(2.0 * RATE) as usize).map(|_| rng.sample(StandardNormal)).collect();
        let found = onsets(
            &recording(0.001, |t| {
                let after = t - 1.01;
                let tail = if after > 0.0 { (-6.9 * after / 1.5).exp() } else { 0.0 };
                hit(t, 1.0, 0.008) + 0.06 * tail * echo[(t * RATE) as usize]
            }),
            RATE,
        );
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].time.0 - 1.0).abs() < 0.0005);
    }

    #[test]
    fn two_hits_close_together_are_two() {
        let found = onsets(&recording(0.001, |t| hit(t, 1.0, 0.004) + 1.2 * hit(t, 1.045, 0.004)), RATE);
        assert_eq!(found.len(), 2, "{found:?}");
    }

    #[test]
    fn silence_and_too_little_sound_have_no_onsets() {
        assert_eq!(onsets(&[], RATE), Vec::new());
        assert_eq!(onsets(&[0.5; 20], RATE), Vec::new());
        assert_eq!(onsets(&[0.0; 40_000], RATE), Vec::new());
        assert_eq!(onsets(&[0.5; 40_000], 500.0), Vec::new());
    }
}
