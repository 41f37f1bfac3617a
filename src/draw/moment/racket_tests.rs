//! Stills of a player whose racket is known.

use super::lines::{Ink, Mark, Moment};
use super::made_up::{filmed, with_racket};
use super::{Crop, Instant, Layout, Lines, View};
use crate::draw::label::Area;
use crate::geometry::Point2;
use crate::measure::clip::ClipMeasures;
use crate::measure::{CATALOGUE, Grade};
use crate::pose::Motion;
use crate::stroke::Boundary;
use crate::units::Seconds;

fn moment<'a>(motion: &Motion, clip: &'a ClipMeasures, instant: Instant) -> Moment<'a> {
    let stroke = &clip.strokes[1];
    let (time, place) = instant.picture(&stroke.stroke, motion).unwrap();
    Moment::new(clip, stroke, instant, time, motion.times[place])
}

/// How far a point is from the line through two others.
fn off_line(point: Point2, [a, b]: [Point2; 2]) -> f64 {
    ((b.x - a.x) * (point.y - a.y) - (b.y - a.y) * (point.x - a.x)).abs() / a.distance(b)
}

#[test]
fn the_axis_lies_where_the_racket_was_seen_and_is_broken_where_that_is_in_doubt() {
    for (confidence, ink) in [(0.9, Ink::Racket), (0.3, Ink::Doubtful)] {
        let (motion, clip) = with_racket(confidence);
        let contact = moment(&motion, &clip, Instant::Boundary(Boundary::Contact));
        let lines: Vec<_> = contact.elements(Lines::All).into_iter().flat_map(|e| e.lines).collect();
        let racket = clip.strokes[1].racket.at_time(contact.shown).unwrap();
        let drawn = &lines.iter().find(|(_, i)| *i == ink).unwrap().0;
        assert_eq!(drawn.as_slice(), [racket.butt.at, racket.tip.at]);
    }
    let (motion, clip) = filmed();
    let contact = moment(&motion, &clip, Instant::Boundary(Boundary::Contact));
    let racket = |ink: &Ink| matches!(ink, Ink::Racket | Ink::Doubtful | Ink::Lag);
    assert!(!contact.elements(Lines::All).iter().flat_map(|e| &e.lines).any(|(_, ink)| racket(ink)));
}

#[test]
fn the_lag_is_an_arc_from_the_forearms_way_to_the_racket() {
    let (motion, clip) = with_racket(0.9);
    let peak = moment(&motion, &clip, Instant::LargestLag);
    let before = (clip.strokes[1].stroke.phases.contact.time - peak.time).milliseconds();
    assert!((50.0..120.0).contains(&before), "{before} ms");
    let elements = peak.elements(Lines::All);
    let lines: Vec<_> = elements.iter().flat_map(|e| &e.lines).collect();
    let line = |ink: Ink| &lines.iter().find(|(_, i)| *i == ink).unwrap().0;
    let (arc, forearm, racket) = (line(Ink::Lag), line(Ink::Arm), line(Ink::Racket));
    let (first, last) = (arc[0], *arc.last().unwrap());
    // A racket's length is some 85 pixels here.
    assert!(
        off_line(first, [forearm[0], forearm[1]]) < 2.0
            && first.distance(forearm[0]) > first.distance(forearm[1])
    );
    assert!(off_line(last, [racket[0], racket[1]]) < 2.0, "{last:?} {racket:?}");
    let told: Vec<&str> = elements.iter().flat_map(|e| &e.readings).map(|r| r.measure.id).collect();
    assert_eq!(told, ["lag_peak_deg"]);
    let heading: Vec<&str> = peak.tempo(Lines::All).iter().map(|(m, _)| m.id).collect();
    assert!(heading.contains(&"lag_peak_before_contact_ms"), "{heading:?}");
}

#[test]
fn the_largest_lag_is_shown_before_contact_and_only_where_it_is_known() {
    let (motion, mut clip) = with_racket(0.9);
    let stroke = &mut clip.strokes[1];
    let met = stroke.stroke.phases.contact.time;
    let (_, place) = Instant::LargestLag.picture(&stroke.stroke, &motion).unwrap();
    assert!(motion.times[place] <= met);
    assert!(Instant::LargestLag.is_worth_it(stroke));
    for outcome in stroke.measured.outcomes.iter_mut().flatten() {
        outcome.grade = Grade::Low;
    }
    assert!(!Instant::LargestLag.is_worth_it(stroke), "for orientation only");
    assert!(Instant::Boundary(Boundary::Contact).is_worth_it(stroke));
    let stroke = &clip.strokes[0];
    assert_eq!(Instant::LargestLag.picture(&stroke.stroke, &motion), None, "no racket");
}

