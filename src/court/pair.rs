//! Pairs of opposite edges with something bright between them: where a painted line may be.

use super::segment::Segment;
use crate::geometry::Point2;

/// Edges shorter than this don't start a band, pixels.
const SHORTEST: f64 = 12.0;
/// Narrowest and widest band, pixels.
const NARROWEST: f64 = 0.8;
const WIDEST: f64 = 60.0;
/// Widest against its length, and what is allowed beyond that, pixels.
const STOUTEST: f64 = 0.35;
const STOUT_REST: f64 = 4.0;
/// The cosine of the largest angle between the two edges of a band that is seen in perspective.
const OPPOSITE: f64 = -0.9925;
/// The edges lie beside each other over this share of the shorter one at least, and over so many pixels.
const BESIDE: f64 = 0.4;
const BESIDE_PIXELS: f64 = 8.0;

/// Where a band may be: its two edges from one end to the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// The edge on the left of the way, from its beginning to its end.
    pub left: [Point2; 2],
    /// The edge on the right of the way.
    pub right: [Point2; 2],
    /// Over how many pixels the edges lie beside each other.
    pub beside: f64,
}

/// All pairs of edges that may bound a band, longest first.
pub(super) fn pairs(segments: &[Segment]) -> Vec<Pair> {
    let long: Vec<&Segment> = segments.iter().filter(|s| s.length() > SHORTEST).collect();
    let mut found = Vec::new();
    for (i, a) in long.iter().enumerate() {
        for b in &long[i + 1..] {
            found.extend(pair(a, b));
        }
    }
    found.sort_by(|a, b| b.beside.total_cmp(&a.beside));
    found
}

fn dot(a: Point2, b: Point2) -> f64 {
    a.x * b.x + a.y * b.y
}

fn pair(a: &Segment, b: &Segment) -> Option<Pair> {
    let (along, across, other) = (a.direction(), a.normal(), b.direction());
    if dot(along, other) > OPPOSITE {
        return None;
    }
    let apart = dot(b.middle() - a.middle(), across);
    // The bright sides face each other.
    if !(NARROWEST..WIDEST).contains(&apart) || dot(a.middle() - b.middle(), b.normal()) < NARROWEST {
        return None;
    }
    let place = |p: Point2| dot(p - a.from, along);
    let (b_low, b_high) = (place(b.from).min(place(b.to)), place(b.from).max(place(b.to)));
    let (low, high) = (b_low.max(0.0), b_high.min(a.length()));
    let beside = high - low;
    if beside < BESIDE * a.length().min(b.length()) || beside < BESIDE_PIXELS {
        return None;
    }
    let slope = 1.0 / dot(other, along);
    let on_a = |t: f64| Point2::new(a.from.x + t * along.x, a.from.y + t * along.y);
    let on_b = |t: f64| {
        let s = (t - place(b.from)) * slope;
        Point2::new(b.from.x + s * other.x, b.from.y + s * other.y)
    };
    let pair = Pair { left: [on_a(low), on_a(high)], right: [on_b(low), on_b(high)], beside };
    let widths = [0, 1].map(|k| dot(pair.right[k] - pair.left[k], across));
    let (least, most) = (widths[0].min(widths[1]), widths[0].max(widths[1]));
    (least > 0.6 && most < WIDEST && most < STOUTEST * beside + STOUT_REST).then_some(pair)
}
