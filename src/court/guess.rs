//! Guesses of which line is which: poses to start a fit from.

use super::assume::Lens;
use super::band::Band;
use super::paint::{Line, NET, TAPE_HEIGHT};
use super::pose::{
    CX, CY, K1, LOG_FOCAL, LOG_HEIGHT, PITCH, Pose, ROLL, Setting, USUAL_BASE_PAINT, USUAL_LOG_HEIGHT,
    USUAL_PAINT, USUAL_PITCH, USUAL_ROLL, X, Y, YAW,
};
use crate::geometry::{Point2, undistorted};

/// Focal lengths tried around a hump's middle, as shares of it.
const STEPS: [f64; 3] = [0.87, 1.0, 1.15];
/// Barrel distortion tried for ultra-wide lenses.
const BARREL: f64 = -0.12;
/// A hump this wide or wider is covered by the others.
const ANYTHING: f64 = 0.5;
/// Bands that guesses are made from, strongest first.
const MOST_BANDS: usize = 8;
/// Largest roll and range of pitch that are tried, radians.
const MOST_ROLL: f64 = 0.14;
const PITCHES: (f64, f64) = (-0.75, 0.28);
/// Steps of the pitch where the lines leave it open, degrees: for usual and for long lenses.
const PITCH_STEPS: (f64, f64) = (0.7, 0.4);
/// Rolls tried with two lines, degrees.
const ROLLS: [f64; 11] = [-5.0, -4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
/// Heights tried where nobody tells the size, metres.
const HEIGHTS: [f64; 6] = [0.4, 0.8, 1.3, 1.9, 2.7, 3.8];
/// Most by which a height may differ from what the player says, as a factor.
const HEIGHT_OFF: f64 = 1.7;
/// Where players stand, metres from their baseline and from the centre line.
const STANDS_ALONG: [f64; 6] = [-0.5, 2.0, 4.5, 6.5, 8.0, 9.5];
const STANDS_ACROSS: [f64; 3] = [-2.5, 0.0, 2.5];
/// How far beyond a line's ends the band that it was guessed from may reach, metres, and per metre of distance.
const BEYOND: (f64, f64) = (0.6, 0.08);

type Vector = [f64; 3];

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn unit(a: Vector) -> Option<Vector> {
    let length = dot(a, a).sqrt();
    (length > 1e-9).then(|| a.map(|v| v / length))
}

/// A lens that is tried, with what the bands look like through it.
pub(super) struct Glass {
    pub lens: usize,
    pub focal: f64,
    pub k1: f64,
    /// Directions of the ends of each band, per unit along the optical axis.
    pub ends: Vec<[Vector; 2]>,
    /// Whether each band may lie on the ground.
    on_ground: Vec<bool>,
    /// Normal of the plane through the lens and each band.
    normals: Vec<Vector>,
    foot: Vector,
    head: Vector,
}

/// The lenses that are tried.
pub(super) fn glasses(setting: &Setting, lenses: &[Lens], bands: &[Band]) -> Vec<Glass> {
    let middle = setting.middle();
    let narrow = lenses.len() == 1;
    let mut found = Vec::new();
    for (index, lens) in lenses.iter().enumerate() {
        if lens.spread >= ANYTHING && !narrow {
            continue;
        }
        let bends: &[f64] = if lens.bend > 0.05 { &[0.0, BARREL] } else { &[0.0] };
        for (step, k1) in STEPS.iter().flat_map(|s| bends.iter().map(move |k| (*s, *k))) {
            let step = 1.0 + (step - 1.0) * (lens.spread / 0.13).min(1.6);
            let focal = lens.share * step * setting.longer();
            let ray = |p: Point2| {
                let (u, v) = undistorted(k1, (p.x - middle.x) / focal, (p.y - middle.y) / focal);
                [u, v, 1.0]
            };
            let ends: Vec<[Vector; 2]> = bands.iter().map(|b| b.ends.map(ray)).collect();
            let normals = ends.iter().map(|[a, b]| unit(cross(*a, *b)).unwrap_or([0.0, 1.0, 0.0])).collect();
            let (foot, head) = setting.player.map_or(([0.0; 3], [0.0; 3]), |p| (ray(p.foot), ray(p.head)));
            let on_ground = bands.iter().map(|b| b.on_ground).collect();
            found.push(Glass { lens: index, focal, k1, ends, on_ground, normals, foot, head });
        }
    }
    found
}

/// Which way is up, and which bands run toward the net and across.
enum Orientation {
    /// Two bands square to each other, perhaps a band parallel to one of them: which, and whether to the one that runs toward
    /// the net.
    Square { up: Vector, along: usize, across: usize, third: Option<(usize, bool)> },
    /// Two parallel bands only, and whether they run toward the net.
    Parallel { up: Vector, pair: [usize; 2], is_along: bool },
}

/// A pose to start from, and what it was made from.
#[derive(Debug, Clone)]
pub(super) struct Guess {
    pub pose: Pose,
    pub glass: usize,
    pub own: [Option<(usize, Line)>; 3],
}

/// All guesses.
pub(super) fn guesses(setting: &Setting, glasses: &[Glass], mut add: impl FnMut(Guess)) {
    for (index, glass) in glasses.iter().enumerate() {
        for orientation in orientations(glass, setting) {
            for sign in [1.0, -1.0] {
                // What has no place on the ground is no guess.
                let _ = places(setting, glass, index, &orientation, sign, &mut add);
            }
        }
    }
}

fn up_of(pitch: f64, roll: f64) -> Vector {
    [roll.sin() * pitch.cos(), -roll.cos() * pitch.cos(), pitch.sin()]
}

fn plausible(up: Vector) -> bool {
    let (roll, pitch) = (up[0].atan2(-up[1]), up[2].clamp(-1.0, 1.0).asin());
    roll.abs() < MOST_ROLL && (PITCHES.0..PITCHES.1).contains(&pitch)
}

fn orientations(glass: &Glass, setting: &Setting) -> Vec<Orientation> {
    let n = &glass.normals;
    let on_ground: Vec<usize> = (0..n.len()).filter(|k| glass.on_ground[*k]).take(MOST_BANDS).collect();
    let tapes = (0..n.len()).filter(|k| !glass.on_ground[*k]);
    let chosen: Vec<usize> = on_ground.iter().copied().chain(tapes).collect();
    let mut found = Vec::new();
    let mut both = |up, pair: (usize, usize), square: usize| {
        let [a, b, c] = [pair.0, pair.1, square].map(|k| glass.on_ground[k]);
        if a && b {
            found.push(Orientation::Square {
                up,
                along: pair.0,
                across: square,
                third: Some((pair.1, true)),
            });
        }
        // The net runs across, and there is but one.
        if c && (a || b) {
            found.push(Orientation::Square {
                up,
                along: square,
                across: pair.0,
                third: Some((pair.1, false)),
            });
        }
    };
    let long = glass.focal > 1.1 * setting.longer();
    let step = if long { PITCH_STEPS.1 } else { PITCH_STEPS.0 };
    for (place, i) in chosen.iter().copied().enumerate() {
        for other in chosen[place + 1..].iter().copied() {
            // Two parallel lines meet at their direction.
            let Some(way) = unit(cross(n[i], n[other])) else { continue };
            for square in chosen.iter().copied().filter(|k| *k != i && *k != other) {
                let level = cross(n[square], way);
                let sure = dot(level, level).sqrt();
                if sure < 0.15 && i.max(other).max(square) < 6 {
                    // The third line passes through their vanishing point: the pitch is open.
                    for k in 0..=(36.0 / step) as usize {
                        let up = up_of((-24.0 + step * k as f64).to_radians(), 0.0);
                        let off = dot(up, way);
                        let Some(up) = unit([0, 1, 2].map(|k| up[k] - off * way[k])) else { continue };
                        if up[0].atan2(-up[1]).abs() < 0.12 {
                            both(up, (i, other), square);
                        }
                    }
                }
                if sure < 0.05 {
                    continue;
                }
                let Some(up) = unit(cross(level, way)) else { continue };
                let up = if up[1] > 0.0 { up.map(|v| -v) } else { up };
                if plausible(up) {
                    both(up, (i, other), square);
                }
            }
        }
    }
    two_lines(glass, &chosen, &mut found);
    parallel_lines(n, on_ground.len(), &mut found);
    found
}

/// Two parallel lines, for a few rolls: the direction in which they meet is level, which gives the pitch.
fn parallel_lines(n: &[Vector], count: usize, found: &mut Vec<Orientation>) {
    for (i, j) in (0..count).flat_map(|i| (i + 1..count).map(move |j| (i, j))) {
        let Some(way) = unit(cross(n[i], n[j])) else { continue };
        for roll in ROLLS.map(f64::to_radians) {
            // (sin r cos p, −cos r cos p, sin p) · way = 0
            let (level, forward) = (roll.sin() * way[0] - roll.cos() * way[1], way[2]);
            if forward.abs() < 0.3 {
                continue;
            }
            let up = up_of((-level / forward).atan(), roll);
            if plausible(up) {
                found.extend([true, false].map(|is_along| Orientation::Parallel {
                    up,
                    pair: [i, j],
                    is_along,
                }));
            }
        }
    }
}

/// The pitches at which two lines are square to each other, for a few rolls.
fn two_lines(glass: &Glass, chosen: &[usize], found: &mut Vec<Orientation>) {
    let n = &glass.normals;
    let pairs = |(place, i): (usize, &usize)| {
        let i = *i;
        chosen[place + 1..].iter().map(move |j| (i, *j))
    };
    let degrees = |k: usize| (-40.0 + k as f64).to_radians();
    for roll in ROLLS {
        let ups: Vec<Vector> = (0..=55).map(|k| up_of(degrees(k), roll.to_radians())).collect();
        for (i, j) in chosen.iter().enumerate().flat_map(pairs) {
            let square = |up: &Vector| Some(dot(unit(cross(n[i], *up))?, unit(cross(n[j], *up))?));
            let cosines: Vec<f64> = ups.iter().map(|up| square(up).unwrap_or(1.0)).collect();
            let mut both = |up| {
                let mut add = |along: usize, across| {
                    if glass.on_ground[along] {
                        found.push(Orientation::Square { up, along, across, third: None });
                    }
                };
                add(i, j);
                add(j, i);
            };
            for k in 1..cosines.len() {
                let (a, b) = (cosines[k - 1], cosines[k]);
                if a.signum() != b.signum() && a.abs() < 0.5 && b.abs() < 0.5 {
                    both(up_of(degrees(k - 1) + (a / (a - b)).to_radians(), roll.to_radians()));
                }
            }
            let flat: Vec<usize> = (0..cosines.len()).filter(|k| cosines[*k].abs() < 0.03).collect();
            if flat.len() > 6 {
                flat.iter().step_by(2).for_each(|k| both(ups[*k]));
            }
        }
    }
}

/// What an orientation makes of the bands: the court's axes as the camera has them, and ground per metre of height.
struct Ground<'a> {
    glass: &'a Glass,
    axes: [Vector; 3],
    /// The player's feet, and the heights of the camera that the player's size, or nothing, leaves open.
    foot: Option<(f64, f64)>,
    heights: Vec<f64>,
}

