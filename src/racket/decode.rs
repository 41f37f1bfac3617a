//! From the racket network's maps to places where the racket may be.
//!
//! A racket is straight and rigid: throat and middle of the strings lie between butt and tip at fixed shares of the way,
//! however it is turned. So every pair of a likely butt and a likely tip is judged by all four maps together, and the pairs
//! are gathered into a few candidates that lie apart. `scripts/racket/decode.py` does the same and measures it.

use ndarray::{ArrayView2, ArrayView3, Axis};

/// The throat's share of the way from butt to tip, as the made rackets of `scripts/racket/made.py` have it.
const THROAT: f64 = 0.465;
/// The same for the middle of the strings: mean of 0.725 to 0.775.
const MIDDLE: f64 = 0.75;
/// A racket's length as a share of the crop's side: the card's region has a side of 2.4 lengths.
const LENGTH_OF_SIDE: f64 = 1.0 / 2.4;
/// Added to every cell's chance before its logarithm, so that one map can't rule a pair out: a twelfth of an even spread.
const FLOOR: f64 = 5e-5;
/// How much butt, throat, tip and middle count. The maps come of one network and err together, so the other three count half.
const WEIGHTS: [f64; 4] = [0.5, 0.5, 1.0, 0.5];
/// So many of the likeliest cells are tried as butt …
const BUTTS: usize = 48;
/// … and as tip: more, since tips are blurred most.
const TIPS: usize = 256;
/// Tips of two candidates lie at least this far apart, as a share of the crop's side: a quarter of the racket's length.
const APART: f64 = 0.1;
/// A candidate's tip is the mean over pairs whose tips lie this near to its best …
const FINE_TIP: f64 = 0.0625;
/// … and whose butts lie this near, shares of the crop's side.
const FINE_BUTT: f64 = 0.075;
/// Candidates other than the first with less of the whole chance than this are left out.
const LEAST: f64 = 1e-4;
/// Half the width of the window in which a map's own mean is taken, as a share of the crop's side: two cells of forty.
const WINDOW: f64 = 0.05;
/// Throat and middle are taken from their own map where it has this much of its chance in the window.
const OWN: f64 = 0.3;
/// The candidate's tip counts as right within this share of the racket's length.
const RIGHT: f64 = 0.2;
/// Weights of 1 and of the log-odds of three chances: of pairs with tips within [`RIGHT`], of the tip's map in its window,
/// and that the middle is seen. Fitted, in the way of `scripts/racket/calibrate.py` but from maps of single crops, on
/// rendered clips of players and scenes that the network wasn't trained on, and checked on one real clip.
const LOGISTIC: [f64; 4] = [0.03, 0.19, 1.34, 0.43];
/// However sharp the maps are, the confidence is no more than the chance of pairs with tips within twice [`RIGHT`] (a rival
/// elsewhere takes the rest) and than this many times the chance that the middle is seen.
const MOST_OF_SEEN: f64 = 2.0;
/// Chances are kept this far from 0 and 1 before their log-odds are taken.
const SURE: f64 = 0.02;

/// Maps of the network, in order.
const BUTT: usize = 0;
const TIP: usize = 2;

/// One place where the racket may be, in the crop's coordinates (0–1 of its side from its top left corner).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// End of the grip.
    pub butt: [f64; 2],
    /// Where the hoop begins.
    pub throat: [f64; 2],
    /// Middle of the strings.
    pub middle: [f64; 2],
    /// Far end of the hoop.
    pub tip: [f64; 2],
    /// Natural logarithm of the chance relative to the best candidate's: 0 for the best, less for the others.
    pub score: f64,
    /// Calibrated chance that the tip is within 20 % of the racket's length, 0–1.
    pub confidence: f64,
    /// The network's chance that each point is in the picture and seen: butt, throat, tip, middle.
    pub seen: [f64; 4],
}

/// A place in cells: column, row.
type Cell = [f64; 2];

