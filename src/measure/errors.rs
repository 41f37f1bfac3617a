//! What the landmarks of a body are off by, drawn: for good, with the pose, and from moment to moment.

use rand::Rng;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use crate::geometry::Camera;
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::depth::ALONG_ARM;
use crate::units::Seconds;

/// Errors of the landmarks change over about this time.
const SHAKE_TIME: Seconds = Seconds(0.07);

/// Shares of a depth's spread that stay the same over a stroke and that change with the shake (squares sum to 1). The depth network
/// sees a second at once: in rendered and recorded players the depth of an arm changes its error by a third of its spread within
/// [`SHAKE_TIME`], that of a leg by less.
const DEPTH_LASTING: f64 = 0.96;
const DEPTH_SHAKE: f64 = 0.28;

/// A hidden landmark is a guess: its spread grows with the model's doubt up to this factor.
const HIDDEN_FACTOR: f64 = 2.0;

/// What a landmark that moves as fast as [`MOVES`] or faster is off by for a moment, metres per axis (1 standard deviation), and what
/// all others are. From rendered players, whose wrists err by this much against where they err a tenth of a second later.
const UNSTEADY: [(Joint, f64); 5] = [
    (Joint::Wrist, WRIST),
    (Joint::Index, WRIST),
    (Joint::Pinky, WRIST),
    (Joint::Elbow, 0.012),
    (Joint::Shoulder, 0.006),
];
const WRIST: f64 = 0.016;
const OTHERS_UNSTEADY: f64 = 0.004;

/// Metres per second.
const MOVES: f64 = 1.0;

/// Left and right of these err by themselves along the lens; of other joints they share half of their error's variance. From rendered players.
const FEET: [Joint; 3] = [Joint::Ankle, Joint::Heel, Joint::Toe];

/// Correlation between the errors of an ankle's depth and those of its knee's, heel's and toe's: a leg that is placed too far away is so
/// from the knee down. From rendered players (0.9) and recorded ones (0.65).
const ALONG_LEG: f64 = 0.7;

/// Joints that are next to each other err together: correlation across the line of sight and along it. The first of two is that
/// nearer to the trunk or, in a leg, the ankle, of which the other foot's errs by itself. Across, from rendered players, whose neighbouring joints err against each other by a half to two thirds of what they would by
/// themselves.
const LIMBS: [(Joint, Joint, f64, f64); 8] = [
    (Joint::Hip, Joint::Shoulder, 0.2, 0.0),
    (Joint::Shoulder, Joint::Elbow, 0.6, 0.0),
    (Joint::Elbow, Joint::Wrist, 0.5, ALONG_ARM),
    (Joint::Wrist, Joint::Index, 0.6, ALONG_ARM),
    (Joint::Wrist, Joint::Pinky, 0.6, ALONG_ARM),
    (Joint::Ankle, Joint::Knee, 0.4, ALONG_LEG),
    (Joint::Ankle, Joint::Heel, 0.6, ALONG_LEG),
    (Joint::Ankle, Joint::Toe, 0.3, ALONG_LEG),
];

/// How left and right of the trunk's joints err, across the picture and upward, each as factors on what the middle of both and half of
/// their difference would err by if they shared half of their variance. In a body seen from the side the model turns the line through
/// the hips or shoulders, so that one errs to the right and the other to the left, and their middle hardly; and it has both of them
/// too high or too low. From rendered players, of the test bed and of other cameras, and less so from recorded ones.
const TRUNK: [(Joint, [Pair; 2]); 2] = [
    (Joint::Hip, [Pair { middle: 0.75, apart: 1.8 }, Pair { middle: 1.1, apart: 0.6 }]),
    (Joint::Shoulder, [Pair { middle: 0.9, apart: 2.4 }, Pair { middle: 0.9, apart: 1.2 }]),
];

/// Factors on the errors of the middle of two landmarks and of half of their difference.
#[derive(Clone, Copy)]
struct Pair {
    middle: f64,
    apart: f64,
}

