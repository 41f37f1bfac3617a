//! From the picture of an empty court to a reading of the camera.

use super::answer::answer;
use super::assume::{Assumptions, Lens, Standing};
use super::band::{Band, bands};
use super::empty::Empty;
use super::explain::explained;
use super::fit::{Fitted, Named, fit};
use super::ground::Ground;
use super::guess::{Guess, glasses, guesses, prior};
use super::judge::{absent, additions, assign, sees_net, unexplained, worth};
use super::paint::Line;
use super::plane::Plane;
use super::pose::{Pose, Setting, YAW};
use super::reading::{Reading, Silence};
use crate::geometry::Point2;

/// Smallest picture in which lines can be told, pixels.
const SMALLEST: u32 = 160;
/// Bands that are kept, strongest first.
const MOST_BANDS: usize = 14;
/// Paint is never so wide, metres, with what a child's size may make of it; blur adds some pixels.
const WIDEST_PAINT: f64 = 0.2;
const BLUR: f64 = 3.0;
/// Bands before anything but ground that may be along a net's top: how many are kept, and their least length as a share of the picture's width.
const MOST_TAPES: usize = 3;
const TAPE_LENGTH: f64 = 0.12;
/// Least share of a band that has ground on both sides.
const GROUND: f64 = 0.5;
/// Most scatter of a band's edges, pixels.
const MOST_SCATTER: f64 = 0.8;
/// A band with so many others close beside it belongs to a roof, to steps or to rows of seats.
const STRIPES: usize = 4;
/// Paint is near white, or at least less coloured than what it lies on: dust covers it.
const MOST_COLOUR: f64 = 0.42;
const LESS_COLOUR: f64 = 0.75;
/// Guesses of which the missing paint is looked at, those that are fitted, and those that are fitted with every lens.
const LOOKED_AT: usize = 500;
const FITTED: usize = 60;
const EVERY_LENS: usize = 8;
/// Readings to which bands are added, those of which bands are taken for other lines, how many are tried with each, and how often.
const GROWN: usize = 20;
const RENAMED: usize = 4;
const MOST_ADDED: usize = 8;
const GROWN_ROUNDS: usize = 2;
/// How much missing paint counts.
const MISSING: f64 = 0.6;
/// How much bands on the court count that are no line of it.
const UNEXPLAINED: f64 = 0.5;

/// What the lines in the picture of an empty court say about the camera.
pub fn read(empty: &Empty, player: Option<Standing>, assumptions: &Assumptions) -> Reading {
    let size = (empty.picture.width, empty.picture.height);
    let middle = Point2::new(0.5 * f64::from(size.0), 0.8 * f64::from(size.1));
    let foot = player.map_or(middle, |p| p.foot);
    if player.is_none() || size.0.min(size.1) < SMALLEST {
        return Reading::nothing(Silence::NoPicture, size, empty.frame, foot);
    }
    let scene = Scene::new(empty, player, assumptions);
    answer(&scene, &scene.readings(), empty.frame, foot)
}

/// A reading in the making.
#[derive(Debug, Clone)]
pub(super) struct Judged {
    pub fitted: Fitted,
    /// Logarithm of the evidence, up to a constant.
    pub evidence: f64,
    /// Worth of the bands that are explained.
    pub gain: f64,
    /// Worth of the bands that lie on the court and aren't.
    pub unexplained: f64,
    /// Paint that is missing, and all that is expected.
    pub missing: f64,
    pub expected: f64,
}

/// All that is needed to judge poses for one picture.
pub(super) struct Scene<'a> {
    pub setting: Setting<'a>,
    pub lenses: &'a [Lens],
    pub bands: Vec<Band>,
    pub plane: Plane,
    pub empty: &'a Empty,
}

impl<'a> Scene<'a> {
    pub fn new(empty: &'a Empty, player: Option<Standing>, assumptions: &'a Assumptions) -> Self {
        let plane = Plane::darkest(&empty.picture);
        let setting = Setting {
            width: plane.width as f64,
            height: plane.height as f64,
            crop: assumptions.crop,
            player,
            placed: &[],
        };
        let bands = strongest(bands(&empty.picture, &plane), empty, &plane, player.as_ref());
        Self { setting, lenses: &assumptions.lenses, bands, plane, empty }
    }

