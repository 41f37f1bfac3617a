//! From judged fits to what is given out: the mixture, and whether it may be given at all.

use super::dual::COUNT;
use super::fit::{Fitted, Named};
use super::paint::Line;
use super::pose::{CX, CY, K1, LOG_FOCAL, LOG_HEIGHT, PITCH, Pose, ROLL, View, X, Y, YAW, camera, unknowns};
use super::read::{Judged, Scene};
use super::reading::{Evidence, Fit, Reading, Silence, UNKNOWNS};
use crate::geometry::{Point2, wrapped};
use crate::units::FrameIndex;

/// Fits whose evidence is lower by this are left out.
pub(super) const FAR_BELOW: f64 = 8.0;
/// Bearings that differ by more than this are different answers, degrees.
const DISTINCT: f64 = 8.0;
/// How much likelier the answer must be than the next one that differs, logarithm.
const CLEAR: f64 = 6.0;
/// Answers that differ by more than this, degrees, take the court for turned by a quarter or a half. The way of the strokes tells them apart, so
/// that they are given too, where the answer is at least this likely beside them.
const OTHERWISE: f64 = 60.0;
const LIKELY: f64 = 0.9;
/// Courts are painted, lenses bend and pictures were cut in ways that are not in the model: how far that turns the bearing, degrees (1 standard
/// deviation). From courts whose direction was read by hand.
const UNMODELLED: f64 = 0.4;
/// Least number of lines, and of lines that run one way.
const LEAST_LINES: usize = 3;
/// Most paint that may be missing, share of what is expected.
const MOST_MISSING: f64 = 0.16;
/// Least paint that is expected, in the measure of [`super::judge::Absent`]: a court of which nothing should be seen is no reading.
const LEAST_EXPECTED: f64 = 12.0;
/// Least share of the bands on the court, by their worth, that are explained.
const LEAST_EXPLAINED: f64 = 0.6;
/// Most cost of a band on average: half its squared errors.
const MOST_COST: f64 = 4.0;
/// The same where other answers are left.
const GOOD_COST: f64 = 1.0;
/// Largest standard deviation of the bearing with which all of the camera is given, degrees.
const MOST_SPREAD: f64 = 4.0;

/// The place of each of a reading's unknowns among those of a pose; the bearing comes from several.
const PLACES: [usize; UNKNOWNS] = [LOG_FOCAL, K1, CX, CY, PITCH, ROLL, LOG_HEIGHT, YAW, X, Y];
const BEARING: usize = 7;

/// The reading of a scene from its fits, likeliest first.
pub(super) fn answer(scene: &Scene, judged: &[Judged], frame: FrameIndex, foot: Point2) -> Reading {
    let size = (scene.plane.width as u32, scene.plane.height as u32);
    let nothing = |why| Reading::nothing(why, size, frame, foot);
    if scene.bands.is_empty() {
        return nothing(Silence::NoLines);
    }
    let Some(best) = judged.first() else { return nothing(Silence::NoCourt) };
    if !is_court(best) {
        return nothing(Silence::NoCourt);
    }
    // The same lines seen through another lens are no other answer: its width says how much the lens leaves open.
    let off = |j: &Judged| {
        let bearing = |j: &Judged| camera(&j.fitted.pose).bearing(foot).0;
        if are_alike(&j.fitted.named, &best.fitted.named) {
            return 0.0;
        }
        wrapped(bearing(j) - bearing(best)).abs()
    };
    let rivals = |j: &Judged| (DISTINCT..OTHERWISE).contains(&off(j));
    if judged.iter().find(|j| rivals(j)).is_some_and(|other| best.evidence - other.evidence < CLEAR) {
        return nothing(Silence::Ambiguous);
    }
    let mut chosen: Vec<&Judged> = Vec::new();
    for judged in judged.iter().filter(|j| j.evidence > best.evidence - FAR_BELOW && !rivals(j)) {
        if !chosen.iter().any(|other| same(&other.fitted.pose, &judged.fitted.pose)) {
            chosen.push(judged);
        }
    }
    let weight = |j: &Judged| (j.evidence - best.evidence).exp();
    let total: f64 = chosen.iter().map(|j| weight(j)).sum();
    let reading_of = |chosen: &[&Judged]| {
        let fits = chosen.iter().map(|j| to_fit(&j.fitted, weight(j) / total, foot)).collect();
        Reading { evidence: Evidence::Camera, size, frame, foot, fits }
    };
    let has_rivals = chosen.iter().any(|j| off(j) > DISTINCT && best.evidence - j.evidence < CLEAR);
    if has_rivals && cost_of(best) > GOOD_COST {
        return nothing(Silence::Ambiguous);
    }
    let alike: Vec<&Judged> = chosen.iter().copied().filter(|j| off(j) <= DISTINCT).collect();
    if alike.iter().map(|j| weight(j)).sum::<f64>() < LIKELY * total {
        return nothing(Silence::Ambiguous);
    }
    match reading_of(&alike).moments(super::reading::Unknown::Bearing) {
        Some((_, spread)) if spread.to_degrees() < MOST_SPREAD => reading_of(&chosen),
        _ => nothing(Silence::Ambiguous),
    }
}

