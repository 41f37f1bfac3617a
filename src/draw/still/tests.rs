//! Stills of a player whose points are known.

use std::collections::BTreeMap;

use super::{Stills, WIDTH, pictures_needed};
use crate::draw::label::Area;
use crate::draw::moment::lines::{Ink, Mark};
use crate::draw::moment::made_up::{DISTANCE, filmed, seen};
use crate::draw::moment::{Crop, Instant, Layout, Lines, Moment, View, body};
use crate::geometry::{Court, Point2};
use crate::measure::clip::ClipMeasures;
use crate::measure::{CATALOGUE, Measure};
use crate::pose::{Joint, Landmark, Side};
use crate::stroke::Boundary;
use crate::video::Picture;

fn moment(clip: &ClipMeasures, boundary: Boundary) -> Moment<'_> {
    let stroke = &clip.strokes[1];
    let time = stroke.stroke.phases.get(boundary).unwrap().time;
    Moment::new(clip, stroke, Instant::Boundary(boundary), time, time)
}

fn joint(clip: &ClipMeasures, boundary: Boundary, landmark: Landmark) -> Point2 {
    let motion = &clip.strokes[1].stroke.motion;
    let time = clip.strokes[1].stroke.phases.get(boundary).unwrap().time;
    let at = motion.at(landmark, time).unwrap();
    seen(clip.space.stand.lens, Court { side: at.side + DISTANCE, ..at })
}

fn between(a: Point2, b: Point2) -> Point2 {
    a.lerp(b, 0.5)
}

fn is_at(point: Point2, wanted: Point2) {
    assert!(point.distance(wanted) < 0.6, "{point:?} {wanted:?}");
}

#[test]
fn trunk_and_arm_lie_on_their_joints() {
    let (_, clip) = filmed();
    let contact = moment(&clip, Boundary::Contact);
    let at = |landmark| joint(&clip, Boundary::Contact, landmark);
    let lines: Vec<_> = contact.elements(Lines::All).into_iter().flat_map(|e| e.lines).collect();
    let line = |ink: Ink| &lines.iter().find(|(_, i)| *i == ink).unwrap().0;
    // Both sides of the body stand at unlike distances: the middle is that of space, a little off that of the picture.
    let (hips, shoulders) = (
        between(at(Landmark::LeftHip), at(Landmark::RightHip)),
        between(at(Landmark::LeftShoulder), at(Landmark::RightShoulder)),
    );
    let trunk = line(Ink::Trunk);
    is_at(trunk[0], hips);
    is_at(trunk[1], shoulders);
    let plumb = line(Ink::Plumb);
    assert!((plumb[0].x - plumb[1].x).abs() < 1e-9 && plumb[1].y < plumb[0].y);
    // The elbow's angle is not among the few numbers that a still shows unasked.
    let asked = ["contact_elbow_deg"];
    let elbow = contact.elements(Lines::Of(&asked));
    let arm = &elbow[0].lines[0].0;
    is_at(arm[0], at(Landmark::RightShoulder));
    is_at(arm[1], at(Landmark::RightElbow));
    is_at(arm[2], at(Landmark::RightWrist));
}

#[test]
fn the_toe_line_stands_at_the_front_toe_and_the_distance_leads_from_it_to_the_hand() {
    let (_, clip) = filmed();
    let contact = moment(&clip, Boundary::Contact);
    let asked = ["hand_ahead_of_front_toe_cm"];
    let elements = contact.elements(Lines::Of(&asked));
    let [element] = elements.as_slice() else { panic!("{elements:?}") };
    let toe = &element.lines[0].0;
    is_at(toe[0], joint(&clip, Boundary::Contact, Landmark::LeftToe));
    let [.., foot, top] = toe.as_slice() else { panic!("{toe:?}") };
    assert!((foot.x - top.x).abs() < 1e-9 && top.y < foot.y, "upright");
    let hand = joint(&clip, Boundary::Contact, Landmark::RightWrist);
    assert!(element.marks.iter().any(|(at, mark)| *mark == Mark::Hand && at.distance(hand) < 0.6));
    let distance = &element.lines.last().unwrap().0;
    is_at(distance[1], hand);
    // The line stands at the toe though the hand is nearer to the lens, and the distance begins on it.
    assert!((foot.x - toe[0].x).abs() < 1e-6, "{toe:?}");
    assert!(
        (distance[0].x - foot.x).abs() < 1e-6 && (distance[0].y - distance[1].y).abs() < 1e-9,
        "{distance:?}"
    );
    let reading = element.readings[0].outcome.unwrap().value;
    assert_eq!(distance[1].x > distance[0].x, reading > 0.0, "the net is on the right");
}

