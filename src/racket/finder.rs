//! Looks for the racket around a hand.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, mpsc};
use std::thread;

use ndarray::{Array3, ArrayView3, Axis, s};

use super::decode;
use super::motion::racket_length;
use super::sight::{Sight, Sightings};
use crate::error::ErrorKind;
use crate::geometry::Point2;
use crate::model::card::{Head, Role};
use crate::model::session::Outputs;
use crate::model::{Card, Image, ModelError, Places, Processor, Region, Session, crop};
use crate::pose::{Joint, Motion, Side};
use crate::units::FrameIndex;
use crate::video::{Frame, Picture, VideoError};

/// Name of the racket network's card.
pub const NETWORK: &str = "racket";

/// Hands that may wait for each copy of the network: one look takes up to four times as long as another.
const EACH: usize = 2;

/// Places that are kept of one look.
const KEPT: usize = 6;

/// Two sights whose points all lie closer than this share of a racket's length are one.
const SAME: f64 = 0.06;

/// What is less sure than this at first is looked for once more, around the hand end of what was found: the wrist may be off.
const SURE: f64 = 0.5;

/// What is surer than this needs no look at its mirror image.
const CLEAR: f64 = 0.97;

/// Looking for the racket failed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LookError {
    /// The network fails.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// The clip can't be read on.
    #[error(transparent)]
    Video(#[from] VideoError),
}

impl LookError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Model(error) => error.kind(),
            Self::Video(error) => error.kind(),
        }
    }
}

/// The racket network.
#[derive(Debug)]
pub struct Finder {
    card: Card,
    heat: String,
    seen: String,
    /// Copies of the network that look at the same time, one for each core.
    eyes: Vec<Eye>,
}

/// One copy of the network.
#[derive(Debug)]
struct Eye {
    session: Session,
    input: Vec<f32>,
}

/// A hand to look around.
#[derive(Debug, Clone, Copy)]
struct Hand {
    centre: Point2,
    /// Length of a racket there, pixels.
    length: f64,
}

impl Finder {
    /// Loads the network for a processor.
    ///
    /// # Errors
    /// [`ModelError::Card`] where the card is of another role, and those of [`Session::load`].
    pub fn load(places: &Places, on: impl Into<Processor>) -> Result<Self, ModelError> {
        let card = places.card(NETWORK)?;
        let Head::CellChances { heatmap, seen } = &card.head else {
            return Err(card.error(format!("a model with the role {:?} is needed", Role::RacketPoints)));
        };
        let (heat, seen) = (heatmap.clone(), seen.clone());
        let on = on.into();
        let each = Processor { threads: 1, ..on };
        let eyes = (0..on.threads.max(1))
            .map(|_| Ok(Eye { session: Session::load(places, &card, each)?, input: Vec::new() }))
            .collect::<Result<_, ModelError>>()?;
        Ok(Self { card, heat, seen, eyes })
    }

    /// The model's card.
    pub fn card(&self) -> &Card {
        &self.card
    }

    /// Looks for the racket in the wanted pictures of a clip, around the hand of the player who moves as `motion` says.
    /// Reads `frames` no further than the last of them. Every copy of the network takes the next hand as soon as it is free.
    ///
    /// # Errors
    /// [`LookError`].
    pub fn look_through(
        &mut self,
        frames: impl Iterator<Item = Result<Frame, VideoError>>,
        motion: &Motion,
        wanted: &[(FrameIndex, Side)],
    ) -> Result<Sightings, LookError> {
        let (card, names) = (&self.card, [self.heat.as_str(), self.seen.as_str()]);
        let (send, waiting) = mpsc::sync_channel::<Waiting>(EACH * self.eyes.len());
        let waiting = Arc::new(Mutex::new(waiting));
        thread::scope(|scope| {
            let workers: Vec<_> = self
                .eyes
                .iter_mut()
                .map(|eye| {
                    let waiting = waiting.clone();
                    scope.spawn(move || eye.look_while(&waiting, card, names))
                })
                .collect();
            // The last worker that ends takes the queue with it, so that nobody waits for room in it any more.
            drop(waiting);
            let shown = show(frames, motion, wanted, &send);
            drop(send);
            let mut found = Sightings::default();
            for worker in workers {
                found.join(worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?);
            }
            shown?;
            Ok(found)
        })
    }
}

