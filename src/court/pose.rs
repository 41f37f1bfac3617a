//! The unknowns of a fit and what they predict: where painted edges lie in the picture.

use super::assume::{Lens, Standing};
use super::band::Band;
use super::camera::Camera;
use super::dual::{COUNT, Dual, Real};
use super::paint::{Line, NET, POST, TAPE_HEIGHT};
use super::spot::PlacedSpot;
use crate::geometry::{Point2, undistorted};
use crate::units::{Degrees, Metres};

/// Places of the unknowns.
pub(super) const LOG_FOCAL: usize = 0;
pub(super) const YAW: usize = 1;
pub(super) const PITCH: usize = 2;
pub(super) const ROLL: usize = 3;
pub(super) const X: usize = 4;
pub(super) const Y: usize = 5;
pub(super) const LOG_HEIGHT: usize = 6;
pub(super) const K1: usize = 7;
pub(super) const CX: usize = 8;
pub(super) const CY: usize = 9;
pub(super) const PAINT: usize = 10;
pub(super) const BASE_PAINT: usize = 11;
pub(super) const BASE_SHIFT: usize = 12;
pub(super) const FAR_SHIFT: usize = 13;
pub(super) const NET_SHIFT: usize = 14;

/// Width of lines and of baselines, metres, with spreads: 25 to 50 mm by the rules, 50 to 70 mm as painted; baselines up to
/// 100 mm.
pub(super) const USUAL_PAINT: (f64, f64) = (0.05, 0.010);
pub(super) const USUAL_BASE_PAINT: (f64, f64) = (0.080, 0.025);
/// Spread of the place of a baseline on courts that were measured carelessly, metres.
const BASE_PLACE: f64 = 0.05;
/// Spread of the height of a net that was not measured, and of the places along it about straight lines from its middle to its posts, metres.
const NET_HANGS: f64 = 0.04;
const NET_SAGS: f64 = 0.012;
/// How cameras are held: pitch, roll (degrees), logarithm of the height in metres; mean and spread.
pub(super) const USUAL_PITCH: (f64, f64) = (-5.0, 9.0);
pub(super) const USUAL_ROLL: f64 = 2.0;
pub(super) const USUAL_LOG_HEIGHT: (f64, f64) = (0.336, 0.55);
/// Spread of the optical axis's place as a share of the picture's sides where it is cut out of a larger one; else as a share
/// of the width.
const CUT: f64 = 0.15;
const UNCUT: f64 = 0.008;
/// Where cameras stand, metres from the middle of the court, and where players stand.
const STANDS: f64 = 18.0;
const PLAYS: ((f64, f64), f64) = ((1.0, 4.5), 4.0);
/// Errors farther out than this many spreads count less and less.
const ROBUST: f64 = 12.0;
const PLAYER_ROBUST: f64 = 2.0;
/// Least error of a band's place, pixels.
const FINEST: f64 = 0.5;
/// What is nearer to the lens than this along its axis, metres, is not seen; a placed point there is wrong by so many spreads.
const NEAREST: f64 = 0.2;
const BEHIND: f64 = 1e3;
/// A net is never seen from farther away, metres.
const FARTHEST: f64 = 80.0;
/// Both edges of a wider band are used, of a narrower one the middle, pixels.
const TWO_EDGES: f64 = 5.0;

/// The unknowns: logarithm of the focal length, turn of the optical axis from the net (radians), pitch, roll, place,
/// logarithm of the height, distortion, optical axis in the picture, widths of the paint, shifts of the baselines, shift of
/// the net's height.
pub(super) type Pose = [f64; COUNT];

/// The camera of a pose.
pub(super) fn camera(pose: &Pose) -> Camera {
    Camera {
        focal: pose[LOG_FOCAL].exp(),
        k1: pose[K1],
        centre: Point2::new(pose[CX], pose[CY]),
        pitch: Degrees::from_radians(pose[PITCH]),
        roll: Degrees::from_radians(pose[ROLL]),
        net: Degrees::from_radians(pose[YAW]) + Degrees(90.0),
        height: Metres(pose[LOG_HEIGHT].exp()),
        x: Metres(pose[X]),
        y: Metres(pose[Y]),
    }
}

/// The picture's size and what is known besides the bands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Setting<'a> {
    pub width: f64,
    pub height: f64,
    pub crop: bool,
    pub player: Option<Standing>,
    /// Points of the court that a person has placed in the picture.
    pub placed: &'a [PlacedSpot],
}

impl Setting<'_> {
    pub fn longer(&self) -> f64 {
        self.width.max(self.height)
    }

    pub fn middle(&self) -> Point2 {
        Point2::new(0.5 * (self.width - 1.0), 0.5 * (self.height - 1.0))
    }
}

