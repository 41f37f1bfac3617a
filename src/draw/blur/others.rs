//! Heads of people who were not followed: there are too many of them, or they are too small.

use super::{Head, Heads, LEAST, RADIUS};
use crate::geometry::Point2;
use crate::model::{Image, ModelError};
use crate::pose::objects::Kind;
use crate::pose::{FollowError, ObjectDetector};
use crate::units::Seconds;
use crate::video::{Frame, VideoError};

/// Such people are looked for this often; in between they are covered where they were and where they will be.
const EVERY: Seconds = Seconds(0.2);
/// The middle of a head under the upper edge of its person's box, in heights of the box.
const UNDER_TOP: f64 = 0.08;
/// A head is no narrower than so much of its person's box, which may be cut off below.
const OF_WIDTH: f64 = 0.3;

impl Heads {
    /// Looks for people who were not followed, through the whole clip, and adds their heads.
    ///
    /// # Errors
    /// [`FollowError`] where the clip can't be read or the network fails.
    pub fn look_for_others(
        &mut self,
        frames: impl Iterator<Item = Result<Frame, VideoError>>,
        detector: &mut ObjectDetector,
    ) -> Result<(), FollowError> {
        let mut last: Option<(Seconds, usize, Vec<Head>)> = None;
        for frame in frames {
            let frame = frame?;
            let number = frame.index.0;
            match &last {
                Some((time, _, found)) if frame.time - *time < EVERY => {
                    self.add(number, found.iter().copied())
                }
                _ => {
                    let found = self.others_in(&frame, detector)?;
                    let first = last.as_ref().map_or(0, |(_, number, _)| number + 1);
                    for number in first..=number {
                        self.add(number, found.iter().copied());
                    }
                    last = Some((frame.time, number, found));
                }
            }
        }
        Ok(())
    }

    /// The heads of people in a picture in whose boxes there is no known head.
    fn others_in(&self, frame: &Frame, detector: &mut ObjectDetector) -> Result<Vec<Head>, ModelError> {
        let picture = &frame.picture;
        let image = Image::new(picture.width, picture.height, &picture.rgb)?;
        let known = self.in_picture(frame.index.0);
        let people = detector.detect(image)?.into_iter().filter(|object| object.kind == Kind::Person);
        Ok(people
            .map(|person| person.corners)
            .filter(|b| !known.iter().any(|h| holds(b, h)))
            .map(head_of)
            .collect())
    }
}

fn holds([left, top, right, bottom]: &[f64; 4], head: &Head) -> bool {
    let Point2 { x, y } = head.at;
    // The upper part only: somebody may stand before somebody else.
    let middle = 0.5 * (top + bottom);
    (*left..=*right).contains(&x) && (top - head.radius..=middle).contains(&y)
}

fn head_of([left, top, right, bottom]: [f64; 4]) -> Head {
    let (width, height) = (right - left, bottom - top);
    let at = Point2::new(0.5 * (left + right), top + UNDER_TOP * height);
    Head { at, radius: (RADIUS * height).max(OF_WIDTH * width).max(LEAST) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_gives_a_head_at_its_top_and_known_ones_are_not_doubled() {
        let corners = [100.0, 50.0, 160.0, 250.0];
        let head = head_of(corners);
        assert!(head.at.distance(Point2::new(130.0, 66.0)) < 1.0 && head.radius >= 30.0);
        assert!(holds(&corners, &head));
        assert!(!holds(&corners, &Head { at: Point2::new(130.0, 220.0), radius: 20.0 }));
        assert!(!holds(&corners, &Head { at: Point2::new(300.0, 66.0), radius: 20.0 }));
    }
}
