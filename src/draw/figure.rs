//! A stick figure, and the planes in which a stroke is shown.

use crate::geometry::Court;
use crate::order;
use crate::pose::landmark::{ARM, LIMBS};
use crate::pose::{Joint, Landmark, Motion, Side};
use crate::scene::CourtMotion;
use crate::units::Seconds;

use super::canvas::{At, Canvas};
use super::style::{self, Pen};

/// A landmark that the model gives less than this chance of being in sight was guessed.
const IN_SIGHT: f64 = 0.5;

/// What joins leg and foot.
const HEEL: (Joint, Joint) = (Joint::Ankle, Joint::Heel);

/// Radius of the head, metres.
const HEAD: f64 = 0.11;

/// The plane in which a stroke is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plane {
    /// From the side, the net on the right.
    Side,
    /// From behind the player, looking to the net.
    Behind,
}

impl Plane {
    /// The plane of which a motion's view shows most.
    pub fn best(motion: &CourtMotion) -> Self {
        if motion.net_in_picture() >= motion.side_in_picture() { Self::Side } else { Self::Behind }
    }

    /// A point in this plane: to the right and up, metres.
    pub fn of(self, point: Court, hand: Side) -> (f64, f64) {
        match (self, hand) {
            (Self::Side, _) => (point.net, point.up),
            (Self::Behind, Side::Right) => (point.side, point.up),
            (Self::Behind, Side::Left) => (-point.side, point.up),
        }
    }
}

/// A limb between two points of a plane, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limb {
    from: (f64, f64),
    to: (f64, f64),
    hitting: bool,
    arm: bool,
    guessed: bool,
}

/// Whether a figure is what a chart is about, or stands behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FigureStyle {
    /// Dark; guessed limbs dashed.
    Subject,
    /// Pale.
    Behind,
}

/// A player's posture in a plane.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figure {
    limbs: Vec<Limb>,
    head: Option<(f64, f64)>,
}

impl Figure {
    /// The posture at a time; limbs whose ends were not seen are left out.
    pub fn new(picture: &Motion, motion: &CourtMotion, time: Seconds, plane: Plane) -> Self {
        let seen = |landmark: Landmark| was_seen(picture, landmark, time);
        let at = |landmark: Landmark| motion.at(landmark, time).map(|p| plane.of(p, motion.hand));
        let mut figure = Self::default();
        // The off side first, so that the hitting side lies over it.
        for side in [motion.hand.other(), motion.hand] {
            for limb in LIMBS.into_iter().chain([HEEL]) {
                let (a, b) = (limb.0.on(side), limb.1.on(side));
                if let (Some(from), Some(to)) = (at(a), at(b)) {
                    let (guessed, arm) = (!seen(a) || !seen(b), ARM.contains(&limb));
                    figure.limbs.push(Limb { from, to, hitting: side == motion.hand, arm, guessed });
                }
            }
        }
        let middle = |joint: Joint| motion.middle(joint, time).map(|p| plane.of(p, motion.hand));
        let across =
            [Joint::Shoulder, Joint::Hip].map(|joint| (at(joint.on(Side::Left)), at(joint.on(Side::Right))));
        let spine = (middle(Joint::Hip), middle(Joint::Shoulder));
        for pair in across.into_iter().chain([spine]) {
            if let (Some(from), Some(to)) = pair {
                figure.limbs.push(Limb { from, to, hitting: true, arm: false, guessed: false });
            }
        }
        figure.head = middle(Joint::Ear);
        figure
    }

    /// The figure with its origin moved to a point of its plane.
    pub fn moved(mut self, origin: (f64, f64)) -> Self {
        let moved = |(x, y): (f64, f64)| (x - origin.0, y - origin.1);
        for limb in &mut self.limbs {
            (limb.from, limb.to) = (moved(limb.from), moved(limb.to));
        }
        self.head = self.head.map(moved);
        self
    }

    /// Whether nothing of it was seen.
    pub fn is_empty(&self) -> bool {
        self.limbs.is_empty()
    }