/// A plane's normal in the camera's axes, scaled so that it tells distances in the picture of focal length 1.
fn scaled<T: Real>(n: [T; 3]) -> [T; 3] {
    let length = (n[0] * n[0] + n[1] * n[1]).sqrt() + 1e-9;
    n.map(|v| v / length)
}

/// Which edge of the paint is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    Outer,
    Inner,
    Middle,
}

/// The camera's axes in the court's frame, and all else that turns pixels into planes.
pub(super) struct View<T> {
    pub axes: [[T; 3]; 3],
    pub focal: T,
    pub height: T,
    pose: [T; COUNT],
}

impl<T: Real> View<T> {
    pub fn new(pose: [T; COUNT]) -> Self {
        let ((sa, ca), (sp, cp), (sr, cr)) = (
            (pose[YAW].sin(), pose[YAW].cos()),
            (pose[PITCH].sin(), pose[PITCH].cos()),
            (pose[ROLL].sin(), pose[ROLL].cos()),
        );
        let zero = T::from(0.0);
        let level = [ca, -sa, zero];
        let down = [sa * sp, ca * sp, -cp];
        let mix = |a: T, b: T| [a * level[0] + b * down[0], a * level[1] + b * down[1], b * down[2]];
        let axes = [mix(cr, -sr), mix(sr, cr), [sa * cp, ca * cp, sp]];
        Self { axes, focal: pose[LOG_FOCAL].exp(), height: pose[LOG_HEIGHT].exp(), pose }
    }

    /// The plane through the lens and an edge of the paint, in the camera's axes: u · n0 + v · n1 + n2 = 0, scaled so that the
    /// left side is the distance in the picture of focal length 1.
    pub fn plane(&self, line: Line, edge: Edge) -> [T; 3] {
        let paint = self.pose[if line.is_base() { BASE_PAINT } else { PAINT }];
        let share = match (edge, line.paint_side() == 0.0) {
            (Edge::Outer, false) => 0.0,
            (Edge::Middle, false) => 0.5 * line.paint_side(),
            (Edge::Inner, false) => line.paint_side(),
            (Edge::Outer, true) => -0.5,
            (Edge::Middle, true) => 0.0,
            (Edge::Inner, true) => 0.5,
        };
        let mut place = paint * share + line.place();
        match line {
            Line::Baseline => place = place + self.pose[BASE_SHIFT],
            Line::BaselineFar => place = place + self.pose[FAR_SHIFT],
            _ => {}
        }
        // The ground's line x = place seen from the height: its plane has the normal (height, 0, place − x).
        let offset = place - self.pose[if line.is_along() { X } else { Y }];
        let axis = if line.is_along() { 0 } else { 1 };
        let n = [0, 1, 2].map(|k| self.height * self.axes[k][axis] + offset * self.axes[k][2]);
        scaled(n)
    }

    /// The same of the middle of the white band along the net's top, where it is `x` metres to the right of the centre line.
    pub fn tape(&self, x: f64) -> [T; 3] {
        let high = self.tape_height(x);
        let (above, offset) = (self.height - high, -self.pose[Y] + NET);
        scaled([0, 1, 2].map(|k| above * self.axes[k][1] + offset * self.axes[k][2]))
    }

    /// Height of the middle of the white band along the net's top, `x` metres to the right of the centre line.
    pub fn tape_height(&self, x: f64) -> T {
        let share = (x.abs() / POST).min(1.0);
        self.pose[NET_SHIFT] + (TAPE_HEIGHT.0 + share * (TAPE_HEIGHT.1 - TAPE_HEIGHT.0))
    }

    /// Where two rays in the court's frame cross the net, metres to the right of the centre line; `None` where they do so beside it.
    pub fn across_net(&self, rays: &[[f64; 3]; 2]) -> Option<[f64; 2]> {
        let cross = |ray: &[f64; 3]| {
            let [x, ..] = self.in_net(ray)?;
            (x.abs() < POST + 0.5).then_some(x)
        };
        Some([cross(&rays[0])?, cross(&rays[1])?])
    }

    /// Where the ray of a pixel meets the plane of the net: metres to the right of the centre line, over the ground, and away from the
    /// camera along its axis; `None` where it doesn't.
    pub fn on_net(&self, pixel: Point2) -> Option<[f64; 3]> {
        self.in_net(&self.ray(pixel).map(T::value))
    }

    /// The same of a ray in the court's frame.
    fn in_net(&self, ray: &[f64; 3]) -> Option<[f64; 3]> {
        let away = (NET - self.pose[Y].value()) / ray[1];
        let far = NEAREST..FARTHEST;
        far.contains(&away)
            .then(|| [self.pose[X].value() + away * ray[0], self.height.value() + away * ray[2], away])
    }

