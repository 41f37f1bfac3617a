//! How long the sound of a hit takes to the microphone, which is taken to be where the camera is.

use crate::geometry::Camera;
use crate::pose::{Joint, Side};
use crate::scene::Space;
use crate::scene::filmed::STATED_DISTANCE;
use crate::units::{Metres, Reading, Seconds};

/// Speed of sound in air of 20 °C, metres per second; 0 to 35 °C and wind change it by this share (1 standard deviation).
const SPEED: f64 = 343.0;
const SPEED_SPREAD: f64 = 0.02;

/// The ball is met this far outward of the hand, as seen from the hips, metres; and how far that varies.
const BEYOND_HAND: f64 = 0.40;
const PLACE_SPREAD: f64 = 0.30;

/// What a picture's time stands for (start, middle or end of the exposure, the line of a rolling shutter) against the
/// sound's own clock.
const CLOCK_SPREAD: Seconds = Seconds(0.0015);

/// How the player's distance is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distance {
    /// From the camera to the player, where it was stated.
    pub stated: Option<Metres>,
    /// Relative uncertainty of distances in the camera's frame, where it was not (1 standard deviation).
    pub spread: f64,
}

impl Distance {
    /// The time that the sound of a hit at `time` is under way.
    pub fn delay(&self, space: &Space, hand: Side, time: Seconds) -> Option<Reading> {
        let frame = space.times.partition_point(|t| *t < time).min(space.times.len().checked_sub(1)?);
        let hips = space.hips(frame)?;
        let place = space.at(frame, Joint::Wrist.on(hand)).map_or(hips, |wrist| {
            let out = Camera { up: 0.0, ..wrist - hips };
            wrist + out.unit().unwrap_or_default() * BEYOND_HAND
        });
        let (factor, spread) = match self.stated {
            Some(stated) => (stated.0 / hips.norm().max(0.1), STATED_DISTANCE),
            None => (1.0, self.spread),
        };
        // A stated distance moves the whole player, it does not stretch the arm.
        let metres = (place + hips * (factor - 1.0)).norm();
        let share = spread.hypot(SPEED_SPREAD);
        let way = (metres * share).hypot(PLACE_SPREAD) / SPEED;
        Some(Reading { time: Seconds(metres / SPEED), spread: Seconds(way.hypot(CLOCK_SPREAD.0)) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::Landmark;
    use crate::pose::landmark::COUNT;
    use crate::scene::{Lens, Stand, Teller};

    fn space(away: f64) -> Space {
        let mut points = [None; COUNT];
        points[Landmark::LeftHip as usize] = Some(Camera::new(-0.1, 0.0, away));
        points[Landmark::RightHip as usize] = Some(Camera::new(0.1, 0.0, away));
        points[Landmark::RightWrist as usize] = Some(Camera::new(0.0, 0.1, away - 0.5));
        Space {
            times: vec![Seconds(0.0)],
            rate: 60.0,
            points: vec![points].into(),
            visibility: vec![[1.0; COUNT]],
            depth_spread: vec![[0.1; COUNT]],
            stand: Stand::level(Lens::usual((1280, 720))),
            size: (1280, 720),
            scale: vec![None],
            sway: Default::default(),
            stature: Metres(1.75),
            teller: Teller::PoseNetwork,
            jitter: 0.0,
        }
    }

    #[test]
    fn sound_comes_from_beyond_the_hand() {
        let distance = Distance { stated: None, spread: 0.1 };
        let delay = distance.delay(&space(10.0), Side::Right, Seconds(0.0)).unwrap();
        assert!((delay.time.0 - 9.1 / 343.0).abs() < 1e-4, "{delay:?}");
        assert!((0.0025..0.0045).contains(&delay.spread.0), "{delay:?}");
        // Without a hand it is the hips.
        let delay = distance.delay(&space(10.0), Side::Left, Seconds(9.0)).unwrap();
        assert!((delay.time.0 - 10.0 / 343.0).abs() < 1e-4, "{delay:?}");
    }

    #[test]
    fn a_stated_distance_is_believed() {
        let distance = Distance { stated: Some(Metres(20.0)), spread: 0.15 };
        let delay = distance.delay(&space(10.0), Side::Right, Seconds(0.0)).unwrap();
        assert!((delay.time.0 - 19.1 / 343.0).abs() < 1e-4, "{delay:?}");
    }

    #[test]
    fn without_pictures_nothing_is_known() {
        let mut nobody = space(10.0);
        nobody.times.clear();
        nobody.points = Default::default();
        assert_eq!(Distance { stated: None, spread: 0.1 }.delay(&nobody, Side::Right, Seconds(0.0)), None);
    }
}