    /// The readings, likeliest first.
    pub fn readings(&self) -> Vec<Judged> {
        let glasses = glasses(&self.setting, self.lenses, &self.bands);
        let mut scored: Vec<(f64, Guess, Vec<Option<Line>>)> = Vec::new();
        let worths: Vec<f64> = self.bands.iter().map(|b| worth(b, &self.setting)).collect();
        guesses(&self.setting, &glasses, |guess| {
            let (explained, named) =
                explained(&guess, &glasses[guess.glass], &self.bands, &worths, &self.setting);
            scored.push((explained + prior(&guess.pose), guess, named));
        });
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        let lens = |guess: &Guess| glasses[guess.glass].lens;
        let mut kept: Vec<(f64, Guess, Vec<Option<Line>>)> = Vec::new();
        let mut seen = std::collections::HashSet::new();
        for (score, guess, named) in scored {
            let key = (named.clone(), lens(&guess), (guess.pose[YAW] / 0.5).round() as i64);
            if seen.insert(key) {
                let seen: Named =
                    named.iter().enumerate().filter_map(|(k, line)| Some((k, (*line)?))).collect();
                let missing = absent(&guess.pose, sees_net(&seen), &self.plane, self.empty, 10.0).missing;
                let foreign = unexplained(&guess.pose, &seen, &self.bands, &self.setting);
                kept.push((score - missing - 2.0 * UNEXPLAINED * foreign, guess, named));
            }
            if kept.len() >= LOOKED_AT {
                break;
            }
        }
        kept.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut readings: Vec<Judged> = kept
            .into_iter()
            .take(FITTED)
            .filter_map(|(_, guess, _)| {
                self.refined(&guess.pose, lens(&guess), guess.own.into_iter().flatten().collect())
            })
            .collect();
        for _ in 0..GROWN_ROUNDS {
            let more = self.through_every_lens(&best_first(&mut readings, EVERY_LENS));
            readings.extend(more);
            let more = self.renamed(&best_first(&mut readings, RENAMED));
            readings.extend(more);
            let more = self.grown(&best_first(&mut readings, GROWN));
            readings.extend(more);
        }
        best_first(&mut readings, 0);
        readings
    }

    /// Readings seen through the other lenses.
    fn through_every_lens(&self, readings: &[Judged]) -> Vec<Judged> {
        let others = |reading: &Judged| {
            let (fitted, count) = (reading.fitted.clone(), self.lenses.len());
            let lenses = (0..count).filter(move |lens| *lens != fitted.lens);
            lenses
                .filter_map(|lens| self.refined(&reading.fitted.pose, lens, reading.fitted.named.clone()))
                .collect::<Vec<_>>()
        };
        readings.iter().flat_map(others).collect()
    }

    /// Readings with one band taken for another line that runs the same way. A far line that is taken for the wrong one makes the lens
    /// longer or shorter, which guesses from other bands may not cover.
    fn renamed(&self, readings: &[Judged]) -> Vec<Judged> {
        let others = |reading: &Judged| {
            let Fitted { named, pose, lens, .. } = &reading.fitted;
            let is_free = |line: &Line| named.iter().all(|(_, taken)| taken != line);
            let mut more = Vec::new();
            for (place, (band, old)) in named.iter().enumerate() {
                let same_way = |line: &Line| line.is_along() == old.is_along() && *line != Line::Mark;
                for line in Line::painted().filter(|line| same_way(line) && is_free(line)) {
                    let mut named = named.clone();
                    named[place] = (*band, line);
                    more.extend(self.refined(pose, *lens, named));
                }
            }
            more
        };
        readings.iter().filter(|reading| reading.fitted.named.len() > 2).flat_map(others).collect()
    }

    /// Readings with one more band taken for a line that is near it. A fit to few bands leaves the lens and the tilt so open
    /// that the next band can lie far from its line.
    fn grown(&self, readings: &[Judged]) -> Vec<Judged> {
        let more = |reading: &Judged| {
            let fitted = &reading.fitted;
            let add = |addition| {
                let mut named = fitted.named.clone();
                named.push(addition);
                named.sort_unstable();
                self.refined(&fitted.pose, fitted.lens, named).filter(|j| j.evidence > reading.evidence)
            };
            let additions = additions(&fitted.pose, &fitted.named, &self.bands, &self.setting);
            additions.into_iter().take(MOST_ADDED).filter_map(add).collect::<Vec<_>>()
        };
        readings.iter().flat_map(more).collect()
    }

    /// A guess fitted from its own lines first, then from all bands that come to lie on lines.
    pub fn refined(&self, start: &Pose, lens: usize, own: Named) -> Option<Judged> {
        let mut fitted = self.fit(start, lens, own, 10)?;
        for _ in 0..2 {
            let named = assign(&fitted.pose, &self.bands, &self.setting);
            fitted = self.pruned(&fitted.pose, lens, named, 12)?;
        }
        Some(self.judged(fitted))
    }

    fn fit(&self, start: &Pose, lens: usize, named: Named, steps: usize) -> Option<Fitted> {
        fit(&self.setting, self.lenses, lens, &self.bands, named, start, steps)
    }

