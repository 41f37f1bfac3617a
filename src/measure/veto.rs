//! Values that hang on something that is in doubt: a joint that was not in sight at the moment that counts, or a boundary
//! that had to be read in another way. They are graded low, whatever their ±.
//!
//! What a value hangs on is tried out: what is in doubt is moved by as much as it may well be off, and the value is
//! computed again. So no formula has to name its joints and moments, and a joint that is hidden where the value doesn't
//! look is no matter.

use super::CATALOGUE;
use super::hand::is_read;
use super::readings::Readings;
use crate::geometry::Court;
use crate::pose::{Joint, Landmark};
use crate::stroke::{Boundary, Hands, Kind, Mark, Method, Stroke};
use crate::units::Seconds;

/// A landmark with less than this chance of being in sight is in doubt.
const IN_SIGHT: f32 = 0.5;

/// What is in doubt is moved this far, metres: on all axes, so that no direction that matters is missed.
const MOVED: Court = Court { net: 0.05, side: -0.04, up: 0.04 };

/// In the finish of a two-handed backhand both arms lie over the off shoulder, whose landmark goes up with them though the model says
/// that it sees it, metres: from recorded players, rendered.
const LIFTED: Court = Court { net: 0.0, side: 0.0, up: 0.10 };

/// A boundary that was read in another way is moved by so much.
const OTHER_TIME: Seconds = Seconds(0.10);

/// The phases of a stroke that was slowed down are looked for at the pace of life: they may be off by as much as this, the start of a
/// preparation by several seconds.
const SLOWED_TIME: Seconds = Seconds(0.5);
const SLOWED_PREPARATION: Seconds = Seconds(2.0);

/// A value hangs on what moves it by this share of the limit of a good ±.
const HANGS: f64 = 0.5;

/// A track that was lost this long while the stroke went on has a gap.
const LOST: Seconds = Seconds(0.20);

/// Which of a stroke's `values`, one per entry of the catalogue where it is to be asked, hang on something in doubt; `slowed` says that
/// the clip shows it slower than life.
pub fn doubted(stroke: &Stroke, values: &[Option<f64>], slowed: bool) -> Vec<bool> {
    if stroke.kind == Kind::Unknown || has_gap(stroke) {
        return vec![true; values.len()];
    }
    let mut doubted = vec![false; values.len()];
    // `or_missing`: whether a value that is no longer there hung on what was changed, too.
    let mut note = |changed: &Stroke, or_missing: bool| {
        let readings = Readings::of(changed);
        for ((measure, value), doubted) in CATALOGUE.iter().zip(values).zip(&mut doubted) {
            let Some(value) = value.as_ref().filter(|_| !*doubted) else { continue };
            let limit = HANGS * measure.grades.0;
            let again = measure.compute.compute(&readings);
            *doubted = again.map_or(or_missing, |again| (again - value).abs() > limit);
        }
    };
    // One copy is changed for each and mended again.
    let mut changed = stroke.clone();
    let mend = |changed: &mut Stroke, landmark: Landmark| {
        let k = landmark as usize;
        for (mended, frame) in changed.motion.points.iter_mut().zip(&stroke.motion.points) {
            mended[k] = frame[k];
        }
    };
    for landmark in Landmark::ALL.into_iter().filter(|landmark| is_read(*landmark)) {
        if move_doubtful(&mut changed, landmark) {
            note(&changed, false);
            mend(&mut changed, landmark);
        }
    }
    if stroke.kind == Kind::Backhand && stroke.hands == Hands::Two {
        let shoulder = lift_shoulder(&mut changed);
        note(&changed, false);
        mend(&mut changed, shoulder);
    }
    for boundary in Boundary::ALL {
        let is_other = |method| matches!(method, Method::HandRetreat | Method::HandSlowed);
        let is_off_pace = slowed && boundary != Boundary::Contact;
        let most = match (is_off_pace, boundary) {
            (true, Boundary::PrepStart) => SLOWED_PREPARATION,
            (true, _) => SLOWED_TIME,
            (false, _) => OTHER_TIME,
        };
        let mark = match boundary {
            // Measures begin at the usual length of a preparation where none was found.
            Boundary::PrepStart if slowed => Some(stroke.phases.preparation_begin()),
            _ => stroke
                .phases
                .get(boundary)
                .filter(|mark| is_off_pace || is_other(mark.method))
                .map(|mark| mark.time),
        };
        for time in mark.into_iter().flat_map(|time| [time + most, time - most]) {
            match (boundary, changed.phases.get_mut(boundary)) {
                (_, Some(mark)) => mark.time = time,
                (Boundary::PrepStart, None) => {
                    changed.phases.prep_start = Some(Mark { time, method: Method::HandRetreat });
                }
                (_, None) => {}
            }
            note(&changed, is_off_pace);
            changed.phases = stroke.phases;
        }
    }
    doubted
}

