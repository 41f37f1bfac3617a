//! Body points of one person in a region of the picture.

use super::body;
use super::heads::{self, RawPose};
use super::landmark::{COUNT, Landmark};
use super::region::{self, Circle};
use super::track::Pose;
use crate::geometry::Point2;
use crate::model::card::{Refinement, Role};
use crate::model::{Card, Image, ModelError, Places, Processor, Region, Session, crop};

/// What a landmark model saw in one region.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The body, whatever its presence.
    pub pose: Pose,
    /// The body's circle, from which the next picture's region follows; none where too little of the body was seen.
    pub circle: Option<Circle>,
    /// Where the model looked.
    pub region: Region,
}

/// A landmark model.
#[derive(Debug)]
pub struct Landmarker {
    card: Card,
    session: Session,
    /// For each of the model's points, which landmark it is.
    places: Vec<Option<Landmark>>,
    refinement: Option<Refinement>,
    input: Vec<f32>,
}

impl Landmarker {
    /// Loads the model of a card.
    ///
    /// # Errors
    /// [`ModelError::Card`] where the card is of another role, and those of [`Session::load`].
    pub fn load(places: &Places, card: Card, on: impl Into<Processor>) -> Result<Self, ModelError> {
        if card.role != Role::Landmarks {
            return Err(card.error("a model with the role `landmarks` is needed"));
        }
        let session = Session::load(places, &card, on)?;
        let places = card.landmarks.names.iter().map(|name| Landmark::from_name(name)).collect();
        Ok(Self { card, session, places, refinement: None, input: Vec::new() })
    }

    /// The model's card.
    pub fn card(&self) -> &Card {
        &self.card
    }

    /// Uses the heat map in another way than the card says; `None` goes back to the card's.
    pub fn set_refinement(&mut self, refinement: Option<Refinement>) {
        self.refinement = refinement;
    }

    /// The presence below which the model sees nobody, 0 to 1.
    pub fn presence_minimum(&self) -> f32 {
        heads::presence_minimum(&self.card.head)
    }

    /// The region in which to look for a body.
    pub fn region(&self, circle: &Circle, corners: Option<[f64; 4]>) -> Region {
        region::of_body(&self.card, circle, corners)
    }

    /// Looks at regions of a picture in one batch; one reading for each region, in their order.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails or its outputs don't fit its card.
    pub fn read(&mut self, image: Image<'_>, regions: &[Region]) -> Result<Vec<Reading>, ModelError> {
        if regions.is_empty() {
            return Ok(Vec::new());
        }
        let (width, height) = (self.card.input.width, self.card.input.height);
        let size = self.session.input_len();
        self.input.resize(size * regions.len(), 0.0);
        let rule = self.card.region;
        for (region, input) in regions.iter().zip(self.input.chunks_exact_mut(size)) {
            let map = region.map(width, height, rule.sampling);
            crop::sample(image, &map, rule.border, (width, height), &self.card.input, input);
        }
        let outputs = self.session.run(&self.input)?;
        regions
            .iter()
            .enumerate()
            .map(|(item, region)| {
                let raw = heads::read(&self.card, &outputs, item, self.refinement)?;
                Ok(reading(&self.card, &self.places, &raw, *region))
            })
            .collect()
    }

    /// One reading of each region, where there is a body in it; points outside the picture are marked unseen.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn bodies(
        &mut self,
        image: Image<'_>,
        regions: &[Region],
    ) -> Result<Vec<Option<Reading>>, ModelError> {
        let minimum = self.presence_minimum();
        let readings = self.read(image, regions)?;
        Ok(readings
            .into_iter()
            .map(|mut reading| {
                if !body::is_body(&reading, image, minimum) {
                    return None;
                }
                if let Some(circle) = &reading.circle {
                    body::gate_by_edge(&mut reading.pose, circle, image);
                }
                Some(reading)
            })
            .collect())
    }
}

/// Brings the model's points into the picture and into this crate's order.
fn reading(card: &Card, places: &[Option<Landmark>], raw: &RawPose, region: Region) -> Reading {
    let map = region.map(card.input.width, card.input.height, card.region.sampling);
    let in_picture = |index: usize| raw.points.get(index).map(|p| map.apply(p.u, p.v));
    let mut pose = Pose {
        points: vec![Point2::default(); COUNT],
        visibility: vec![0.0; COUNT],
        world: Vec::new(),
        presence: raw.presence,
    };
    if !raw.world.is_empty() {
        pose.world = vec![[0.0; 3]; COUNT];
    }
    let (sin, cos) = region.rotation.sin_cos();
    let (sin, cos) = (sin as f32, cos as f32);
    for (index, place) in places.iter().enumerate() {
        let (Some(place), Some(point)) = (place, in_picture(index)) else { continue };
        let place = *place as usize;
        pose.points[place] = point;
        pose.visibility[place] = raw.points[index].visibility;
        if let Some(&[x, y, z]) = raw.world.get(index) {
            pose.world[place] = [cos * x - sin * y, sin * x + cos * y, z];
        }
    }
    let own = |index: Option<usize>| index.and_then(in_picture);
    let circle = match (own(card.landmarks.region_centre), own(card.landmarks.region_scale)) {
        (Some(centre), Some(top)) => Some(Circle { centre, top }),
        _ => region::circle_of(&pose),
    };
    Reading { pose, circle, region }
}
