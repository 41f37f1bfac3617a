//! Bands: thin bright stripes between two edges, followed along the picture to a fraction of a pixel.

use super::line_fit::{Line1, robust};
use super::pair::{Pair, pairs};
use super::plane::Plane;
use super::segment::segments;
use crate::geometry::Point2;
use crate::order::median;
use crate::video::Picture;

/// Distance of the places along a band at which its edges are measured, and of those across it, pixels.
const ALONG: f64 = 2.0;
const ACROSS: f64 = 0.5;
/// Least contrast against both sides, grey levels.
const FAINTEST: f64 = 7.0;
/// How often a band is followed farther.
const ROUNDS: usize = 3;
/// How far beyond its ends a band is looked for, pixels and as a share of its length.
const BEYOND: f64 = 60.0;
const BEYOND_SHARE: f64 = 0.6;
/// Longest gap that a band bridges: pixels, and at most this, growing with its length.
const GAP: (f64, f64, f64) = (12.0, 0.08, 40.0);
/// Shortest band, and least share of it at which both edges were seen.
const SHORTEST: f64 = 20.0;
const FULLEST: f64 = 0.5;
/// Widest against its length.
const STOUTEST: f64 = 0.25;
/// Sections of a band that give a point of either edge each: their length, pixels, and how many.
const SECTION: f64 = 25.0;
const SECTIONS: (f64, f64) = (2.0, 8.0);
/// Longer bands may be bent by the lens, pixels.
const BENT: f64 = 80.0;
/// A band that is narrower than this share of another one is not the same.
const NARROWER: f64 = 0.5;
/// Least brightness between the edges, as a share of the contrast in the middle: paint is even.
const EVEN: f64 = 0.45;
/// Bands that differ in direction by less than this (sine) and lie within this many pixels are stripes of one thing.
const PARALLEL: f64 = 0.06;
const CLOSE: f64 = 32.0;
/// How far beside a band its surroundings are looked at, pixels.
const OUTSIDE: f64 = 5.0;
/// Most places at which a band is looked for.
const MOST_TRIED: usize = 220;

/// A thin bright stripe of the picture.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    /// Points of either edge, opposite each other.
    pub edges: [Vec<Point2>; 2],
    /// The ends of its middle.
    pub ends: [Point2; 2],
    /// Width at either end, pixels.
    pub widths: [f64; 2],
    /// Contrast against the brighter side, grey levels.
    pub contrast: f64,
    /// Colourfulness of its middle and of what lies beside it: the range of the channels as a share of the brightest.
    pub colours: [f64; 2],
    /// Scatter of the edges about smooth lines, pixels.
    pub scatter: f64,
    /// Share of its length at which both edges were seen.
    pub fill: f64,
    /// Whether it may lie on the ground; else it may be along the net's top.
    pub on_ground: bool,
}

impl Band {
    pub fn length(&self) -> f64 {
        self.ends[0].distance(self.ends[1])
    }

    pub fn width(&self) -> f64 {
        0.5 * (self.widths[0] + self.widths[1])
    }

    pub fn middle(&self) -> Point2 {
        self.ends[0].lerp(self.ends[1], 0.5)
    }

    /// Points of its middle.
    pub fn middles(&self) -> impl Iterator<Item = Point2> + '_ {
        self.edges[0].iter().zip(&self.edges[1]).map(|(a, b)| a.lerp(*b, 0.5))
    }

    /// Direction from one end to the other, length 1.
    pub fn direction(&self) -> Point2 {
        let (d, length) = (self.ends[1] - self.ends[0], self.length());
        Point2::new(d.x / length, d.y / length)
    }

    /// How far a point lies from the line through this band, pixels, and where along it (0 = one end, 1 = the other).
    fn against(&self, point: Point2) -> (f64, f64) {
        let (d, v) = (self.direction(), point - self.ends[0]);
        ((v.y * d.x - v.x * d.y).abs(), (v.x * d.x + v.y * d.y) / self.length())
    }

    /// Whether another band lies close beside it, as the stripes of a roof or rows of seats do.
    pub fn is_beside(&self, other: &Self) -> bool {
        let (a, b) = (self.direction(), other.direction());
        let (off, along) = self.against(other.middle());
        (a.x * b.y - a.y * b.x).abs() < PARALLEL && off > 2.0 && off < CLOSE && (-0.2..1.2).contains(&along)
    }

    /// Whether it shows what another band between these ends, of such a width, shows.
    fn repeats(&self, ends: [Point2; 2], width: f64) -> bool {
        if width < NARROWER * self.width() - 2.0 {
            return false;
        }
        let near = |p: Point2| self.against(p).0 < (0.5 * self.width()).max(1.5);
        let within = self.against(ends[0].lerp(ends[1], 0.5)).1;
        near(ends[0]) && near(ends[1]) && (-0.1..1.1).contains(&within)
    }
}