impl Pair {
    /// The errors of left and right as these factors have them.
    fn of(self, left: f64, right: f64) -> [f64; 2] {
        let (middle, apart) = (self.middle * 0.5 * (left + right), self.apart * 0.5 * (left - right));
        [middle + apart, middle - apart]
    }
}

/// Whether a landmark is the left or the right one of a joint.
fn is(landmark: Landmark, joint: Joint) -> bool {
    [Side::Left, Side::Right].into_iter().any(|side| joint.on(side) == landmark)
}

/// By how much the error of a landmark grows that is hardly in sight.
pub fn doubt(visibility: f64) -> f64 {
    1.0 + (HIDDEN_FACTOR - 1.0) * (1.0 - visibility).clamp(0.0, 1.0)
}

/// Spread of what a landmark is off by for a moment at a speed in metres per second, metres per axis across the line of sight.
pub fn unsteady(landmark: Landmark, speed: f64) -> f64 {
    let own = UNSTEADY.iter().find(|(joint, _)| is(landmark, *joint));
    own.map_or(OTHERS_UNSTEADY, |(_, own)| *own) * (speed / MOVES).min(1.0)
}

/// One draw of every landmark's offset from its joint in the camera's frame: metres across the line of sight, of which `spreads` are
/// those of each landmark, standard deviations of the depth along it.
pub fn drawn_offsets(spreads: &[f64; COUNT], rng: &mut Pcg64Mcg) -> [Camera; COUNT] {
    let mut offsets = [Camera::default(); COUNT];
    // Left and right of a joint share half of their error's variance: one model, one body.
    let mut shared = [Camera::default(); COUNT];
    for landmark in Landmark::ALL {
        let (own, twin) = (landmark as usize, landmark.mirrored() as usize);
        shared[own] = if twin < own { shared[twin] } else { normal(rng) };
        let single = normal(rng);
        offsets[own] = (shared[own] + single) * std::f64::consts::FRAC_1_SQRT_2;
        if FEET.iter().any(|joint| is(landmark, *joint)) {
            offsets[own].away = single.away;
        }
    }
    along_limbs(&mut offsets);
    turn_trunk(&mut offsets);
    for (offset, plane) in offsets.iter_mut().zip(spreads) {
        *offset = Camera::new(offset.right * plane, offset.up * plane, offset.away * DEPTH_LASTING);
    }
    offsets
}

fn normal(rng: &mut Pcg64Mcg) -> Camera {
    let mut normal = || -> f64 { rng.sample(StandardNormal) };
    Camera::new(normal(), normal(), normal())
}

/// Lets left and right of the trunk's joints err against each other and together.
fn turn_trunk(errors: &mut [Camera; COUNT]) {
    for (joint, [across, upward]) in TRUNK {
        let [left, right] = [Side::Left, Side::Right].map(|side| joint.on(side) as usize);
        let (a, b) = (errors[left], errors[right]);
        [errors[left].right, errors[right].right] = across.of(a.right, b.right);
        [errors[left].up, errors[right].up] = upward.of(a.up, b.up);
    }
}

/// Lets independent errors, in standard deviations, go along with those of the joint before.
fn along_limbs(errors: &mut [Camera; COUNT]) {
    let mixed = |shared: f64, own: f64, share: f64| share * shared + (1.0 - share * share).sqrt() * own;
    for side in [Side::Left, Side::Right] {
        for (first, second, across, along) in LIMBS {
            let shared = errors[first.on(side) as usize];
            let own = &mut errors[second.on(side) as usize];
            *own = Camera::new(
                mixed(shared.right, own.right, across),
                mixed(shared.up, own.up, across),
                mixed(shared.away, own.away, along),
            );
        }
    }
}

/// Errors of the landmarks that change from moment to moment, in standard deviations: drawn at even knots, straight between them.
pub struct Shake {
    start: Seconds,
    knots: Vec<[Camera; COUNT]>,
}

