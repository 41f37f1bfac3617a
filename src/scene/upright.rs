//! What things that stand upright say of how the camera was tilted.

use super::stand::Stand;
use crate::court::Uprights;

/// How far a post's edge is from upright, degrees (1 standard deviation), and how far one of its ends is misplaced, pixels. With these and
/// [`WORTH`] pitch and roll agree with what the court's lines say in real pictures of 60 courts.
const LEANING: f64 = 1.0;
const END: f64 = 0.7;

/// How many edges are not of anything upright, and within how many degrees they may then lean.
const OTHER: f64 = 0.35;
const ANY_WAY: f64 = 44.0;

/// Edges of one picture err together: they count like no more than this many.
const WORTH: f64 = 5.0;

/// A step upward, as a share of the way to what is seen.
const STEP: f64 = 0.01;

/// How well a camera agrees with edges that may be upright, up to a factor.
pub fn likelihood(stand: &Stand, uprights: &Uprights) -> f64 {
    let sights = stand.sights();
    let of_edge = |edge: &crate::court::Upright| {
        let other = OTHER / ANY_WAY;
        let mut above = sights.ray(edge.middle());
        above.up += STEP;
        let Some(above) = sights.pixel(above) else { return other.ln() };
        let seen = edge.middle();
        let lean = (above.x - seen.x).atan2(seen.y - above.y).to_degrees();
        let spread = LEANING.hypot((END / edge.length()).to_degrees());
        let off = (edge.lean() - lean) / spread;
        ((1.0 - OTHER) * (-0.5 * off * off).exp() / (2.507 * spread) + other).ln()
    };
    let count = uprights.edges.len() as f64;
    let sum: f64 = uprights.edges.iter().map(of_edge).sum();
    (sum * (WORTH / count.max(1.0)).min(1.0)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::court::Upright;
    use crate::geometry::Camera;
    use crate::scene::Lens;
    use crate::units::{Degrees, FrameIndex};

    #[test]
    fn posts_tell_pitch_and_roll_although_one_of_them_leans() {
        let lens = Lens { focal: 1000.0, middle: (640.0, 360.0), k1: 0.0 };
        let stand = |pitch, roll| Stand { lens, pitch: Degrees(pitch), roll: Degrees(roll) };
        let truth = stand(8.0, 3.0);
        let post = |right: f64, leans: f64| {
            let at = |up: f64| truth.pixel(Camera::new(right + leans * up, up, 15.0)).unwrap();
            Upright { top: at(4.0), foot: at(1.0) }
        };
        let mut edges: Vec<Upright> =
            [-7.0, -4.0, -1.0, 2.0, 5.0, 8.0].map(|right| post(right, 0.0)).to_vec();
        edges.push(post(3.5, 0.25));
        let uprights = Uprights { frame: FrameIndex(0), edges };
        let at = |pitch, roll| likelihood(&stand(pitch, roll), &uprights).ln();
        assert!(at(8.0, 3.0) > at(5.0, 3.0) + 2.0, "{} {}", at(8.0, 3.0), at(5.0, 3.0));
        assert!(at(8.0, 3.0) > at(11.0, 3.0) + 2.0);
        assert!(at(8.0, 3.0) > at(8.0, 1.5) + 2.0);
        assert!(at(8.0, 3.0) > at(0.0, 0.0) + 8.0);
    }
}