    /// Whether some limb's end was not in sight.
    pub fn has_guesses(&self) -> bool {
        self.limbs.iter().any(|l| l.guessed)
    }

    /// Points that a panel must hold.
    pub fn extent(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let head = self.head.into_iter().flat_map(|(x, y)| [(x - HEAD, y - HEAD), (x + HEAD, y + HEAD)]);
        self.limbs.iter().flat_map(|l| [l.from, l.to]).chain(head)
    }

    /// Points on it, so close to each other that a label on it covers some.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        const STEPS: usize = 6;
        let on_limb = |limb: &Limb| {
            let (from, to) = (limb.from, limb.to);
            (0..=STEPS).map(move |i| {
                let share = i as f64 / STEPS as f64;
                (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
            })
        };
        let head = self
            .head
            .into_iter()
            .flat_map(|(x, y)| [(x, y), (x - HEAD, y), (x + HEAD, y), (x, y - HEAD), (x, y + HEAD)]);
        self.limbs.iter().flat_map(on_limb).chain(head)
    }

    /// Draws the figure: the hitting arm darkest, the other side pale.
    pub fn draw(&self, canvas: &mut Canvas, style_of_figure: FigureStyle, at: impl Fn((f64, f64)) -> At) {
        let pen = |limb: &Limb| match (style_of_figure, limb.hitting, limb.arm) {
            (FigureStyle::Behind, true, _) => Pen::new(style::PALE, 3.0),
            (FigureStyle::Behind, false, _) => Pen::new(style::FAINT, 3.0),
            (FigureStyle::Subject, true, true) => Pen::new(style::INK, 4.6),
            (FigureStyle::Subject, true, false) => Pen::new(style::GREY, 3.6),
            (FigureStyle::Subject, false, _) => Pen::new(style::PALE, 3.2),
        };
        // Beside the path's dashes a guessed limb's would say something else.
        let dashed = |limb: &Limb| limb.guessed && style_of_figure == FigureStyle::Subject;
        for limb in &self.limbs {
            let pen = if dashed(limb) { pen(limb).dashed(5.0, 4.0) } else { pen(limb) };
            canvas.line(at(limb.from), at(limb.to), &pen);
        }
        for limb in &self.limbs {
            // Round joints.
            if !dashed(limb) {
                let pen = pen(limb);
                canvas.dot(at(limb.from), 0.5 * pen.width, pen.colour);
                canvas.dot(at(limb.to), 0.5 * pen.width, pen.colour);
            }
        }
        if let Some((x, y)) = self.head {
            let radius = (at((x + HEAD, y)).0 - at((x, y)).0).abs();
            let pen = match style_of_figure {
                FigureStyle::Behind => Pen::new(style::PALE, 3.0),
                FigureStyle::Subject => Pen::new(style::GREY, 3.4),
            };
            canvas.ring(at((x, y)), radius, &pen);
        }
    }
}

/// Whether a landmark was in sight in the picture nearest to a time.
fn was_seen(picture: &Motion, landmark: Landmark, time: Seconds) -> bool {
    let nearest = order::nearest(&picture.times, |t| t.0, time.0);
    nearest.is_some_and(|place| was_seen_in(picture, landmark, place))
}

/// Whether a landmark was in sight in the picture at a place.
pub fn was_seen_in(picture: &Motion, landmark: Landmark, place: usize) -> bool {
    picture.point(place, landmark).is_some_and(|p| !p.bridged && p.visibility >= IN_SIGHT)
}

/// Smallest and largest of each coordinate; `None` for no points.
pub fn bounds(points: impl Iterator<Item = (f64, f64)>) -> Option<((f64, f64), (f64, f64))> {
    points.fold(None, |known, (x, y)| {
        let ((x0, x1), (y0, y1)) = known.unwrap_or(((x, x), (y, y)));
        Some(((x.min(x0), x.max(x1)), (y.min(y0), y.max(y1))))
    })
}