#[test]
fn the_base_is_under_the_ankles_and_the_pelvis_is_over_its_share() {
    let (_, clip) = filmed();
    let finish = moment(&clip, Boundary::FinishEnd);
    let asked = ["pelvis_over_base_at_finish"];
    let elements = finish.elements(Lines::Of(&asked));
    let base = &elements[0].lines[0].0;
    for (end, side) in base.iter().zip([Side::Right, Side::Left]) {
        let ankle = joint(&clip, Boundary::FinishEnd, Joint::Ankle.on(side));
        assert!((end.x - ankle.x).abs() < 0.6 && end.y > ankle.y, "{end:?} {ankle:?}");
    }
    let place = elements[0].marks.iter().find(|(_, mark)| *mark == Mark::Place).unwrap().0;
    let share = elements[0].readings[0].outcome.unwrap().value;
    // Shares of a length in the picture and in space differ a little where its ends are unlike far away.
    let drawn = (place.x - base[0].x) / (base[1].x - base[0].x);
    assert!((drawn - share).abs() < 0.03, "{drawn} {share}");
}

#[test]
fn labels_stay_in_the_picture_off_the_body_and_off_each_other() {
    let (motion, clip) = filmed();
    for boundary in Boundary::ALL {
        let moment = moment(&clip, boundary);
        let (_, place) = moment.instant.picture(&moment.stroke.stroke, &motion).unwrap();
        let height = body::height(&motion, &clip, place);
        let points: Vec<Point2> = body::points(&motion, place).collect();
        let crop = Crop::around(&points, height, motion.size);
        let room = Area(0.0, 50.0, f64::from(WIDTH), 50.0 + f64::from(crop.shown_height()));
        let view = View::new(crop, 50.0, height);
        let bodies = body::areas(&motion, place, height);
        let layout = Layout::new(&moment, moment.elements(Lines::All), view, (room, None), &bodies);
        let areas: Vec<Area> = layout.labels.iter().map(|label| label.area()).collect();
        assert!(boundary != Boundary::Contact || areas.len() >= 3, "{boundary:?} {areas:?}");
        for (i, area) in areas.iter().enumerate() {
            let inside = area.0 >= room.0 && area.1 >= room.1 && area.2 <= room.2 && area.3 <= room.3;
            assert!(inside, "{boundary:?} {area:?}");
            assert!(areas[i + 1..].iter().all(|other| other.overlap(area) == 0.0), "{boundary:?} {areas:?}");
            for limb in &bodies {
                let (x, y) = view.at(limb.0);
                let covered = area.0 < x && x < area.2 && area.1 < y && y < area.3;
                assert!(!covered, "{boundary:?} {area:?} {limb:?}");
            }
        }
    }
}

#[test]
fn a_still_can_show_one_measure_alone_and_says_what_it_shows() {
    let (motion, clip) = filmed();
    let stroke = &clip.strokes[1];
    let needed = pictures_needed(&motion, [(&stroke.stroke, Instant::Boundary(Boundary::Contact))]);
    assert_eq!(needed.len(), 1);
    let (wide, high) = motion.size;
    let picture = Picture { width: wide, height: high, rgb: vec![90; (wide * high * 3) as usize] };
    let pictures: BTreeMap<usize, Picture> = needed.into_iter().map(|n| (n, picture.clone())).collect();
    let stills = Stills::new(&motion, &clip, &pictures);
    let asked = ["trunk_lean_at_contact_deg"];
    let one = stills.one(stroke, Instant::Boundary(Boundary::Contact), Lines::Of(&asked)).unwrap().unwrap();
    let all = stills.one(stroke, Instant::Boundary(Boundary::Contact), Lines::All).unwrap().unwrap();
    assert_eq!(one.image.width, WIDTH);
    assert!(one.alt.contains("runk lean at contact") && !one.alt.contains("toe"), "{}", one.alt);
    assert!(all.alt.contains("toe") && all.alt.contains(" ± "), "{}", all.alt);
    assert!(
        stills.one(stroke, Instant::Boundary(Boundary::PrepStart), Lines::All).unwrap().is_none(),
        "no such picture"
    );
}

#[test]
fn every_measure_with_lines_is_drawn_at_its_moment() {
    let (_, clip) = filmed();
    for measure in CATALOGUE {
        let place = Measure::place(measure.id).unwrap();
        let Ok(value) = clip.strokes[1].measured.outcomes[place] else { continue };
        let Instant::Boundary(boundary) = Instant::of(measure) else {
            panic!("{} without a racket", measure.id)
        };
        let ids = [measure.id];
        let moment = moment(&clip, boundary);
        let elements = moment.elements(Lines::Of(&ids));
        let told = elements.iter().flat_map(|e| &e.readings).any(|r| r.outcome.ok() == Some(value))
            || moment.tempo(Lines::Of(&ids)).iter().any(|(m, _)| m.id == measure.id);
        let side_only = ["hand_to_body_in_drop_cm", "contact_reach_cm", "trunk_side_lean_at_contact_deg"];
        assert!(told || side_only.contains(&measure.id), "{}", measure.id);
    }
}
