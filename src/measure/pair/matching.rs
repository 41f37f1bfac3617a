//! Which strokes of two clips are the same.
//!
//! Clocks of two cameras begin at different times and run a little differently: a time `a` of the first clip is the time
//! `a · (1 + drift) + offset` of the second. Both are read from the contacts alone, so sound and starts of the files don't matter.

use crate::measure::clip::MeasuredStroke;
use crate::order::{self, median};
use crate::scene::joined::Clock;
use crate::units::Seconds;

/// Contacts of one stroke in two clips lie no farther apart than this, on one clock.
const SAME_STROKE: Seconds = Seconds(0.15);

/// Clocks of cameras differ by less than this share.
const MOST_DRIFT: f64 = 2e-3;

/// A drift is read from strokes that lie at least this far apart; over less it can't be told from the contacts' own errors.
const LEAST_SPAN: Seconds = Seconds(20.0);

/// A second way to match is as good as the best where its contacts fit no worse than so many times as far.
const AS_GOOD: f64 = 2.0;

/// Contacts of one stroke in two clips lie at least so far apart for all that is known of each.
const FINEST: Seconds = Seconds(0.008);

/// Contacts that fit better than this are not told apart by how well they fit.
const FINE: Seconds = Seconds(0.02);

/// Which strokes of two clips are the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Matching {
    /// Places of the strokes in both clips, in order of time.
    pub pairs: Vec<(usize, usize)>,
    /// Seconds to add to a time of the first clip …
    pub offset: Seconds,
    /// … stretched by this share.
    pub drift: f64,
    /// Median distance of the contacts once both are on one clock.
    pub apart: Seconds,
}

/// Why strokes can't be matched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unmatched {
    /// One of the clips has no stroke.
    NoStroke,
    /// No offset brings two strokes together, or only one of several.
    Apart,
    /// Several offsets bring equally many strokes together, equally well.
    Ambiguous,
}

impl Unmatched {
    /// The reason in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoStroke => "one of them has no stroke",
            Self::Apart => "the times of their strokes don't fit, so they are not of the same strokes",
            Self::Ambiguous => {
                "the times of their strokes fit in more than one way; film longer, or strokes at uneven times"
            }
        }
    }
}

/// Matches the strokes of two clips by their contacts, one to one.
///
/// # Errors
/// [`Unmatched`].
pub fn matched(first: &[MeasuredStroke], second: &[MeasuredStroke]) -> Result<Matching, Unmatched> {
    let times = |strokes: &[MeasuredStroke]| -> Vec<f64> {
        strokes.iter().map(|stroke| stroke.stroke.phases.contact.time.0).collect()
    };
    by_times(&times(first), &times(second))
}

/// The same of contacts' times in rising order.
///
/// # Errors
/// [`Unmatched`].
pub fn by_times(first: &[f64], second: &[f64]) -> Result<Matching, Unmatched> {
    if first.is_empty() || second.is_empty() {
        return Err(Unmatched::NoStroke);
    }
    let mut found: Vec<Matching> = Vec::new();
    for a in first {
        for b in second {
            let tried = refined(first, second, b - a);
            let is_new = found.iter().all(|known| known.pairs != tried.pairs);
            if is_new && !tried.pairs.is_empty() {
                found.push(tried);
            }
        }
    }
    found.sort_by(|a, b| b.pairs.len().cmp(&a.pairs.len()).then(a.apart.0.total_cmp(&b.apart.0)));
    let Some(best) = found.first() else { return Err(Unmatched::Apart) };
    // One stroke fits anything, unless there is but one.
    let fewest = if first.len().min(second.len()) == 1 { 1 } else { 2 };
    if best.pairs.len() < fewest || 2 * best.pairs.len() < first.len().min(second.len()) {
        return Err(Unmatched::Apart);
    }
    let rival = found.get(1).filter(|rival| rival.pairs.len() == best.pairs.len());
    if rival.is_some_and(|rival| rival.apart.0 < AS_GOOD * best.apart.0.max(FINE.0)) {
        return Err(Unmatched::Ambiguous);
    }
    Ok(found.swap_remove(0))
}

