//! Readings shared by the families: a point or boundary that must be there, joint angles.

use super::Missing;
use crate::geometry::{Court, angle_between};
use crate::pose::{Joint, Landmark, Side};
use crate::scene::court::Moment;
use crate::stroke::{Boundary, Kind, Stroke};
use crate::units::Seconds;

/// Whether any measure reads a landmark; nobody need draw errors of others.
pub(super) fn is_read(landmark: Landmark) -> bool {
    use Landmark::*;
    !matches!(
        landmark,
        LeftEyeInner
            | LeftEyeOuter
            | RightEyeInner
            | RightEyeOuter
            | MouthLeft
            | MouthRight
            | LeftThumb
            | RightThumb
    )
}

impl Stroke {
    /// Time of a boundary, or that it is absent.
    pub(super) fn time_of(&self, boundary: Boundary) -> Result<Seconds, Missing> {
        self.phases.get(boundary).map(|m| m.time).ok_or(Missing::PhaseAbsent)
    }

    /// Time of contact.
    pub(super) fn contact(&self) -> Seconds {
        self.phases.contact.time
    }

    /// The stroke at a time.
    pub(super) fn now(&self, time: Seconds) -> Now<'_> {
        Now { stroke: self, time, moment: self.motion.moment(time) }
    }

    /// A landmark at a time, or why it is not there.
    pub(super) fn joint(&self, landmark: Landmark, time: Seconds) -> Result<Court, Missing> {
        self.now(time).at(landmark)
    }

    /// The racket's butt from the hitting hand, and the way from butt to tip, at a time; or why it is not there.
    pub(super) fn racket_at(&self, time: Seconds) -> Result<(Court, Court), Missing> {
        self.racket.as_ref().and_then(|racket| racket.at(time)).ok_or(Missing::NoRacket)
    }

    /// What lies on the racket a share of the way from butt to tip at a time, or why it is not there.
    pub(super) fn racket_point(&self, share: f64, time: Seconds) -> Result<Court, Missing> {
        self.now(time).racket_point(share)
    }

    /// The middle between a joint's left and right at a time.
    pub(super) fn middle(&self, joint: Joint, time: Seconds) -> Result<Court, Missing> {
        self.now(time).middle(joint)
    }

    fn why_missing(&self, landmark: Landmark, time: Seconds) -> Missing {
        let outside = self.motion.span().is_none_or(|(first, last)| time < first || time > last);
        let never = self.motion.points.iter().all(|frame| frame[landmark as usize].is_none());
        match () {
            () if outside => Missing::OutOfFrame,
            () if never => Missing::NoSuchLandmark,
            () => Missing::Hidden,
        }
    }

    /// The side of the body whose toe is nearest to the net at contact: that of the front foot, in every kind and stance. Where
    /// the toes are level the drawn errors take now one and now the other, so that what hangs on it has a wide ±.
    pub(crate) fn front_foot(&self) -> Result<Side, Missing> {
        let t = self.contact();
        let hitting = self.joint(self.motion.hitting(Joint::Toe), t)?;
        let off = self.joint(self.motion.off(Joint::Toe), t)?;
        let hand = self.motion.hand;
        Ok(if off.net >= hitting.net { hand.other() } else { hand })
    }

    /// The front foot's toe at a time.
    pub(crate) fn front_toe(&self, time: Seconds) -> Result<Court, Missing> {
        self.joint(Joint::Toe.on(self.front_foot()?), time)
    }

    /// The side of the body whose shoulder is farther from the net at the end of the backswing: in a forehand nearly always
    /// the hitting one, in a backhand the off one.
    pub(crate) fn rear_shoulder(&self) -> Result<Side, Missing> {
        let t = self.time_of(Boundary::BackswingEnd)?;
        let hitting = self.joint(self.motion.hitting(Joint::Shoulder), t)?;
        let off = self.joint(self.motion.off(Joint::Shoulder), t)?;
        let hand = self.motion.hand;
        Ok(if off.net < hitting.net { hand.other() } else { hand })
    }

    /// Whether the stroke is hit on the side of the off hand, so that body and ball lie the other way round. A kind that could
    /// not be told is taken by the rear shoulder.
    pub(super) fn is_across(&self) -> Result<bool, Missing> {
        match self.kind {
            Kind::Backhand => Ok(true),
            Kind::Forehand | Kind::Overhead => Ok(false),
            Kind::Unknown => Ok(self.rear_shoulder()? != self.motion.hand),
        }
    }

    /// Inner angle of the hitting elbow, degrees.
    pub(super) fn elbow_angle(&self, time: Seconds) -> Result<f64, Missing> {
        let now = self.now(time);
        let elbow = now.hitting(Joint::Elbow)?;
        let shoulder = now.hitting(Joint::Shoulder)?;
        let wrist = now.hitting(Joint::Wrist)?;
        angle_between(shoulder - elbow, wrist - elbow).ok_or(Missing::Undefined)
    }
}

/// A stroke at one time: points that are there, or why they are not.
pub(super) struct Now<'a> {
    stroke: &'a Stroke,
    time: Seconds,
    moment: Moment<'a>,
}

impl Now<'_> {
    /// A landmark.
    pub(super) fn at(&self, landmark: Landmark) -> Result<Court, Missing> {
        self.moment.at(landmark).ok_or_else(|| self.stroke.why_missing(landmark, self.time))
    }

    /// A joint of the hitting side.
    pub(super) fn hitting(&self, joint: Joint) -> Result<Court, Missing> {
        self.at(self.stroke.motion.hitting(joint))
    }

    /// What lies on the racket a share of the way from butt to tip.
    pub(super) fn racket_point(&self, share: f64) -> Result<Court, Missing> {
        let hand = self.hitting(Joint::Wrist)?;
        let (butt, axis) = self.stroke.racket_at(self.time)?;
        Ok(hand + butt + axis * share)
    }

    /// The middle between a joint's left and right.
    pub(super) fn middle(&self, joint: Joint) -> Result<Court, Missing> {
        let hitting = self.hitting(joint)?;
        Ok(hitting.middle(self.at(self.stroke.motion.off(joint))?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{CATALOGUE, figure};

    #[test]
    fn no_measure_reads_what_is_left_out() {
        for kind in [Kind::Forehand, Kind::Backhand, Kind::Overhead] {
            // A hand that swings, so that every boundary is there.
            let stroke = figure::stroke(kind, |landmark, t, at| match landmark {
                Landmark::RightWrist => {
                    at + Court::new(0.6 * (4.0 * t).sin(), 0.1 * t, 0.2 * (5.0 * t).cos())
                }
                _ => at,
            });
            let mut without = stroke.clone();
            for frame in &mut without.motion.points {
                for landmark in Landmark::ALL.into_iter().filter(|landmark| !is_read(*landmark)) {
                    assert!(frame[landmark as usize].take().is_some());
                }
            }
            let values = |stroke: &Stroke| CATALOGUE.iter().map(|m| m.of(stroke)).collect::<Vec<_>>();
            assert_eq!(values(&stroke), values(&without));
            assert!(values(&stroke).iter().filter(|value| value.is_ok()).count() > 5, "{kind:?}");
        }
    }
}
