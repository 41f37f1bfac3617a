//! How well a pose explains a picture: the bands that lie where it has lines, and the paint that should be there and is not.

use super::band::Band;
use super::empty::Empty;
use super::paint::{DOUBLES, Line, NET, POST, TAPE};
use super::plane::Plane;
use super::pose::{BASE_PAINT, LOG_HEIGHT, PAINT, Pose, Setting, View, X, Y};
use crate::geometry::Point2;

/// A band nearer than this to a line may be that line, pixels.
const NEAR: f64 = 6.0;
/// A band nearer than this might become a line when it is taken for it, pixels.
const FARTHER: f64 = 45.0;
/// Share of a band's points that must lie within the line's ends.
const WITHIN: f64 = 0.74;
/// How far beyond a line's ends its band may seem to reach, metres: here, and per metre of distance.
const BEYOND: (f64, f64) = (0.2, 0.02);
/// Two bands that overlap by more than this share of the shorter one are not the same line.
pub(super) const OVERLAP: f64 = 0.3;
/// Shorter bands on the court mean nothing, share of the picture's longer side.
const LONG: f64 = 0.06;
/// A band this near to a line lies along it, metres, and per metre of distance.
const ALONG_LINE: (f64, f64) = (0.15, 0.01);
/// Widths of paint, metres, of a baseline and of other lines; how far blur moves a width, and how wide it makes the narrowest
/// bands, pixels.
const BASE_PAINT_RANGE: (f64, f64) = (0.03, 0.13);
const PAINT_RANGE: (f64, f64) = (0.025, 0.08);
const BLUR: f64 = 1.2;
const BLURRED: f64 = 2.2;
/// Places along a line at which paint is looked for.
const PLACES: usize = 70;
/// Narrower paint can't be expected to show, pixels.
const NARROWEST: f64 = 0.8;
/// Contrast at which paint begins to be seen and at which it is seen surely, grey levels.
const SEEN: (f32, f32) = (4.0, 14.0);
/// How much paint counts that is seen through the net.
const THROUGH_NET: f64 = 0.35;
/// Height of the net, metres.
const NET_TOP: f64 = 1.0;
/// Half of the height over which the band along its top may hide what lies behind: its own width and how differently nets hang, metres.
const TAPE_HIDES: f64 = 0.12;
/// How far beyond the net's ends what belongs to it may seem to lie, metres.
const NET_BEYOND: f64 = 0.25;
/// Points nearer to the lens than this are not looked at, metres.
const NEAREST: f64 = 0.3;
/// Paint that is seen on fewer pixels says nothing.
const SHORTEST: f64 = 12.0;

/// What it is worth to explain a band: long and clear ones are seldom an accident.
pub(super) fn worth(band: &Band, setting: &Setting) -> f64 {
    let length = band.length() * 1280.0 / setting.longer();
    (4.0 + 0.03 * length).min(14.0) * (band.contrast / 25.0).min(1.0)
}

/// A band that may be a line: how far off it is, pixels, and from where to where along the line it reaches, metres.
struct Match {
    off: f64,
    band: usize,
    line: Line,
    reach: (f64, f64),
}