/// A hand to be looked at in a picture.
struct Waiting {
    frame: FrameIndex,
    side: Side,
    hand: Hand,
    picture: Arc<Picture>,
}

/// Sends every wanted hand to be looked at, as its frame comes by.
fn show(
    frames: impl Iterator<Item = Result<Frame, VideoError>>,
    motion: &Motion,
    wanted: &[(FrameIndex, Side)],
    to: &mpsc::SyncSender<Waiting>,
) -> Result<(), VideoError> {
    let mut hands: BTreeMap<FrameIndex, Vec<Side>> = BTreeMap::new();
    for (frame, side) in wanted {
        hands.entry(*frame).or_default().push(*side);
    }
    let last = hands.keys().next_back().copied();
    for frame in frames {
        let frame = frame?;
        if last.is_none_or(|last| frame.index > last) {
            break;
        }
        let Ok(place) = motion.indices.binary_search(&frame.index) else { continue };
        let picture = Arc::new(frame.picture);
        for side in hands.get(&frame.index).into_iter().flatten() {
            let Some(hand) = hand(motion, place, *side) else { continue };
            let waiting = Waiting { frame: frame.index, side: *side, hand, picture: picture.clone() };
            // Nobody takes it any more where all networks have failed; their errors say why.
            if to.send(waiting).is_err() {
                return Ok(());
            }
        }
    }
    Ok(())
}

impl Eye {
    /// Looks at what waits, one hand after another, until nothing more comes.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails or its outputs don't fit its card.
    fn look_while(
        &mut self,
        waiting: &Mutex<mpsc::Receiver<Waiting>>,
        card: &Card,
        names: [&str; 2],
    ) -> Result<Sightings, ModelError> {
        let mut found = Sightings::default();
        // Nobody panics while taking; if somebody did, nothing more would come.
        while let Some(next) = waiting.lock().ok().and_then(|queue| queue.recv().ok()) {
            let sights = self.look(card, names, &next.picture, next.hand)?;
            found.keep(next.side, next.frame, sights);
        }
        Ok(found)
    }

    /// Looks around a hand, sights in pixels, likeliest first: around the wrist, and once more around the grip where that has not shown
    /// a racket for sure.
    fn look(
        &mut self,
        card: &Card,
        names: [&str; 2],
        picture: &Picture,
        hand: Hand,
    ) -> Result<Vec<Sight>, ModelError> {
        let first = self.pass(card, names, picture, hand)?;
        let Some(best) = first.first().filter(|best| best.confidence < SURE) else { return Ok(first) };
        let second = self.pass(card, names, picture, Hand { centre: best.butt, ..hand })?;
        // The surer look goes first; where both see the same, what it says stands.
        let sure = |sights: &[Sight]| sights.first().map_or(0.0, |best| best.confidence);
        let (mut better, other) =
            if sure(&second) > sure(&first) { (second, first) } else { (first, second) };
        let same = SAME * hand.length;
        for sight in other {
            if better.iter().all(|known| known.apart(&sight) > same) {
                better.push(sight);
            }
        }
        better.truncate(KEPT);
        Ok(better)
    }

