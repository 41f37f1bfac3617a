//! Looks for the racket around a hand.

use std::collections::BTreeMap;
use std::rc::Rc;

use ndarray::{Array3, ArrayView3, Axis, s};
use rayon::prelude::*;

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

/// Hands that wait for each copy of the network until all look.
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
    /// Reads `frames` no further than the last of them.
    ///
    /// # Errors
    /// [`LookError`].
    pub fn look_through(
        &mut self,
        frames: impl Iterator<Item = Result<Frame, VideoError>>,
        motion: &Motion,
        wanted: &[(FrameIndex, Side)],
    ) -> Result<Sightings, LookError> {
        let mut found = Sightings::default();
        let mut hands: BTreeMap<FrameIndex, Vec<Side>> = BTreeMap::new();
        for (frame, side) in wanted {
            hands.entry(*frame).or_default().push(*side);
        }
        let last = hands.keys().next_back().copied();
        let mut waiting: Vec<(FrameIndex, Side, Hand, Rc<Picture>)> = Vec::new();
        for frame in frames {
            let frame = frame?;
            if last.is_none_or(|last| frame.index > last) {
                break;
            }
            let Ok(place) = motion.indices.binary_search(&frame.index) else { continue };
            let picture = Rc::new(frame.picture);
            for side in hands.get(&frame.index).into_iter().flatten() {
                if let Some(hand) = hand(motion, place, *side) {
                    waiting.push((frame.index, *side, hand, picture.clone()));
                }
            }
            if waiting.len() >= EACH * self.eyes.len() {
                self.settle(&mut waiting, &mut found)?;
            }
        }
        self.settle(&mut waiting, &mut found)?;
        Ok(found)
    }

    /// Looks around hands, each in a picture of its own: sights in pixels, likeliest first.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails or its outputs don't fit its card.
    fn look(&mut self, hands: &[(&Picture, Hand)]) -> Result<Vec<Vec<Sight>>, ModelError> {
        let (card, names) = (&self.card, [self.heat.as_str(), self.seen.as_str()]);
        let each = hands.len().div_ceil(self.eyes.len()).max(1);
        let look = |(hands, eye): (&[(&Picture, Hand)], &mut Eye)| {
            // A core is no quicker with many at a time; a card puts together what all copies ask.
            let looks = hands.chunks(1).map(|hands| eye.look(card, names, hands));
            Ok(looks.collect::<Result<Vec<_>, ModelError>>()?.concat())
        };
        let found: Result<Vec<Vec<Vec<Sight>>>, ModelError> =
            hands.par_chunks(each).zip(self.eyes.par_iter_mut()).map(look).collect();
        Ok(found?.concat())
    }

    /// Looks at all that waits.
    fn settle(
        &mut self,
        waiting: &mut Vec<(FrameIndex, Side, Hand, Rc<Picture>)>,
        found: &mut Sightings,
    ) -> Result<(), ModelError> {
        let hands: Vec<(&Picture, Hand)> = waiting.iter().map(|(.., hand, p)| (p.as_ref(), *hand)).collect();
        let sights = self.look(&hands)?;
        for ((frame, side, ..), sights) in waiting.drain(..).zip(sights) {
            found.keep(side, frame, sights);
        }
        Ok(())
    }
}

impl Eye {
    /// Looks around hands: around the wrist first, and once more around the grip where that has not shown a racket for sure.
    fn look(
        &mut self,
        card: &Card,
        names: [&str; 2],
        hands: &[(&Picture, Hand)],
    ) -> Result<Vec<Vec<Sight>>, ModelError> {
        let mut found = self.pass(card, names, hands)?;
        let (again, which): (Vec<(&Picture, Hand)>, Vec<usize>) = hands
            .iter()
            .enumerate()
            .filter_map(|(i, (picture, hand))| {
                let best = found[i].first().filter(|best| best.confidence < SURE)?;
                Some(((*picture, Hand { centre: best.butt, ..*hand }), i))
            })
            .unzip();
        if again.is_empty() {
            return Ok(found);
        }
        for (i, sights) in which.into_iter().zip(self.pass(card, names, &again)?) {
            // The surer look goes first; where both see the same, what it says stands.
            let sure = |sights: &[Sight]| sights.first().map_or(0.0, |best| best.confidence);
            let (better, other) = if sure(&sights) > sure(&found[i]) {
                let first = std::mem::replace(&mut found[i], sights);
                (&mut found[i], first)
            } else {
                (&mut found[i], sights)
            };
            let same = SAME * hands[i].1.length;
            for sight in other {
                if better.iter().all(|known| known.apart(&sight) > same) {
                    better.push(sight);
                }
            }
            found[i].truncate(KEPT);
        }
        Ok(found)
    }