    /// A pixel's direction without distortion, (right, down) per unit along the optical axis.
    pub fn direction(&self, pixel: Point2) -> (T, T) {
        let x = (T::from(pixel.x) - self.pose[CX]) / self.focal;
        let y = (T::from(pixel.y) - self.pose[CY]) / self.focal;
        let k1 = self.pose[K1];
        let far = (x * x + y * y).sqrt();
        if far.value() < 1e-6 || k1.value().abs() < 1e-9 && far.value() < 0.05 {
            return (x, y);
        }
        // Newton's step from the solution carries the exact derivatives.
        let (u, v) = undistorted(k1.value(), x.value(), y.value());
        let r = u.hypot(v);
        let step = (k1 * (r * r * r) + r - far) / (k1 * (3.0 * r * r) + 1.0);
        let share = (-step + r) / far;
        (x * share, y * share)
    }

    /// The ground that a pixel shows, (x, y) metres in the court's frame, and how far away it is; `None` above the horizon.
    pub fn on_ground(&self, pixel: Point2) -> Option<(T, T, T)> {
        let ray = self.ray(pixel);
        let (x, y) = (self.pose[X], self.pose[Y]);
        if ray[2].value() > -1e-3 {
            return None;
        }
        let far = self.height / -ray[2];
        Some((x + far * ray[0], y + far * ray[1], far))
    }

    /// The ground that a pixel shows, metres in the court's frame; `None` above the horizon.
    pub fn ground(&self, pixel: Point2) -> Option<(T, T)> {
        self.on_ground(pixel).map(|(x, y, _)| (x, y))
    }

    /// The direction in which a pixel looks, in the court's frame.
    pub fn ray(&self, pixel: Point2) -> [T; 3] {
        self.in_court(self.direction(pixel))
    }

    /// A direction in the court's frame, from (right, down) per unit along the optical axis.
    pub fn in_court(&self, (u, v): (T, T)) -> [T; 3] {
        [0, 1, 2].map(|k| u * self.axes[0][k] + v * self.axes[1][k] + self.axes[2][k])
    }

    /// Signed distance of a pixel from an edge's plane in the picture, pixels.
    pub fn off(&self, plane: &[T; 3], pixel: Point2) -> T {
        let (u, v) = self.direction(pixel);
        (u * plane[0] + v * plane[1] + plane[2]) * self.focal
    }
}

/// A band's errors against a line, in spreads. `swapped`: its first edge is the line's inner one.
pub(super) fn band_errors<T: Real>(
    view: &View<T>,
    band: &Band,
    line: Line,
    swapped: bool,
    mut add: impl FnMut(T),
) {
    if line == Line::Net {
        return tape_errors(view, band, add);
    }
    let points = band.edges[0].len() as f64;
    let spread = band.scatter.max(FINEST) * (0.5 * points).sqrt();
    let mut errors = |edge, points: &mut dyn Iterator<Item = Point2>| {
        let plane = view.plane(line, edge);
        points.for_each(|point| add(robust(view.off(&plane, point) * (1.0 / spread), ROBUST)));
    };
    if band.width() > TWO_EDGES {
        let order = if swapped { [Edge::Inner, Edge::Outer] } else { [Edge::Outer, Edge::Inner] };
        for (edge, points) in order.into_iter().zip(&band.edges) {
            errors(edge, &mut points.iter().copied());
        }
    } else {
        errors(Edge::Middle, &mut band.middles());
    }
}

/// A band's errors against the white band along the net's top, in spreads.
fn tape_errors<T: Real>(view: &View<T>, band: &Band, mut add: impl FnMut(T)) {
    let points = band.edges[0].len() as f64;
    for point in band.middles() {
        let Some([x, _, away]) = view.on_net(point) else {
            add(T::from(ROBUST));
            continue;
        };
        let sags = NET_SAGS * view.focal.value() / away;
        let spread = band.scatter.max(FINEST).hypot(sags) * (0.5 * points).sqrt();
        add(robust(view.off(&view.tape(x), point) * (1.0 / spread), ROBUST));
    }
}

/// Whether a band's first edge is the line's inner one.
pub(super) fn is_swapped(view: &View<f64>, band: &Band, line: Line) -> bool {
    if band.width() <= TWO_EDGES || line == Line::Net {
        return false;
    }
    let planes = [Edge::Outer, Edge::Inner].map(|edge| view.plane(line, edge));
    let off = |edge: usize, plane: usize| {
        band.edges[edge].iter().map(|p| view.off(&planes[plane], *p).abs()).sum::<f64>()
    };
    off(0, 1) + off(1, 0) < off(0, 0) + off(1, 1)
}