    /// A fit without the bands that cost more than they are worth.
    fn pruned(&self, start: &Pose, lens: usize, named: Named, steps: usize) -> Option<Fitted> {
        let mut fitted = self.fit(start, lens, named, steps)?;
        for _ in 0..4 {
            let over = |k: &usize| fitted.each[*k] - worth(&self.bands[fitted.named[*k].0], &self.setting);
            let worst = (0..fitted.named.len()).max_by(|a, b| over(a).total_cmp(&over(b)))?;
            if over(&worst) <= 0.0 {
                return Some(fitted);
            }
            if fitted.named.len() <= 2 {
                return None;
            }
            let mut named = fitted.named.clone();
            named.remove(worst);
            fitted = self.fit(&fitted.pose, lens, named, 12)?;
        }
        Some(fitted)
    }

    fn judged(&self, fitted: Fitted) -> Judged {
        let absent = absent(&fitted.pose, sees_net(&fitted.named), &self.plane, self.empty, 3.0);
        let gain = fitted.named.iter().map(|(band, _)| worth(&self.bands[*band], &self.setting)).sum::<f64>();
        let unexplained = unexplained(&fitted.pose, &fitted.named, &self.bands, &self.setting);
        let lens = &self.lenses[fitted.lens];
        let evidence =
            -fitted.cost + fitted.log_volume + gain - MISSING * absent.missing - UNEXPLAINED * unexplained
                + lens.log_share();
        Judged { fitted, evidence, gain, unexplained, missing: absent.missing, expected: absent.expected }
    }
}

/// Sorts readings, likeliest first; answers with the first ones that name different lines.
fn best_first(readings: &mut [Judged], count: usize) -> Vec<Judged> {
    readings.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let mut best: Vec<Judged> = Vec::new();
    for reading in readings.iter() {
        if best.len() >= count {
            break;
        }
        if best.iter().all(|other| other.fitted.named != reading.fitted.named) {
            best.push(reading.clone());
        }
    }
    best
}

/// Whether a band is above the player's middle.
fn is_high(band: &Band, player: Option<&Standing>) -> bool {
    player.is_some_and(|p| band.middle().y < p.head.y + 0.35 * (p.foot.y - p.head.y))
}

/// Whether a band is wider than any paint that is no nearer than the player.
fn is_too_wide(band: &Band, player: &Standing) -> bool {
    let metre = (player.foot.y - player.head.y) / player.head_height.0.0;
    band.middle().y < player.foot.y && band.width() > WIDEST_PAINT * metre + BLUR
}

/// The bands that may be painted lines on the ground, strongest first.
fn strongest(bands: Vec<Band>, empty: &Empty, plane: &Plane, player: Option<&Standing>) -> Vec<Band> {
    let bands: Vec<Band> = {
        let stripes = |b: &&Band| {
            is_high(b, player) && bands.iter().filter(|other| b.is_beside(other)).count() >= STRIPES
        };
        bands.iter().filter(|b| !stripes(b)).cloned().collect()
    };
    let ground = Ground::of(&empty.picture, plane, player, &bands);
    let (mut kept, mut tapes) = (Vec::new(), Vec::new());
    let likely = bands
        .into_iter()
        .filter(|b| player.is_none_or(|player| !is_too_wide(b, player)))
        .filter(|b| b.scatter < MOST_SCATTER && b.colours[0] < MOST_COLOUR.max(LESS_COLOUR * b.colours[1]))
        .filter(|b| {
            // The remains of a player or a shadow: wide, even, faint.
            let even = (b.widths[0] - b.widths[1]).abs() < 0.15 * b.width();
            !(b.width() > 8.0 && even && b.contrast < 20.0)
        })
        .map(|b| (b.length() * (b.contrast / 25.0).min(1.0), b));
    for (strength, band) in likely {
        if ground.beside(&band, &empty.picture) >= GROUND {
            // Lines lie on the ground: what is above the player's middle comes last (a high camera may still need it).
            let high = if is_high(&band, player) { 0.25 } else { 1.0 };
            kept.push((high * strength, band));
        } else if band.length() > TAPE_LENGTH * plane.width as f64 {
            // Beyond a net may be anything.
            tapes.push((strength, Band { on_ground: false, ..band }));
        }
    }
    let strongest = |mut bands: Vec<(f64, Band)>, most| {
        bands.sort_by(|a, b| b.0.total_cmp(&a.0));
        bands.into_iter().take(most).map(|(_, band)| band)
    };
    strongest(kept, MOST_BANDS).chain(strongest(tapes, MOST_TAPES)).collect()
}
