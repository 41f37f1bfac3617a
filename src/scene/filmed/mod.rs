//! The camera as it stood: everything that is known of it, as cameras that are equally likely.
//!
//! Focal length, axis, distortion, pitch and roll are drawn from what is assumed of cameras ([`super::prior`]) or from
//! what the court says ([`Reading`]); each draw counts by how well it fits all else: the player's stature and feet, what
//! the user states. Height over the ground and distance follow from a camera and the player's stature, so that they err together.

mod weighed;

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use weighed::{Weighed, effective, middle_of, resampled, shares, spread, weighted_median};

use super::direction::Direction;
use super::ground::Ground;
use super::lens::Lens;
use super::placed::Placed;
use super::prior::LensEvidence;
use super::stand::Stand;
use super::stature::{MODEL_SCALE, Stature, StatureSource};
use crate::court::{self, Reading, Unknown, Uprights};
use crate::geometry::{Point2, wrapped};
use crate::stats::TWO_SIDED_95;
use crate::units::{Degrees, Metres};

/// A stated distance is paced out to this share (1 standard deviation).
pub const STATED_DISTANCE: f64 = 0.05;

/// Fewer draws than this that fit what is known (effective number) don't tell the posterior.
const FEWEST: f64 = 24.0;

/// Placed points farther off than this in every camera that the lines allow (sum of squares in standard deviations) contradict them.
const CONTRADICTS: f64 = 16.0;

/// How far the net's direction in a reading of the lines may be from the one that was chosen, degrees, to be of the same reading.
const SAME_WAY: f64 = 45.0;

/// The least share that the direction which the lines take for the likeliest keeps when all else is weighed.
const LEAST_LEFT: f64 = 0.5;

/// What is known of a clip's camera.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    /// Of its lens.
    pub lens: LensEvidence,
    /// Stated distance over the ground to the player.
    pub distance: Option<Metres>,
    /// Stated height over the ground.
    pub height: Option<Metres>,
    /// The player's stature, where it was given or other clips have shown it.
    pub stature: Option<Stature>,
    /// What the court's lines say.
    pub lines: Option<&'a Reading>,
    /// Points of the court that the user has placed.
    pub placed: Option<&'a Placed>,
    /// What stands upright in the picture.
    pub uprights: Option<&'a Uprights>,
}

/// What a quantity of the camera rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Witness {
    /// The user's word.
    Stated,
    /// What the file says of its lens.
    File,
    /// The court's lines.
    Lines,
    /// Points of the court that the user has placed.
    Points,
    /// Posts and walls.
    Uprights,
    /// The player's feet, stature, facing and hand.
    Player,
    /// What cameras usually are.
    Assumed,
}

impl Witness {
    /// The word in `clip.json`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Stated => "stated",
            Self::File => "file",
            Self::Lines => "court lines",
            Self::Points => "court points",
            Self::Uprights => "posts and walls",
            Self::Player => "player",
            Self::Assumed => "assumed",
        }
    }
}

/// One camera that may have taken the clip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Lens and tilt.
    pub stand: Stand,
    /// The player's stature as it follows with this camera, the model's error included.
    pub stature: Metres,
    /// Where the net is from this camera's axis.
    pub net: Degrees,
}

/// A number with its half width of 95 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Half width of the 95 % interval.
    pub plus_minus: f64,
}

/// The camera of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Filmed {
    /// The camera that everything is lifted through: the middle of all.
    pub stand: Stand,
    /// The player's stature.
    pub stature: Stature,
    /// The stature that everything is lifted with: the player's as the model's body shows it, from the lines and from what is known of the
    /// player together.
    pub scale: Metres,
    /// Equally likely cameras in a random order.
    pub draws: Vec<Camera>,
    /// What of the court carries the camera and the direction to the net: its lines or points of it; `None` where nothing does.
    pub court: Option<Witness>,
    /// What contradicts the points of the court that the user has placed.
    pub against_points: Option<AgainstPoints>,
    /// How likely each of the court's readings is, by everything that is known before the strokes; empty where no court carries the camera.
    shares: Vec<f64>,
    ground: Ground,
    foot: Point2,
    known_lens: Witness,
    known_height: Witness,
    known_distance: Witness,
    sees_uprights: bool,
}

/// What contradicts points of the court that the user has placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AgainstPoints {
    /// The court's lines as they were read.
    Lines,
    /// What is stated of camera and player, or how the player stands.
    Known,
    /// The way the strokes go.
    Strokes,
}

/// Directions to the net that lines allow, in the frame of the likely camera: weight, angle and spread in degrees.
pub type Bearings = Vec<(f64, Degrees, Degrees)>;