/// The bands that lie within some pixels of lines, as wide as those.
fn matches(pose: &Pose, bands: &[Band], setting: &Setting, near: f64) -> Vec<Match> {
    let view = View::new(*pose);
    let near = near * (setting.longer() / 1280.0).max(0.75);
    let mut found = Vec::new();
    for (index, band) in bands.iter().enumerate() {
        found.extend(as_tape(&view, band, index, near));
        if !band.on_ground {
            continue;
        }
        let points: Vec<Point2> = band.middles().collect();
        let Some(ground) = points.iter().map(|p| view.on_ground(*p)).collect::<Option<Vec<_>>>() else {
            continue;
        };
        for line in Line::painted() {
            let plane = view.plane(line, super::pose::Edge::Middle);
            let squares = points.iter().map(|p| view.off(&plane, *p).powi(2)).sum::<f64>();
            let off = (squares / points.len() as f64).sqrt();
            if off > near {
                continue;
            }
            if !wide_enough(&view, pose, band, line) {
                continue;
            }
            let along = |g: &(f64, f64, f64)| if line.is_along() { g.1 } else { g.0 };
            let (from, to) = line.extent();
            let inside = |g: &&(f64, f64, f64)| {
                let margin = BEYOND.0 + BEYOND.1 * g.2;
                from - margin < along(g) && along(g) < to + margin
            };
            if (ground.iter().filter(inside).count() as f64) < WITHIN * points.len() as f64 {
                continue;
            }
            let low = ground.iter().map(along).fold(f64::MAX, f64::min);
            let high = ground.iter().map(along).fold(f64::MIN, f64::max);
            found.push(Match { off, band: index, line, reach: (low, high) });
        }
    }
    found.sort_by(|a, b| a.off.total_cmp(&b.off));
    found
}

/// A band as the one along the net's top, if it lies there.
fn as_tape(view: &View<f64>, band: &Band, index: usize, near: f64) -> Option<Match> {
    let points: Vec<Point2> = band.middles().collect();
    let places = points.iter().map(|p| view.on_net(*p)).collect::<Option<Vec<_>>>()?;
    let squares = points.iter().zip(&places).map(|(p, [x, ..])| view.off(&view.tape(*x), *p).powi(2));
    let off = (squares.sum::<f64>() / points.len() as f64).sqrt();
    let reach = places.iter().fold((f64::MAX, f64::MIN), |(a, b), [x, ..]| (a.min(*x), b.max(*x)));
    let away = places.iter().map(|[.., away]| away).sum::<f64>() / places.len() as f64;
    let (least, most) = (TAPE.0 * view.focal / away, TAPE.1 * view.focal / away);
    let is_wide = band.width() > 0.8 * least - BLUR && band.width() < most.hypot(BLURRED) + BLUR;
    let is_there = off <= near && is_wide && -POST - NET_BEYOND < reach.0 && reach.1 < POST + NET_BEYOND;
    is_there.then_some(Match { off, band: index, line: Line::Net, reach })
}

/// Which band is which line, each line's bands beside each other, the nearest pairs first.
pub(super) fn assign(pose: &Pose, bands: &[Band], setting: &Setting) -> Vec<(usize, Line)> {
    let mut taken: Vec<Match> = Vec::new();
    for new in matches(pose, bands, setting, NEAR) {
        let overlaps = |other: &Match| other.line == new.line && overlap(new.reach, other.reach) > OVERLAP;
        if !taken.iter().any(|other| other.band == new.band || overlaps(other)) {
            taken.push(new);
        }
    }
    let mut named: Vec<(usize, Line)> = taken.into_iter().map(|m| (m.band, m.line)).collect();
    named.sort_unstable();
    named
}

/// How much two stretches of a line overlap, as a share of the shorter one; negative where they are apart.
pub(super) fn overlap((low, high): (f64, f64), (from, to): (f64, f64)) -> f64 {
    (high.min(to) - low.max(from)) / (high - low).min(to - from).max(1e-9)
}

/// The bands that are no line yet and lie not too far from one: what might be added to a fit.
pub(super) fn additions(
    pose: &Pose,
    named: &[(usize, Line)],
    bands: &[Band],
    setting: &Setting,
) -> Vec<(usize, Line)> {
    matches(pose, bands, setting, FARTHER)
        .into_iter()
        .map(|m| (m.band, m.line))
        .filter(|(band, line)| named.iter().all(|(other, taken)| other != band && taken != line))
        .collect()
}

