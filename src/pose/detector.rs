//! Finds people of more than about 100 pixels in a whole picture.

use super::heads::sigmoid;
use super::region::{Circle, overlap};
use crate::geometry::Point2;
use crate::model::card::{Head, Role, Sampling};
use crate::model::{Card, Image, ModelError, Places, Processor, Region, Session, crop};

/// A person that the detector found.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// How sure the detector is, 0 to 1.
    pub score: f64,
    /// The detector's box (left, top, right, bottom), pixels; around the head and shoulders, not the body.
    pub corners: [f64; 4],
    /// The detector's points, pixels: the middle of the body's circle, the circle's top, and the upper body's two.
    pub points: Vec<Point2>,
    /// The body's circle.
    pub circle: Circle,
}

/// A network that finds people by anchors.
#[derive(Debug)]
pub struct PersonDetector {
    card: Card,
    session: Session,
    /// Middles of the anchors as shares of the input.
    anchors: Vec<Point2>,
    input: Vec<f32>,
}

impl PersonDetector {
    /// Loads the detector of a card.
    ///
    /// # Errors
    /// [`ModelError::Card`] where the card is of another role, and those of [`Session::load`].
    pub fn load(places: &Places, card: Card, on: impl Into<Processor>) -> Result<Self, ModelError> {
        let Head::Anchors { strides, anchors_per_place, points, .. } = &card.head else {
            return Err(card.error(format!("a model with the role {:?} is needed", Role::PersonDetector)));
        };
        if *points < 2 || card.landmarks.names.iter().any(|name| !name.is_empty()) {
            return Err(card.error("a person detector needs at least two points and no landmark names"));
        }
        let side = card.input.width;
        let anchors = anchor_middles(side, strides, anchors_per_place);
        let session = Session::load(places, &card, on)?;
        let input = vec![0.0; session.input_len()];
        Ok(Self { card, session, anchors, input })
    }

    /// The model's card.
    pub fn card(&self) -> &Card {
        &self.card
    }

    /// The people in a picture, surest first.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails or its outputs don't fit its card.
    pub fn detect(&mut self, image: Image<'_>) -> Result<Vec<Person>, ModelError> {
        let Head::Anchors { boxes, scores, points, score_minimum, overlap_maximum, .. } = &self.card.head
        else {
            return Ok(Vec::new());
        };
        let size = self.card.input.width;
        // The whole picture in the middle of a square.
        let (width, height) = (f64::from(image.width()), f64::from(image.height()));
        let square = width.max(height);
        let region = Region::square(Point2::new(width / 2.0, height / 2.0), square);
        let map = region.map(size, size, self.card.region.sampling);
        crop::sample(image, &map, self.card.region.border, (size, size), &self.card.input, &mut self.input);
        let outputs = self.session.run(&self.input)?;
        let (_, raw) = outputs.get(boxes, 0)?;
        let (_, logits) = outputs.get(scores, 0)?;
        let stride = 4 + 2 * points;
        if logits.len() != self.anchors.len() || raw.len() != stride * logits.len() {
            return Err(self.card.error(format!(
                "strides and anchors_per_place give {} anchors, but the model has {} scores",
                self.anchors.len(),
                logits.len()
            )));
        }
        let mut found: Vec<Candidate> = Vec::new();
        for ((values, logit), anchor) in raw.chunks_exact(stride).zip(logits).zip(&self.anchors) {
            let score = sigmoid(*logit);
            if score < *score_minimum || values[2] < 0.0 || values[3] < 0.0 {
                continue;
            }
            let share = |index: usize| f64::from(values[index]) / size as f64;
            let (x, y, w, h) = (share(0) + anchor.x, share(1) + anchor.y, share(2), share(3));
            let points = (0..*points)
                .map(|k| Point2::new(share(4 + 2 * k) + anchor.x, share(5 + 2 * k) + anchor.y))
                .collect();
            found.push(Candidate {
                score: f64::from(score),
                corners: [x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0],
                points,
            });
        }
        // From shares of the square back to pixels: the square's own map, on the corner grid by definition.
        let back = region.map(1, 1, Sampling::Corner);
        let (centre, scale) =
            (self.card.landmarks.region_centre.unwrap_or(0), self.card.landmarks.region_scale.unwrap_or(1));
        if centre.max(scale) >= *points {
            return Err(self
                .card
                .error("landmarks: region_centre and region_scale must be below head.points"));
        }
        Ok(merge_weighted(found, *overlap_maximum)
            .into_iter()
            .map(|found| {
                let low = back.apply(found.corners[0], found.corners[1]);
                let high = back.apply(found.corners[2], found.corners[3]);
                let points: Vec<Point2> = found.points.iter().map(|p| back.apply(p.x, p.y)).collect();
                let circle = Circle { centre: points[centre], top: points[scale] };
                Person { score: found.score, corners: [low.x, low.y, high.x, high.y], points, circle }
            })
            .collect())
    }
}