/// The pairs that an offset brings together, with offset and drift as these have them.
fn refined(first: &[f64], second: &[f64], offset: f64) -> Matching {
    let (mut offset, mut drift) = (offset, 0.0);
    let mut pairs = nearest(first, second, offset, drift);
    // The first offset is that of one pair with its errors, and lets a drift of long clips take strokes out of reach.
    for _ in 0..4 {
        (offset, drift) = clock(first, second, &pairs).unwrap_or((offset, drift));
        let again = nearest(first, second, offset, drift);
        if again == pairs {
            break;
        }
        pairs = again;
    }
    let apart = |&(a, b): &(usize, usize)| (second[b] - first[a] * (1.0 + drift) - offset).abs();
    let apart = median(pairs.iter().map(apart)).unwrap_or(f64::MAX);
    Matching { pairs, offset: Seconds(offset), drift, apart: Seconds(apart) }
}

/// Strokes that lie nearest to each other in both directions, and near enough.
fn nearest(first: &[f64], second: &[f64], offset: f64, drift: f64) -> Vec<(usize, usize)> {
    let moved: Vec<f64> = first.iter().map(|a| a * (1.0 + drift) + offset).collect();
    let closest = |to: f64, among: &[f64]| order::nearest(among, |time| *time, to);
    let pair = |a: usize| {
        let b = closest(moved[a], second)?;
        let is_near = (second[b] - moved[a]).abs() <= SAME_STROKE.0;
        (is_near && closest(second[b], &moved) == Some(a)).then_some((a, b))
    };
    (0..first.len()).filter_map(pair).collect()
}

impl Matching {
    /// How the second clip's times follow from the first one's.
    pub const fn clock(&self) -> Clock {
        Clock { offset: self.offset, drift: self.drift }
    }

    /// How likely it is that strokes of two clips which have nothing to do with each other fit as well by chance: the intervals between a
    /// clip's strokes scatter, and all but the first pair would have to meet within what the contacts lie apart. At most 1.
    pub fn chance(&self, first: &[f64], second: &[f64]) -> f64 {
        let scatter = scatter_of_intervals(first).min(scatter_of_intervals(second));
        let within = 2.0 * self.apart.0.max(FINEST.0);
        // The difference of two intervals has √2 of their scatter; the share of a normal distribution near its middle.
        let share = (2.0 * within / (2.0 * std::f64::consts::PI.sqrt() * scatter)).min(1.0);
        let tries = (first.len() * second.len()) as f64;
        (tries * share.powi(self.pairs.len() as i32 - 1)).min(1.0)
    }
}

/// How far the intervals between a clip's strokes scatter, seconds, 1 standard deviation; nothing where there are fewer than three.
fn scatter_of_intervals(times: &[f64]) -> f64 {
    let steps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = steps.iter().sum::<f64>() / steps.len().max(1) as f64;
    let squares = steps.iter().map(|step| (step - mean).powi(2)).sum::<f64>();
    if steps.len() < 3 { 0.0 } else { (squares / (steps.len() - 1) as f64).sqrt() }
}