/// Whether a band is about as wide as the line's paint would be in its middle.
fn wide_enough(view: &View<f64>, pose: &Pose, band: &Band, line: Line) -> bool {
    let Some((x, y)) = view.ground(band.middle()) else { return false };
    let paint = if line.is_base() { BASE_PAINT_RANGE } else { PAINT_RANGE };
    let place = |beside: f64| if line.is_along() { [x + beside, y, 0.0] } else { [x, y + beside, 0.0] };
    let normal = {
        let d = band.direction();
        Point2::new(-d.y, d.x)
    };
    let width = |paint: f64| {
        let (a, b) = (project(view, pose, place(-0.5 * paint))?, project(view, pose, place(0.5 * paint))?);
        Some(((b.x - a.x) * normal.x + (b.y - a.y) * normal.y).abs())
    };
    let (Some(least), Some(most)) = (width(paint.0), width(paint.1)) else { return false };
    // Blur makes narrow bands wider.
    band.width() > 0.8 * least - BLUR && band.width() < most.hypot(BLURRED) + BLUR
}

/// The worth of the bands on the court that are no line of it. Short ones don't count: letters and shadows leave many.
pub(super) fn unexplained(pose: &Pose, named: &[(usize, Line)], bands: &[Band], setting: &Setting) -> f64 {
    let view = View::new(*pose);
    let sees_net = sees_net(named);
    let foreign = |(index, band): &(usize, &Band)| {
        band.on_ground
            && band.length() > LONG * setting.longer()
            && !(sees_net && on_net(&view, band))
            && named.iter().all(|(other, _)| other != index)
            && on_court(&view, band)
            && !Line::painted().any(|line| lies_on(&view, band, line))
    };
    bands.iter().enumerate().filter(foreign).map(|(_, band)| worth(band, setting)).sum()
}

/// Whether a band lies along a line, if not as well as it should: another part of it, or one of its edges.
fn lies_on(view: &View<f64>, band: &Band, line: Line) -> bool {
    let near = |p: Point2| {
        view.on_ground(p).is_some_and(|(x, y, far)| {
            let off = (if line.is_along() { x } else { y }) - line.place();
            off.abs() < ALONG_LINE.0 + ALONG_LINE.1 * far
        })
    };
    band.ends.iter().all(|p| near(*p))
}

/// Whether a band was taken for the one along the net's top.
pub(super) fn sees_net(named: &[(usize, Line)]) -> bool {
    named.iter().any(|(_, line)| *line == Line::Net)
}

/// Whether a band lies in the plane of the net, as its straps and its lower edge do.
fn on_net(view: &View<f64>, band: &Band) -> bool {
    let inside = |p: &Point2| {
        view.on_net(*p).is_some_and(|[x, z, _]| {
            x.abs() < POST + NET_BEYOND && (-NET_BEYOND..NET_TOP + NET_BEYOND).contains(&z)
        })
    };
    band.ends.iter().all(inside)
}

fn on_court(view: &View<f64>, band: &Band) -> bool {
    let inside = |p: Point2| {
        view.ground(p).is_some_and(|(x, y)| x.abs() < DOUBLES + 0.3 && (-0.3..2.0 * NET + 0.3).contains(&y))
    };
    band.ends.iter().all(|p| inside(*p)) && inside(band.middle())
}

/// How much paint is missing.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Absent {
    /// Sum over the lines of the square root of the length in pixels, times the share that is not there.
    pub missing: f64,
    /// The same of all that should be there.
    pub expected: f64,
}