/// All bands of a picture, in no order that matters.
pub(super) fn bands(picture: &Picture, plane: &Plane) -> Vec<Band> {
    let mut found: Vec<Band> = Vec::new();
    let mut tried = 0;
    for pair in pairs(&segments(plane)) {
        let ends = [0, 1].map(|k| pair.left[k].lerp(pair.right[k], 0.5));
        let width = 0.5 * (pair.left[0].distance(pair.right[0]) + pair.left[1].distance(pair.right[1]));
        if found.iter().any(|band| band.repeats(ends, width)) {
            continue;
        }
        tried += 1;
        if tried > MOST_TRIED {
            break;
        }
        if let Some(band) = follow(&pair, plane, picture)
            && !found.iter().any(|other| other.repeats(band.ends, band.width()))
        {
            found.push(band);
        }
    }
    found
}

/// The band that begins with a pair of edges, if there is one.
pub(super) fn follow(pair: &Pair, plane: &Plane, picture: &Picture) -> Option<Band> {
    Trace::new(pair).follow(plane, picture)
}

/// A band that is being followed: places are `along` and `across` from where it was first seen.
struct Trace {
    origin: Point2,
    along: Point2,
    across: Point2,
    from: f64,
    to: f64,
    edges: [Line1; 2],
}

/// What was seen at one place along a band.
#[derive(Clone, Copy)]
struct Seen {
    at: f64,
    edges: [f64; 2],
    contrast: f64,
}

impl Trace {
    fn new(pair: &Pair) -> Self {
        let ends = [0, 1].map(|k| pair.left[k].lerp(pair.right[k], 0.5));
        let length = ends[0].distance(ends[1]);
        let d = ends[1] - ends[0];
        let along = Point2::new(d.x / length, d.y / length);
        let across = Point2::new(-along.y, along.x);
        let place = |p: Point2| (p.x - ends[0].x) * across.x + (p.y - ends[0].y) * across.y;
        let edge = |points: [Point2; 2]| Line1::through((0.0, place(points[0])), (length, place(points[1])));
        Self {
            origin: ends[0],
            along,
            across,
            from: 0.0,
            to: length,
            edges: [edge(pair.left), edge(pair.right)],
        }
    }

    fn point(&self, at: f64, across: f64) -> Point2 {
        Point2::new(
            self.origin.x + at * self.along.x + across * self.across.x,
            self.origin.y + at * self.along.y + across * self.across.y,
        )
    }

    fn follow(mut self, plane: &Plane, picture: &Picture) -> Option<Band> {
        let mut seen = Vec::new();
        for round in 0..ROUNDS {
            let beyond = if round == 0 { 0.0 } else { BEYOND + BEYOND_SHARE * (self.to - self.from) };
            seen = self.look(plane, self.from - beyond, self.to + beyond);
            self.keep_run(&mut seen)?;
            for (side, edge) in self.edges.iter_mut().enumerate() {
                *edge = robust(seen.iter().map(|s| (s.at, s.edges[side])), false)?;
            }
            (self.from, self.to) = (seen.first()?.at, seen.last()?.at);
        }
        self.settle(&seen, picture)
    }

