//! Where the player's body and racket are in a picture.

use crate::geometry::Point2;
use crate::pose::landmark::{ARM, LEG};
use crate::pose::{Joint, Landmark, Motion, Side};
use crate::racket::Sight;

/// Half the thickness of limbs, trunk and head, metres.
const LIMB: f64 = 0.10;
const TRUNK: f64 = 0.18;
const HEAD: f64 = 0.18;

/// Half the width of a racket's hoop, metres; and the chance from which on a racket is where it was seen.
const HOOP: f64 = 0.14;
const BELIEVED: f64 = 0.3;

/// From the wrist over the hand, and from the ankle over the foot.
const ENDS: [(Joint, Joint); 2] = [(Joint::Wrist, Joint::Index), (Joint::Ankle, Joint::Toe)];

/// Whether a place lies on the player in a picture (`place` among the motion's), with so many pixels per metre.
pub(super) fn is_on_body(motion: &Motion, place: usize, at: Point2, per_metre: f64) -> bool {
    let point = |landmark: Landmark| motion.point(place, landmark).map(|p| p.at);
    let within = |from: Option<Point2>, to: Option<Point2>, half: f64| {
        from.zip(to).is_some_and(|(from, to)| distance(at, from, to) <= half * per_metre)
    };
    let limb = |side: Side| {
        let mut limbs = ARM.iter().chain(&LEG).chain(&ENDS);
        limbs.any(|(a, b)| within(point(a.on(side)), point(b.on(side)), LIMB))
    };
    let side = |side: Side| {
        within(point(Joint::Shoulder.on(side)), point(Joint::Hip.on(side)), TRUNK)
            || within(point(Joint::Shoulder.on(side)), point(Joint::Hip.on(side.other())), TRUNK)
    };
    let nose = point(Landmark::Nose);
    [Side::Left, Side::Right].into_iter().any(|s| limb(s) || side(s)) || within(nose, nose, HEAD)
}

/// Whether a place lies on a racket that was seen there.
pub(super) fn is_on_racket(sights: &[Sight], at: Point2, per_metre: f64) -> bool {
    let believed = sights.first().filter(|sight| sight.confidence >= BELIEVED);
    believed.is_some_and(|sight| distance(at, sight.throat, sight.tip) <= HOOP * per_metre)
}

/// Distance of a point from the stretch between two others.
fn distance(at: Point2, from: Point2, to: Point2) -> f64 {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let square = dx * dx + dy * dy;
    let share = if square > 0.0 { ((at.x - from.x) * dx + (at.y - from.y) * dy) / square } else { 0.0 };
    at.distance(from.lerp(to, share.clamp(0.0, 1.0)))
}