impl Filmed {
    /// The camera from everything but the player's facing and strokes; `ground` is what the player's body says.
    pub fn of(known: &Known<'_>, ground: Ground) -> Self {
        if known.stature.is_some_and(|stature| stature.source == StatureSource::Season) {
            // The clip's own court counts more than other clips. It must not hear of them: what it says is pooled with theirs.
            let alone = Self::weighed(&Known { stature: None, ..*known }, ground.clone());
            if alone.stature.is_by_court() {
                return alone;
            }
        }
        Self::weighed(known, ground)
    }

    /// The camera with a stature that was known beforehand, or none.
    fn weighed(known: &Known<'_>, ground: Ground) -> Self {
        let mut rng = Pcg64Mcg::seed_from_u64(0x5eed);
        let lines = known.lines.filter(|reading| !reading.fits.is_empty());
        let by_lines = lines.map(|reading| (Witness::Lines, reading, known.placed));
        let by_points = known.placed.map(|placed| (Witness::Points, &placed.reading, None));
        // Lines that contradict what is stated or placed were misread.
        let mut against_lines = false;
        let by_court = [by_lines, by_points].into_iter().flatten().find_map(|(witness, reading, placed)| {
            let all = weighed::by_court(known, reading, placed, &ground, &mut rng);
            against_lines |= placed.is_some() && all.iter().all(|c| c.misplaced > CONTRADICTS);
            let is_misread =
                witness == Witness::Lines && is_overruled(reading, &shares(&all, reading.fits.len()));
            (effective(&all) >= FEWEST && !is_misread).then_some((witness, reading, all))
        });
        let (court, all) = match by_court {
            Some((witness, reading, all)) => (Some((witness, reading)), all),
            None => (None, weighed::by_player(known, &ground, &mut rng)),
        };
        let against_points = match court {
            None => known.placed.map(|_| AgainstPoints::Known),
            Some((Witness::Points, _)) => against_lines.then_some(AgainstPoints::Lines),
            Some(_) => None,
        };
        let witness = court.map(|(witness, _)| witness);
        let reading = court.map(|(_, reading)| reading);
        let stand = middle_of(&all);
        let size = known.lens.size;
        let foot = reading.map(|reading| reading.foot).or(ground.foot()).unwrap_or_else(|| {
            let Lens { middle, .. } = Lens::usual(size);
            Point2::new(middle.0, middle.1)
        });
        let measured = witness.map(|witness| {
            let middle = weighted_median(&all, |c| c.stature);
            let source =
                if witness == Witness::Points { StatureSource::Points } else { StatureSource::Lines };
            (middle, spread(&all, |c| c.stature).hypot(MODEL_SCALE * middle), source)
        });
        let stature = Stature::of(known.stature, measured);
        let scale =
            if witness.is_some() { Metres(weighted_median(&all, |c| c.stature)) } else { stature.metres };
        let draws = resampled(&all, &mut rng).map(|c| {
            let net = c.bearing.map_or(0.0, |bearing| bearing - c.stand.azimuth(foot).0);
            Camera { stand: c.stand, stature: Metres(c.stature), net: Degrees(wrapped(net)) }
        });
        let lens = match (known.lens.view, witness, known.lens.equivalent_mm, known.distance) {
            (Some(_), ..) => Witness::Stated,
            (None, Some(court), ..) => court,
            (None, None, Some(_), _) => Witness::File,
            (None, None, None, Some(_)) => Witness::Player,
            (None, None, None, None) => Witness::Assumed,
        };
        let place = |stated: bool| if stated { Witness::Stated } else { witness.unwrap_or(Witness::Player) };
        Self {
            stand,
            stature,
            scale,
            draws: draws.collect(),
            court: witness,
            against_points,
            shares: reading.map_or_else(Vec::new, |reading| shares(&all, reading.fits.len())),
            ground,
            foot,
            known_lens: lens,
            known_height: place(known.height.is_some()),
            known_distance: place(known.distance.is_some()),
            sees_uprights: known.uprights.is_some_and(|uprights| !uprights.edges.is_empty()),
        }
    }

    /// A camera that is known for sure, for tests and for clips without a player.
    pub fn at(stand: Stand, stature: Metres, net: Degrees) -> Self {
        let camera = Camera { stand, stature, net };
        Self {
            stand,
            stature: Stature { metres: stature, spread: 0.0, source: StatureSource::Given },
            scale: stature,
            draws: vec![camera],
            court: None,
            against_points: None,
            shares: Vec::new(),
            ground: Ground::unseen(),
            foot: Point2::default(),
            known_lens: Witness::Stated,
            known_height: Witness::Stated,
            known_distance: Witness::Stated,
            sees_uprights: false,
        }
    }

