//! How often chance alone would part the strokes of two sessions as far.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_pcg::Pcg64Mcg;

use super::combinations;

/// Up to so many ways to part the strokes all of them are tried (8 and 8 strokes have 12 870).
const MOST_WAYS: u64 = 20_000;

/// Beyond that so many are drawn.
const DRAWS: usize = 9999;

/// The same samples give the same p.
const SEED: u64 = 0x70e1_1e02;

/// Two-sided permutation p of a difference of means, with Welch's t as the statistic, which keeps its level where the
/// spreads differ (Janssen 1997, Stat Probab Lett 36:9). All ways to part the strokes are tried where they are few, else
/// (1 + hits)/(1 + draws) (Phipson & Smyth 2010, Stat Appl Genet Mol Biol 9:39). `None` for fewer than two values on a side.
/// Takes strokes to be independent: [`super::difference`] does not.
pub fn permutation_p(before: &[f64], after: &[f64]) -> Option<f64> {
    if before.len() < 2 || after.len() < 2 {
        return None;
    }
    let mut all: Vec<f64> = before.iter().chain(after).copied().collect();
    // Sums of squares keep their digits when the values lie around zero.
    let middle = all.iter().sum::<f64>() / all.len() as f64;
    all.iter_mut().for_each(|x| *x -= middle);
    let total = Sums::of(&all);
    let statistic = |part: Sums, k: usize| {
        let rest = Sums { sum: total.sum - part.sum, squares: total.squares - part.squares };
        let (k, rest_k) = (k as f64, (all.len() - k) as f64);
        let gap = (part.sum / k - rest.sum / rest_k).abs();
        let error = (part.variance(k) / k + rest.variance(rest_k) / rest_k).sqrt();
        match (gap > 1e-12, error > 1e-12) {
            (false, _) => 0.0,
            (true, false) => f64::INFINITY,
            (true, true) => gap / error,
        }
    };
    let k = before.len();
    // Ways that part the strokes as far up to rounding count as hits.
    let observed = statistic(Sums::of(&all[..k]), k) * (1.0 - 1e-9);
    if let Some(ways) = combinations::count(all.len(), k, MOST_WAYS) {
        let mut hits = 0u64;
        combinations::each(all.len(), k, |chosen| {
            let part = chosen.iter().fold(Sums::default(), |sums, &i| sums.with(all[i]));
            hits += u64::from(statistic(part, k) >= observed);
        });
        return Some(hits as f64 / ways as f64);
    }
    let mut rng = Pcg64Mcg::seed_from_u64(SEED);
    let mut order = all.clone();
    let hits = (0..DRAWS)
        .filter(|_| {
            let (part, _) = order.partial_shuffle(&mut rng, k);
            statistic(Sums::of(part), k) >= observed
        })
        .count();
    Some((1 + hits) as f64 / (1 + DRAWS) as f64)
}

#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    sum: f64,
    squares: f64,
}

impl Sums {
    fn of(values: &[f64]) -> Self {
        values.iter().fold(Self::default(), |sums, x| sums.with(*x))
    }

    fn with(self, x: f64) -> Self {
        Self { sum: self.sum + x, squares: self.squares + x * x }
    }

    fn variance(&self, n: f64) -> f64 {
        ((self.squares - self.sum * self.sum / n) / (n - 1.0)).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_strokes_are_enumerated() {
        // Of the 20 ways to part six strokes, only this one and its mirror part them so far.
        assert_eq!(permutation_p(&[1.0, 2.0, 3.0], &[11.0, 12.0, 13.0]), Some(2.0 / 20.0));
        assert_eq!(permutation_p(&[5.0; 4], &[5.0; 4]), Some(1.0));
        assert_eq!(permutation_p(&[5.0], &[5.0; 4]), None);
    }

    #[test]
    fn many_strokes_are_drawn() {
        let a: Vec<f64> = (0..20).map(|i| f64::from(i * 7 % 20)).collect();
        let far: Vec<f64> = a.iter().map(|x| x + 100.0).collect();
        assert_eq!(permutation_p(&a, &far), Some(1.0 / 10_000.0));
        assert!(permutation_p(&a, &a).unwrap() > 0.9);
    }
}
