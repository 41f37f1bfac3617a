//! A stroke as its camera has it: what all draws of it share.

use std::ops::Range;

use super::{Filming, Sources};
use crate::measure::errors::{doubt, unsteady};
use crate::measure::hand::is_read;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::court::soles;
use crate::scene::{CourtMotion, SourceBody, SourcePoint};
use crate::stroke::Phases;
use crate::units::Seconds;

/// Whether phases and contact are read from a landmark, or the ground.
fn tells_phases(landmark: Landmark) -> bool {
    const JOINTS: [Joint; 5] = [Joint::Wrist, Joint::Hip, Joint::Shoulder, Joint::Heel, Joint::Toe];
    let sides = [Side::Left, Side::Right];
    JOINTS.iter().any(|joint| sides.iter().any(|side| joint.on(*side) == landmark))
}

/// When measures read other landmarks than those that tell the phases: from a little before the preparation, or this long before
/// contact, …
const BEFORE_PREPARATION: Seconds = Seconds(0.4);
const BEFORE_CONTACT: Seconds = Seconds(1.2);
/// … to a little after the finish, or this long after contact.
const AFTER_FINISH: Seconds = Seconds(0.1);
const AFTER_CONTACT: Seconds = Seconds(0.2);

/// The frames in which measures read other landmarks than those that tell the phases.
pub(super) fn read_closely(times: &[Seconds], phases: &Phases) -> Range<usize> {
    let met = phases.contact.time;
    let from = (phases.preparation_begin() - BEFORE_PREPARATION).min(met - BEFORE_CONTACT);
    let finish = phases.finish_end.map_or(met, |mark| mark.time + AFTER_FINISH);
    let to = finish.max(met + AFTER_CONTACT);
    times.partition_point(|t| *t < from)..times.partition_point(|t| *t <= to)
}

/// A stroke's motion as the camera has it through which it was lifted: what all draws of it share.
pub(super) struct Seen {
    pub times: Vec<Seconds>,
    pub frames: Vec<SeenFrame>,
}

pub(super) struct SeenFrame {
    /// The body, where its hips are seen.
    pub body: Option<SourceBody>,
    /// Landmarks that tell the phases.
    pub of_phases: Vec<SeenPoint>,
    pub others: Vec<SeenPoint>,
}

pub(super) struct SeenPoint {
    pub landmark: Landmark,
    pub is_sole: bool,
    pub point: SourcePoint,
    /// By how much its error grows because it is hardly in sight. Doubt is that of the moment: a joint may be hidden in the drop
    /// and in plain sight at contact.
    pub doubt: f64,
    /// Spread of what it is off by for a moment, metres per axis in the picture's plane: jitter, and more while it moves.
    pub moment: f64,
    /// Spread of its depth, metres.
    pub depth: f64,
}

impl Seen {
    pub fn of(motion: &CourtMotion, camera: &Filming<'_>, sources: &Sources) -> Self {
        let level = |at| motion.in_camera(at);
        let source = camera.source();
        let soles: Vec<Landmark> = soles().collect();
        let frame = |i: usize| {
            let points = &motion.points[i];
            let hips = points[Landmark::LeftHip as usize].zip(points[Landmark::RightHip as usize]);
            let body = hips.and_then(|(l, r)| source.body(level(l.middle(r))));
            let known =
                Landmark::ALL.into_iter().filter(|landmark| is_read(*landmark)).filter_map(|landmark| {
                    let k = landmark as usize;
                    let at = level(points[k]?);
                    Some(SeenPoint {
                        landmark,
                        is_sole: soles.contains(&landmark),
                        point: body.as_ref().map_or_else(|| SourcePoint::alone(at), |body| body.point(at)),
                        doubt: doubt(f64::from(motion.visibility[i][k])),
                        moment: sources.jitter.hypot(unsteady(landmark, speed(motion, i, k))),
                        depth: f64::from(motion.depth_spread[i][k]),
                    })
                });
            let (of_phases, others) = known.partition(|point: &SeenPoint| tells_phases(point.landmark));
            SeenFrame { body, of_phases, others }
        };
        Self { times: motion.times.clone(), frames: (0..motion.times.len()).map(frame).collect() }
    }
}

/// Speed of a landmark in a frame, metres per second.
pub fn speed(motion: &CourtMotion, i: usize, k: usize) -> f64 {
    let (from, to) = (i.saturating_sub(1), (i + 1).min(motion.points.len() - 1));
    let way = motion.points[to][k].zip(motion.points[from][k]).map_or(0.0, |(a, b)| (a - b).norm());
    way / (motion.times[to] - motion.times[from]).0.max(1e-6)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Court;
    use crate::measure::CATALOGUE;
    use crate::measure::figure;
    use crate::stroke::{Kind, Mark, Method, Stroke};

    #[test]
    fn measures_read_what_is_drawn_of_a_stroke() {
        let kinds = [Kind::Forehand, Kind::Backhand, Kind::Overhead];
        let begins = [None, Some(1.0), Some(0.25)];
        for (kind, begins) in kinds.into_iter().flat_map(|kind| begins.map(|begins| (kind, begins))) {
            let mut stroke = figure::stroke(kind, |landmark, t, at| match landmark {
                Landmark::RightWrist => {
                    at + Court::new(0.6 * (4.0 * t).sin(), 0.1 * t, 0.2 * (5.0 * t).cos())
                }
                _ => at,
            });
            let met = stroke.phases.contact.time;
            stroke.phases.prep_start =
                begins.map(|before| Mark { time: met - Seconds(before), method: Method::HandRetreat });
            let mut drawn = stroke.clone();
            let within = read_closely(&stroke.motion.times, &stroke.phases);
            for (i, frame) in drawn.motion.points.iter_mut().enumerate() {
                for landmark in Landmark::ALL.into_iter().filter(|landmark| !tells_phases(*landmark)) {
                    if !within.contains(&i) || !is_read(landmark) {
                        assert!(frame[landmark as usize].take().is_some());
                    }
                }
            }
            assert!(within.len() < stroke.motion.times.len(), "{kind:?}: nothing was left out");
            let values = |stroke: &Stroke| CATALOGUE.iter().map(|m| m.of(stroke)).collect::<Vec<_>>();
            assert_eq!(values(&stroke), values(&drawn), "{kind:?}");
            let again =
                |stroke: &Stroke| stroke.phases.again(&stroke.motion, stroke.phases.contact, stroke.sort());
            assert_eq!(again(&stroke), again(&drawn), "{kind:?}");
        }
    }
}