    /// Both edges at every place from `from` to `to` at which they can be seen.
    fn look(&self, plane: &Plane, from: f64, to: f64) -> Vec<Seen> {
        let (width, height) = (plane.width as f64, plane.height as f64);
        let places: Vec<(f64, f64, f64)> = (0..=((to - from) / ALONG) as usize)
            .map(|k| from + k as f64 * ALONG)
            .map(|at| (at, self.edges[0].at(at), self.edges[1].at(at)))
            .filter(|(at, left, right)| {
                let p = self.point(*at, 0.5 * (left + right));
                (0.5..70.0).contains(&(right - left))
                    && (3.0..width - 4.0).contains(&p.x)
                    && (3.0..height - 4.0).contains(&p.y)
            })
            .collect();
        let widths = || places.iter().map(|(_, left, right)| right - left);
        let (Some(usual), most) = (median(widths()), widths().fold(0.0, f64::max)) else { return Vec::new() };
        let least = widths().fold(f64::MAX, f64::min);
        let reach = (0.5 * usual + 4.0 + 0.35 * (most - least)).max(4.0);
        let half = (reach / ACROSS).ceil() as i64;
        let raw: Vec<Vec<f32>> = places
            .iter()
            .map(|(at, left, right)| {
                let middle = 0.5 * (left + right);
                let offset = |k: i64| self.point(*at, middle + k as f64 * ACROSS);
                (-half..=half).map(offset).map(|p| plane.cubic(p.x, p.y)).collect()
            })
            .collect();
        let mut seen = Vec::new();
        for (k, (at, left, right)) in places.iter().enumerate() {
            let beside = [&raw[k.saturating_sub(1)], &raw[k], &raw[(k + 1).min(raw.len() - 1)]];
            let profile = smooth(&beside);
            if let Some((a, b, contrast)) = edges(&profile, half, 0.5 * (right - left)) {
                let middle = 0.5 * (left + right);
                seen.push(Seen { at: *at, edges: [middle + a, middle + b], contrast });
            }
        }
        seen
    }

    /// Drops what is not joined to the longest run.
    fn keep_run(&self, seen: &mut Vec<Seen>) -> Option<()> {
        if seen.len() < 6 {
            return None;
        }
        let gap = (GAP.0 + GAP.1 * (self.to - self.from)).min(GAP.2);
        let longest = seen.chunk_by(|a, b| b.at - a.at <= gap).max_by_key(|run| run.len())?.to_vec();
        *seen = longest;
        (seen.len() >= 6).then_some(())
    }

    /// The band that was followed, if it is one.
    fn settle(&self, seen: &[Seen], picture: &Picture) -> Option<Band> {
        let length = self.to - self.from;
        let widths = [self.from, self.to].map(|at| self.edges[1].at(at) - self.edges[0].at(at));
        let fill = seen.len() as f64 * ALONG / length;
        let width = 0.5 * (widths[0] + widths[1]);
        if length < SHORTEST || fill < FULLEST || width > STOUTEST * length || widths[0].min(widths[1]) < 0.3
        {
            return None;
        }
        let bent = length > BENT;
        let curves = [
            robust(seen.iter().map(|s| (s.at, s.edges[0])), bent)?,
            robust(seen.iter().map(|s| (s.at, s.edges[1])), bent)?,
        ];
        let off = |side: usize| seen.iter().map(move |s| (s.edges[side] - curves[side].at(s.at)).abs());
        let usual = [median(off(0))?, median(off(1))?];
        let good: Vec<&Seen> = seen
            .iter()
            .filter(|s| (0..2).all(|k| (s.edges[k] - curves[k].at(s.at)).abs() < 1.5 + 3.0 * usual[k]))
            .collect();
        let sections = (length / SECTION).clamp(SECTIONS.0, SECTIONS.1).floor();
        let mut edges = [Vec::new(), Vec::new()];
        for section in 0..sections as usize {
            let bounds = [section, section + 1].map(|k| self.from + length * k as f64 / sections);
            let inside: Vec<&&Seen> =
                good.iter().filter(|s| bounds[0] <= s.at && s.at <= bounds[1]).collect();
            if inside.len() < 3 {
                continue;
            }
            let at = inside.iter().map(|s| s.at).sum::<f64>() / inside.len() as f64;
            for (side, edge) in edges.iter_mut().enumerate() {
                // Off the curve, so that a bend or slope within the section doesn't matter.
                let rest = median(inside.iter().map(|s| s.edges[side] - curves[side].at(s.at)))?;
                edge.push(self.point(at, curves[side].at(at) + rest));
            }
        }
        let middle = |s: &&Seen| self.point(s.at, 0.5 * (s.edges[0] + s.edges[1]));
        let beside =
            |s: &&Seen| [s.edges[0] - OUTSIDE, s.edges[1] + OUTSIDE].map(|across| self.point(s.at, across));
        let colours = [
            median(good.iter().map(middle).filter_map(|p| colourfulness(picture, p)))?,
            median(good.iter().flat_map(beside).filter_map(|p| colourfulness(picture, p)))?,
        ];
        let ends = [self.from, self.to].map(|at| self.point(at, 0.5 * (curves[0].at(at) + curves[1].at(at))));
        Some(Band {
            ends,
            widths,
            contrast: median(good.iter().map(|s| s.contrast))?,
            colours,
            scatter: 1.48 * 0.5 * (usual[0] + usual[1]),
            fill,
            edges,
            on_ground: true,
        })
        .filter(|band| band.edges[0].len() >= 2)
    }
}

