//! Statistics against SciPy's, and how often comparisons are wrong when drawn many times.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

use std::collections::VecDeque;

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;
use serde_json::Value;
use toeline::stats::{
    Between, Extra, bca, benjamini_hochberg, between_sessions, difference, hedges_g, normal_cdf,
    normal_quantile, permutation_p, t_quantile,
};

fn reference() -> Value {
    serde_json::from_str(include_str!("../fixtures/statistics.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} against {theirs}");
}

#[test]
fn quantiles_are_those_of_scipy() {
    let reference = reference();
    for row in reference["t_quantiles"].as_array().unwrap() {
        let row = numbers(row);
        near(t_quantile(row[0], row[1]).unwrap(), row[2], 1e-6 * (1.0 + row[2].abs()));
    }
    for row in reference["normal_quantiles"].as_array().unwrap() {
        let row = numbers(row);
        near(normal_quantile(row[0]).unwrap(), row[1], 1e-8);
        near(normal_cdf(row[1]), row[0], 1e-8);
    }
    assert!(t_quantile(0.975, 0.0).is_none() && t_quantile(1.0, 5.0).is_none());
    near(t_quantile(0.975, 1e9).unwrap(), 1.959_964, 1e-6);
}

#[test]
fn effects_intervals_and_p_are_those_of_scipy() {
    let reference = reference();
    for pair in reference["few"].as_array().unwrap().iter().chain(reference["many"].as_array().unwrap()) {
        let (before, after) = (numbers(&pair["before"]), numbers(&pair["after"]));
        near(hedges_g(&before, &after).unwrap(), pair["hedges_g"].as_f64().unwrap(), 1e-9);
        let found = difference(&before, &after, Extra::default()).unwrap();
        let [low, high] = numbers(&pair["welch"])[..] else { panic!("two ends") };
        let half = found.minimal;
        assert!(half >= 0.5 * (high - low), "dependence can only widen an interval");
        if let Some(p) = pair["permutation_p"].as_f64() {
            near(permutation_p(&before, &after).unwrap(), p, 1e-9);
        }
        if pair["bca"].is_array() {
            let [low, high] = numbers(&pair["bca"])[..] else { panic!("two ends") };
            let ours = bca(&before, &after).unwrap();
            // Both are drawn: the ends of a skewed sample's interval scatter by a fiftieth of its width.
            near(ours.low, low, 0.05 * (high - low));
            near(ours.high, high, 0.05 * (high - low));
        }
    }
}

#[test]
fn welch_without_dependence_is_that_of_scipy() {
    // In an order in which neighbours don't resemble each other nothing is widened.
    let reference = reference();
    let mut compared = 0;
    for pair in reference["few"].as_array().unwrap() {
        // The largest in the middle, the smallest on both sides of it, and so on outward.
        let alternating = |values: &Value| {
            let mut left = numbers(values);
            left.sort_by(f64::total_cmp);
            let mut left = VecDeque::from(left);
            let mut order: VecDeque<f64> = left.pop_back().into_iter().collect();
            while !left.is_empty() {
                order.extend(left.pop_front());
                left.pop_front().into_iter().for_each(|x| order.push_front(x));
                order.extend(left.pop_back());
                left.pop_back().into_iter().for_each(|x| order.push_front(x));
            }
            Vec::from(order)
        };
        let (before, after) = (alternating(&pair["before"]), alternating(&pair["after"]));
        if toeline::stats::dependence::inflation(&before) > 1.0
            || toeline::stats::dependence::inflation(&after) > 1.0
        {
            continue;
        }
        compared += 1;
        let [low, high] = numbers(&pair["welch"])[..] else { panic!("two ends") };
        let found = difference(&before, &after, Extra::default()).unwrap();
        near(found.interval.low, low, 1e-6);
        near(found.interval.high, high, 1e-6);
    }
    assert!(compared >= 2, "{compared} pairs alternate");
}

#[test]
fn discovery_rates_are_those_of_scipy() {
    let reference = &reference()["benjamini_hochberg"];
    for (ours, theirs) in benjamini_hochberg(&numbers(&reference["p"])).iter().zip(numbers(&reference["q"])) {
        near(*ours, theirs, 1e-12);
    }
    assert!(benjamini_hochberg(&[]).is_empty());
}

/// Strokes of one session, of mean 0 and spread 1, each like its neighbour with correlation `r`.
fn session(n: usize, r: f64, rng: &mut Pcg64Mcg) -> Vec<f64> {
    let mut last: f64 = rng.sample(StandardNormal);
    (0..n)
        .map(|_| {
            let fresh: f64 = rng.sample(StandardNormal);
            let now = last;
            last = r * last + (1.0 - r * r).sqrt() * fresh;
            now
        })
        .collect()
}

/// Share of so many comparisons that are called changed when the sessions differ by `shift`.
fn called_changed(runs: usize, n: usize, r: f64, shift: f64) -> f64 {
    let mut rng = Pcg64Mcg::seed_from_u64(6 + n as u64);
    let changed = (0..runs)
        .filter(|_| {
            let before = session(n, r, &mut rng);
            let after: Vec<f64> = session(n, r, &mut rng).iter().map(|x| x + shift).collect();
            !difference(&before, &after, Extra::default()).unwrap().interval.holds(0.0)
        })
        .count();
    changed as f64 / runs as f64
}

/// The minimal detectable change as it comes out on average.
fn usual_minimal(n: usize, r: f64) -> f64 {
    let mut rng = Pcg64Mcg::seed_from_u64(60 + n as u64);
    let sum: f64 = (0..200)
        .map(|_| {
            let (before, after) = (session(n, r, &mut rng), session(n, r, &mut rng));
            difference(&before, &after, Extra::default()).unwrap().minimal
        })
        .sum();
    sum / 200.0
}

#[test]
fn sessions_without_a_change_are_rarely_called_changed() {
    for n in [6, 12, 20, 30] {
        let (independent, alike) = (called_changed(2000, n, 0.0, 0.0), called_changed(2000, n, 0.3, 0.0));
        println!("false alarms at n = {n}: independent {independent:.3}, r = 0.3 {alike:.3}");
        assert!(independent <= 0.06, "n = {n}: {independent}");
        assert!(alike <= 0.10, "n = {n}, r = 0.3: {alike}");
    }
}

#[test]
fn true_shifts_of_one_and_a_half_minimal_changes_are_found() {
    for n in [6, 12, 20, 30] {
        for r in [0.0, 0.3] {
            let shift = 1.5 * usual_minimal(n, r);
            let found = called_changed(600, n, r, shift);
            println!("found at n = {n}, r = {r}: {found:.3} of shifts by {shift:.2} spreads");
            assert!(found >= 0.80, "n = {n}, r = {r}: {found}");
        }
    }
}

#[test]
fn sessions_that_differ_by_themselves_need_their_own_spread() {
    // Session means spread by half of the strokes' spread: strokes alone are no measure for a change.
    const TAU: f64 = 0.5;
    const N: usize = 20;
    let mut rng = Pcg64Mcg::seed_from_u64(9);
    let drawn = |rng: &mut Pcg64Mcg| -> Vec<f64> {
        let shift: f64 = TAU * rng.sample::<f64, _>(StandardNormal);
        session(N, 0.0, rng).iter().map(|x| x + shift).collect()
    };
    let (mut without, mut with, mut found) = (0, 0, 0.0);
    for _ in 0..400 {
        let earlier: Vec<Vec<f64>> = (0..6).map(|_| drawn(&mut rng)).collect();
        let between = between_sessions(earlier.iter().map(Vec::as_slice)).unwrap();
        found += between.sd / 400.0;
        let (before, after) = (drawn(&mut rng), drawn(&mut rng));
        let alarm = |between: Option<Between>| {
            let extra = Extra { between, ..Extra::default() };
            usize::from(!difference(&before, &after, extra).unwrap().interval.holds(0.0))
        };
        without += alarm(None);
        with += alarm(Some(between));
    }
    println!(
        "false alarms of 400: {without} from the strokes, {with} with earlier sessions; mean tau {found:.2}"
    );
    near(found, TAU, 0.1);
    assert!(without > 80, "{without}");
    assert!(with <= 40, "{with}");
}

#[test]
fn one_stroke_more_makes_no_step_in_the_width() {
    let width = |n: usize| {
        let mut rng = Pcg64Mcg::seed_from_u64(15);
        let sum: f64 = (0..300)
            .map(|_| {
                let (before, after) = (session(n, 0.0, &mut rng), session(n, 0.0, &mut rng));
                let found = difference(&before, &after, Extra::default()).unwrap();
                (found.interval.high - found.interval.low) * (n as f64).sqrt()
            })
            .sum();
        sum / 300.0
    };
    let (welch, bootstrap) = (width(14), width(15));
    println!("mean width times the root of n: {welch:.3} at 14, {bootstrap:.3} at 15");
    assert!((bootstrap / welch - 1.0).abs() < 0.03, "{welch} {bootstrap}");
}
