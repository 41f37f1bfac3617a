//! Lists the people of a picture and takes a first, settled reading of each.

use super::landmarker::{Landmarker, Reading};
use super::objects::{Kind, Object, ObjectDetector};
use super::region::{Circle, bounds, overlap};
use super::{PersonDetector, Pose};
use crate::geometry::Point2;
use crate::model::{Image, ModelError, Places, Processor};

/// Least score of the object detector's people.
const PERSON_SCORE: f32 = 0.4;
/// Side of the windows in which small people are looked for, in the picture's shorter side.
const WINDOW_SHARE: f64 = 0.6;
/// Pictures that are longer than this many windows aren't covered by windows.
const WINDOW_MOST: f64 = 6.0;
/// Boxes of one person in two windows overlap more than this.
const SAME_BOX: f64 = 0.5;
/// Passes from a person detector's circle to a settled reading.
const PASSES: usize = 2;
/// Passes from a bare box, which says nothing about where the hips are.
const PASSES_FROM_BOX: usize = 3;
/// Side of a first region around a box, in the box's longer side.
const BOX_SCALE: f64 = 1.25;
/// A settled body's circle lies no further than this from where the person detector saw it, in radii.
const DRIFT: f64 = 0.5;
/// People are found upright: they lean no more than this, radians.
const LEAN_MOST: f64 = 1.2;
/// A settled body overlaps the box it was found by at least this much.
const BOX_OVERLAP: f64 = 0.3;

/// The models that following needs.
#[derive(Debug)]
pub struct Models {
    /// Body points.
    pub landmarker: Landmarker,
    /// People of more than about 100 pixels, cheap.
    pub people: PersonDetector,
    /// People of any size; without it small players are missed.
    pub objects: Option<ObjectDetector>,
}

/// Cards of the usual detectors: of people, and of people of any size.
pub const DETECTORS: [&str; 2] = ["pose_detection", "nanodet_g_416"];

impl Models {
    /// Loads the landmark model of this name (or card's path) and the usual detectors, each for a processor.
    ///
    /// # Errors
    /// [`ModelError`] where a card, a model or the inference library is missing or unusable.
    pub fn load(places: &Places, landmarks: &str, on: impl Into<Processor>) -> Result<Self, ModelError> {
        let on = on.into();
        let [people, objects] = DETECTORS;
        Ok(Self {
            landmarker: Landmarker::load(places, places.card(landmarks)?, on)?,
            people: PersonDetector::load(places, places.card(people)?, on)?,
            objects: Some(ObjectDetector::load(places, places.card(objects)?, on)?),
        })
    }
}

/// How hard to look for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Care {
    /// By the person detector; by the object detector where that finds nobody.
    Quick,
    /// By both detectors.
    Both,
    /// By both, and by the object detector in enlarged parts of the picture.
    Closest,
}

/// A place in the picture where a person seems to be.
#[derive(Debug, Clone, Copy)]
pub struct Proposal {
    /// The body's circle, a guess where it comes from a box.
    pub circle: Circle,
    /// The body's box (left, top, right, bottom), pixels; from the object detector only.
    pub corners: Option<[f64; 4]>,
    /// Whether the circle is no more than the box's.
    pub only_a_box: bool,
}

impl Models {
    /// Where people seem to be; surest first, nobody twice.
    ///
    /// # Errors
    /// [`ModelError`] where a model fails.
    pub fn propose(&mut self, image: Image<'_>, care: Care) -> Result<Vec<Proposal>, ModelError> {
        let mut proposals: Vec<Proposal> = self
            .people
            .detect(image)?
            .iter()
            .map(|person| Proposal { circle: person.circle, corners: None, only_a_box: false })
            .collect();
        let Some(objects) = self.objects.as_mut().filter(|_| care > Care::Quick || proposals.is_empty())
        else {
            return Ok(proposals);
        };
        let mut found = objects.detect(image)?;
        if care == Care::Closest {
            // Nobody who stands out in the whole picture: a closer look at its parts finds smaller people.
            for window in windows(image) {
                for object in objects.detect_in(image, window, None)? {
                    let known = found
                        .iter()
                        .any(|known| is_person(known) && overlap(known.corners, object.corners) > SAME_BOX);
                    if is_person(&object) && !known {
                        found.push(object);
                    }
                }
            }
        }
        for object in found.iter().filter(|object| is_person(object)) {
            let corners = object.corners;
            let known = proposals.iter_mut().find(|proposal| {
                let centre = proposal.circle.centre;
                let height = corners[3] - corners[1];
                let inside = centre.x >= corners[0]
                    && centre.x <= corners[2]
                    && centre.y >= corners[1]
                    && centre.y <= corners[3];
                inside && proposal.corners.is_none() && proposal.circle.radius() < 1.2 * height
            });
            match known {
                Some(proposal) => proposal.corners = Some(corners),
                None => proposals.push(Proposal {
                    circle: Circle::around(corners),
                    corners: Some(corners),
                    only_a_box: true,
                }),
            }
        }
        Ok(proposals)
    }

