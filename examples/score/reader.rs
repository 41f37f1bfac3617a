//! Measures motions that no clip stands behind.

use std::error::Error;

use toeline::measure::clip::{self, ClipMeasures, Seen, Stated};
use toeline::model::Places;
use toeline::pose::{Lifter, Motion};
use toeline::recogniser::Recogniser;
use toeline::scene::BodyPrior;

/// What reads a filmed motion as the program reads a clip's.
pub struct Reader {
    lifter: Lifter,
    recogniser: Recogniser,
    /// The body that the pose network takes players for.
    pub body: BodyPrior,
}

impl Reader {
    /// Loads the networks.
    pub fn load() -> Result<Self, Box<dyn Error>> {
        let places = Places::usual();
        Ok(Self {
            lifter: Lifter::load(&places)?,
            recogniser: Recogniser::load(&places)?,
            body: BodyPrior::from_card(&places.card("pose_landmark_full")?)?,
        })
    }

    /// Measures a motion; its depths are told on the way.
    pub fn measured(&mut self, mut motion: Motion, stated: &Stated) -> Result<ClipMeasures, Box<dyn Error>> {
        self.lifter.lift(&mut motion)?;
        let chances = self.recogniser.read(&motion, None)?;
        let seen = Seen { body: self.body.clone(), chances, ..Seen::default() };
        Ok(clip::measure(&motion, stated, &seen))
    }
}
