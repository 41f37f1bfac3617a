//! The racket's angle to the forearm, and the hand's where no racket is seen.

use super::Missing;
use super::ramp::Ramp;
use super::readings::{Extreme, Readings};
use crate::geometry::{Court, angle_between};
use crate::pose::Joint;
use crate::scene::CourtRacket;
use crate::stroke::{Hands, Stroke, search};
use crate::units::Seconds;

/// The peak is looked for this long before contact, its base a little longer.
const PEAK_WINDOW: Seconds = Seconds(0.35);
const BASE_WINDOW: Seconds = Seconds(0.45);

/// The rise has begun when this share of it is done; the straight part of it reaches up to the other share.
const ONSET_SHARE: f64 = 0.10;
const STRAIGHT_SHARE: f64 = 0.8;

/// A rise shows when it is at least so large, degrees, and so many times what the angle strays about base and rise; and
/// its base, when it is seen for so long before.
const LEAST_RISE: f64 = 15.0;
const RISE_OVER_STRAY: f64 = 3.0;

/// What lies this long before the rise's end counts less by a factor of e.
const NEAR: Seconds = Seconds(0.12);
const LEAST_BASE: Seconds = Seconds(0.04);

/// Peak and base are looked for only where the angle is known over this share of the time, and without a gap longer than
/// this beside the peak.
const KNOWN_SHARE: f64 = 0.7;
const LONGEST_GAP: Seconds = Seconds(0.05);

/// A forearm or racket that looks shorter than this share of its length points at the camera or away.
const SHORT: f64 = 0.7;

/// Angle between forearm and racket in space at a time, degrees.
///
/// # Errors
/// Why it is missing.
pub fn lag(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    // Between two hands the racket is no longer the hitting forearm's to let trail.
    if stroke.hands == Hands::Two {
        return Err(Missing::TwoHands);
    }
    let racket = stroke.racket.as_ref().ok_or(Missing::NoRacket)?;
    let axis = racket.axis(time).ok_or(Missing::NoRacket)?;
    angle_between(forearm(stroke, racket, time)?, axis).ok_or(Missing::Undefined)
}

fn forearm(stroke: &Stroke, racket: &CourtRacket, time: Seconds) -> Result<Court, Missing> {
    let why = || {
        let joint = |joint| stroke.joint(stroke.motion.hitting(joint), time).err();
        joint(Joint::Wrist).or(joint(Joint::Elbow)).unwrap_or(Missing::Hidden)
    };
    racket.forearm(&stroke.motion, time).ok_or_else(why)
}

/// Why the lag's peak can't be told, where that is because something points at the camera.
pub fn foreshortened(stroke: &Stroke) -> Option<Missing> {
    let (at, _) = lag_peak_at(stroke).ok()?;
    let racket = stroke.racket.as_ref()?;
    let along = forearm(stroke, racket, at).ok()?.unit()?;
    let flat = (1.0 - stroke.motion.along_lens(along).powi(2)).max(0.0).sqrt();
    let racket = racket.share(at)?;
    match () {
        () if racket.min(flat) >= SHORT => None,
        () if racket < flat => Some(Missing::RacketForeshortened),
        () => Some(Missing::ForearmForeshortened),
    }
}

/// An angle from one time to another, where it is known well enough to look for its extremes.
fn known(angle: &impl Fn(Seconds) -> Option<f64>, from: Seconds, to: Seconds) -> Option<Vec<(Seconds, f64)>> {
    let known = search::samples(angle, from, to);
    (known.len() as f64 >= KNOWN_SHARE * search::count(from, to) as f64).then_some(known)
}

/// Time and size of the largest lag, degrees.
///
/// # Errors
/// Why it is missing.
pub fn lag_peak_at(stroke: &Stroke) -> Extreme {
    let met = stroke.contact();
    let angle = |t: Seconds| lag(stroke, t).ok();
    let from = met - PEAK_WINDOW;
    let known = if stroke.hands == Hands::Two { None } else { known(&angle, from, met) };
    let Some(known) = known else {
        return Err(lag(stroke, met).err().unwrap_or(Missing::NoRacket));
    };
    let found = search::largest(known).ok_or(Missing::NoRacket)?;
    // What lies in a gap beside it may be larger.
    let beside = |t: Seconds| t < from || t > met || angle(t).is_some();
    if beside(found.0 - LONGEST_GAP) && beside(found.0 + LONGEST_GAP) {
        Ok(found)
    } else {
        Err(Missing::NoRacket)
    }
}

