//! The networks of a run, loaded once and described for the notes.

use std::thread;

use anyhow::Result;

use crate::model::{Card, ModelError, Places, runtime};
use crate::pose::{Lifter, Models};
use crate::scene::BodyPrior;
use crate::table::ModelNote;

/// More threads than this make the small networks no faster.
const MOST_THREADS: usize = 4;

/// Loaded networks.
pub struct Networks {
    /// The networks that see.
    pub models: Models,
    /// The network that tells depth from movement.
    pub lifter: Lifter,
    /// The pose network.
    pub model: ModelNote,
    /// The detectors.
    pub detectors: Vec<ModelNote>,
    /// What is known about the pose network's body.
    pub body: BodyPrior,
    /// What the inference library says of itself.
    pub runtime: String,
}

impl Networks {
    /// Loads the pose network of this name, or of this card or ONNX file, and the detectors.
    ///
    /// # Errors
    /// [`ModelError`], and [`crate::scene::body::OffsetsError`] for a card whose offsets can't be used.
    pub fn load(name: &str) -> Result<Self> {
        let places = Places::usual();
        let full_name = match name {
            "full" | "lite" | "heavy" => format!("pose_landmark_{name}"),
            other => other.to_owned(),
        };
        let card = places.card(&full_name)?;
        let body = BodyPrior::from_card(&card)?;
        let threads = thread::available_parallelism().map_or(1, usize::from).min(MOST_THREADS);
        let models = Models::load(&places, &full_name, threads).map_err(|error| with_remedy(name, error))?;
        let detectors = [Some(models.people.card()), models.objects.as_ref().map(|objects| objects.card())];
        Ok(Self {
            model: note(&card),
            detectors: detectors.into_iter().flatten().map(note).collect(),
            body,
            lifter: Lifter::load(&places)?,
            runtime: runtime::build().unwrap_or_default().to_owned(),
            models,
        })
    }

    /// Everything about the networks that a motion depends on, in words.
    pub fn fingerprint(&self) -> String {
        let networks = [&self.model].into_iter().chain(&self.detectors);
        networks.map(|note| format!("{}:{}", note.name, note.sha256)).collect::<Vec<_>>().join(" ")
    }
}

/// The heavy network isn't part of the project's files, so it is often missing.
fn with_remedy(name: &str, error: ModelError) -> anyhow::Error {
    match error {
        ModelError::Unreadable { .. } if name == "heavy" => anyhow::Error::new(error).context(
            "the heavy network is not there; scripts/make-models.sh --heavy makes it, or use --model full",
        ),
        other => other.into(),
    }
}

fn note(card: &Card) -> ModelNote {
    let file = card.file.file_name().unwrap_or(card.file.as_os_str()).to_string_lossy().into_owned();
    ModelNote { name: card.name.clone(), file, sha256: card.sha256.clone(), licence: card.licence.clone() }
}