impl<'a> Ground<'a> {
    /// With the net in the direction square to `up` in the plane of a band's normal turned by the sign.
    fn new(setting: &Setting, glass: &'a Glass, up: Vector, toward: Vector) -> Option<Self> {
        let mut ground =
            Self { glass, axes: [cross(toward, up), toward, up], foot: None, heights: HEIGHTS.to_vec() };
        if let Some(player) = &setting.player {
            let (at, head) = (ground.at(glass.foot)?, ground.turn(glass.head));
            let share = 1.0 + at.0.hypot(at.1) * head[2] / head[0].hypot(head[1]);
            if share < 0.05 {
                return None;
            }
            ground.heights = vec![player.head_height.0.0 / share];
            ground.foot = Some(at);
        }
        Some(ground)
    }

    fn turn(&self, ray: Vector) -> Vector {
        self.axes.map(|axis| dot(ray, axis))
    }

    fn at(&self, ray: Vector) -> Option<(f64, f64)> {
        let [x, y, z] = self.turn(ray);
        (z < -1e-3).then(|| (x / -z, y / -z))
    }

    /// The ground under both ends of a band.
    fn ends(&self, band: usize) -> Option<[(f64, f64); 2]> {
        let [a, b] = self.glass.ends[band].map(|ray| self.at(ray));
        Some([a?, b?])
    }