    /// One look at each hand: at the picture, and where that has not shown a racket beyond doubt at its mirror image as well; the mean of
    /// what they show.
    fn pass(
        &mut self,
        card: &Card,
        names: [&str; 2],
        hands: &[(&Picture, Hand)],
    ) -> Result<Vec<Vec<Sight>>, ModelError> {
        let (width, height) = (card.input.width, card.input.height);
        let size = self.session.input_len();
        let rule = card.region;
        let regions: Vec<Region> =
            hands.iter().map(|(_, hand)| Region::square(hand.centre, rule.scale * hand.length)).collect();
        self.input.resize(size * hands.len(), 0.0);
        for (((picture, _), region), input) in
            hands.iter().zip(&regions).zip(self.input.chunks_exact_mut(size))
        {
            let image = Image::new(picture.width, picture.height, &picture.rgb)?;
            let map = region.map(width, height, rule.sampling);
            crop::sample_smaller(image, &map, rule.border, &card.input, input);
        }
        let sights = |view: &View, region: &Region| -> Vec<Sight> {
            let map = region.map(width, height, rule.sampling);
            let place = |[x, y]: [f64; 2]| map.apply(x * width as f64 - 0.5, y * height as f64 - 0.5);
            let candidates = decode::candidates(view.heat.view(), &view.seen, KEPT);
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
            candidates.into_iter().map(sight).collect()
        };
        let views = views(card, names, &mut self.session, &self.input)?;
        let mut found: Vec<Vec<Sight>> = views.iter().zip(&regions).map(|(v, r)| sights(v, r)).collect();
        let is_clear = |i: &usize| found[*i].first().is_some_and(|best| best.confidence >= CLEAR);
        let unclear: Vec<usize> = (0..hands.len()).filter(|i| !is_clear(i)).collect();
        if unclear.is_empty() {
            return Ok(found);
        }
        let mut input = Vec::with_capacity(size * unclear.len());
        for i in &unclear {
            let rows = self.input[i * size..(i + 1) * size].chunks_exact(width);
            rows.for_each(|row| input.extend(row.iter().rev()));
        }
        for (i, mirrored) in unclear.iter().zip(self::views(card, names, &mut self.session, &input)?) {
            found[*i] = sights(&views[*i].beside(&mirrored), &regions[*i]);
        }
        Ok(found)
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
    /// The mean of this and of what was seen in the mirror.
    fn beside(&self, mirrored: &Self) -> Self {
        Self {
            heat: 0.5 * (&self.heat + &mirrored.heat.slice(s![.., .., ..;-1])),
            seen: std::array::from_fn(|k| 0.5 * (self.seen[k] + mirrored.seen[k])),
        }
    }
}

/// What the network says of each input of a batch.
fn views(
    card: &Card,
    names: [&str; 2],
    session: &mut Session,
    input: &[f32],
) -> Result<Vec<View>, ModelError> {
    let count = input.len() / session.input_len();
    let outputs = session.run(input)?;
    (0..count)
        .map(|item| {
            let (heat, seen) = chances_and_seen(card, names, &outputs, item)?;
            Ok(View { heat, seen: *seen })
        })
        .collect()
}

/// Chances of the cells `[4, rows, columns]` and that each point is seen, of one picture of a batch.
fn chances_and_seen<'a>(
    card: &Card,
    [heat, seen]: [&str; 2],
    outputs: &'a Outputs<'_>,
    item: usize,
) -> Result<(Array3<f32>, &'a [f32; 4]), ModelError> {
    let (shape, values) = outputs.get(heat, item)?;
    let (_, values_seen) = outputs.get(seen, item)?;
    let cells = match shape {
        [points, rows, columns] => (*points as usize, *rows as usize, *columns as usize),
        _ => (0, 0, 0),
    };
    let cells = ArrayView3::from_shape(cells, values).ok().filter(|heat| heat.dim().0 == 4);
    match (cells, <&[f32; 4]>::try_from(values_seen)) {
        (Some(cells), Ok(seen)) => Ok((chances(cells), seen)),
        _ => Err(card.error(format!(
            "four points are needed; `{heat}` has the shape {shape:?}, `{seen}` {} values",
            values_seen.len()
        ))),
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