pub fn lag_peak(readings: &Readings<'_>) -> Result<f64, Missing> {
    Ok(readings.lag_peak()?.1)
}

pub fn lag_peak_before_contact(readings: &Readings<'_>) -> Result<f64, Missing> {
    Ok((readings.stroke.contact() - readings.lag_peak()?.0).milliseconds())
}

pub fn lag_onset_before_contact(readings: &Readings<'_>) -> Result<f64, Missing> {
    let (stroke, peak) = (readings.stroke, readings.lag_peak()?);
    let angle = |t: Seconds| lag(stroke, t).ok();
    let from = stroke.contact() - BASE_WINDOW;
    let before = known(&angle, from, peak.0).ok_or(Missing::NoRacket)?;
    // What points along the lens may as well point the other way along it.
    let shown =
        |t: Seconds| stroke.racket.as_ref().and_then(|r| r.share(t)).map_or(0.0, |share| share.powi(4));
    onset(stroke, (angle, &before), shown, peak)
}

pub fn lag_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    lag(stroke, stroke.contact())
}

/// How long before contact an angle has left its base for its peak, milliseconds.
///
/// A level base with a straight rise is laid through the curve, and the onset read from these: the lowest reading would
/// take the error of a moment for the base. `trust` says how far the angle at a time is to be trusted. On curves
/// without errors the two ways agree to 10 ms.
fn onset(
    stroke: &Stroke,
    (angle, before): (impl Fn(Seconds) -> Option<f64>, &[(Seconds, f64)]),
    trust: impl Fn(Seconds) -> f64,
    (at, largest): (Seconds, f64),
) -> Result<f64, Missing> {
    let from = stroke.contact() - BASE_WINDOW;
    let (_, lowest) = search::smallest(before.iter().copied()).ok_or(Missing::Hidden)?;
    let bent = lowest + STRAIGHT_SHARE * (largest - lowest);
    let straight = search::last_at_or_under(&angle, bent, from, at).ok_or(Missing::Undefined)?;
    let curve = search::samples(&angle, from, straight);
    let near = |t: Seconds| (-(straight - t).0 / NEAR.0).exp();
    let trust: Vec<f64> = curve.iter().map(|(t, _)| near(*t) * trust(*t)).collect();
    let starts: Vec<Seconds> = curve.iter().map(|(t, _)| *t).filter(|t| *t >= from + LEAST_BASE).collect();
    let ramp = Ramp::closest(&curve, &trust, &starts).ok_or(Missing::Undefined)?;
    let rise = largest - ramp.base;
    if rise < LEAST_RISE.max(RISE_OVER_STRAY * ramp.stray) {
        return Err(Missing::TooUncertain);
    }
    let onset = ramp.start + Seconds(ONSET_SHARE * rise / ramp.slope);
    Ok((stroke.contact() - onset.min(at)).milliseconds())
}

/// Angle between forearm and hand, degrees.
fn hand_angle(stroke: &Stroke, time: Seconds) -> Result<f64, Missing> {
    let now = stroke.now(time);
    let wrist = now.hitting(Joint::Wrist)?;
    let elbow = now.hitting(Joint::Elbow)?;
    let index = now.hitting(Joint::Index)?;
    let pinky = now.hitting(Joint::Pinky)?;
    angle_between(wrist - elbow, index.middle(pinky) - wrist).ok_or(Missing::Undefined)
}

/// Time and size of the largest bend, degrees.
///
/// # Errors
/// Why it is missing.
pub(super) fn hand_peak_at(stroke: &Stroke) -> Extreme {
    let met = stroke.contact();
    hand_angle(stroke, met)?;
    search::maximum(|t| hand_angle(stroke, t).ok(), met - PEAK_WINDOW, met).ok_or(Missing::Hidden)
}

pub fn hand_angle_peak(readings: &Readings<'_>) -> Result<f64, Missing> {
    Ok(readings.hand_peak()?.1)
}