/// Whether a fit has lines enough, and explains what is there.
fn is_court(judged: &Judged) -> bool {
    let named = &judged.fitted.named;
    let mut lines: Vec<Line> = named.iter().map(|(_, line)| *line).filter(|l| *l != Line::Mark).collect();
    lines.sort_unstable();
    lines.dedup();
    let along = lines.iter().filter(|line| line.is_along()).count();
    let across = lines.len() - along;
    lines.len() >= LEAST_LINES
        && along.min(across) >= 1
        && judged.expected >= LEAST_EXPECTED
        && judged.missing <= MOST_MISSING * judged.expected
        && cost_of(judged) <= MOST_COST
        && judged.gain >= LEAST_EXPLAINED * (judged.gain + judged.unexplained)
}

/// Whether two readings take no band for different lines, and one of them takes all bands for lines that the other does.
fn are_alike(a: &Named, b: &Named) -> bool {
    let within = |a: &Named, b: &Named| a.iter().all(|band| b.contains(band));
    within(a, b) || within(b, a)
}

/// Cost of a band on average.
fn cost_of(judged: &Judged) -> f64 {
    judged.fitted.each.iter().sum::<f64>() / judged.fitted.named.len().max(1) as f64
}

/// Whether two poses are one answer.
pub(super) fn same(a: &Pose, b: &Pose) -> bool {
    [LOG_FOCAL, YAW, PITCH, X, Y, LOG_HEIGHT].iter().all(|k| (a[*k] - b[*k]).abs() < 0.01)
}

/// A fit in the unknowns of a reading.
pub(super) fn to_fit(fitted: &Fitted, weight: f64, foot: Point2) -> Fit {
    let ray = View::new(unknowns(&fitted.pose)).ray(foot);
    let length = ray[0].value * ray[0].value + ray[1].value * ray[1].value;
    // The slopes of the foot's direction seen from above; the bearing is that direction and a right angle.
    let mut slopes = [[0.0; COUNT]; UNKNOWNS];
    for (slope, place) in slopes.iter_mut().zip(PLACES) {
        slope[place] = 1.0;
    }
    for (k, slope) in slopes[BEARING].iter_mut().enumerate() {
        *slope = (ray[1].value * ray[0].slope[k] - ray[0].value * ray[1].slope[k]) / length.max(1e-12);
    }
    let mut mean = PLACES.map(|place| fitted.pose[place]);
    let bearing = ray[0].value.atan2(ray[1].value).to_degrees() + 90.0;
    mean[BEARING] = wrapped(bearing).to_radians();
    let mut covariance = [[0.0; UNKNOWNS]; UNKNOWNS];
    for (i, row) in covariance.iter_mut().enumerate() {
        let through: Vec<f64> =
            (0..COUNT).map(|b| (0..COUNT).map(|a| slopes[i][a] * fitted.covariance[a][b]).sum()).collect();
        for (j, value) in row.iter_mut().enumerate() {
            *value = through.iter().zip(slopes[j]).map(|(t, s)| t * s).sum();
        }
    }
    covariance[BEARING][BEARING] += UNMODELLED.to_radians().powi(2);
    let mut lines: Vec<Line> = fitted.named.iter().map(|(_, line)| *line).collect();
    lines.sort_unstable();
    lines.dedup();
    Fit { weight, mean, covariance, lines }
}
