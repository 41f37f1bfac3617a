//! A figure whose movement is known, for the tests of formulas.

use crate::geometry::{Camera, Court};
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::{CourtMotion, Lens, Space, Stand, Sway, Teller};
use crate::stroke::{Hands, Kind, Mark, Method, Phases, Stroke};
use crate::units::{Metres, Seconds};

/// Contact in the motion's time; what moves the figure counts from there.
pub const CONTACT: Seconds = Seconds(2.5);

/// A right-hander who stands facing the net with feet 0.4 m apart and hands hanging down: where a landmark is then.
pub fn standing(landmark: Landmark) -> Court {
    let side = |landmark: Landmark, joint: Joint| (joint.on(Side::Right) == landmark).then_some(1.0);
    let of = |joint: Joint| side(landmark, joint).or((joint.on(Side::Left) == landmark).then_some(-1.0));
    let places = [
        (Joint::Shoulder, (0.0, 0.18, 1.45)),
        (Joint::Elbow, (0.0, 0.20, 1.17)),
        (Joint::Wrist, (0.0, 0.22, 0.91)),
        (Joint::Index, (0.0, 0.22, 0.83)),
        (Joint::Pinky, (0.0, 0.22, 0.83)),
        (Joint::Hip, (0.0, 0.10, 0.93)),
        (Joint::Knee, (0.0, 0.15, 0.50)),
        (Joint::Ankle, (0.0, 0.20, 0.08)),
        (Joint::Heel, (-0.05, 0.20, 0.02)),
        (Joint::Toe, (0.18, 0.20, 0.02)),
        (Joint::Ear, (0.0, 0.08, 1.65)),
    ];
    let joint = places.into_iter().find_map(|(joint, at)| Some((of(joint)?, at)));
    match joint {
        Some((sign, (net, side, up))) => Court::new(net, sign * side, up),
        None => Court::new(0.1, 0.0, 1.62),
    }
}

/// A motion as a camera has it that sees each place where `seen` says.
pub fn space(motion: &CourtMotion, seen: impl Fn(Court) -> Camera) -> Space {
    let size = (1280, 720);
    Space {
        times: motion.times.clone(),
        rate: 60.0,
        points: motion.points.iter().map(|f| f.map(|point| point.map(&seen))).collect::<Vec<_>>().into(),
        visibility: motion.visibility.clone(),
        depth_spread: motion.depth_spread.clone(),
        stand: Stand::level(Lens::usual(size)),
        size,
        sway: Sway::default(),
        scale: vec![None; motion.times.len()],
        stature: Metres(1.8),
        teller: Teller::DepthNetwork,
        jitter: 0.0,
    }
}

/// A stroke of a right-hander who moves as `moved` says: a landmark, the time from contact in seconds, and where it is in
/// [`standing`]. The preparation starts 1.0 s before contact, the hand starts forward 0.2 s before, the finish ends 0.4 s after.
pub fn stroke(kind: Kind, moved: impl Fn(Landmark, f64, Court) -> Court) -> Stroke {
    let times: Vec<Seconds> = (0..240).map(|i| Seconds(f64::from(i) / 60.0)).collect();
    let frame = |time: &Seconds| {
        let mut points = [None; COUNT];
        for landmark in Landmark::ALL {
            points[landmark as usize] = Some(moved(landmark, (*time - CONTACT).0, standing(landmark)));
        }
        points
    };
    let motion = CourtMotion::plain(times.iter().map(frame).collect(), times);
    let mark = |t: f64| Some(Mark { time: CONTACT + Seconds(t), method: Method::HandPosition });
    Stroke {
        kind,
        hands: Hands::One,
        volley: false,
        stance: None,
        phases: Phases {
            prep_start: mark(-1.0),
            drop_start: mark(-0.5),
            backswing_end: mark(-0.4),
            low_point: mark(-0.25),
            forward_start: mark(-0.2),
            contact: Mark { time: CONTACT, method: Method::Sound },
            finish_end: mark(0.4),
        },
        ball: None,
        motion,
        racket: None,
        flight: None,
        struck: None,
        stature: Metres(1.8),
    }
}

/// A point turned about the vertical through the origin; + puts the right side back.
pub fn turned(point: Court, degrees: f64) -> Court {
    let (sin, cos) = degrees.to_radians().sin_cos();
    Court::new(point.net * cos - point.side * sin, point.net * sin + point.side * cos, point.up)
}

/// The measure's value on a stroke.
pub fn value(id: &str, stroke: &Stroke) -> Result<f64, super::Missing> {
    super::Measure::find(id).map_or(Err(super::Missing::Undefined), |measure| measure.of(stroke))
}