/// Finds where the racket may be, best first, at most `limit`.
///
/// `heat` holds the chance of each cell `[4, rows, columns]` for butt, throat, tip and middle, each map with a sum of 1 (the
/// softmax of a head of kind `cell-chances`), `seen` the chance that each is seen. Without four maps of at least 2 × 2
/// cells, or with an empty map of butt or tip, there is no candidate.
pub fn candidates(heat: ArrayView3<f32>, seen: &[f32; 4], limit: usize) -> Vec<Candidate> {
    let (maps, rows, columns) = heat.dim();
    if maps != 4 || rows < 2 || columns < 2 {
        return Vec::new();
    }
    // What isn't a number has no chance.
    let chance = heat.mapv(|v| if v.is_finite() { f64::from(v).max(0.0) } else { 0.0 });
    if [BUTT, TIP].iter().any(|&k| chance.index_axis(Axis(0), k).sum() <= 0.0) {
        return Vec::new();
    }
    let logs: Vec<f64> = chance.iter().map(|v| (v + FLOOR).ln()).collect();
    let map = |k: usize| chance.index_axis(Axis(0), k);
    let (butts, tips) = (largest(map(BUTT), BUTTS), largest(map(TIP), TIPS));
    let pairs = weigh(&logs, (rows, columns), &butts, &tips);
    let side = columns as f64;
    let column: Vec<f64> = pairs.iter().map(|of_tip| of_tip.iter().sum()).collect();
    let best: Vec<usize> = pairs.iter().map(|of_tip| greatest(of_tip.iter().copied())).collect();
    let mut free = vec![true; tips.len()];
    let mut found: Vec<Candidate> = Vec::new();
    while found.len() < limit && free.contains(&true) {
        let peak = greatest((0..tips.len()).map(|j| if free[j] { pairs[j][best[j]] } else { -1.0 }));
        let basin: Vec<usize> =
            (0..tips.len()).filter(|&j| free[j] && apart(tips[j], tips[peak]) <= APART * side).collect();
        let mass: f64 = basin.iter().map(|&j| column[j]).sum();
        basin.iter().for_each(|&j| free[j] = false);
        if mass <= 0.0 || (mass < LEAST && !found.is_empty()) {
            continue;
        }
        let (mut butt, mut tip, mut sum) = ([0.0; 2], [0.0; 2], 0.0);
        let near: Vec<usize> =
            (0..butts.len()).filter(|&i| apart(butts[i], butts[best[peak]]) <= FINE_BUTT * side).collect();
        for &j in basin.iter().filter(|&&j| apart(tips[j], tips[peak]) <= FINE_TIP * side) {
            for &i in &near {
                let weight = pairs[j][i];
                sum += weight;
                (0..2).for_each(|a| {
                    butt[a] += weight * butts[i][a];
                    tip[a] += weight * tips[j][a];
                });
            }
        }
        let (butt, tip) = (butt.map(|v| v / sum), tip.map(|v| v / sum));
        let part = |k: usize, share: f64| {
            let expected = [0, 1].map(|a| butt[a] + share * (tip[a] - butt[a]));
            let (own, mass) = window(map(k), expected);
            if mass >= OWN { own } else { expected }
        };
        let near = RIGHT * LENGTH_OF_SIDE * side;
        let within = |reach: f64| -> f64 {
            (0..tips.len()).filter(|&j| apart(tips[j], tip) <= reach).map(|j| column[j]).sum()
        };
        let around = within(near);
        let terms = [1.0, log_odds(around), log_odds(window(map(TIP), tip).1), log_odds(f64::from(seen[3]))];
        let sum: f64 = LOGISTIC.iter().zip(terms).map(|(w, t)| w * t).sum();
        let fitted = 1.0 / (1.0 + (-sum).exp());
        let shares = |p: Cell| [(p[0] + 0.5) / columns as f64, (p[1] + 0.5) / rows as f64];
        found.push(Candidate {
            butt: shares(butt),
            throat: shares(part(1, THROAT)),
            middle: shares(part(3, MIDDLE)),
            tip: shares(tip),
            score: mass.ln(),
            confidence: fitted.min(within(2.0 * near)).min(MOST_OF_SEEN * f64::from(seen[3])),
            seen: seen.map(f64::from),
        });
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    if let Some(first) = found.first().map(|c| c.score) {
        found.iter_mut().for_each(|c| c.score -= first);
    }
    found
}

/// The chance of each pair, by tip and then by butt; all together 1. `logs` holds map after map, each of `rows` × `columns` cells.
fn weigh(logs: &[f64], (rows, columns): (usize, usize), butts: &[Cell], tips: &[Cell]) -> Vec<Vec<f64>> {
    let map = |k: usize| &logs[k * rows * columns..(k + 1) * rows * columns];
    let at = |k: usize, p: Cell| map(k)[p[1] as usize * columns + p[0] as usize];
    let [throat, middle] = [1, 3].map(map);
    let score = |butt: Cell, tip: Cell| {
        let on = |map: &[f64], share: f64| {
            between(map, (rows, columns), [0, 1].map(|a| butt[a] + share * (tip[a] - butt[a])))
        };
        let ends = WEIGHTS[0] * at(BUTT, butt) + WEIGHTS[2] * at(TIP, tip);
        ends + WEIGHTS[1] * on(throat, THROAT) + WEIGHTS[3] * on(middle, MIDDLE)
    };
    let mut pairs: Vec<Vec<f64>> =
        tips.iter().map(|&t| butts.iter().map(|&b| score(b, t)).collect()).collect();
    let most = pairs.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    pairs.iter_mut().flatten().for_each(|v| *v = (*v - most).exp());
    let total: f64 = pairs.iter().flatten().sum();
    pairs.iter_mut().flatten().for_each(|v| *v /= total);
    pairs
}

/// The `count` cells with the largest values.
fn largest(map: ArrayView2<f64>, count: usize) -> Vec<Cell> {
    let columns = map.ncols();
    let mut cells: Vec<(f64, usize)> = map.iter().copied().zip(0..).collect();
    // The first of equals goes first.
    let greater = |a: &(f64, usize), b: &(f64, usize)| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1));
    if count < cells.len() {
        cells.select_nth_unstable_by(count, greater);
        cells.truncate(count);
    }
    cells.sort_unstable_by(greater);
    cells.into_iter().map(|(_, at)| [(at % columns) as f64, (at / columns) as f64]).collect()
}