fn robust<T: Real>(error: T, limit: f64) -> T {
    let size = error.value().abs() / limit;
    if size < 1e-9 {
        return error;
    }
    let sign = if error.value() < 0.0 { -1.0 } else { 1.0 };
    error / (error * (sign / limit) + 1.0).sqrt()
}

/// The errors of a pose against what is assumed, in spreads.
pub(super) fn assumed_errors<T: Real>(
    setting: &Setting,
    lens: &Lens,
    view: &View<T>,
    mut add: impl FnMut(T),
) {
    let pose = &view.pose;
    let mut against = |k: usize, mean: f64, spread: f64| add((pose[k] - mean) * (1.0 / spread));
    let (middle, cut) = (setting.middle(), setting.crop);
    against(LOG_FOCAL, (lens.share * setting.longer()).ln(), lens.spread);
    against(PITCH, USUAL_PITCH.0.to_radians(), USUAL_PITCH.1.to_radians());
    against(ROLL, 0.0, USUAL_ROLL.to_radians());
    against(LOG_HEIGHT, USUAL_LOG_HEIGHT.0, USUAL_LOG_HEIGHT.1);
    against(K1, 0.0, lens.bend);
    against(CX, middle.x, if cut { CUT * setting.width } else { UNCUT * setting.width });
    against(CY, middle.y, if cut { CUT * setting.height } else { UNCUT * setting.width });
    against(PAINT, USUAL_PAINT.0, USUAL_PAINT.1);
    against(BASE_PAINT, USUAL_BASE_PAINT.0, USUAL_BASE_PAINT.1);
    against(BASE_SHIFT, 0.0, BASE_PLACE);
    against(FAR_SHIFT, 0.0, BASE_PLACE);
    against(NET_SHIFT, 0.0, NET_HANGS);
    against(X, 0.0, STANDS);
    against(Y, NET, STANDS);
    if let Some(player) = &setting.player {
        // Placed points are surer than lines that may be none, so that it counts in full how the player stands among them.
        let limit = if setting.placed.is_empty() { PLAYER_ROBUST } else { ROBUST };
        player_errors(player, view, limit).into_iter().flatten().for_each(&mut add);
    }
    setting.placed.iter().flat_map(|placed| placed_errors(placed, view)).for_each(add);
}

/// How far a point of the court comes to lie from where a person has placed it, in spreads.
pub(super) fn placed_errors<T: Real>(placed: &PlacedSpot, view: &View<T>) -> [T; 2] {
    let pose = &view.pose;
    let (x, y) = (placed.spot.x, placed.spot.across.place());
    let shift = match placed.spot.across {
        Line::Baseline => pose[BASE_SHIFT],
        Line::BaselineFar => pose[FAR_SHIFT],
        _ => T::from(0.0),
    };
    let from = [-pose[X] + x, shift + y - pose[Y], -view.height];
    let [right, down, away] =
        [0, 1, 2].map(|k| view.axes[k][0] * from[0] + view.axes[k][1] * from[1] + view.axes[k][2] * from[2]);
    if away.value() < NEAREST {
        return [T::from(BEHIND); 2];
    }
    let (u, v) = (right / away, down / away);
    let stretch = view.focal * (pose[K1] * (u * u + v * v) + 1.0);
    let spread = placed.spread(view.focal.value() / away.value());
    [
        (stretch * u + pose[CX] - placed.at.x) * (1.0 / spread),
        (stretch * v + pose[CY] - placed.at.y) * (1.0 / spread),
    ]
}

/// The errors of where the player stands and how tall the player is; `None` where the feet would be above the horizon.
fn player_errors<T: Real>(player: &Standing, view: &View<T>, limit: f64) -> Option<[T; 3]> {
    let foot = view.ray(player.foot);
    if foot[2].value() > -0.01 {
        return None;
    }
    let level = |ray: &[T; 3]| (ray[0] * ray[0] + ray[1] * ray[1]).sqrt();
    let away = view.height * level(&foot) / -foot[2];
    let head = view.ray(player.head);
    let tall = view.height + away * head[2] / level(&head);
    let (x, y) = view.ground(player.foot)?;
    let (expected, spread) = player.head_height;
    Some([
        robust((tall - expected.0) * (1.0 / spread.0), limit),
        (y - PLAYS.0.0) * (1.0 / PLAYS.0.1),
        x * (1.0 / PLAYS.1),
    ])
}

/// The unknowns of a pose with their derivatives.
pub(super) fn unknowns(pose: &Pose) -> [Dual; COUNT] {
    std::array::from_fn(|k| Dual::unknown(pose[k], k))
}