#[test]
fn the_point_of_contact_takes_the_hands_place_against_the_toe() {
    let (motion, clip) = with_racket(0.9);
    let contact = moment(&motion, &clip, Instant::Boundary(Boundary::Contact));
    let elements = contact.elements(Lines::All);
    let told: Vec<&str> = elements.iter().flat_map(|e| &e.readings).map(|r| r.measure.id).collect();
    assert!(
        told.contains(&"contact_ahead_of_front_toe_cm") && told.contains(&"contact_height_cm"),
        "{told:?}"
    );
    assert!(!told.contains(&"hand_ahead_of_front_toe_cm"), "{told:?}");
    let asked = ["contact_ahead_of_front_toe_cm"];
    let elements = contact.elements(Lines::Of(&asked));
    let element = elements.iter().find(|e| !e.readings.is_empty()).unwrap();
    let middle = clip.strokes[1].racket.at_time(contact.shown).unwrap().middle.at;
    let (point, _) = element.marks.iter().find(|(_, mark)| *mark == Mark::Contact).unwrap();
    assert!(point.distance(middle) < 6.0, "{point:?} {middle:?}");
    let distance = &element.lines.last().unwrap().0;
    let value = element.readings[0].outcome.unwrap().value;
    assert_eq!(distance[1].x > distance[0].x, value > 0.0, "the net is on the right");
}

#[test]
fn every_measure_of_the_racket_has_lines_of_its_own() {
    let (motion, clip) = with_racket(0.9);
    for (measure, outcome) in CATALOGUE.iter().zip(&clip.strokes[1].measured.outcomes) {
        let of_racket = measure.id.starts_with("lag_")
            || measure.id.starts_with("contact_")
            || measure.id.starts_with("ready_");
        let (true, Ok(value)) = (of_racket, outcome) else { continue };
        let ids = [measure.id];
        let moment = moment(&motion, &clip, Instant::of(measure));
        let elements = moment.elements(Lines::Of(&ids));
        let told = elements.iter().flat_map(|e| &e.readings).any(|r| r.outcome.as_ref() == Ok(value))
            || moment.tempo(Lines::Of(&ids)).iter().any(|(m, _)| m.id == measure.id);
        assert!(told || measure.id == "contact_reach_cm", "{}", measure.id);
        assert!(
            measure.id == "contact_elbow_deg"
                || elements.iter().flat_map(|e| &e.lines).any(|(_, ink)| *ink == Ink::Racket)
        );
    }
}

#[test]
fn labels_stay_off_the_racket() {
    let (motion, clip) = with_racket(0.9);
    for instant in super::MOMENTS.map(|(instant, _)| instant) {
        let moment = moment(&motion, &clip, instant);
        let (_, place) = instant.picture(&moment.stroke.stroke, &motion).unwrap();
        let height = super::body::height(&motion, &clip, place);
        let covered = moment.covered(&motion, place, height);
        let points: Vec<Point2> = covered.iter().map(|(middle, _)| *middle).collect();
        let crop = Crop::around(&points, height, motion.size);
        let room = Area(0.0, 50.0, f64::from(super::crop::WIDTH), 50.0 + f64::from(crop.shown_height()));
        let view = View::new(crop, 50.0, height);
        let layout = Layout::new(&moment, moment.elements(Lines::All), view, (room, None), &covered);
        let Some(racket) = clip.strokes[1].racket.at_time(moment.shown) else { continue };
        for label in &layout.labels {
            let Area(left, top, right, bottom) = label.area();
            for i in 0..=20 {
                let (x, y) = view.at(racket.butt.at.lerp(racket.tip.at, f64::from(i) / 20.0));
                assert!(!(left < x && x < right && top < y && y < bottom), "{instant:?}");
            }
        }
    }
}

#[test]
fn a_racket_seen_a_little_beside_is_not_told_to_be_seen_at_another_time() {
    let (motion, mut clip) = with_racket(0.9);
    for racket in clip.strokes[1].racket.rackets.iter_mut().flatten() {
        racket.middle.at.x += 20.0;
    }
    let notes = |late: f64| {
        let stroke = &clip.strokes[1];
        let contact = Instant::Boundary(Boundary::Contact);
        let (time, place) = contact.picture(&stroke.stroke, &motion).unwrap();
        let moment = Moment::new(&clip, stroke, contact, time + Seconds(late), motion.times[place]);
        let view = View::new(Crop::whole(motion.size, 1.0), 0.0, 220.0);
        let room = Area(0.0, 0.0, f64::from(motion.size.0), f64::from(motion.size.1));
        Layout::new(&moment, moment.elements(Lines::All), view, (room, None), &[]).notes.apart
    };
    assert_eq!(notes(0.0), None);
    assert!(notes(0.008).is_some_and(|note| note == "Double ring: the middle of the strings at contact."));
}
