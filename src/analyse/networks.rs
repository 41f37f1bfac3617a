//! The networks of a run, described for the notes at once and loaded when a clip has to be looked at.

use super::{AnalyseError, Method};
use crate::memory;
use crate::model::{Card, Device, ModelError, Places, Processor, SeriesCard, runtime};
use crate::pose::finder::DETECTORS;
use crate::pose::{self, Landmarker, Lifter, Models};
use crate::racket::{self, Finder};
use crate::recogniser::{self, Recogniser};
use crate::scene::BodyPrior;
use crate::table::ModelNote;

/// More threads than this make the small networks no faster.
pub const MOST_THREADS: usize = 4;

/// More threads than these feed no network on a device: a graphics card waits for those that read and cut out pictures.
pub const fn most_threads(device: Device) -> usize {
    match device {
        Device::Cpu => MOST_THREADS,
        Device::Cuda | Device::Auto => 4 * MOST_THREADS,
    }
}

/// The networks of a run.
pub struct Networks {
    places: Places,
    /// As the user named it, and the name of its card.
    name: String,
    full_name: String,
    on: Processor,
    models: Option<Models>,
    landmarkers: Vec<Landmarker>,
    lifter: Option<Lifter>,
    lifter_note: ModelNote,
    recogniser: Option<Recogniser>,
    recogniser_note: ModelNote,
    finder: Option<Finder>,
    /// The pose network.
    pub model: ModelNote,
    /// The detectors of people, and of the racket.
    pub detectors: Vec<ModelNote>,
    /// What is known about the pose network's body.
    pub body: BodyPrior,
}

impl Networks {
    /// Reads the cards of the pose network and of the others; the networks themselves are loaded later.
    ///
    /// # Errors
    /// [`AnalyseError::Model`], and [`AnalyseError::Offsets`] for a card whose offsets can't be used.
    pub(super) fn describe(method: &Method) -> Result<Self, AnalyseError> {
        let (name, places) = (method.model.as_str(), method.places.clone());
        let full_name = match name {
            "full" | "lite" | "heavy" => format!("pose_landmark_{name}"),
            other => other.to_owned(),
        };
        let card = places.card(&full_name)?;
        let body = BodyPrior::from_card(&card)?;
        let others = DETECTORS.into_iter().chain([racket::NETWORK]);
        let detectors = others.map(|name| places.card(name).map(|card| note(&card)));
        Ok(Self {
            name: name.to_owned(),
            full_name,
            on: Processor { threads: method.threads.max(1), device: method.device },
            models: None,
            landmarkers: Vec::new(),
            model: note(&card),
            detectors: detectors.collect::<Result<_, ModelError>>()?,
            body,
            lifter: None,
            finder: None,
            lifter_note: series_note(&places.series_card(pose::lifter::NETWORK)?),
            recogniser: None,
            recogniser_note: series_note(&places.series_card(recogniser::NETWORK)?),
            places,
        })
    }

    /// The networks themselves; they are loaded the first time.
    ///
    /// # Errors
    /// [`ModelError`].
    pub fn models(&mut self) -> Result<&mut Models, AnalyseError> {
        let models = match self.models.take() {
            Some(models) => models,
            None => Models::load(&self.places, &self.full_name, self.on)
                .map_err(|error| with_remedy(&self.name, error))?,
        };
        Ok(self.models.insert(models))
    }

    /// Gives back the memory of the networks that follow people and read their movement, and what they have worked in: a long clip
    /// leaves little of it to spare.
    pub(super) fn release(&mut self) {
        self.models = None;
        self.landmarkers.clear();
        (self.lifter, self.recogniser) = (None, None);
        memory::give_back();
    }

    /// As many networks for body points as there are threads, each for one; they are loaded the first time.
    ///
    /// # Errors
    /// [`ModelError`].
    pub(super) fn landmarkers(&mut self) -> Result<&mut [Landmarker], AnalyseError> {
        while self.landmarkers.len() < self.on.threads {
            let landmarker = self
                .places
                .card(&self.full_name)
                .and_then(|card| Landmarker::load(&self.places, card, Processor { threads: 1, ..self.on }))
                .map_err(|error| with_remedy(&self.name, error))?;
            self.landmarkers.push(landmarker);
        }
        Ok(&mut self.landmarkers)
    }

    /// The networks that read a movement: the one that tells depth and the one that recognises strokes. They are loaded the first time.
    ///
    /// # Errors
    /// [`ModelError`].
    pub fn readers(&mut self) -> Result<(&mut Lifter, &mut Recogniser), ModelError> {
        let lifter = match self.lifter.take() {
            Some(lifter) => lifter,
            None => Lifter::load(&self.places)?,
        };
        let recogniser = match self.recogniser.take() {
            Some(recogniser) => recogniser,
            None => Recogniser::load(&self.places)?,
        };
        Ok((self.lifter.insert(lifter), self.recogniser.insert(recogniser)))
    }

    /// Gives back the memory of the network that finds the racket.
    pub(super) fn release_finder(&mut self) {
        self.finder = None;
        memory::give_back();
    }

    /// The network that finds the racket; it is loaded the first time.
    ///
    /// # Errors
    /// [`ModelError`].
    pub fn finder(&mut self) -> Result<&mut Finder, ModelError> {
        let finder = match self.finder.take() {
            Some(finder) => finder,
            None => Finder::load(&self.places, self.on)?,
        };
        Ok(self.finder.insert(finder))
    }

    /// Everything about the networks that a motion depends on, in words.
    pub fn fingerprint(&self) -> String {
        let series = [&self.lifter_note, &self.recogniser_note];
        let networks = [&self.model].into_iter().chain(series).chain(&self.detectors);
        let networks = networks.map(|note| format!("{}:{}", note.name, note.sha256));
        // Other processors round otherwise.
        networks.chain([format!("device:{}", self.on.device.name())]).collect::<Vec<_>>().join(" ")
    }
}

/// What the inference library says of its making, once the networks are loaded.
pub(super) fn runtime_build() -> String {
    runtime::build().unwrap_or_default().to_owned()
}

/// The heavy network isn't part of the project's files, so it is often missing.
fn with_remedy(name: &str, error: ModelError) -> AnalyseError {
    match error {
        ModelError::Unreadable { .. } if name == "heavy" => AnalyseError::NoHeavyModel { source: error },
        other => other.into(),
    }
}

fn series_note(card: &SeriesCard) -> ModelNote {
    let file = card.file.to_string_lossy().into_owned();
    ModelNote { name: card.name.clone(), file, sha256: card.sha256.clone(), licence: card.licence.clone() }
}

fn note(card: &Card) -> ModelNote {
    let file = card.file.file_name().unwrap_or(card.file.as_os_str()).to_string_lossy().into_owned();
    ModelNote { name: card.name.clone(), file, sha256: card.sha256.clone(), licence: card.licence.clone() }
}