/// The paint that a pose expects in the picture and that isn't there, looked for up to `reach` pixels beside its place. The band along the net's
/// top counts as paint; where it was seen, `sees_net`, it hides others.
pub(super) fn absent(pose: &Pose, sees_net: bool, plane: &Plane, empty: &Empty, reach: f64) -> Absent {
    let view = View::new(*pose);
    let height = pose[LOG_HEIGHT].exp();
    let mut all = Absent::default();
    for line in Line::ALL.into_iter().filter(|line| *line != Line::Mark) {
        let is_net = line == Line::Net;
        let paint = match line {
            Line::Net => TAPE.0,
            _ => pose[if line.is_base() { BASE_PAINT } else { PAINT }],
        };
        let place = line.place() + 0.5 * paint * line.paint_side();
        let (from, to) = line.extent();
        let at = |share: f64, beside: f64| {
            let along = from + share * (to - from);
            match line {
                Line::Net => [along, place, beside + view.tape_height(along)],
                _ if line.is_along() => [place + beside, along, 0.0],
                _ => [along, place + beside, 0.0],
            }
        };
        let (mut length, mut seen) = (0.0, 0.0);
        let mut last: Option<Point2> = None;
        for k in 0..=PLACES {
            // Closer together where the line is near the camera matters little: steps count by their length in pixels.
            let share = k as f64 / PLACES as f64;
            let ground = at(share, 0.0);
            let here = project(&view, pose, ground).filter(|p| inside(*p, plane));
            let before = std::mem::replace(&mut last, here);
            let (Some(here), Some(before)) = (here, before) else { continue };
            let Some(beside) = project(&view, pose, at(share, 0.5 * paint)) else { continue };
            let step = here.distance(before);
            if step < 1e-6 {
                continue;
            }
            let normal = Point2::new(-(here.y - before.y) / step, (here.x - before.x) / step);
            let half = ((beside.x - here.x) * normal.x + (beside.y - here.y) * normal.y).abs();
            if 2.0 * half < NARROWEST || empty.hides(here) || sees_net && !is_net && behind_tape(&view, here)
            {
                continue;
            }
            let mut weight = step.min(60.0);
            // What is beyond the net's top may be as bright.
            if is_net || behind_net(pose, height, ground) {
                weight *= THROUGH_NET;
            }
            length += weight;
            seen += weight * f64::from(clarity(plane, here, normal, half, reach));
        }
        if length > SHORTEST {
            all.expected += length.sqrt();
            all.missing += length.sqrt() * (1.0 - seen / length);
        }
    }
    all
}

/// How surely there is something bright and thin at a place, 0 to 1.
fn clarity(plane: &Plane, at: Point2, normal: Point2, half: f64, reach: f64) -> f32 {
    let read = |shift: f64| plane.linear(at.x + shift * normal.x, at.y + shift * normal.y);
    let outside = half + 2.0 + 0.25 * half;
    let steps = reach.ceil() as i64;
    let best = (-steps..=steps)
        .map(|k| {
            let shift = k as f64 * reach / steps as f64;
            read(shift) - read(shift - outside).max(read(shift + outside))
        })
        .fold(f32::MIN, f32::max);
    ((best - SEEN.0) / (SEEN.1 - SEEN.0)).clamp(0.0, 1.0)
}

fn inside(p: Point2, plane: &Plane) -> bool {
    (6.0..plane.width as f64 - 7.0).contains(&p.x) && (6.0..plane.height as f64 - 7.0).contains(&p.y)
}

/// Whether the band along the net's top hides what lies there.
fn behind_tape(view: &View<f64>, at: Point2) -> bool {
    view.on_net(at).is_some_and(|[x, z, away]| {
        let beyond = view.on_ground(at).is_none_or(|(.., far)| far > away);
        beyond && x.abs() < POST && (z - NET_TOP).abs() < TAPE_HIDES
    })
}

fn behind_net(pose: &Pose, height: f64, ground: [f64; 3]) -> bool {
    let share = (NET - pose[Y]) / (ground[1] - pose[Y]);
    (0.0..1.0).contains(&share) && height * (1.0 - share) < NET_TOP
}

fn project(view: &View<f64>, pose: &Pose, place: [f64; 3]) -> Option<Point2> {
    let from = [place[0] - pose[X], place[1] - pose[Y], place[2] - view.height];
    let [right, down, away] = view.axes.map(|a| a[0] * from[0] + a[1] * from[1] + a[2] * from[2]);
    if away < NEAREST {
        return None;
    }
    let (u, v) = (right / away, down / away);
    let r2 = u * u + v * v;
    let k1 = pose[super::pose::K1];
    (1.0 + 3.0 * k1 * r2 > 0.0).then(|| {
        let stretch = view.focal * (1.0 + k1 * r2);
        Point2::new(pose[super::pose::CX] + stretch * u, pose[super::pose::CY] + stretch * v)
    })
}