/// Middles of the anchors as shares of the input: grid after grid of equal stride, row by row, all anchors of a cell together.
fn anchor_middles(side: usize, strides: &[usize], per_place: &[usize]) -> Vec<Point2> {
    let mut middles = Vec::new();
    for (&stride, &count) in strides.iter().zip(per_place) {
        let cells = side.div_ceil(stride);
        for row in 0..cells {
            for column in 0..cells {
                let middle = |cell: usize| (cell as f64 + 0.5) / cells as f64;
                middles.extend(std::iter::repeat_n(Point2::new(middle(column), middle(row)), count));
            }
        }
    }
    middles
}

#[derive(Debug, Clone)]
struct Candidate {
    score: f64,
    corners: [f64; 4],
    points: Vec<Point2>,
}

/// Non-maximum suppression that averages what it would drop: boxes and points are means weighted by score.
fn merge_weighted(mut rest: Vec<Candidate>, overlap_maximum: f64) -> Vec<Candidate> {
    rest.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept = Vec::new();
    while let Some(best) = rest.first().cloned() {
        let (mut same, others): (Vec<_>, Vec<_>) =
            rest.into_iter().partition(|c| overlap(best.corners, c.corners) > overlap_maximum);
        // A box without area overlaps nothing, itself included.
        rest = if same.is_empty() { others[1..].to_vec() } else { others };
        if same.is_empty() {
            same.push(best.clone());
        }
        let total: f64 = same.iter().map(|c| c.score).sum();
        let mean =
            |value: &dyn Fn(&Candidate) -> f64| same.iter().map(|c| c.score / total * value(c)).sum::<f64>();
        kept.push(Candidate {
            score: best.score,
            corners: std::array::from_fn(|i| mean(&|c| c.corners[i])),
            points: (0..best.points.len())
                .map(|i| Point2::new(mean(&|c| c.points[i].x), mean(&|c| c.points[i].y)))
                .collect(),
        });
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn anchors_fill_their_grids() {
        let middles = anchor_middles(224, &[8, 16, 32], &[2, 2, 6]);
        assert_eq!(middles.len(), 2254);
        assert_eq!(middles[1], Point2::new(0.5 / 28.0, 0.5 / 28.0));
        assert_eq!(middles[2], Point2::new(1.5 / 28.0, 0.5 / 28.0));
    }

    #[test]
    fn overlapping_boxes_become_their_weighted_mean() {
        let candidate = |score, x: f64| Candidate {
            score,
            corners: [x, 0.0, x + 1.0, 1.0],
            points: vec![Point2::new(x, 0.0)],
        };
        let kept = merge_weighted(vec![candidate(0.6, 0.1), candidate(0.9, 0.0), candidate(0.5, 5.0)], 0.3);
        assert_eq!(kept.len(), 2);
        assert_eq!(kept[0].score, 0.9);
        assert!((kept[0].corners[0] - 0.04).abs() < 1e-9);
        assert_eq!(kept[1].points[0].x, 5.0);
    }

    #[test]
    fn a_box_without_area_ends_the_search_for_its_kind() {
        let flat = Candidate { score: 0.9, corners: [0.5, 0.5, 0.5, 0.5], points: Vec::new() };
        assert_eq!(merge_weighted(vec![flat], 0.3).len(), 1);
    }
}