/// Index of the first largest value.
fn greatest(values: impl Iterator<Item = f64>) -> usize {
    values.enumerate().fold((0, f64::NEG_INFINITY), |a, b| if b.1 > a.1 { b } else { a }).0
}

fn apart(a: Cell, b: Cell) -> f64 {
    // Nothing here is so large or small that its square isn't a number.
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)).sqrt()
}

fn log_odds(chance: f64) -> f64 {
    let kept = chance.clamp(SURE, 1.0 - SURE);
    (kept / (1.0 - kept)).ln()
}

/// Value between cells of a map, which are at least 2 × 2.
#[inline]
fn between(map: &[f64], (rows, columns): (usize, usize), place: Cell) -> f64 {
    let split = |v: f64, cells: usize| {
        let v = v.clamp(0.0, (cells - 1) as f64);
        let low = (v as i32).min(cells as i32 - 2);
        (low as usize, v - f64::from(low))
    };
    let ((x, b), (y, a)) = (split(place[0], columns), split(place[1], rows));
    let along = |y: usize| {
        let line = &map[y * columns + x..y * columns + x + 2];
        line[0] * (1.0 - b) + line[1] * b
    };
    along(y) * (1.0 - a) + along(y + 1) * a
}

/// Mean place in the window around `place` and how much of the map's chance is there.
fn window(map: ArrayView2<f64>, place: Cell) -> (Cell, f64) {
    let (rows, columns) = map.dim();
    let reach = (WINDOW * columns as f64).round() as usize;
    let span = |v: f64, cells: usize| {
        let middle = (v + 0.5).floor().clamp(0.0, (cells - 1) as f64) as usize;
        middle.saturating_sub(reach)..(middle + reach + 1).min(cells)
    };
    let (mut sum, mut mass) = ([0.0; 2], 0.0);
    for y in span(place[1], rows) {
        for x in span(place[0], columns) {
            let v = map[[y, x]];
            mass += v;
            sum = [sum[0] + v * x as f64, sum[1] + v * y as f64];
        }
    }
    if mass > 0.0 { (sum.map(|v| v / mass), mass) } else { (place, 0.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array3;

    const CELLS: usize = 40;
    const SEEN: [f32; 4] = [0.99; 4];

    /// Maps with a blob a point for each racket (butt, tip, weight), each map with a sum of 1 and a little everywhere.
    fn maps(rackets: &[(Cell, Cell, f64)], wide: f64) -> Array3<f32> {
        let shares = [0.0, THROAT, 1.0, MIDDLE];
        let mut heat = Array3::from_elem((4, CELLS, CELLS), 1e-6);
        for ((k, y, x), v) in heat.indexed_iter_mut() {
            for (butt, tip, weight) in rackets {
                let place = [0, 1].map(|a| butt[a] + shares[k] * (tip[a] - butt[a]));
                *v += weight * (-0.5 * (apart([x as f64, y as f64], place) / wide).powi(2)).exp();
            }
        }
        for mut map in heat.axis_iter_mut(Axis(0)) {
            let sum = map.sum();
            map /= sum;
        }
        heat.mapv(|v| v as f32)
    }

    fn off(found: [f64; 2], cell: Cell) -> f64 {
        apart(found, cell.map(|v| (v + 0.5) / CELLS as f64)) * CELLS as f64
    }

    #[test]
    fn finds_a_racket_between_cells() {
        let (butt, tip) = ([19.3, 20.6], [32.4, 11.7]);
        let found = candidates(maps(&[(butt, tip, 1.0)], 1.1).view(), &SEEN, 5);
        let best = found[0];
        assert!(off(best.tip, tip) < 0.25 && off(best.butt, butt) < 0.25, "{best:?}");
        assert!(off(best.middle, [0, 1].map(|a| butt[a] + MIDDLE * (tip[a] - butt[a]))) < 0.3);
        assert!(off(best.throat, [0, 1].map(|a| butt[a] + THROAT * (tip[a] - butt[a]))) < 0.3);
        assert!(best.confidence > 0.9 && best.score == 0.0);
    }

    #[test]
    fn keeps_both_of_two_likely_places_and_doubts_them() {
        let (butt, tip, other) = ([20.0, 20.0], [33.0, 12.0], [22.0, 35.0]);
        let found = candidates(maps(&[(butt, tip, 0.6), (butt, other, 0.4)], 1.1).view(), &SEEN, 5);
        assert!(off(found[0].tip, tip) < 0.3 && off(found[1].tip, other) < 0.3, "{found:?}");
        assert!(found[1].score < 0.0 && found[0].confidence < 0.8);
        assert!(found[1].confidence < found[0].confidence);
    }

    #[test]
    fn a_tip_that_no_racket_fits_loses_to_one_on_the_line() {
        let (butt, tip) = ([20.0, 20.0], [33.0, 12.0]);
        let (mut heat, stray) =
            (maps(&[(butt, tip, 1.0)], 1.1), maps(&[([0.0, 0.0], [8.0, 30.0], 1.0)], 1.1));
        let mixed = &heat.index_axis(Axis(0), TIP) * 0.45 + &stray.index_axis(Axis(0), TIP) * 0.55;
        heat.index_axis_mut(Axis(0), TIP).assign(&mixed);
        let found = candidates(heat.view(), &SEEN, 5);
        assert!(off(found[0].tip, tip) < 0.3, "{found:?}");
    }

    #[test]
    fn an_unseen_or_spread_out_racket_has_little_confidence() {
        let racket = [([20.0, 20.0], [33.0, 12.0], 1.0)];
        let sharp = candidates(maps(&racket, 1.1).view(), &SEEN, 1)[0].confidence;
        let hidden = candidates(maps(&racket, 1.1).view(), &[0.02; 4], 1)[0].confidence;
        let spread = candidates(maps(&racket, 6.0).view(), &SEEN, 1)[0].confidence;
        assert!(hidden < 0.1 && spread < 0.6, "{sharp} {hidden} {spread}");
    }

    #[test]
    fn a_mirrored_picture_gives_mirrored_places() {
        let mirror = |p: Cell| [CELLS as f64 - 1.0 - p[0], p[1]];
        let (butt, tip) = ([18.2, 20.0], [30.0, 9.4]);
        let one = candidates(maps(&[(butt, tip, 1.0)], 1.3).view(), &SEEN, 1)[0];
        let two = candidates(maps(&[(mirror(butt), mirror(tip), 1.0)], 1.3).view(), &SEEN, 1)[0];
        assert!((one.tip[0] + two.tip[0] - 1.0).abs() < 1e-3 && (one.tip[1] - two.tip[1]).abs() < 1e-3);
        assert!((one.confidence - two.confidence).abs() < 1e-3);
    }

    #[test]
    fn maps_that_say_nothing_give_no_numbers_out_of_range() {
        assert!(candidates(Array3::zeros((4, CELLS, CELLS)).view(), &SEEN, 5).is_empty());
        assert!(candidates(Array3::zeros((3, CELLS, CELLS)).view(), &SEEN, 5).is_empty());
        assert!(candidates(maps(&[([20.0; 2], [30.0; 2], 1.0)], 1.1).view(), &SEEN, 0).is_empty());
        let mut broken = maps(&[([20.0; 2], [30.0; 2], 1.0)], 1.1);
        broken[[1, 3, 3]] = f32::NAN;
        broken[[2, 3, 3]] = f32::NEG_INFINITY;
        for c in candidates(broken.view(), &[f32::MIN_POSITIVE; 4], 5) {
            assert!(
                [c.tip, c.butt, c.throat, c.middle].iter().flatten().all(|v| (0.0..=1.0).contains(v)),
                "{c:?}"
            );
            assert!((0.0..=1.0).contains(&c.confidence) && c.score <= 0.0);
        }
    }
}