    /// The same of a band that may be along the net's top, and so above the camera: what lies `lift` higher than the ground lies in its
    /// direction times the camera's height over that.
    fn lifted_ends(&self, band: usize) -> Option<[(f64, f64); 2]> {
        let at = |ray| {
            let [x, y, z] = self.turn(ray);
            (z.abs() > 1e-3).then(|| (x / -z, y / -z))
        };
        let [a, b] = self.glass.ends[band].map(at);
        Some([a?, b?])
    }

    fn likely(&self, height: f64) -> bool {
        let near = |h: &f64| (1.0 / HEIGHT_OFF..HEIGHT_OFF).contains(&(height / h));
        (0.2..7.0).contains(&height) && self.heights.iter().any(near)
    }

    /// The pose with the camera at a place, if the player then stands where players do.
    fn pose(&self, setting: &Setting, height: f64, x: f64, y: f64) -> Option<Pose> {
        if x.abs() > 30.0 || !(-25.0..NET + 35.0).contains(&y) {
            return None;
        }
        if let Some(at) = self.foot
            && (!(-8.0..NET - 0.3).contains(&(y + height * at.1)) || (x + height * at.0).abs() > 9.0)
        {
            return None;
        }
        let mut pose = [0.0; super::dual::COUNT];
        pose[LOG_FOCAL] = self.glass.focal.ln();
        pose[YAW] = self.axes[0][2].atan2(self.axes[1][2]);
        pose[PITCH] = self.axes[2][2].clamp(-1.0, 1.0).asin();
        pose[ROLL] = self.axes[2][0].atan2(-self.axes[2][1]);
        (pose[X], pose[Y], pose[LOG_HEIGHT], pose[K1]) = (x, y, height.ln(), self.glass.k1);
        (pose[CX], pose[CY]) = (setting.middle().x, setting.middle().y);
        (pose[super::pose::PAINT], pose[super::pose::BASE_PAINT]) = (USUAL_PAINT.0, USUAL_BASE_PAINT.0);
        Some(pose)
    }
}