/// Offset and drift of pairs by least squares; without a drift where the pairs lie too near together to show one.
fn clock(first: &[f64], second: &[f64], pairs: &[(usize, usize)]) -> Option<(f64, f64)> {
    let n = pairs.len() as f64;
    let (a, _) = *pairs.first()?;
    let (z, _) = *pairs.last()?;
    let mean = |of: &dyn Fn(&(usize, usize)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let x = mean(&|&(a, _)| first[a]);
    let late = mean(&|&(a, b)| second[b] - first[a]);
    if pairs.len() < 3 || first[z] - first[a] < LEAST_SPAN.0 {
        return Some((late, 0.0));
    }
    let across = mean(&|&(a, b)| (first[a] - x) * (second[b] - first[a] - late));
    let drift = across / mean(&|&(a, _)| (first[a] - x).powi(2));
    let drift = drift.clamp(-MOST_DRIFT, MOST_DRIFT);
    Some((late - drift * x, drift))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: [f64; 5] = [2.0, 5.1, 7.9, 11.3, 14.2];

    fn shifted(times: &[f64], offset: f64, drift: f64) -> Vec<f64> {
        times.iter().map(|time| time * (1.0 + drift) + offset).collect()
    }

    #[test]
    fn strokes_belong_together_whenever_the_clips_begin() {
        for offset in [-1.0, 0.0, 0.033, 7.5] {
            let found = by_times(&FIRST, &shifted(&FIRST, offset, 0.0)).unwrap();
            assert_eq!(found.pairs, [(0, 0), (1, 1), (2, 2), (3, 3), (4, 4)], "{offset}");
            assert!((found.offset.0 - offset).abs() < 1e-9 && found.drift == 0.0, "{found:?}");
        }
    }

    #[test]
    fn a_clock_that_runs_differently_is_followed_through_a_long_session() {
        let times: Vec<f64> =
            (0..120).map(|i| 4.0 * f64::from(i) + [0.0, 0.7, 0.3, 1.1, 0.2][i as usize % 5]).collect();
        let found = by_times(&times, &shifted(&times, 3.0, 5e-4)).unwrap();
        assert_eq!(found.pairs.len(), 120);
        assert!((found.drift - 5e-4).abs() < 1e-6 && found.apart.0 < 1e-6, "{found:?}");
    }

    #[test]
    fn strokes_that_one_camera_missed_are_left_alone() {
        let second = [4.1, 6.9, 13.2, 20.0];
        let found = by_times(&FIRST, &second).unwrap();
        assert_eq!(found.pairs, [(1, 0), (2, 1), (4, 2)]);
        assert!((found.offset.0 + 1.0).abs() < 1e-9);
    }

    #[test]
    fn contacts_are_read_with_errors() {
        let second: Vec<f64> = shifted(&FIRST, 0.4, 0.0)
            .iter()
            .zip([0.02, -0.03, 0.01, 0.0, -0.02])
            .map(|(t, e)| t + e)
            .collect();
        let found = by_times(&FIRST, &second).unwrap();
        assert!(found.pairs.len() == 5 && (found.offset.0 - 0.4).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn what_can_not_be_told_is_not_guessed() {
        assert_eq!(by_times(&FIRST, &[]), Err(Unmatched::NoStroke));
        // Two strokes of four at even times fit anywhere.
        assert_eq!(by_times(&[1.0, 4.0, 7.0, 10.0], &[2.0, 5.0]), Err(Unmatched::Ambiguous));
        assert_eq!(by_times(&FIRST, &[1.0, 1.7, 3.9, 9.0, 11.0, 17.7]), Err(Unmatched::Apart));
        assert_eq!(by_times(&[3.0], &[4.0]).unwrap().pairs, [(0, 0)]);
    }

    #[test]
    fn chance_tells_the_same_strokes_from_others_at_like_intervals() {
        let uneven: Vec<f64> = FIRST.iter().chain(&[18.4, 20.9, 24.6]).copied().collect();
        let chance = |first: &[f64], second: &[f64]| by_times(first, second).map(|m| m.chance(first, second));
        assert!(chance(&uneven, &shifted(&uneven, 1.3, 0.0)).unwrap() < 1e-6);
        // Two strokes, or strokes as even as a ball machine's, fit any others.
        assert_eq!(chance(&FIRST[..2], &shifted(&FIRST[..2], 1.3, 0.0)), Ok(1.0));
        let even: Vec<f64> = (0..6).map(|i| 3.0 * f64::from(i) + [0.0, 0.01][i as usize % 2]).collect();
        assert!(
            chance(&even, &shifted(&even, 0.2, 0.0)).is_ok_and(|chance| chance > 0.5)
                || by_times(&even, &even).is_err()
        );
    }
}
