//! What is drawn over a picture of the annotated clip: body lines, the hand's path, the racket and its tip's, phase, and at
//! contact the numbers.

use super::super::canvas::{At, Canvas};
use super::super::figure::was_seen_in;
use super::super::label::Area;
use super::super::moment::label::{TEXT, WORDS};
use super::super::moment::pens::cased;
use super::super::moment::{Crop, Instant, Layout, Lines, Moment, View, body};
use super::super::racket::Trust;
use super::super::style::{self, Pen};
use super::super::{text, words};
use super::schedule::{Pace, SLOWER};
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::pose::landmark::LIMBS;
use crate::pose::{Joint, Landmark, Motion, Side};
use crate::racket::Racket;
use crate::stroke::Boundary;
use crate::units::Seconds;

/// The longer side of a drawing over the clip, in its own pixels: lines and letters keep their size on any clip.
pub const LONGEST: f64 = 1280.0;
/// Paths of hand and tip are shown so far back in time.
const TRAIL: Seconds = Seconds(0.7);

const BODY: Pen = Pen::new(style::INK, 5.0);
const OFF_SIDE: Pen = Pen::new(style::GREY, 4.0);
const HAND_PATH: Pen = Pen::new(style::BLUE, 5.0).dashed(4.0, 11.0);
const TIP_PATH: Pen = Pen::new(style::RUST, 4.0).dashed(1.5, 8.0);
const CAPTION: f64 = 36.0;

/// Draws over the picture at `place` of the motion; `scale` is the picture's pixels for one of the drawing.
pub fn draw(canvas: &mut Canvas, motion: &Motion, clip: &ClipMeasures, place: usize, pace: Pace, scale: f64) {
    let size = (f64::from(motion.size.0) / scale, f64::from(motion.size.1) / scale);
    let view = View::new(Crop::whole(motion.size, 1.0 / scale), 0.0, body::height(motion, clip, place));
    let Some(time) = motion.times.get(place).copied() else { return };
    let stroke = match pace {
        Pace::Held(stroke) => clip.strokes.get(stroke),
        _ => clip.strokes.iter().find(|stroke| holds(stroke, time)),
    };
    // At contact the lines with their numbers take the place of the body's.
    if !matches!(pace, Pace::Held(_)) {
        figure(canvas, motion, clip, place, &view);
        if let Some(stroke) = stroke {
            path(canvas, motion, stroke, place, &view);
            racket(canvas, motion, stroke, place, &view);
        }
    }
    if let (Pace::Held(_), Some(stroke)) = (pace, stroke) {
        let contact = stroke.stroke.phases.contact.time;
        let moment = Moment::new(clip, stroke, Instant::Boundary(Boundary::Contact), contact, time);
        let elements = moment.elements(Lines::All);
        let areas = moment.covered(motion, place, body::height(motion, clip, place));
        let room = Area(0.0, 0.0, size.0, size.1);
        let caption = caption_area(&heading(stroke, pace), "contact", size);
        Layout::new(&moment, elements, view, (room, Some(caption)), &areas).draw(canvas);
    }
    if let Some(stroke) = stroke {
        caption(canvas, stroke, time, pace, size);
    }
}

/// Whether a stroke is going on.
fn holds(stroke: &MeasuredStroke, time: Seconds) -> bool {
    let spans = stroke.stroke.phases.spans();
    let contact = stroke.stroke.phases.contact.time;
    let begin = spans.first().map_or(contact, |span| span.1);
    let end = spans.last().map_or(contact, |span| span.2);
    time >= begin && time <= end
}

/// The body's lines, dashed where a limb was guessed; the hitting side is the darker and wider one.
fn figure(canvas: &mut Canvas, motion: &Motion, clip: &ClipMeasures, place: usize, view: &View) {
    let hand = clip.hitting.map_or(Side::Right, |hitting| hitting.hand);
    let mut limb = |a: Landmark, b: Landmark, pen: Pen| {
        if let (Some(from), Some(to)) = (motion.point(place, a), motion.point(place, b)) {
            let seen = was_seen_in(motion, a, place) && was_seen_in(motion, b, place);
            let pen = if seen { pen } else { pen.dashed(7.0, 6.0) };
            cased(canvas, &[view.at(from.at), view.at(to.at)], &pen);
        }
    };
    for (side, pen) in [(hand.other(), OFF_SIDE), (hand, BODY)] {
        for (a, b) in body::FLANK.into_iter().chain(LIMBS) {
            limb(a.on(side), b.on(side), pen);
        }
    }
    for (left, right) in body::ACROSS {
        limb(left, right, BODY);
    }
}

