//! What a person should know before believing a clip's numbers: one line each, with what to do about it.

use std::collections::HashSet;

use super::notes::{Settings, Source};
use super::results::Results;
use crate::scene::{AgainstPoints, View, Witness};
use crate::stats::TWO_SIDED_95;
use crate::units::Seconds;

/// Below this many pictures a second, times and speeds are coarse.
const FEW_PICTURES: f64 = 50.0;

/// Where the view is off the square by more than this (degrees, 1 standard deviation), offsets are doubtful.
const WIDE_DIRECTION: f64 = 12.0;

/// Where the camera's tilt is known no better than this (degrees, half of 95 %), heights are doubtful.
const WIDE_PITCH: f64 = 6.0;

/// A player seen in less than this share of the pictures was lost for a good part of the clip.
const OFTEN_SEEN: f64 = 0.8;

/// A player smaller than this in the picture (nose to feet, pixels) is measured coarsely.
const SMALL_PLAYER: f64 = 180.0;

/// A camera that turned by less than this, degrees, stood still for all that a stroke needs.
const TURNED: f64 = 1.0;

/// Shots that hold more than this share of a clip are worth a word.
const LEFT_OUT: f64 = 0.1;

/// Rates at which cameras record slow motion.
const CAMERA_RATES: [f64; 4] = [60.0, 120.0, 240.0, 480.0];

/// Which part of a clip with cuts was measured.
fn cuts(results: &Results<'_>) -> Option<String> {
    let (motion, cuts) = (results.motion, &results.motion.cuts);
    let part = |i: usize| cuts.partition_point(|cut| *cut <= motion.times[i]);
    let seen: HashSet<usize> = (0..motion.len()).filter(|i| motion.points.is_known(*i)).map(part).collect();
    let outside = (0..motion.len()).filter(|i| !seen.contains(&part(*i))).count();
    (!seen.is_empty() && outside as f64 > LEFT_OUT * motion.len() as f64).then(|| {
        let times: Vec<String> = cuts.iter().take(4).map(|cut| format!("{:.2} s", cut.0)).collect();
        format!(
            "the clip is cut ({}); only what was filmed from the place from which the player is seen best was measured: save the rest \
             as a clip of its own",
            times.join(", ")
        )
    })
}

/// What is doubtful about the points of the court that were placed.
fn points(results: &Results<'_>) -> Option<String> {
    let filmed = &results.measures.filmed;
    if filmed.against_points == Some(AgainstPoints::Lines) {
        return Some(
            "the court points contradict the lines that were read in the clip; the points were believed: check both in inspect.png"
                .to_owned(),
        );
    }
    (filmed.court == Some(Witness::Points) && results.stated.corrections.court_points.len() == 2).then(|| {
        "two court points cannot check one another, and a wrong name goes unnoticed; give a third".to_owned()
    })
}

/// How much the camera turned.
fn turning(results: &Results<'_>) -> Option<String> {
    let turned = results.measures.space.sway.angle(results.measures.filmed.stand.lens.focal).0;
    (turned >= TURNED).then(|| {
        format!(
            "the camera turned by {turned:.0}°: this was corrected with the help of the background, but the ± is wider; film from a tripod"
        )
    })
}

/// Strokes that look slowed down.
fn slowed(results: &Results<'_>) -> Option<String> {
    let strokes = &results.measures.strokes;
    let slowed: Vec<_> = strokes.iter().filter_map(|stroke| Some((stroke.number, stroke.slowed?))).collect();
    let factor = crate::order::median(slowed.iter().map(|(_, factor)| *factor))?;
    if slowed.len() == strokes.len() {
        let rate = factor * results.motion.rate;
        let nearest = |a: &&f64, b: &&f64| (*a / rate).ln().abs().total_cmp(&(*b / rate).ln().abs());
        let rate = CAMERA_RATES.iter().min_by(nearest)?;
        return Some(format!(
            "the clip looks slowed down about {factor:.0} times, so times and speeds are not the player's; give the rate at which \
             the camera filmed, such as --capture-fps {rate:.0}"
        ));
    }
    let numbers: Vec<String> = slowed.iter().map(|(number, _)| number.to_string()).collect();
    let (strokes, look, their) =
        if numbers.len() == 1 { ("stroke", "looks", "its") } else { ("strokes", "look", "their") };
    Some(format!(
        "{strokes} {} {look} slowed down about {factor:.0} times and others don't, so {their} times and speeds are not the player's; \
         switch slow motion off, or save that part as a separate clip and give --capture-fps",
        numbers.join(", ")
    ))
}

