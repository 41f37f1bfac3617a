//! Finding the swings of a clip and the hand that makes them.

use crate::pose::{Joint, Side};
use crate::scene::Space;
use crate::scene::direction::Swing;
use crate::scene::space::median;
use crate::units::Seconds;

/// Slowest peak of the hitting hand that counts as a swing, metres per second relative to the hips. Recorded club
/// players' slowest ground strokes peak at 4 m/s; arms swing at 2 m/s in running.
const SLOWEST_SWING: f64 = 3.0;

/// A swing's peak is at least this share of the clip's usual peak: what is slower is a recovery or a bounce of the ball.
const SHARE_OF_USUAL: f64 = 0.5;

/// Two strokes of one player are at least this far apart, peak to peak.
const CLOSEST_STROKES: Seconds = Seconds(0.95);

/// Depth is the model's guess; speed along the lens counts with this weight.
const DEPTH_WEIGHT: f64 = 0.6;

/// Hands whose peak speeds differ by less than this (mean log ratio) hit together, or can't be told apart.
const CLEARLY_FASTER: f64 = 0.08;

/// The hitting hand and how it was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hitting {
    /// The hand.
    pub hand: Side,
    /// Whether both hands were equally fast, as in two-handed strokes, so that the hand is an assumption.
    pub assumed: bool,
}

/// Finds swings: peaks of a hand's speed relative to the hips. With `hand` unset the faster hand over all swings hits.
pub fn find(space: &Space, hand: Option<Side>) -> Option<(Hitting, Vec<Swing>)> {
    let right = speeds(space, Side::Right);
    let left = speeds(space, Side::Left);
    let hitting = match hand {
        Some(hand) => Hitting { hand, assumed: false },
        None => faster_hand(space, &left, &right)?,
    };
    let series = if hitting.hand == Side::Right { &right } else { &left };
    let swings: Vec<Swing> = peaks(space, series)
        .into_iter()
        .map(|(i, _)| Swing { peak: space.times[i], hand: hitting.hand })
        .collect();
    (!swings.is_empty()).then_some((hitting, swings))
}

/// Speed of a hand relative to the hips in each picture, metres per second, by central differences.
fn speeds(space: &Space, side: Side) -> Vec<Option<f64>> {
    let hands: Vec<_> = (0..space.times.len()).map(|i| space.hand(i, side)).collect();
    let n = hands.len();
    (0..n)
        .map(|i| {
            let (a, b) = (i.checked_sub(1)?, i + 1);
            let step = (*space.times.get(b)? - space.times[a]).0;
            let moved = hands[b]? - hands[a]?;
            let depth = DEPTH_WEIGHT * moved.away;
            (step > 0.0 && step < 0.3)
                .then(|| (moved.right.powi(2) + moved.up.powi(2) + depth * depth).sqrt() / step)
        })
        .collect()
}

/// Which hand is faster at the peaks of either.
fn faster_hand(space: &Space, left: &[Option<f64>], right: &[Option<f64>]) -> Option<Hitting> {
    let either: Vec<Option<f64>> =
        left.iter().zip(right).map(|(l, r)| Some(l.unwrap_or(0.0).max((*r)?))).collect();
    let found = peaks(space, &either);
    let near = |series: &[Option<f64>], i: usize| {
        let reach = (0.1 * space.rate).round() as usize;
        (i.saturating_sub(reach)..=(i + reach).min(series.len() - 1))
            .filter_map(|j| series[j])
            .fold(0.0, f64::max)
    };
    let ratio = median(found.iter().map(|&(i, _)| (near(right, i).max(0.1) / near(left, i).max(0.1)).ln()))?;
    let together = ratio.abs() < CLEARLY_FASTER && wrists_together(space, &found);
    // Nine players in ten are right-handed; where both hands swing one racket that is the better guess.
    let hand = if ratio >= 0.0 || together { Side::Right } else { Side::Left };
    Some(Hitting { hand, assumed: together })
}

/// Whether the wrists are close together at most peaks.
fn wrists_together(space: &Space, found: &[(usize, f64)]) -> bool {
    let close = found
        .iter()
        .filter(|&&(i, _)| {
            let wrists =
                space.at(i, Joint::Wrist.on(Side::Left)).zip(space.at(i, Joint::Wrist.on(Side::Right)));
            wrists.is_some_and(|(l, r)| (l - r).norm() < 0.15 * space.stature.0)
        })
        .count();
    2 * close > found.len()
}

/// Peaks of a speed (picture, value), in order of time: fast enough, far enough apart, the fastest first served.
fn peaks(space: &Space, speed: &[Option<f64>]) -> Vec<(usize, f64)> {
    let mut maxima: Vec<(usize, f64)> = (1..speed.len().saturating_sub(1))
        .filter_map(|i| {
            let value = speed[i]?;
            let before = speed[i - 1].unwrap_or(0.0);
            let after = speed[i + 1].unwrap_or(0.0);
            (value >= before && value > after && value >= SLOWEST_SWING).then_some((i, value))
        })
        .collect();
    maxima.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut chosen: Vec<(usize, f64)> = Vec::new();
    for (i, value) in maxima {
        if chosen.iter().all(|(j, _)| (space.times[i] - space.times[*j]).abs() >= CLOSEST_STROKES) {
            chosen.push((i, value));
        }
    }
    // The usual peak is the median of the upper half, which neither a slip of the model nor slow extras shift much.
    let usual = median(chosen.iter().take(chosen.len().div_ceil(2)).map(|c| c.1)).unwrap_or(0.0);
    chosen.retain(|(_, value)| *value >= SHARE_OF_USUAL * usual);
    chosen.sort_by_key(|c| c.0);
    chosen
}