impl Shake {
    /// Draws them for so long as the times last.
    pub fn new(times: &[Seconds], rng: &mut Pcg64Mcg) -> Self {
        let (start, end) =
            times.first().zip(times.last()).map(|(first, last)| (*first, *last)).unwrap_or_default();
        let count = ((end - start).0 / SHAKE_TIME.0).ceil() as usize + 2;
        let knots = (0..count).map(|_| {
            let mut errors = std::array::from_fn(|_| normal(rng));
            along_limbs(&mut errors);
            errors.iter_mut().for_each(|error| error.away *= DEPTH_SHAKE);
            errors
        });
        Self { start, knots: knots.collect() }
    }

    /// The landmarks' errors at a time.
    pub fn at(&self, time: Seconds) -> impl Fn(usize) -> Camera {
        let place = (time - self.start).0 / SHAKE_TIME.0;
        let i = (place.floor().max(0.0) as usize).min(self.knots.len() - 2);
        let share = (place - i as f64).clamp(0.0, 1.0);
        let (from, to) = (&self.knots[i], &self.knots[i + 1]);
        move |k| from[k] * (1.0 - share) + to[k] * share
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;

    use super::*;

    /// Correlation of two of the offsets' parts over many draws.
    fn correlation(of: impl Fn(&[Camera; COUNT]) -> (f64, f64)) -> f64 {
        let mut rng = Pcg64Mcg::seed_from_u64(5);
        let pairs: Vec<(f64, f64)> =
            (0..4000).map(|_| of(&drawn_offsets(&[0.02; COUNT], &mut rng))).collect();
        let sum = |part: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(part).sum::<f64>();
        sum(&|(a, b)| a * b) / (sum(&|(a, _)| a * a) * sum(&|(_, b)| b * b)).sqrt()
    }

    #[test]
    fn joints_of_a_limb_err_together_and_feet_by_themselves_along_the_lens() {
        use Landmark as L;
        let arm = correlation(|o| (o[L::LeftElbow as usize].up, o[L::LeftShoulder as usize].up));
        let hand = correlation(|o| (o[L::LeftElbow as usize].away, o[L::LeftWrist as usize].away));
        let feet = correlation(|o| (o[L::LeftAnkle as usize].away, o[L::RightAnkle as usize].away));
        let hips = correlation(|o| (o[L::LeftHip as usize].away, o[L::RightHip as usize].away));
        assert!((arm - 0.6).abs() < 0.05 && (hand - ALONG_ARM).abs() < 0.05, "{arm} {hand}");
        assert!(feet.abs() < 0.05 && (hips - 0.5).abs() < 0.05, "{feet} {hips}");
        let mut rng = Pcg64Mcg::seed_from_u64(6);
        let spread = (0..4000).map(|_| drawn_offsets(&[0.02; COUNT], &mut rng)[L::LeftWrist as usize].right);
        let spread = (spread.map(|right| right * right).sum::<f64>() / 4000.0).sqrt();
        assert!((spread - 0.02).abs() < 0.001, "going along with others widens nothing: {spread}");
    }

    #[test]
    fn hips_and_shoulders_turn_and_legs_are_off_as_a_whole() {
        use Landmark as L;
        for (left, right) in [(L::LeftHip, L::RightHip), (L::LeftShoulder, L::RightShoulder)] {
            let across = correlation(|o| (o[left as usize].right, o[right as usize].right));
            let upward = correlation(|o| (o[left as usize].up, o[right as usize].up));
            assert!(across < -0.2 && upward > 0.2, "{left:?}: {across} {upward}");
        }
        let shank = correlation(|o| (o[L::LeftKnee as usize].away, o[L::LeftAnkle as usize].away));
        let knees = correlation(|o| (o[L::LeftKnee as usize].right, o[L::RightKnee as usize].right));
        assert!((shank - ALONG_LEG).abs() < 0.05 && knees > 0.2, "{shank} {knees}");
    }

    #[test]
    fn a_hand_that_moves_is_less_steady_than_one_at_rest() {
        let wrist = |speed| unsteady(Landmark::RightWrist, speed);
        assert!(wrist(0.0) == 0.0 && wrist(0.3) < wrist(0.8) && wrist(2.0) == wrist(9.0));
        assert!(wrist(3.0) > unsteady(Landmark::RightKnee, 3.0));
    }
}
