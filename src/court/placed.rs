//! From points of the court that a person has placed in a picture to a reading of the camera.

use super::answer::{FAR_BELOW, same, to_fit};
use super::assume::{Assumptions, Standing};
use super::dual::COUNT;
use super::fit::{Fitted, fit};
use super::pose::{
    BASE_PAINT, CX, CY, LOG_FOCAL, LOG_HEIGHT, PAINT, PITCH, Pose, Setting, USUAL_BASE_PAINT, USUAL_PAINT,
    View, X, Y, YAW, placed_errors,
};
use super::reading::{Evidence, Reading};
use super::spot::{PlacedSpot, Spot};
use crate::geometry::Point2;
use crate::units::FrameIndex;

/// Directions from which a fit is tried, degrees, and how far under the horizon the highest point then lies.
const YAW_STEP: usize = 10;
const UNDER_HORIZON: [f64; 7] = [0.8, 1.6, 3.0, 5.0, 9.0, 16.0, 28.0];
/// Most starts through one lens for the points as named and for a doubt, and steps of a fit.
const STARTS: usize = 8;
const DOUBT_STARTS: usize = 1;
const STEPS: usize = 40;
/// How often a hand names one point wrongly, takes left for right in all of them, or the one half of the court for the other; and places one
/// anywhere.
const RENAMED: f64 = 0.02;
const MIRRORED: f64 = 0.02;
const TURNED: f64 = 0.005;
const STRAYED: f64 = 0.01;
/// Points are refused where it is less likely than this that all are as they were named; else what else they may be widens the answer.
const BELIEVED: f64 = 0.2;
/// Half the sum of squared errors, assumptions included, above which no camera shows the points so.
const NO_CAMERA: f64 = 16.0;
/// The points must span at least this share of the picture's longer side.
const SPAN: f64 = 0.025;

/// Why placed points tell nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Misplaced {
    /// All lie too near each other in the picture.
    Together,
    /// This one doesn't lie where the others say.
    Stray(usize),
    /// This one is more likely another point of the court.
    Renamed(usize, &'static Spot),
    /// Left was more likely taken for right.
    Mirrored,
    /// The far half was more likely taken for the near one.
    Turned,
    /// No camera shows them so.
    Impossible,
}

/// What placed points say of the camera of a picture of `size` pixels. `player` is how the player stands in it. That a hand has erred stays
/// possible: the reading is a mixture of cameras for the points as they were named and for what else may have been meant.
///
/// # Errors
/// [`Misplaced`], where something else is likelier than what was named.
pub fn read_placed(
    placed: &[PlacedSpot],
    size: (u32, u32),
    frame: FrameIndex,
    player: Option<Standing>,
    assumptions: &Assumptions,
) -> Result<Reading, Misplaced> {
    let (width, height) = (f64::from(size.0), f64::from(size.1));
    let setting = Setting { width, height, crop: assumptions.crop, player, placed };
    let apart = |a: &PlacedSpot| placed.iter().map(|b| a.at.distance(b.at)).fold(0.0, f64::max);
    if placed.iter().map(apart).fold(0.0, f64::max) < SPAN * setting.longer() {
        return Err(Misplaced::Together);
    }
    let as_named = fits(&setting, assumptions, STARTS);
    let mut all: Vec<(f64, Option<Misplaced>, Fitted)> =
        as_named.into_iter().map(|(e, f)| (e, None, f)).collect();
    if all.first().is_none_or(|(_, _, best)| best.cost > NO_CAMERA) {
        all.clear();
    }
    for (chance, doubt, meant) in doubts(&setting) {
        let setting = Setting { placed: &meant, ..setting };
        let others = fits(&setting, assumptions, DOUBT_STARTS).into_iter();
        all.extend(
            others.filter(|(_, f)| f.cost <= NO_CAMERA).map(|(e, f)| (e + chance.ln(), Some(doubt), f)),
        );
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = all.first().ok_or(Misplaced::Impossible)?.0;
    all.retain(|(evidence, ..)| *evidence > best - FAR_BELOW);
    let weight = |evidence: f64| (evidence - best).exp();
    let total: f64 = all.iter().map(|(evidence, ..)| weight(*evidence)).sum();
    let named: f64 = all.iter().filter(|one| one.1.is_none()).map(|one| weight(one.0)).sum();
    if named < BELIEVED * total {
        return Err(all.iter().find_map(|one| one.1).unwrap_or(Misplaced::Impossible));
    }
    let foot = player.map_or(Point2::new(0.5 * width, 0.8 * height), |player| player.foot);
    let fits =
        all.iter().map(|(evidence, _, fitted)| to_fit(fitted, weight(*evidence) / total, foot)).collect();
    Ok(Reading { evidence: Evidence::Camera, size, frame, foot, fits })
}

/// What else a hand may have meant: how likely that is beforehand, and the points as they would then be.
fn doubts(setting: &Setting<'_>) -> Vec<(f64, Misplaced, Vec<PlacedSpot>)> {
    let placed = setting.placed;
    let count = placed.len() as f64;
    let all = |other: fn(&Spot) -> Option<&'static Spot>| {
        let meant = |one: &PlacedSpot| Some(PlacedSpot { spot: other(one.spot)?, ..*one });
        let meant: Option<Vec<PlacedSpot>> = placed.iter().map(meant).collect();
        meant.filter(|meant| meant != placed)
    };
    let mut doubts = Vec::new();
    doubts.extend(all(Spot::mirrored).map(|meant| (MIRRORED, Misplaced::Mirrored, meant)));
    doubts.extend(all(Spot::turned).map(|meant| (TURNED, Misplaced::Turned, meant)));
    for k in 0..placed.len() {
        for other in Spot::ALL.iter().filter(|other| placed.iter().all(|one| one.spot != *other)) {
            let mut meant = placed.to_vec();
            meant[k].spot = other;
            doubts.push((RENAMED / (count * Spot::ALL.len() as f64), Misplaced::Renamed(k, other), meant));
        }
        // Of two points neither tells that the other strayed.
        if placed.len() > 2 {
            let mut others = placed.to_vec();
            let one = others.remove(k);
            // It lies anywhere in the picture instead of within a click's spread.
            let area = std::f64::consts::TAU * one.click * one.click / (setting.width * setting.height);
            doubts.push((STRAYED / count * area, Misplaced::Stray(k), others));
        }
    }
    doubts
}

