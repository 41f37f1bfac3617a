//! What the player's body says of the camera: how high over the ground it stood, and how far it was tilted.

use super::depth::{Teller, shortening};
use super::space::Space;
use super::stand::{Sights, Stand};
use crate::geometry::{Camera, Point2};
use crate::order::median;
use crate::pose::{Joint, Side};
use crate::units::{Degrees, Seconds};

/// So many pictures of the clip show how high the camera stood.
const PICTURES: usize = 25;

/// The joints of heel and toe are so high over the ground while a foot stands, in statures.
const SOLE: f64 = 0.017;

/// A foot slower than this stands, metres per second.
const STANDS: f64 = 0.15;

/// Feet that are this far apart along the lens show how the ground lies (root mean square, metres), over at least so many
/// pictures.
const APART: f64 = 0.15;
const FEWEST_PICTURES: usize = 20;

/// Places of feet are unsure by this along the picture and in depth, metres.
const PLACE: f64 = 0.03;
const DEPTH: f64 = 0.04;

/// What the feet say of the pitch is off by this, degrees: the foot that is farther from the lens is seen too low. Mean and
/// spread, from rendered players.
pub(super) const FEET_PITCH: (f64, f64) = (4.5, 4.5);

/// A player in one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Upright {
    /// The middle of the hips, pixels.
    hips: Point2,
    /// The middles of both feet, as far as they are seen, pixels.
    feet: [Option<Point2>; 2],
    /// Pixels to a stature at the hips, for a camera that sees the body square.
    pixels: f64,
}

/// The player as far as it tells of the camera.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    seen: Vec<Upright>,
    /// The pitch that two feet on one level ground tell.
    feet: Option<Degrees>,
}

impl Ground {
    /// Reads a motion that was lifted through any level camera.
    pub fn of(space: &Space) -> Self {
        let n = space.points.len();
        let step = n.div_ceil(PICTURES).max(1);
        let seen: Vec<Upright> = (0..n).step_by(step).filter_map(|i| upright(space, i)).collect();
        Self { seen, feet: pitch_of_feet(space) }
    }

    /// Of a clip in which no player is seen.
    pub fn unseen() -> Self {
        Self { seen: Vec::new(), feet: None }
    }

    /// Whether the player tells anything.
    pub fn is_seen(&self) -> bool {
        !self.seen.is_empty()
    }

    /// Where the player's feet are usually, pixels.
    pub fn foot(&self) -> Option<Point2> {
        let feet = || self.seen.iter().flat_map(|seen| seen.feet).flatten();
        Some(Point2::new(median(feet().map(|foot| foot.x))?, median(feet().map(|foot| foot.y))?))
    }

    /// The pitch that the feet tell, and its spread.
    pub fn pitch(&self) -> Option<(Degrees, Degrees)> {
        Some((self.feet? - Degrees(FEET_PITCH.0), Degrees(FEET_PITCH.1)))
    }

    /// Height of a camera over the ground that the player stands on, and the distance to the player over it, both in the
    /// player's statures: the ground is where both feet's lines of sight meet it on either side of the hips, as far before as behind
    /// them. Most of the time they are; how much farther than the hips a foot is told to be is known less well.
    pub fn stature_units(&self, stand: &Stand) -> Option<(f64, f64)> {
        let camera = stand.sights();
        let both: Vec<(f64, f64)> = self.seen.iter().filter_map(|seen| seen.from(&camera)).collect();
        Some((median(both.iter().map(|b| b.0))?, median(both.iter().map(|b| b.1))?))
    }
}

impl Upright {
    /// Height of a camera and its distance over the ground, statures; `None` where it would not look down on the feet.
    fn from(&self, camera: &Sights) -> Option<(f64, f64)> {
        let to_hips = camera.ray(self.hips);
        let along = camera.stand().lens.focal / self.pixels * shortening(to_hips);
        let away = along * to_hips.horizontal().norm();
        let (mut feet, mut reached) = (0.0, 0.0);
        for foot in self.feet.into_iter().flatten() {
            let ray = camera.ray(foot);
            // How far a line of sight runs over the ground while it falls by 1.
            let run = ray.horizontal().norm() / -ray.up;
            if run <= 0.0 {
                return None;
            }
            feet += 1.0;
            reached += run;
        }
        (feet > 0.0).then(|| (away * feet / reached + SOLE, away))
    }
}

fn upright(space: &Space, i: usize) -> Option<Upright> {
    let hips = space.hips(i)?;
    let foot = |side: Side| {
        let [heel, toe] = [Joint::Heel, Joint::Toe].map(|joint| space.at(i, joint.on(side)));
        space.stand.pixel(heel.or(toe)?.middle(toe.or(heel)?))
    };
    let feet = [foot(Side::Left), foot(Side::Right)];
    if feet == [None; 2] {
        return None;
    }
    let hips_pixel = space.stand.pixel(hips)?;
    let shortened = shortening(space.stand.ray(hips_pixel));
    let pixels = space.stature.0 / space.scale[i]? * shortened;
    Some(Upright { hips: hips_pixel, feet, pixels })
}

/// The pitch at which both standing feet are on one level ground, over all pictures; `None` where the feet are hardly ever apart
/// along the lens.
fn pitch_of_feet(space: &Space) -> Option<Degrees> {
    if space.teller == Teller::Nothing {
        return None;
    }
    // Sums of squares and products of what one foot is to the right, farther and higher than the other.
    let (mut n, mut xx, mut xz, mut zz, mut xy, mut zy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for i in 0..space.points.len() {
        let Some([left, right]) = standing_feet(space, i) else { continue };
        let apart = right - left;
        n += 1.0;
        xx += apart.right * apart.right;
        xz += apart.right * apart.away;
        zz += apart.away * apart.away;
        xy += apart.right * apart.up;
        zy += apart.away * apart.up;
    }
    if n < FEWEST_PICTURES as f64 || (zz / n).sqrt() < APART {
        return None;
    }
    let (xx, zz) = (xx + n * PLACE * PLACE, zz + n * DEPTH * DEPTH);
    let slope = (zy * xx - xy * xz) / (xx * zz - xz * xz);
    // Through a level camera, ground that rises with distance is seen by one that looks down.
    Some(Degrees(-slope.atan().to_degrees()))
}

/// Middles of both feet where both stand.
fn standing_feet(space: &Space, i: usize) -> Option<[Camera; 2]> {
    const SPAN: Seconds = Seconds(0.05);
    let before = space.times.partition_point(|t| *t < space.times[i] - SPAN).min(i.checked_sub(1)?);
    let step = (space.times[i] - space.times[before]).0;
    let foot = |side: Side, at: usize| {
        Some(space.at(at, Joint::Ankle.on(side))?.middle(space.at(at, Joint::Toe.on(side))?))
    };
    let stands = |side: Side| {
        let (now, then) = (foot(side, i)?, foot(side, before)?);
        let across = Camera { away: 0.0, ..now - then };
        (across.norm() / step < STANDS).then_some(now)
    };
    Some([stands(Side::Left)?, stands(Side::Right)?])
}