    /// The directions to the net that the court allows, each as likely as its camera is by all that was known; `None` where the court says
    /// nothing.
    pub fn bearings(&self, known: &Known<'_>) -> Option<Bearings> {
        let reading = match self.court? {
            Witness::Points => known.placed.map(|placed| &placed.reading),
            _ => known.lines,
        }?;
        let sight = self.stand.azimuth(reading.foot);
        let of_fit = |(fit, share): (&court::Fit, &f64)| {
            let angle = Degrees::from_radians(fit.mean(Unknown::Bearing)) - sight;
            (*share, Degrees(wrapped(angle.0)), Degrees::from_radians(fit.spread(Unknown::Bearing)))
        };
        let all = reading.fits.iter().zip(&self.shares);
        Some(all.filter(|(_, share)| **share > 0.0).map(of_fit).collect())
    }

    /// Settles where the net is for each camera. `found` is the direction that everything together tells; `player` is the
    /// logarithm of what the player alone says of each whole degree from −180. Answers with the direction as it then is; `None` where
    /// the strokes go nowhere that the court allows: the camera is then the one without the court, and the direction, which the court
    /// has told too, must be found again.
    pub fn face(&mut self, found: Direction, player: &[f64], known: &Known<'_>) -> Option<Direction> {
        let mut rng = Pcg64Mcg::seed_from_u64(0xface);
        let sight = self.stand.azimuth(self.foot);
        if self.court.is_some() {
            let best = player.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let near: Vec<Weighed> = self
                .draws
                .iter()
                .map(|camera| {
                    let bearing = camera.net + camera.stand.azimuth(self.foot);
                    let in_frame = wrapped((bearing - sight).0);
                    let same = wrapped(in_frame - found.angle.0).abs() < SAME_WAY;
                    let chance = player.get((in_frame + 180.0) as usize).map_or(1.0, |l| (l - best).exp());
                    let (stand, stature) = (camera.stand, camera.stature.0);
                    let weight = if same { chance } else { 0.0 };
                    Weighed { stand, stature, bearing: Some(bearing.0), fit: 0, misplaced: 0.0, weight }
                })
                .collect();
            if effective(&near) >= 2.0 {
                let middle = near.iter().fold((0.0, 0.0), |(s, c), w| {
                    let (sin, cos) = w.bearing.unwrap_or(0.0).to_radians().sin_cos();
                    (s + w.weight * sin, c + w.weight * cos)
                });
                let middle = Degrees(middle.0.atan2(middle.1).to_degrees());
                let off = |w: &Weighed| wrapped(w.bearing.unwrap_or(0.0) - middle.0);
                let spread = Degrees(spread(&near, off));
                self.draws = resampled(&near, &mut rng)
                    .map(|w| {
                        let net = w.bearing.unwrap_or(0.0) - w.stand.azimuth(self.foot).0;
                        Camera { stand: w.stand, stature: Metres(w.stature), net: Degrees(wrapped(net)) }
                    })
                    .collect();
                let angle = Degrees(wrapped((middle - sight).0));
                return Some(Direction { angle, spread, ..found });
            }
            // The strokes go nowhere that the lines allow: one of the two is wrong, and it is not the strokes.
            *self = Self::of(&Known { lines: None, placed: None, ..*known }, self.ground.clone());
            self.against_points = known.placed.map(|_| AgainstPoints::Strokes);
            return None;
        }
        for camera in &mut self.draws {
            let off = found.spread.0 * rng.sample::<f64, _>(StandardNormal);
            let bearing = found.angle.0 + off + sight.0;
            camera.net = Degrees(wrapped(bearing - camera.stand.azimuth(self.foot).0));
        }
        Some(found)
    }

    /// The same camera with the direction to the net known: as it is in the middle of all.
    pub fn with_direction(&self) -> Self {
        let bearing = |camera: &Camera| camera.net + camera.stand.azimuth(self.foot);
        let (sin, cos) = self.draws.iter().fold((0.0, 0.0), |(s, c), camera| {
            let (sin, cos) = bearing(camera).radians().sin_cos();
            (s + sin, c + cos)
        });
        let middle = Degrees(sin.atan2(cos).to_degrees());
        let known = |camera: &Camera| {
            let net = middle - camera.stand.azimuth(self.foot);
            Camera { net: Degrees(wrapped(net.0)), ..*camera }
        };
        Self { draws: self.draws.iter().map(known).collect(), ..self.clone() }
    }