pub fn hand_angle_peak_before_contact(readings: &Readings<'_>) -> Result<f64, Missing> {
    Ok((readings.stroke.contact() - readings.hand_peak()?.0).milliseconds())
}

pub fn hand_angle_onset_before_contact(readings: &Readings<'_>) -> Result<f64, Missing> {
    let (stroke, peak) = (readings.stroke, readings.hand_peak()?);
    let angle = |t: Seconds| hand_angle(stroke, t).ok();
    let before = search::samples(angle, stroke.contact() - BASE_WINDOW, peak.0);
    onset(stroke, (angle, &before), |_| 1.0, peak)
}

pub fn hand_angle_at_contact(stroke: &Stroke) -> Result<f64, Missing> {
    hand_angle(stroke, stroke.contact())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Camera;
    use crate::scene::racket::tests::{Arm, CONTACT, outward};
    use crate::stroke::{Hands, Kind, Mark, Method, Phases};
    use crate::units::Metres;

    /// Lag that rises from 40° to 110° 0.1 s before contact and falls to 50°.
    fn true_lag(t: f64) -> f64 {
        let rise = (1.0 / (1.0 + (-(t + 0.2) / 0.02).exp())).clamp(0.0, 1.0);
        let fall = if t > -0.1 { 60.0 * ((t + 0.1) / 0.1).powi(2) } else { 0.0 };
        40.0 + 70.0 * rise - fall
    }

    /// The racket turned from the forearm's direction toward the camera's left, in the plane that both span.
    fn trailing(t: f64) -> Camera {
        let along = outward(t).unit().unwrap();
        let back = Camera::new(-1.0, -0.1, 0.2);
        let across = (back - along * along.dot(back)).unit().unwrap();
        let (sin, cos) = true_lag(t).to_radians().sin_cos();
        along * cos + across * sin
    }

    fn stroke(rate: f64) -> Stroke {
        let shown = Arm { rate, forearm: outward, racket: trailing }.shown();
        let racket = Some(shown.racket());
        let phases = Phases {
            prep_start: None,
            drop_start: None,
            backswing_end: None,
            low_point: None,
            forward_start: None,
            contact: Mark { time: CONTACT, method: Method::Sound },
            finish_end: None,
        };
        Stroke {
            kind: Kind::Forehand,
            hands: Hands::One,
            volley: false,
            stance: None,
            phases,
            ball: None,
            motion: shown.court,
            racket,
            flight: None,
            struck: None,
            stature: Metres(1.8),
        }
    }

    #[test]
    fn lag_comes_back_as_it_was_made() {
        for rate in [60.0, 120.0] {
            let stroke = stroke(rate);
            let peak = lag_peak(&Readings::of(&stroke)).unwrap();
            assert!((peak - 109.5).abs() < 3.0, "{rate}/s: {peak}°");
            let before = lag_peak_before_contact(&Readings::of(&stroke)).unwrap();
            assert!((90.0..140.0).contains(&before), "{rate}/s: {before} ms");
            let met = lag_at_contact(&stroke).unwrap();
            assert!((met - true_lag(0.0)).abs() < 5.0, "{rate}/s: {met}°");
            // 10 % of the rise are done at −0.2 s − 0.02 s · ln 9.
            let onset = lag_onset_before_contact(&Readings::of(&stroke)).unwrap();
            assert!((onset - 244.0).abs() < 15.0, "{rate}/s: {onset} ms");
        }
    }

    #[test]
    fn no_lag_without_a_racket_and_none_across_a_gap_beside_the_peak() {
        let mut bare = stroke(60.0);
        bare.racket = None;
        assert_eq!(lag_peak(&Readings::of(&bare)), Err(Missing::NoRacket));
        let mut shown = Arm { rate: 60.0, forearm: outward, racket: trailing }.shown();
        let at = |t: f64| ((CONTACT.0 + t) * 60.0).round() as usize;
        shown.seen.rackets[at(-0.17)..at(-0.10)].fill(None);
        let gap = Stroke { racket: Some(shown.racket()), ..bare };
        assert_eq!(lag_peak(&Readings::of(&gap)), Err(Missing::NoRacket));
    }
}
