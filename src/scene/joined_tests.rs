use super::*;

/// Where the cameras stand (net, side) and how they have the net.
const FIRST: (f64, f64, f64) = (0.2, 5.5, 4.0);
const SECOND: (f64, f64, f64) = (-6.0, 0.4, 86.0);

/// A body that stands with its hand swinging; `time` in seconds.
fn body(time: f64) -> [Option<Court>; COUNT] {
    let mut points = [None; COUNT];
    for (joint, across, up) in [
        (Joint::Shoulder, 0.18, 1.4),
        (Joint::Elbow, 0.3, 1.15),
        (Joint::Wrist, 0.35, 0.9),
        (Joint::Hip, 0.12, 0.95),
        (Joint::Knee, 0.14, 0.5),
        (Joint::Ankle, 0.15, 0.1),
        (Joint::Heel, 0.15, 0.02),
        (Joint::Toe, 0.16, 0.0),
    ] {
        for (side, sign) in [(Side::Left, -1.0), (Side::Right, 1.0)] {
            let (sin, cos) = (0.6 * (2.0 * time).sin()).sin_cos();
            let at = Court::new(sign * across * sin, sign * across * cos, up);
            points[joint.on(side) as usize] = Some(at);
        }
    }
    let wrist =
        Court::new(0.7 * (4.0 * time).sin(), 0.5 + 0.2 * (3.0 * time).cos(), 0.9 + 0.4 * (5.0 * time).sin());
    points[Landmark::RightWrist as usize] = Some(wrist);
    points
}

/// The body as a camera has it whose depths are off by a share of themselves and the wrist's by more, whose net is off by `turned`
/// degrees and whose clock is `late`.
fn seen((net, side, angle): (f64, f64, f64), turned: f64, late: f64, deeper: f64) -> CourtMotion {
    let axes = Axes::new(Degrees(angle), Side::Right);
    let lens = axes.to_camera(Court::new(net, side, 1.2));
    let times: Vec<Seconds> = (0..150).map(|i| Seconds(f64::from(i) / 60.0)).collect();
    let points = times.iter().map(|time| {
        let true_points = body(time.0 - late);
        let hips = [Landmark::LeftHip, Landmark::RightHip].map(|hip| true_points[hip as usize].unwrap());
        let hips = axes.to_camera(hips[0].middle(hips[1])) - lens;
        std::array::from_fn(|k| {
            let at = axes.to_camera(true_points[k]?) - lens;
            let wrist = if k == Landmark::RightWrist as usize { 0.15 } else { 0.0 };
            let away = at.away + (deeper * (at.away - hips.away) + wrist) * deeper.signum();
            Some(at * (away / at.away))
        })
    });
    let points: Vec<[Option<Camera>; COUNT]> = points.collect();
    let believed = Axes::new(Degrees(angle + turned), Side::Right);
    let mut motion = CourtMotion::plain(
        points.iter().map(|frame| frame.map(|at| Some(believed.to_court(at?)))).collect(),
        times,
    );
    motion.direction = Direction { spread: Degrees(3.0), ..Direction::at(Degrees(angle + turned)) };
    motion.set_on_ground();
    motion
}

fn spreads(frames: usize) -> Vec<[Spread; COUNT]> {
    vec![[Spread { across: 0.01, along: 0.1 }; COUNT]; frames]
}

fn view<'a>(motion: &'a CourtMotion, spreads: &'a [[Spread; COUNT]]) -> View<'a> {
    View { motion, spreads, distance: 0.012, size: 0.02, net: motion.direction.spread }
}

#[test]
fn each_camera_tells_what_the_other_can_not() {
    let (a, b) = (seen(FIRST, 0.0, 0.0, -0.2), seen(SECOND, 2.0, 0.0, 0.2));
    let spreads = spreads(150);
    let views = [view(&a, &spreads), view(&b, &spreads)];
    let clock = Clock { offset: Seconds(0.0), drift: 0.0 };
    let joining = Joining::of(&views, clock).unwrap();
    let joined = joining.motion(&views);
    let off = |motion: &CourtMotion, i: usize| {
        let from_hips = |points: &[Option<Court>; COUNT]| {
            let at = |landmark: Landmark| points[landmark as usize].unwrap();
            at(Landmark::RightWrist) - at(Landmark::LeftHip).middle(at(Landmark::RightHip))
        };
        (from_hips(&motion.points[i]) - from_hips(&body(motion.times[i].0))).norm()
    };
    let worst = |motion: &CourtMotion| (0..150).map(|i| off(motion, i)).fold(0.0, f64::max);
    assert!(worst(&a) > 0.15 && worst(&b) > 0.15, "{} {}", worst(&a), worst(&b));
    assert!(worst(&joined) < 0.05, "{}", worst(&joined));
    let spread = joined.depth_spread[75][Landmark::RightWrist as usize];
    assert!(spread < 0.02, "what one camera tells vaguely the other tells well: {spread}");
}

#[test]
fn heights_tell_how_late_a_clock_is() {
    let clock = Clock { offset: Seconds(0.0), drift: 0.0 };
    for late in [-0.03, 0.0, 0.012] {
        let (a, b) = (seen(FIRST, 0.0, 0.0, 0.2), seen(SECOND, 0.0, late, -0.2));
        let found = later(&a, &b, clock).unwrap();
        assert!((found.0 - late).abs() < 0.003, "{late} {found:?}");
    }
}

#[test]
fn cameras_that_look_the_same_way_are_not_joined() {
    let spreads = spreads(150);
    let clock = Clock { offset: Seconds(0.0), drift: 0.0 };
    let a = seen(FIRST, 0.0, 0.0, -0.2);
    for (second, is_joined) in [((1.5, 5.3, 20.0), false), (SECOND, true), ((0.2, -5.5, 184.0), false)] {
        let b = seen(second, 0.0, 0.0, -0.2);
        let joining = Joining::of(&[view(&a, &spreads), view(&b, &spreads)], clock);
        assert_eq!(joining.is_some(), is_joined, "{second:?}");
    }
}

#[test]
fn motions_of_two_players_are_not_joined() {
    let a = seen(FIRST, 0.0, 0.0, 0.2);
    let mut b = seen(SECOND, 0.0, 0.0, 0.2);
    for frame in &mut b.points {
        frame.swap(Landmark::LeftWrist as usize, Landmark::LeftAnkle as usize);
        frame.swap(Landmark::RightWrist as usize, Landmark::RightKnee as usize);
    }
    let spreads = spreads(150);
    let clock = Clock { offset: Seconds(0.0), drift: 0.0 };
    assert_eq!(Joining::of(&[view(&a, &spreads), view(&b, &spreads)], clock), None);
}