    /// One look: at the picture, and where that has not shown a racket beyond doubt at its mirror image as well; the mean of what
    /// they show.
    fn pass(
        &mut self,
        card: &Card,
        names: [&str; 2],
        picture: &Picture,
        hand: Hand,
    ) -> Result<Vec<Sight>, ModelError> {
        let (width, height) = (card.input.width, card.input.height);
        let rule = card.region;
        let region = Region::square(hand.centre, rule.scale * hand.length);
        let map = region.map(width, height, rule.sampling);
        self.input.resize(self.session.input_len(), 0.0);
        let image = Image::new(picture.width, picture.height, &picture.rgb)?;
        crop::sample_smaller(image, &map, rule.border, &card.input, &mut self.input);
        let sights = |view: &View| -> Vec<Sight> {
            let place = |[x, y]: [f64; 2]| map.apply(x * width as f64 - 0.5, y * height as f64 - 0.5);
            let sight = |c: decode::Candidate| Sight {
                butt: place(c.butt),
                throat: place(c.throat),
                middle: place(c.middle),
                tip: place(c.tip),
                score: c.score,
                confidence: c.confidence,
                // From the maps' order to that along the racket.
                seen: [c.seen[0], c.seen[1], c.seen[3], c.seen[2]],
            };
            decode::candidates(view.heat.view(), &view.seen, KEPT).into_iter().map(sight).collect()
        };
        let view = View::of(card, names, &self.session.run(&self.input)?)?;
        let found = sights(&view);
        if found.first().is_some_and(|best| best.confidence >= CLEAR) {
            return Ok(found);
        }
        self.input.chunks_exact_mut(width).for_each(<[f32]>::reverse);
        let mirrored = View::of(card, names, &self.session.run(&self.input)?)?;
        Ok(sights(&view.beside(&mirrored)))
    }
}

/// What the network says of one input.
struct View {
    /// Chances of the cells, `[4, rows, columns]`.
    heat: Array3<f32>,
    /// Chance that each point is seen.
    seen: [f32; 4],
}

impl View {
    /// What the network's answer to one input says.
    ///
    /// # Errors
    /// [`ModelError`] where it doesn't fit the card.
    fn of(card: &Card, [heat, seen]: [&str; 2], outputs: &Outputs<'_>) -> Result<Self, ModelError> {
        let (shape, values) = outputs.get(heat, 0)?;
        let (_, values_seen) = outputs.get(seen, 0)?;
        let cells = match shape {
            [points, rows, columns] => (*points as usize, *rows as usize, *columns as usize),
            _ => (0, 0, 0),
        };
        let cells = ArrayView3::from_shape(cells, values).ok().filter(|heat| heat.dim().0 == 4);
        match (cells, <&[f32; 4]>::try_from(values_seen)) {
            (Some(cells), Ok(seen)) => Ok(Self { heat: chances(cells), seen: *seen }),
            _ => Err(card.error(format!(
                "four points are needed; `{heat}` has the shape {shape:?}, `{seen}` {} values",
                values_seen.len()
            ))),
        }
    }

    /// The mean of this and of what was seen in the mirror.
    fn beside(&self, mirrored: &Self) -> Self {
        Self {
            heat: 0.5 * (&self.heat + &mirrored.heat.slice(s![.., .., ..;-1])),
            seen: std::array::from_fn(|k| 0.5 * (self.seen[k] + mirrored.seen[k])),
        }
    }
}

/// Chances of each map's cells, with a sum of 1 for each map, from their logits (softmax).
fn chances(logits: ArrayView3<f32>) -> Array3<f32> {
    let mut chances = logits.to_owned();
    for mut map in chances.axis_iter_mut(Axis(0)) {
        let largest = map.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        map.mapv_inplace(|logit| (logit - largest).exp());
        let sum = map.sum();
        map /= sum;
    }
    chances
}

/// Whether there is a hand in a picture around which the racket can be looked for.
pub fn can_look(motion: &Motion, frame: FrameIndex, side: Side) -> bool {
    motion.indices.binary_search(&frame).is_ok_and(|place| hand(motion, place, side).is_some())
}

/// The hand in a picture, where it and the size of the body are known.
fn hand(motion: &Motion, place: usize, side: Side) -> Option<Hand> {
    let centre = motion.point(place, Joint::Wrist.on(side))?.at;
    let length = racket_length(motion, place)?;
    Some(Hand { centre, length })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_of_a_map_sum_to_one_and_keep_its_order() {
        let logits =
            Array3::from_shape_fn((4, 3, 2), |(k, y, x)| (k as f32 - 2.0) * (y * 2 + x) as f32 + 400.0);
        let found = chances(logits.view());
        for (map, of) in found.outer_iter().zip(logits.outer_iter()) {
            assert!((map.sum() - 1.0).abs() < 1e-5);
            let ratio = (map[[1, 1]] / map[[0, 0]]).ln();
            assert!((ratio - (of[[1, 1]] - of[[0, 0]])).abs() < 1e-3, "{ratio}");
        }
    }
}