    /// Where people seem to be around a place, by a closer look with the object detector; surest first.
    ///
    /// # Errors
    /// [`ModelError`] where the model fails.
    pub fn propose_around(&mut self, image: Image<'_>, at: Point2) -> Result<Vec<Proposal>, ModelError> {
        let Some(objects) = self.objects.as_mut() else { return Ok(Vec::new()) };
        let (width, height) = (f64::from(image.width()), f64::from(image.height()));
        let side = WINDOW_SHARE * width.min(height);
        let from = |middle: f64, length: f64| (middle - 0.5 * side).clamp(0.0, length - side);
        let (left, top) = (from(at.x, width), from(at.y, height));
        let found = objects.detect_in(image, [left, top, left + side, top + side], None)?;
        let proposal = |object: &Object| Proposal {
            circle: Circle::around(object.corners),
            corners: Some(object.corners),
            only_a_box: true,
        };
        Ok(found.iter().filter(|object| is_person(object)).map(proposal).collect())
    }

    /// Looks at a proposal until the region has settled on the body; `None` where there is no body after all.
    ///
    /// # Errors
    /// [`ModelError`] where the landmark model fails.
    pub fn settle(&mut self, image: Image<'_>, proposal: &Proposal) -> Result<Option<Reading>, ModelError> {
        let scale = self.landmarker.card().region.scale;
        let mut region = if proposal.only_a_box {
            let mut region = self.landmarker.region(&proposal.circle, proposal.corners);
            region.width *= BOX_SCALE / scale;
            region.height *= BOX_SCALE / scale;
            region
        } else {
            self.landmarker.region(&proposal.circle, proposal.corners)
        };
        let mut last = None;
        for _ in 0..if proposal.only_a_box { PASSES_FROM_BOX } else { PASSES } {
            let Some(reading) = self.read_body(image, region)? else { return Ok(None) };
            let Some(circle) = reading.circle else { return Ok(None) };
            region = self.landmarker.region(&circle, corners_of(&reading.pose));
            last = Some(reading);
        }
        let fits = last.as_ref().is_some_and(|reading: &Reading| match proposal.corners {
            Some(corners) => {
                bounds(&reading.pose, 0.0).is_some_and(|own| overlap(own, corners) >= BOX_OVERLAP)
            }
            None => true,
        });
        let settled = last.as_ref().and_then(|reading| reading.circle).is_some_and(|circle| {
            // From a box, only the middle is known; the box itself was compared above.
            let away = if proposal.only_a_box { f64::INFINITY } else { DRIFT * circle.radius() };
            circle.lean().abs() <= LEAN_MOST && circle.centre.distance(proposal.circle.centre) <= away
        });
        Ok(last.filter(|_| fits && settled))
    }

    /// One reading of one region, if there is a body in it; points outside the picture are marked unseen.
    ///
    /// # Errors
    /// [`ModelError`] where the landmark model fails.
    pub fn read_body(
        &mut self,
        image: Image<'_>,
        region: crate::model::Region,
    ) -> Result<Option<Reading>, ModelError> {
        Ok(self.read_bodies(image, &[region])?.pop().flatten())
    }

    /// One reading of each region, where there is a body in it.
    ///
    /// # Errors
    /// [`ModelError`] where the landmark model fails.
    pub fn read_bodies(
        &mut self,
        image: Image<'_>,
        regions: &[crate::model::Region],
    ) -> Result<Vec<Option<Reading>>, ModelError> {
        self.landmarker.bodies(image, regions)
    }
}

fn is_person(object: &Object) -> bool {
    object.kind == Kind::Person && object.score >= PERSON_SCORE
}

/// Squares (left, top, right, bottom) that cover the picture along its longer side, neighbours overlapping by a third or
/// more.
fn windows(image: Image<'_>) -> Vec<[f64; 4]> {
    let (width, height) = (f64::from(image.width()), f64::from(image.height()));
    let (long, side) = (width.max(height), width.min(height) * WINDOW_SHARE);
    let across = |length: f64| {
        let count = (1.5 * (length - side) / side).ceil().max(0.0) as usize + 1;
        let step = if count > 1 { (length - side) / (count - 1) as f64 } else { 0.0 };
        (0..count).map(move |i| i as f64 * step)
    };
    if long > WINDOW_MOST * side {
        return Vec::new();
    }
    across(height)
        .flat_map(|top| across(width).map(move |left| [left, top, left + side, top + side]))
        .collect()
}

/// The box of a pose's visible points, for models that are shown upright boxes.
pub fn corners_of(pose: &Pose) -> Option<[f64; 4]> {
    bounds(pose, 0.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_cover_the_picture() {
        for (width, height) in [(1280, 720), (720, 1280), (300, 300), (1920, 1080)] {
            let rgb = vec![0; 3 * width as usize * height as usize];
            let windows = windows(Image::new(width, height, &rgb).unwrap());
            let reach = windows.iter().fold([0.0f64; 2], |far, w| [far[0].max(w[2]), far[1].max(w[3])]);
            assert_eq!(reach, [f64::from(width), f64::from(height)], "{windows:?}");
            assert!(windows.len() <= 8, "{windows:?}");
        }
    }
}
