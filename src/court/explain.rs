//! How much of the bands a guess explains, before it is fitted to any of them.

use super::band::Band;
use super::guess::{Glass, Guess};
use super::judge::{OVERLAP, overlap};
use super::paint::Line;
use super::pose::{Edge, Pose, Setting, View, X, Y};

/// Where a guess and a band differ by this share of the picture's longer side, the guess hardly explains it, and not at all where by so
/// many times that.
const OFF: f64 = 0.0064;
const FAR_OFF: f64 = 2.6;
/// How far beyond a line's end a band may reach in a guess, metres, and per metre of distance.
const BEYOND: (f64, f64) = (0.3, 0.05);
/// A band may be so much wider than the line's paint would usually be, as a factor and in pixels.
const WIDER: (f64, f64) = (2.2, 3.0);
/// What explains a band hardly is no explanation.
const LEAST: f64 = 0.05;

/// A band that a guess explains: how well, as which line, and from where to where along it, metres.
struct Explained {
    well: f64,
    line: Line,
    reach: (f64, f64),
}

/// How much of the bands a guess explains, by their worths, and as which lines.
pub(super) fn explained(
    guess: &Guess,
    glass: &Glass,
    bands: &[Band],
    worths: &[f64],
    setting: &Setting,
) -> (f64, Vec<Option<Line>>) {
    let view = View::new(guess.pose);
    let planes: Vec<(Line, [f64; 3])> =
        Line::painted().map(|line| (line, view.plane(line, Edge::Middle))).collect();
    let off = OFF * setting.longer() / glass.focal;
    let mut sum = 0.0;
    let mut taken: Vec<(Line, (f64, f64))> = Vec::with_capacity(bands.len());
    let named = glass.ends.iter().zip(worths).zip(bands).map(|((ends, worth), band)| {
        let best = as_line(&view, &guess.pose, &planes, ends, band, off)?;
        // Another band beside one of the same line is not that line, too.
        if taken.iter().any(|(line, reach)| *line == best.line && overlap(*reach, best.reach) > OVERLAP) {
            return None;
        }
        taken.push((best.line, best.reach));
        sum += 2.0 * best.well * worth;
        Some(best.line)
    });
    let named = named.collect();
    (sum, named)
}

fn as_line(
    view: &View<f64>,
    pose: &Pose,
    planes: &[(Line, [f64; 3])],
    ends: &[[f64; 3]; 2],
    band: &Band,
    off: f64,
) -> Option<Explained> {
    let rays = ends.map(|end| view.in_court((end[0], end[1])));
    let error = |end: usize, plane: &[f64; 3]| ends[end][0] * plane[0] + ends[end][1] * plane[1] + plane[2];
    let well = |a: f64, b: f64| (-0.5 * (a.abs().max(b.abs()) / off).powi(2)).exp();
    let tape = view.across_net(&rays).map(|[a, b]| {
        let well = well(error(0, &view.tape(a)), error(1, &view.tape(b)));
        Explained { well, line: Line::Net, reach: (a.min(b), a.max(b)) }
    });
    let mut best = tape.filter(|tape| tape.well > LEAST);
    for (line, plane) in planes.iter().filter(|_| band.on_ground) {
        let errors = [error(0, plane), error(1, plane)];
        let well = well(errors[0], errors[1]);
        if errors.iter().any(|e| e.abs() > FAR_OFF * off) || well <= best.as_ref().map_or(LEAST, |b| b.well) {
            continue;
        }
        let Some(reach) = reach(view, pose, &rays, *line) else { continue };
        let [outer, inner] = [Edge::Outer, Edge::Inner].map(|edge| view.plane(*line, edge));
        let usual = [0, 1].map(|end| (error(end, &outer) - error(end, &inner)).abs() * view.focal);
        if band.width() < WIDER.0 * 0.5 * (usual[0] + usual[1]) + WIDER.1 {
            best = Some(Explained { well, line: *line, reach });
        }
    }
    best
}

/// From where to where along a line two rays meet the ground, metres; `None` where they don't or where that is beyond its ends.
fn reach(view: &View<f64>, pose: &Pose, rays: &[[f64; 3]; 2], line: Line) -> Option<(f64, f64)> {
    let axis = usize::from(line.is_along());
    let (from, to) = line.extent();
    let along = |ray: &[f64; 3]| {
        let far = view.height / -ray[2];
        let at = pose[[X, Y][axis]] + far * ray[axis];
        let margin = BEYOND.0 + BEYOND.1 * far;
        (far > 0.0 && from - margin < at && at < to + margin).then_some(at)
    };
    let (a, b) = (along(&rays[0])?, along(&rays[1])?);
    Some((a.min(b), a.max(b)))
}