    /// The same camera with the player's stature given.
    pub fn with_stature(&self) -> Self {
        let given = Stature::given(self.stature.metres);
        let narrower = given.as_seen() / self.stature.as_seen();
        let known = |camera: &Camera| {
            let off = (camera.stature.0 - self.scale.0) * narrower.min(1.0);
            Camera { stature: Metres(self.scale.0 + off), ..*camera }
        };
        Self { draws: self.draws.iter().map(known).collect(), stature: given, ..self.clone() }
    }

    /// The same camera with lens and tilt known.
    pub fn with_stand(&self) -> Self {
        let known = |camera: &Camera| {
            let bearing = camera.net + camera.stand.azimuth(self.foot);
            let net = bearing - self.stand.azimuth(self.foot);
            Camera { stand: self.stand, net: Degrees(wrapped(net.0)), ..*camera }
        };
        Self { draws: self.draws.iter().map(known).collect(), ..self.clone() }
    }

    /// Where the player's feet are usually, pixels: the line of sight to there is known better than the lens's axis where a picture
    /// may be cut out of a larger one.
    pub fn foot(&self) -> Point2 {
        self.foot
    }

    /// Horizontal field of view, degrees.
    pub fn view(&self, width: u32) -> (Estimate, Witness) {
        (self.estimate(|c| Some(c.stand.lens.view(width).0)), self.known_lens)
    }

    /// Focal length, pixels.
    pub fn focal(&self) -> (Estimate, Witness) {
        (self.estimate(|c| Some(c.stand.lens.focal)), self.known_lens)
    }

    /// The axis against the horizontal, degrees; negative looks down.
    pub fn pitch(&self) -> (Estimate, Witness) {
        let witness = match self.known_height {
            Witness::Stated | Witness::Player if self.sees_uprights => Witness::Uprights,
            Witness::Stated => Witness::Player,
            other => other,
        };
        (self.estimate(|c| Some(c.stand.pitch.0)), witness)
    }

    /// Turn of the picture's content, degrees; positive is clockwise.
    pub fn roll(&self) -> (Estimate, Witness) {
        let witness = match self.court {
            Some(court) => court,
            None if self.sees_uprights => Witness::Uprights,
            None => Witness::Assumed,
        };
        (self.estimate(|c| Some(c.stand.roll.0)), witness)
    }

    /// Height of the lens over the ground, metres; `None` where no player is seen.
    pub fn height(&self) -> Option<(Estimate, Witness)> {
        self.ground.is_seen().then(|| (self.estimate(|c| Some(self.place(c)?.0)), self.known_height))
    }

    /// Distance over the ground to the player, metres; `None` where no player is seen.
    pub fn distance(&self) -> Option<(Estimate, Witness)> {
        self.ground.is_seen().then(|| (self.estimate(|c| Some(self.place(c)?.1)), self.known_distance))
    }

    /// Relative spread of the distance to the player (1 standard deviation).
    pub fn distance_spread(&self) -> f64 {
        self.distance().map_or(0.0, |(far, _)| far.plus_minus / (TWO_SIDED_95 * far.value))
    }

    fn place(&self, camera: &Camera) -> Option<(f64, f64)> {
        let (high, far) = self.ground.stature_units(&camera.stand)?;
        Some((high * camera.stature.0, far * camera.stature.0))
    }

    /// The likely camera's value of a quantity, and the distance from it within which 95 % of the draws lie.
    fn estimate(&self, of: impl Fn(&Camera) -> Option<f64>) -> Estimate {
        let likely = Camera { stand: self.stand, stature: self.scale, net: Degrees(0.0) };
        let value = of(&likely).unwrap_or(f64::NAN);
        let off = self.draws.iter().filter_map(&of).map(|drawn| (drawn - value).abs()).collect();
        Estimate { value, plus_minus: crate::order::quantile(off, 0.95).unwrap_or(f64::INFINITY) }
    }
}

/// Whether all else that is known leaves too little of the direction that a reading of the lines takes for far the likeliest: such lines were
/// misread, and what else they might have been is no surer.
fn is_overruled(reading: &Reading, shares: &[f64]) -> bool {
    let bearing = |fit: &court::Fit| fit.mean(Unknown::Bearing).to_degrees();
    let Some(likeliest) = reading.fits.first().map(bearing) else { return false };
    let alike = |fit: &court::Fit| wrapped(bearing(fit) - likeliest).abs() < SAME_WAY;
    let left: f64 =
        reading.fits.iter().zip(shares).filter(|(fit, _)| alike(fit)).map(|(_, share)| share).sum();
    left < LEAST_LEFT
}

#[cfg(test)]
mod tests;