/// A clip whose sound may be this far off its pictures (1 standard deviation) times contact badly.
const OPEN_SOUND: Seconds = Seconds(0.006);

/// A clip's warnings; those of the video come first.
pub fn of(results: &Results<'_>, settings: &Settings) -> Vec<String> {
    let mut warnings = results.report.warnings.clone();
    let measures = results.measures;
    if results.motion.is_empty() || !results.motion.has_player() {
        warnings.push(
            "nobody was found in the clip; film the whole player, at least a quarter as high as the frame"
                .to_owned(),
        );
        return warnings;
    }
    if let Some(unsuitable) = measures.unsuitable {
        warnings.push(unsuitable.words());
        return warnings;
    }
    if measures.strokes.is_empty() && measures.without_racket {
        warnings.push(
            "somebody moves as in a stroke, but no racket is plain in the hand that would play it, so no stroke is given; for swings without a \
             racket give --drill shadow"
                .to_owned(),
        );
        return warnings;
    }
    if measures.strokes.is_empty() {
        warnings.push(
            "the player was seen but no stroke was found; check that the whole swing is in view, and give the player's \
             place with --subject if somebody else was followed"
                .to_owned(),
        );
        return warnings;
    }
    let seen = (0..results.motion.len()).filter(|i| results.motion.points.is_known(*i)).count();
    let share = seen as f64 / results.motion.len() as f64;
    if share < OFTEN_SEEN {
        warnings.push(format!(
            "the player was in sight in only {:.0} % of the frames; keep the whole body in view",
            100.0 * share
        ));
    }
    if let Some(scale) = crate::order::median(measures.space.scale.iter().flatten().copied()) {
        let pixels = measures.filmed.stature.metres.0 / scale;
        if pixels < SMALL_PLAYER {
            warnings.push(format!(
                "the player is small, about {pixels:.0} pixels high; film from nearer or with a higher resolution"
            ));
        }
    }
    if results.motion.rate < FEW_PICTURES {
        warnings.push(format!(
            "{:.0} frames per second are few for a forward swing, so times, speeds and positions at contact have a wide ±; \
             film at 120 or more",
            results.motion.rate
        ));
    }
    if measures.hits.as_ref().is_some_and(|hits| hits.apart) {
        warnings.push(
            "the hits are heard at other times than the swings are seen, so contact is timed by the hand alone; check \
             whether the sound was shifted, for example by a wireless microphone or by editing"
                .to_owned(),
        );
    }
    if let Some(late) = measures.sound_late
        && late.spread > OPEN_SOUND
    {
        warnings.push(format!(
            "no ball was seen well enough to tell how far the sound lags behind the video, so contact has a ± of about {:.0} ms; \
             film so that the ball is in view around contact, at 60 or more frames per second",
            TWO_SIDED_95 * late.spread.milliseconds()
        ));
    }
    if settings.hand.source == Some(Source::Assumed) {
        warnings.push(
            "both hands swing alike, so the right one is assumed to be the hitting hand; give --hand"
                .to_owned(),
        );
    }
    warnings.extend(cuts(results));
    warnings.extend(turning(results));
    warnings.extend(slowed(results));
    if let Some(direction) = measures.direction {
        if direction.view == View::Diagonal {
            warnings.push(
                "the camera looks diagonally, so distances toward the net depend on estimated depth; film square to \
                 the line of the shot, or from behind"
                    .to_owned(),
            );
        } else if direction.spread.0 > WIDE_DIRECTION {
            warnings.push("the direction to the net is uncertain; film so that two of the court's lines are in view, or give --view and --net".to_owned());
        }
    }
    warnings.extend(points(results));
    let (pitch, _) = measures.filmed.pitch();
    if pitch.plus_minus > WIDE_PITCH {
        warnings.push(format!(
            "the tilt of the camera is known only to ±{:.0}°, which widens the ± of heights and leans; film so that the \
             court's lines are in view, or give --camera-height",
            pitch.plus_minus
        ));
    }
    warnings
}