/// How high a line that runs across lies over the ground, metres.
fn lift(line: Line) -> f64 {
    if line == Line::Net { 0.5 * (TAPE_HEIGHT.0 + TAPE_HEIGHT.1) } else { 0.0 }
}

fn mean(ends: [(f64, f64); 2], x: bool) -> f64 {
    0.5 * if x { ends[0].0 + ends[1].0 } else { ends[0].1 + ends[1].1 }
}

/// The lines that run one way and are long enough to guess from.
fn lines(toward_net: bool) -> impl Iterator<Item = Line> {
    Line::painted().filter(move |line| *line != Line::Mark && line.is_along() == toward_net)
}

/// Whether ground that lies `ground` metres from the camera per metre of its height can be on a line, at a place along it.
fn within(at: f64, line: Line, height: f64, ground: &(f64, f64)) -> bool {
    let beyond = BEYOND.0 + BEYOND.1 * height * ground.0.hypot(ground.1);
    line.extent().0 - beyond < at && at < line.extent().1 + beyond
}

/// The poses with an orientation: which line each of its bands is, how high and where the camera is.
fn places(
    setting: &Setting,
    glass: &Glass,
    index: usize,
    orientation: &Orientation,
    sign: f64,
    add: &mut impl FnMut(Guess),
) -> Option<()> {
    match *orientation {
        Orientation::Square { up, along, across, third } => {
            let toward = unit(cross(glass.normals[along], up))?.map(|v| v * sign);
            let ground = Ground::new(setting, glass, up, toward)?;
            square_places(setting, &ground, (along, across, third), |pose, own| {
                add(Guess { pose, glass: index, own })
            })
        }
        Orientation::Parallel { up, pair, is_along } => {
            let way = unit(cross(glass.normals[pair[0]], up))?.map(|v| v * sign);
            let toward = if is_along { way } else { cross(up, way) };
            let ground = Ground::new(setting, glass, up, toward)?;
            parallel_places(setting, &ground, pair, is_along, |pose, own| {
                add(Guess { pose, glass: index, own })
            })
        }
    }
}

type Own = [Option<(usize, Line)>; 3];