/// The way of the hitting hand up to here.
fn path(canvas: &mut Canvas, motion: &Motion, stroke: &MeasuredStroke, place: usize, view: &View) {
    let wrist = Joint::Wrist.on(stroke.stroke.motion.hand);
    let begin = motion.times[place] - TRAIL;
    let from = motion.times.partition_point(|time| *time < begin);
    let points = (from..=place).filter_map(|i| Some(view.at(motion.point(i, wrist)?.at)));
    let points: Vec<At> = points.collect();
    cased(canvas, &points, &HAND_PATH);
    if let Some(at) = motion.point(place, wrist) {
        canvas.ring(view.at(at.at), 8.0, &Pen::new(style::BLUE, 5.0));
    }
}

/// The racket's axis, dashed where it is doubtful, and the way of its tip in the stroke up to here.
fn racket(canvas: &mut Canvas, motion: &Motion, stroke: &MeasuredStroke, place: usize, view: &View) {
    let from = motion.times.partition_point(|time| *time < motion.times[place] - TRAIL);
    let seen: Vec<Option<Racket>> =
        motion.indices[from..=place].iter().map(|index| stroke.racket.at(*index)).collect();
    for piece in seen.split(Option::is_none) {
        let way: Vec<At> = piece.iter().flatten().map(|racket| view.at(racket.tip.at)).collect();
        cased(canvas, &way, &TIP_PATH);
    }
    if let Some(Some(racket)) = seen.last() {
        let ends = [racket.butt, racket.tip].map(|end| view.at(end.at));
        cased(canvas, &ends, &Trust::of(racket).pen());
    }
}

/// What stands in the caption under the phase.
fn heading(stroke: &MeasuredStroke, pace: Pace) -> String {
    let slow = match pace {
        Pace::Real => String::new(),
        Pace::Slow => format!(" · {SLOWER} times slower"),
        Pace::Held(_) => format!(" · {:.2} s", stroke.stroke.phases.contact.time.0),
    };
    format!("{}{slow}", words::heading(stroke))
}

/// The lower left corner, where the caption stands.
fn caption_area(heading: &str, phase: &str, size: (f64, f64)) -> Area {
    let wide = text::width(heading, TEXT, false).max(text::width(phase, CAPTION, true)) + 36.0;
    let high = style::LEADING * (CAPTION + TEXT) + 4.0;
    Area(16.0, size.1 - 16.0 - high, 16.0 + wide, size.1 - 16.0)
}

/// Stroke, phase and pace.
fn caption(canvas: &mut Canvas, stroke: &MeasuredStroke, time: Seconds, pace: Pace, size: (f64, f64)) {
    let spans = stroke.stroke.phases.spans();
    let phase = match pace {
        Pace::Held(_) => "contact",
        _ => spans.iter().rev().find(|span| time >= span.1).map_or("", |span| span.0),
    };
    let heading = heading(stroke, pace);
    let Area(left, top, right, bottom) = caption_area(&heading, phase, size);
    canvas.fill((left, top), (right, bottom), style::PAPER);
    canvas.text((left + 18.0, top + 8.0 + 0.6 * CAPTION), phase, &WORDS.bold().sized(CAPTION));
    canvas.text((left + 18.0, bottom - 8.0 - 0.6 * TEXT), &heading, &WORDS.coloured(style::GREY));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::moment::made_up::with_racket;
    use crate::draw::raster;
    use crate::video::Picture;

    #[test]
    fn the_racket_and_the_way_of_its_tip_lie_where_they_were_seen() {
        let (motion, clip) = with_racket(0.9);
        let stroke = &clip.strokes[1];
        let before = stroke.stroke.phases.contact.time - Seconds(0.05);
        let place = motion.times.partition_point(|time| *time < before);
        let racket = |place: usize| stroke.racket.at(motion.indices[place]).unwrap();
        let (wide, high) = motion.size;
        let scale = f64::from(wide) / LONGEST;
        let mut drawn = Picture { width: wide, height: high, rgb: vec![90; (wide * high * 3) as usize] };
        raster::over(&mut drawn, scale, |canvas| draw(canvas, &motion, &clip, place, Pace::Slow, scale))
            .unwrap();
        let pixel =
            |at: crate::geometry::Point2| drawn.pixel(at.x.round() as u32, at.y.round() as u32).unwrap();
        let [red, _, blue] = pixel(racket(place).middle.at);
        assert!(blue > red + 60, "the axis is blue: {red} {blue}");
        // The way is dotted on a pale border: brighter or redder than what is behind.
        let passed = pixel(racket(place - 8).tip.at);
        assert!(passed[0] > 120, "{passed:?}");
        assert_eq!(pixel(racket(place + 8).tip.at), [90; 3], "not yet there");
    }
}