/// Whether the player was lost from sight between the preparation and contact.
fn has_gap(stroke: &Stroke) -> bool {
    let (from, to) = (stroke.phases.preparation_begin(), stroke.phases.contact.time);
    let hips = [Landmark::LeftHip as usize, Landmark::RightHip as usize];
    let seen = stroke.motion.times.iter().zip(&stroke.motion.points);
    let seen = seen.filter(|(time, frame)| {
        **time >= from && **time <= to && hips.iter().all(|hip| frame[*hip].is_some())
    });
    let mut last = from;
    for (time, _) in seen {
        if *time - last > LOST {
            return true;
        }
        last = *time;
    }
    to - last > LOST
}

/// Moves a landmark wherever it is in doubt; `false` where it never is.
fn move_doubtful(stroke: &mut Stroke, landmark: Landmark) -> bool {
    let k = landmark as usize;
    let mut is_in_doubt = false;
    let motion = &mut stroke.motion;
    for (sights, frame) in motion.visibility.iter().zip(&mut motion.points) {
        if sights[k] < IN_SIGHT {
            is_in_doubt = true;
            frame[k].iter_mut().for_each(|at| *at += MOVED);
        }
    }
    is_in_doubt
}

/// Lifts the off shoulder after contact, and answers with it.
fn lift_shoulder(stroke: &mut Stroke) -> Landmark {
    let shoulder = stroke.motion.off(Joint::Shoulder);
    let after = stroke.motion.times.partition_point(|time| *time <= stroke.phases.contact.time);
    for frame in &mut stroke.motion.points[after..] {
        frame[shoulder as usize].iter_mut().for_each(|at| *at += LIFTED);
    }
    shoulder
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Measure;
    use crate::pose::Side;
    use crate::pose::landmark::COUNT;
    use crate::scene::{CourtMotion, Direction, View};
    use crate::stroke::Phases;
    use crate::units::{Degrees, Metres};

    /// A player who stands with both feet on the line to the net, the hand moving forward over it; contact at 1.5 s.
    fn stroke() -> Stroke {
        let times: Vec<Seconds> = (0..120).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let points = times.iter().map(|time| {
            let mut points = [Some(Court::new(0.0, 0.0, 1.0)); COUNT];
            for side in [Side::Left, Side::Right] {
                let ahead = if side == Side::Left { 0.4 } else { -0.2 };
                points[Joint::Toe.on(side) as usize] = Some(Court::new(ahead, 0.0, 0.0));
                points[Joint::Ankle.on(side) as usize] = Some(Court::new(ahead - 0.15, 0.0, 0.1));
            }
            points[Landmark::RightWrist as usize] = Some(Court::new(2.0 * (time.0 - 1.3), 0.5, 1.0));
            points
        });
        let mark = |time: f64, method| Mark { time: Seconds(time), method };
        let motion = CourtMotion {
            hand: Side::Right,
            points: points.collect(),
            visibility: vec![[1.0; COUNT]; times.len()],
            depth_spread: vec![[0.0; COUNT]; times.len()],
            times,
            direction: Direction { angle: Degrees(0.0), spread: Degrees(0.0), view: View::Side },
            ground: 0.0,
        };
        let phases = Phases {
            prep_start: Some(mark(0.4, Method::ShoulderTurn)),
            drop_start: None,
            backswing_end: Some(mark(1.0, Method::HandPosition)),
            low_point: None,
            forward_start: Some(mark(1.2, Method::HandSpeed)),
            contact: mark(1.5, Method::Sound),
            finish_end: Some(mark(1.8, Method::HandSpeed)),
        };
        Stroke {
            kind: Kind::Forehand,
            hands: Hands::One,
            volley: false,
            stance: None,
            phases,
            ball: None,
            motion,
            racket: None,
            flight: None,
            struck: None,
            stature: Metres(1.8),
        }
    }

    /// The value of every measure, whether or not strokes of this kind have it.
    fn computed(stroke: &Stroke) -> Vec<Option<f64>> {
        let readings = Readings::of(stroke);
        CATALOGUE.iter().map(|measure| measure.compute.compute(&readings).ok()).collect()
    }

    fn is_doubted(stroke: &Stroke, id: &str) -> bool {
        let values = computed(stroke);
        let place = Measure::place(id).unwrap();
        assert!(values[place].is_some(), "{id}");
        doubted(stroke, &values, false)[place]
    }

    #[test]
    fn a_hidden_joint_counts_at_the_moment_that_is_measured_only() {
        assert!(!is_doubted(&stroke(), "hand_ahead_of_front_toe_cm"));
        // Contact lies on picture 90; a good ± is up to 5 cm.
        for (hidden, wanted) in [(20..40, false), (88..93, true)] {
            let mut stroke = stroke();
            for sights in &mut stroke.motion.visibility[hidden] {
                sights[Landmark::RightWrist as usize] = 0.3;
            }
            assert_eq!(is_doubted(&stroke, "hand_ahead_of_front_toe_cm"), wanted);
            assert!(!is_doubted(&stroke, "stance_width_cm"), "the wrist has no part in it");
        }
    }

    #[test]
    fn two_arms_over_the_shoulder_hide_how_high_it_is() {
        let id = "finish_hand_above_shoulder_cm";
        let mut backhand = Stroke { kind: Kind::Backhand, ..stroke() };
        // The hand rises to the end of the finish.
        for (time, frame) in backhand.motion.times.iter().zip(&mut backhand.motion.points) {
            let rises = (*time - backhand.phases.contact.time).0.max(0.0);
            frame[Landmark::RightWrist as usize].iter_mut().for_each(|hand| hand.up += rises);
        }
        assert!(!is_doubted(&backhand, id));
        let two_handed = Stroke { hands: Hands::Two, ..backhand };
        assert!(is_doubted(&two_handed, id) && !is_doubted(&two_handed, "stance_width_cm"));
        assert!(!is_doubted(&two_handed, "trunk_lean_at_contact_deg"));
    }

    #[test]
    fn nothing_is_sure_where_the_player_was_lost_or_the_stroke_has_no_name() {
        let mut lost = stroke();
        for frame in &mut lost.motion.points[40..60] {
            *frame = [None; COUNT];
        }
        assert!(is_doubted(&lost, "stance_width_cm"));
        assert!(is_doubted(&Stroke { kind: Kind::Unknown, ..stroke() }, "stance_width_cm"));
    }

    #[test]
    fn a_boundary_read_in_another_way_makes_doubtful_what_hangs_on_it() {
        let mut stroke = stroke();
        stroke.phases.prep_start = Some(Mark { time: Seconds(0.4), method: Method::HandRetreat });
        assert!(is_doubted(&stroke, "preparation_ms") && !is_doubted(&stroke, "forward_swing_ms"));
    }

    #[test]
    fn nothing_that_hangs_on_phases_is_sure_in_a_slowed_stroke() {
        let values = computed(&stroke());
        let doubted = doubted(&stroke(), &values, true);
        let is_doubted = |id| doubted[Measure::place(id).unwrap()];
        assert!(is_doubted("preparation_ms") && !is_doubted("stance_width_cm"));
        // A takeback that nobody saw begin is looked at from a usual preparation's length before contact.
        let unseen = Stroke { phases: Phases { prep_start: None, ..stroke().phases }, ..stroke() };
        let values = computed(&unseen);
        assert!(super::doubted(&unseen, &values, true)[Measure::place("backswing_travel_cm").unwrap()]);
    }
}