fn square_places(
    setting: &Setting,
    ground: &Ground,
    (along, across, third): (usize, usize, Option<(usize, bool)>),
    mut add: impl FnMut(Pose, Own),
) -> Option<()> {
    let (along_ends, across_ends) = (ground.ends(along)?, ground.lifted_ends(across)?);
    let across_lines = |band: usize| {
        let painted = lines(false).filter(move |_| ground.glass.on_ground[band]);
        painted.chain([Line::Net])
    };
    let (x, y) = (mean(along_ends, true), mean(across_ends, false));
    let mut all: Vec<(f64, Line, Line, Option<Line>)> = Vec::new();
    match third {
        None => {
            for (a, c) in lines(true).flat_map(|a| across_lines(across).map(move |c| (a, c))) {
                all.extend(ground.heights.iter().map(|h| (*h, a, c, None)));
            }
        }
        Some((band, is_along)) => {
            if is_along {
                let apart = mean(ground.ends(band)?, true) - x;
                for (first, second) in lines(true).flat_map(|a| lines(true).map(move |b| (a, b))) {
                    let height = (second.place() - first.place()) / apart;
                    if first != second && ground.likely(height) {
                        all.extend(across_lines(across).map(|c| (height, first, c, Some(second))));
                    }
                }
            } else {
                let third = mean(ground.lifted_ends(band)?, false);
                for (first, second) in
                    across_lines(across).flat_map(|a| across_lines(band).map(move |b| (a, b)))
                {
                    // From place = camera + (height − lift) · ground for both.
                    let lifts = lift(second) * third - lift(first) * y;
                    let height = (second.place() - first.place() + lifts) / (third - y);
                    if first != second && ground.likely(height) {
                        all.extend(lines(true).map(|a| (height, a, first, Some(second))));
                    }
                }
            }
        }
    }
    for (height, a, c, second) in all {
        let above = height - lift(c);
        let (camera_x, camera_y) = (a.place() - height * x, c.place() - above * y);
        let reaches = along_ends.iter().all(|g| within(camera_y + height * g.1, a, height, g))
            && across_ends.iter().all(|g| within(camera_x + above * g.0, c, above.abs(), g));
        if let Some(pose) = ground.pose(setting, height, camera_x, camera_y).filter(|_| reaches) {
            let third = third.and_then(|(band, _)| Some((band, second?)));
            add(pose, [Some((along, a)), Some((across, c)), third]);
        }
    }
    Some(())
}

/// With parallel lines only, where the camera is along them comes from where players stand.
fn parallel_places(
    setting: &Setting,
    ground: &Ground,
    pair: [usize; 2],
    is_along: bool,
    mut add: impl FnMut(Pose, Own),
) -> Option<()> {
    let (foot, ends) = (ground.foot?, [ground.ends(pair[0])?, ground.ends(pair[1])?]);
    let at = ends.map(|ends| mean(ends, is_along));
    for (first, second) in lines(is_along).flat_map(|a| lines(is_along).map(move |b| (a, b))) {
        let height = (second.place() - first.place()) / (at[1] - at[0]);
        if first == second || !ground.likely(height) {
            continue;
        }
        let fixed = first.place() - height * at[0];
        let stands: &[f64] = if is_along { &STANDS_ALONG } else { &STANDS_ACROSS };
        for stand in stands {
            let (x, y) =
                if is_along { (fixed, stand - height * foot.1) } else { (stand - height * foot.0, fixed) };
            let reach = |ends: [(f64, f64); 2], line: Line| {
                ends.iter().all(|g| {
                    within(if is_along { y + height * g.1 } else { x + height * g.0 }, line, height, g)
                })
            };
            if let Some(pose) = ground.pose(setting, height, x, y)
                && reach(ends[0], first)
                && reach(ends[1], second)
            {
                add(pose, [Some((pair[0], first)), Some((pair[1], second)), None]);
            }
        }
    }
    Some(())
}

/// How likely a pose is before anything is seen, logarithm (up to a constant).
pub(super) fn prior(pose: &Pose) -> f64 {
    let square = |value: f64, mean: f64, spread: f64| ((value - mean) / spread).powi(2);
    -0.5 * (square(pose[PITCH].to_degrees(), USUAL_PITCH.0, USUAL_PITCH.1)
        + square(pose[ROLL].to_degrees(), 0.0, USUAL_ROLL)
        + square(pose[LOG_HEIGHT], USUAL_LOG_HEIGHT.0, USUAL_LOG_HEIGHT.1))
}