/// The cameras that show the points, with their evidence, likeliest first.
fn fits(setting: &Setting<'_>, assumptions: &Assumptions, most_starts: usize) -> Vec<(f64, Fitted)> {
    let mut found: Vec<(f64, Fitted)> = Vec::new();
    for (number, lens) in assumptions.lenses.iter().enumerate() {
        let focal = (lens.share * setting.longer()).ln();
        let highest = setting.placed.iter().map(|one| one.at.y).fold(f64::INFINITY, f64::min);
        let highest = ((highest - setting.middle().y) / focal.exp()).atan();
        let mut starts: Vec<(f64, Pose)> = (0..360)
            .step_by(YAW_STEP)
            .flat_map(|yaw| UNDER_HORIZON.map(|under| (yaw as f64, highest - under.to_radians())))
            .filter_map(|(yaw, pitch)| start(setting, focal, yaw.to_radians(), pitch))
            .collect();
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, start) in starts.iter().take(most_starts) {
            let Some(fitted) = fit(setting, &assumptions.lenses, number, &[], Vec::new(), start, STEPS)
            else {
                continue;
            };
            let evidence = -fitted.cost + fitted.log_volume + lens.log_share();
            found.push((evidence, fitted));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = found.first().map_or(0.0, |(evidence, _)| *evidence);
    let mut kept: Vec<(f64, Fitted)> = Vec::new();
    for (evidence, fitted) in found {
        let known = |(_, other): &(f64, Fitted)| other.lens == fitted.lens && same(&other.pose, &fitted.pose);
        if evidence > best - FAR_BELOW && !kept.iter().any(known) {
            kept.push((evidence, fitted));
        }
    }
    kept
}

/// The place and height from which a camera that looks this way shows the points best, as a start of a fit, with what is left of the errors;
/// `None` where it would stand under the ground.
fn start(setting: &Setting<'_>, log_focal: f64, yaw: f64, pitch: f64) -> Option<(f64, Pose)> {
    let mut pose = [0.0; COUNT];
    let middle = setting.middle();
    (pose[LOG_FOCAL], pose[YAW], pose[PITCH]) = (log_focal, yaw, pitch);
    (pose[CX], pose[CY], pose[PAINT], pose[BASE_PAINT]) =
        (middle.x, middle.y, USUAL_PAINT.0, USUAL_BASE_PAINT.0);
    let view = View::new(pose);
    // The ground that a pixel shows lies at place + height · slope: least squares over place and height.
    let slopes: Option<Vec<(f64, f64)>> = setting
        .placed
        .iter()
        .map(|placed| {
            let ray = view.ray(placed.at);
            (ray[2] < -0.01).then(|| (ray[0] / -ray[2], ray[1] / -ray[2]))
        })
        .collect();
    let slopes = slopes?;
    let n = slopes.len() as f64;
    let places = || setting.placed.iter().map(|placed| placed.spot.place());
    let mean = |all: &mut dyn Iterator<Item = (f64, f64)>| {
        let sum = all.fold((0.0, 0.0), |sum, at| (sum.0 + at.0, sum.1 + at.1));
        (sum.0 / n, sum.1 / n)
    };
    let (there, slope) = (mean(&mut places()), mean(&mut slopes.iter().copied()));
    let (mut product, mut square) = (0.0, 0.0);
    for (at, s) in places().zip(&slopes) {
        let (u, v) = (s.0 - slope.0, s.1 - slope.1);
        product += u * (at.0 - there.0) + v * (at.1 - there.1);
        square += u * u + v * v;
    }
    let height = (product / square.max(1e-9)).min(30.0);
    if height < 0.1 {
        return None;
    }
    pose[LOG_HEIGHT] = height.ln();
    (pose[X], pose[Y]) = (there.0 - height * slope.0, there.1 - height * slope.1);
    let view = View::new(pose);
    let errors = setting.placed.iter().flat_map(|placed| placed_errors(placed, &view));
    // A start that is far off is as good as another.
    Some((errors.map(|e| (e * e).min(1e4)).sum(), pose))
}

#[cfg(test)]
#[path = "placed_tests.rs"]
mod tests;
