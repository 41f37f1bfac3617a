//! Finds people of any size, rackets and balls.

use super::region::overlap;
use crate::geometry::Point2;
use crate::model::card::{Border, Classes, Head, Role};
use crate::model::{Card, Image, ModelError, Places, Processor, Session, crop};

/// What an object is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A person.
    Person,
    /// A ball.
    Ball,
    /// A tennis racket.
    Racket,
}

/// An object that the detector found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Object {
    /// What it is.
    pub kind: Kind,
    /// How sure the detector is, 0 to 1.
    pub score: f32,
    /// Left, top, right, bottom in pixels of the picture; unlike in points, whole numbers are edges of pixels.
    pub corners: [f64; 4],
}

/// A network that finds people, rackets and balls.
#[derive(Debug)]
pub struct ObjectDetector {
    card: Card,
    classes: Classes,
    session: Session,
    input: Vec<f32>,
}

impl ObjectDetector {
    /// Loads the detector of a card.
    ///
    /// # Errors
    /// [`ModelError::Card`] where the card is of another role, and those of [`Session::load`].
    pub fn load(places: &Places, card: Card, on: impl Into<Processor>) -> Result<Self, ModelError> {
        let (Head::Distribution { .. }, Some(classes)) = (&card.head, card.classes) else {
            return Err(card.error(format!("a model with the role {:?} is needed", Role::ObjectDetector)));
        };
        let session = Session::load(places, &card, on)?;
        let input = vec![0.0; session.input_len()];
        Ok(Self { card, classes, session, input })
    }

    /// The model's card.
    pub fn card(&self) -> &Card {
        &self.card
    }

    /// The objects in a picture, surest first within each kind, with at least the card's score.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails or its outputs don't fit its card.
    pub fn detect(&mut self, image: Image<'_>) -> Result<Vec<Object>, ModelError> {
        let whole = [0.0, 0.0, f64::from(image.width()), f64::from(image.height())];
        self.detect_in(image, whole, None)
    }

    /// The objects in a part of the picture (left, top, right, bottom; pixels), which is enlarged or shrunk to the model's
    /// input. `score_minimum` replaces the card's where it is given.
    ///
    /// # Errors
    /// As [`Self::detect`].
    pub fn detect_in(
        &mut self,
        image: Image<'_>,
        window: [f64; 4],
        score_minimum: Option<f32>,
    ) -> Result<Vec<Object>, ModelError> {
        let Head::Distribution { scores, distances, strides, bins, score_minimum: own, overlap_maximum } =
            &self.card.head
        else {
            return Ok(Vec::new());
        };
        let minimum = score_minimum.unwrap_or(*own);
        let (width, height) = (self.card.input.width, self.card.input.height);
        let (window_width, window_height) =
            ((window[2] - window[0]).max(1.0), (window[3] - window[1]).max(1.0));
        // Input pixels per pixel of the picture; the window fills the input's upper left part.
        let zoom = (width as f64 / window_width).min(height as f64 / window_height);
        let columns = ((window_width * zoom).round() as usize).clamp(1, width);
        let rows = ((window_height * zoom).round() as usize).clamp(1, height);
        let map = crop::Affine {
            x: [window_width / columns as f64, 0.0, window[0]],
            y: [0.0, window_height / rows as f64, window[1]],
        }
        .shifted_by_half();
        // Inside its part the window has no border but the picture's own.
        crop::sample(image, &map, Border::Replicate, (columns, rows), &self.card.input, &mut self.input);
        let outputs = self.session.run(&self.input)?;
        let (_, probabilities) = outputs.get(scores, 0)?;
        let (_, sides) = outputs.get(distances, 0)?;
        let places: Vec<(Point2, f64)> = cell_middles(width, height, strides);
        let class_count = probabilities.len() / places.len().max(1);
        if probabilities.len() != class_count * places.len() || sides.len() != 4 * bins * places.len() {
            return Err(self.card.error(format!(
                "strides give {} cells, but the model has {} values of `{distances}`",
                places.len(),
                sides.len()
            )));
        }
        let wanted = [
            (Kind::Person, Some(self.classes.person)),
            (Kind::Ball, self.classes.ball),
            (Kind::Racket, self.classes.racket),
        ];
        let mut found = Vec::new();
        for (kind, class) in wanted {
            let Some(class) = class.filter(|class| *class < class_count) else { continue };
            let mut of_kind: Vec<Object> = Vec::new();
            for (cell, (middle, stride)) in places.iter().enumerate() {
                let score = probabilities[cell * class_count + class];
                if score <= minimum {
                    continue;
                }
                let side = |side: usize| {
                    let at = (cell * 4 + side) * bins;
                    expected_bin(&sides[at..at + bins]) * stride
                };
                let corners =
                    [middle.x - side(0), middle.y - side(1), middle.x + side(2), middle.y + side(3)];
                let corners = [
                    window[0] + corners[0] / zoom,
                    window[1] + corners[1] / zoom,
                    window[0] + corners[2] / zoom,
                    window[1] + corners[3] / zoom,
                ];
                of_kind.push(Object { kind, score, corners });
            }
            of_kind.sort_by(|a, b| b.score.total_cmp(&a.score));
            let first = found.len();
            for object in of_kind {
                let doubled = found[first..]
                    .iter()
                    .any(|kept: &Object| overlap(kept.corners, object.corners) >= *overlap_maximum);
                if !doubled {
                    found.push(object);
                }
            }
        }
        Ok(found)
    }
}

/// Middles of the cells in input pixels with their strides, grid after grid, row by row.
fn cell_middles(width: usize, height: usize, strides: &[usize]) -> Vec<(Point2, f64)> {
    let mut middles = Vec::new();
    for &stride in strides {
        let step = stride as f64;
        for row in 0..height.div_ceil(stride) {
            for column in 0..width.div_ceil(stride) {
                let middle = Point2::new((column as f64 + 0.5) * step, (row as f64 + 0.5) * step);
                middles.push((middle, step));
            }
        }
    }
    middles
}

/// Mean bin number of a distribution given as logits.
fn expected_bin(logits: &[f32]) -> f64 {
    let largest = logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let (mut sum, mut weighted) = (0.0, 0.0);
    for (bin, logit) in logits.iter().enumerate() {
        let weight = f64::from(logit - largest).exp();
        sum += weight;
        weighted += weight * bin as f64;
    }
    weighted / sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_fill_their_grids() {
        let cells = cell_middles(416, 416, &[8, 16, 32]);
        assert_eq!(cells.len(), 3549);
        assert_eq!(cells[1], (Point2::new(12.0, 4.0), 8.0));
    }

    #[test]
    fn a_sharp_distribution_gives_its_bin() {
        let mut logits = [-50.0; 11];
        logits[4] = 50.0;
        assert!((expected_bin(&logits) - 4.0).abs() < 1e-6);
        assert!((expected_bin(&[0.0; 11]) - 5.0).abs() < 1e-6);
    }
}
