use super::*;
use crate::pose::Track;
use crate::units::FrameIndex;

const LENGTH: f64 = 100.0;
const RATE: f64 = 60.0;

fn sight(butt: Point2, angle: f64, confidence: f64) -> Sight {
    let at = |share: f64| {
        Point2::new(butt.x + share * LENGTH * angle.cos(), butt.y + share * LENGTH * angle.sin())
    };
    Sight {
        butt,
        throat: at(0.45),
        middle: at(0.755),
        tip: at(1.0),
        score: confidence.ln(),
        confidence,
        seen: [1.0; 4],
    }
}

/// A racket that turns at 10 rad/s around a hand at 3 m/s or so, in 30 pictures.
fn hand(i: usize) -> Point2 {
    Point2::new(200.0 + 5.0 * i as f64, 300.0)
}

fn angle(i: usize) -> f64 {
    -2.0 + 10.0 * i as f64 / RATE
}

fn choices(sights: impl Fn(usize) -> Vec<Sight>) -> Vec<Choice> {
    (0..30)
        .map(|i| Choice {
            time: Seconds(i as f64 / RATE),
            wrist: Some(hand(i)),
            length: LENGTH,
            sights: sights(i),
            marked: false,
        })
        .collect()
}

const LATE: Seconds = Seconds(9.0);

#[test]
fn the_turning_racket_is_followed_past_likelier_things() {
    // A rail beside the hand looks more like a racket in six pictures.
    let all = choices(|i| {
        let confidence = if (10..16).contains(&i) { 0.7 } else { 0.4 };
        let rail = sight(Point2::new(hand(i).x + 10.0, 310.0), 2.5, confidence);
        let racket = sight(hand(i), angle(i), if (10..16).contains(&i) { 0.25 } else { 0.8 });
        if (10..16).contains(&i) { vec![rail, racket] } else { vec![racket, rail] }
    });
    for (i, chosen) in best(&all, LATE).into_iter().enumerate() {
        let (place, chance) = chosen.unwrap_or_else(|| panic!("picture {i}"));
        assert_eq!(place, usize::from((10..16).contains(&i)), "picture {i}");
        // Where the rail looks more like one, the racket is taken all the same, but with doubt.
        assert_eq!(chance > 0.5, !(10..16).contains(&i), "picture {i}: {chance}");
    }
}

#[test]
fn a_lone_thing_far_from_the_hand_is_no_racket() {
    let all = choices(|i| {
        if i == 12 {
            vec![sight(Point2::new(500.0, 80.0), 1.0, 0.3)]
        } else {
            vec![sight(hand(i), angle(i), 0.8)]
        }
    });
    let found = best(&all, LATE);
    assert_eq!(found[12], None);
    assert!(found.iter().flatten().count() == 29);
}

#[test]
fn something_too_long_is_no_racket() {
    let all = choices(|i| {
        let mut long = sight(hand(i), angle(i), 0.5);
        long.tip = hand(i).lerp(long.tip, 1.6);
        vec![long, sight(hand(i), angle(i), 0.5)]
    });
    assert!(best(&all, LATE).iter().all(|chosen| chosen.is_some_and(|(place, _)| place == 1)));
}

fn traced(gap: std::ops::Range<usize>, contact: Seconds) -> RacketMotion {
    let rackets =
        (0..30).map(|i| (!gap.contains(&i)).then(|| racket(&sight(hand(i), angle(i), 0.9), 0.9, false)));
    let mut found = RacketMotion {
        indices: (0..30).map(FrameIndex).collect(),
        times: (0..30).map(|i| Seconds(i as f64 / RATE)).collect(),
        rackets: rackets.collect(),
    };
    bridge(&mut found, contact);
    found
}

#[test]
fn two_pictures_are_bridged_along_the_turn_and_three_are_not() {
    let found = traced(10..12, LATE);
    for i in 10..12 {
        let between = found.rackets[i].unwrap();
        assert!(between.bridged && between.tip.confidence < 0.5);
        assert!(between.tip.at.distance(sight(hand(i), angle(i), 0.9).tip) < 0.5, "picture {i}");
    }
    assert!(traced(10..13, LATE).rackets[10..13].iter().all(Option::is_none));
}

#[test]
fn nothing_is_bridged_across_contact() {
    let found = traced(10..12, Seconds(10.5 / RATE));
    assert!(found.rackets[10..12].iter().all(Option::is_none));
}

#[test]
fn a_person_s_word_about_the_tip_stands_against_what_was_seen() {
    let wrong = sight(hand(0), angle(0), 0.9);
    let said = Point2::new(130.0, 250.0);
    let sight = with_tip(&[wrong], said, Some(hand(0))).unwrap();
    assert_eq!((sight.tip, sight.butt), (said, hand(0)));
    assert_eq!(with_tip(&[], said, None), None);
}

#[test]
fn where_every_second_frame_was_looked_at_the_racket_is_known_in_all_of_them() {
    let mut motion = Motion::from_track(&Track { size: (1280, 720), frames: Vec::new() });
    motion.indices = (0..30).map(FrameIndex).collect();
    motion.times = (0..30).map(|i| Seconds(f64::from(i) / RATE)).collect();
    let looked_at = || (0..30).filter(|i| i % 2 == 0);
    let found = RacketMotion {
        indices: looked_at().map(FrameIndex).collect(),
        times: looked_at().map(|i| motion.times[i]).collect(),
        rackets: looked_at()
            .map(|i| (i != 20).then(|| racket(&sight(hand(i), angle(i), 0.9), 0.9, false)))
            .collect(),
    };
    let whole = with_those_between(found, &motion, Seconds(10.5 / RATE));
    for i in (0..29).filter(|i| !(19..22).contains(i) && *i != 11) {
        let racket = whole.at(FrameIndex(i)).unwrap_or_else(|| panic!("frame {i}"));
        assert!(!racket.bridged && racket.tip.confidence > 0.8, "frame {i}");
        assert!(racket.tip.at.distance(sight(hand(i), angle(i), 0.9).tip) < 0.5, "frame {i}");
    }
    // Not beside a frame in which it was looked for and not seen, nor across contact.
    assert_eq!((whole.at(FrameIndex(19)), whole.at(FrameIndex(20))), (None, None));
    let across = with_those_between(whole.clone(), &motion, Seconds(10.5 / RATE));
    assert_eq!(across, whole);
}