/// The range of a pixel's channels as a share of the brightest.
fn colourfulness(picture: &Picture, at: Point2) -> Option<f64> {
    let rgb = picture.pixel(at.x.round() as u32, at.y.round() as u32)?;
    let (most, least) = (rgb.iter().max()?, rgb.iter().min()?);
    Some(f64::from(most - least) / f64::from(*most).max(1.0))
}

/// A profile across the band, averaged with its neighbours and smoothed.
fn smooth(beside: &[&Vec<f32>; 3]) -> Vec<f32> {
    let n = beside[1].len();
    let joined: Vec<f32> =
        (0..n).map(|k| 0.25 * beside[0][k] + 0.5 * beside[1][k] + 0.25 * beside[2][k]).collect();
    (0..n)
        .map(|k| 0.25 * joined[k.saturating_sub(1)] + 0.5 * joined[k] + 0.25 * joined[(k + 1).min(n - 1)])
        .collect()
}

/// The steepest rise near −`half_width` and the steepest fall near `half_width`, pixels from the profile's middle, and how
/// much brighter it is between them than beside; `None` where there is no such stripe.
fn edges(profile: &[f32], half: i64, half_width: f64) -> Option<(f64, f64, f64)> {
    let last = profile.len() - 1;
    let slope = |k: usize| f64::from(profile[(k + 1).min(last)] - profile[k.saturating_sub(1)]);
    let tolerance = (0.25 * half_width).max(1.6);
    let near = |at: f64| {
        let low = ((at - tolerance) / ACROSS).ceil() as i64 + half;
        let high = ((at + tolerance) / ACROSS).floor() as i64 + half;
        (low.max(1) as usize)..=(high.min(last as i64 - 1).max(0) as usize)
    };
    let rise = near(-half_width).max_by(|a, b| slope(*a).total_cmp(&slope(*b)))?;
    let fall = near(half_width).min_by(|a, b| slope(*a).total_cmp(&slope(*b)))?;
    if fall <= rise {
        return None;
    }
    let place = |k: usize, sign: f64| {
        let (before, here, after) =
            (sign * slope(k.saturating_sub(1)), sign * slope(k), sign * slope((k + 1).min(last)));
        let bend = before - 2.0 * here + after;
        let part = if bend < -1e-6 { (0.5 * (before - after) / bend).clamp(-1.0, 1.0) } else { 0.0 };
        (k as f64 - half as f64 + part) * ACROSS
    };
    let beside = |k: i64| f64::from(profile[k.clamp(0, last as i64) as usize]);
    let outside = beside(rise as i64 - 4).max(beside(fall as i64 + 4));
    let contrast = f64::from(profile[(rise + fall) / 2]) - outside;
    let dimmest = profile[rise..=fall].iter().skip(3).rev().skip(3).fold(f32::MAX, |a, b| a.min(*b));
    let even = f64::from(dimmest) > outside + EVEN * contrast;
    (contrast > FAINTEST && even).then(|| (place(rise, 1.0), place(fall, -1.0), contrast))
}
