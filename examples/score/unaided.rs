//! Measures clips as the program does where nothing is given: everybody is followed, and the subject chosen among them.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};

use toeline::kept::Followed;
use toeline::measure::clip::{ClipMeasures, Given, Unmeasured};
use toeline::model::Places;
use toeline::pose::{Choice, Lifter, Models, Motion, NoSubject, Settings, Track, follow_clip};
use toeline::racket::Finder;
use toeline::scene::BodyPrior;
use toeline::sound::Heard;
use toeline::table::{Labels, ModelNote, Notes, Results};
use toeline::video::{Clip, ClipInfo, Sound};

use crate::MODEL;

/// What came out for a clip.
pub struct Unaided {
    /// The clip's name without its ending.
    pub name: String,
    /// The subject's motion; without any pictures where nobody was seen.
    pub motion: Motion,
    pub measures: ClipMeasures,
    /// What the program says a person should know.
    pub warnings: Vec<String>,
}

/// The networks, loaded when they are first needed, and the folder of kept motions.
pub struct Measurer<'a> {
    keep: Option<&'a Path>,
    places: Places,
    body: BodyPrior,
    models: Option<(Models, Lifter)>,
    finder: Option<Finder>,
}

impl<'a> Measurer<'a> {
    pub fn new(keep: Option<&'a Path>) -> Result<Self, Box<dyn Error>> {
        if let Some(folder) = keep {
            std::fs::create_dir_all(folder)?;
        }
        let places = Places::usual();
        let body = BodyPrior::from_card(&places.card(MODEL)?)?;
        Ok(Self { keep, places, body, models: None, finder: None })
    }

    /// Measures a clip.
    pub fn measure(&mut self, path: &Path) -> Result<Unaided, Box<dyn Error>> {
        let info = Clip::open(path, None)?.info().clone();
        let mut followed = self.followed(path)?;
        let subject = match followed.people().subject(Choice::Swinging) {
            Ok(subject) => Some(subject),
            Err(NoSubject::Nobody) => None,
            Err(error) => return Err(error.into()),
        };
        let nobody = || Motion::from_track(&Track { size: (info.width, info.height), frames: Vec::new() });
        let motion = subject.and_then(|subject| followed.motion(subject)).unwrap_or_else(nobody);
        let sound = Sound::read(&info, &followed.report).ok().and_then(|sound| Heard::listen(&sound));
        let mut given = Given {
            equivalent_mm: info.focal_length_35mm,
            body: self.body.clone(),
            sound,
            ..Given::default()
        };
        if let Some(subject) = subject {
            given.racket = followed.rackets.get(&subject).cloned();
            given.balls = followed.balls.get(&subject).cloned();
            if self.look(path, &motion, &mut given)? {
                followed.rackets.extend(given.racket.clone().map(|racket| (subject, racket)));
                followed.balls.extend(given.balls.clone().map(|balls| (subject, balls)));
                self.save(path, &followed)?;
            }
        }
        let measures = Unmeasured::of(&motion, &given).measure(&motion, &given);
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let warnings = warnings(&name, &info, &followed, &given, &motion, &measures);
        Ok(Unaided { name, motion, measures, warnings })
    }

    /// Everybody in the clip: kept from an earlier run, or followed now.
    fn followed(&mut self, path: &Path) -> Result<Followed, Box<dyn Error>> {
        let kept = self.keep.map(|folder| crate::kept_file(folder, path));
        if let Some(Ok((followed, _))) = kept.map(|file| Followed::load_any(&file)) {
            return Ok(followed);
        }
        eprintln!("following {}", path.display());
        let (models, lifter) = match self.models.take() {
            Some(loaded) => self.models.insert(loaded),
            None => self.models.insert((Models::load(&self.places, MODEL, 2)?, Lifter::load(&self.places)?)),
        };
        let mut frames = Clip::open(path, None)?.frames()?;
        let people = follow_clip(&mut frames, models, Settings::default(), |_| {})?;
        let tracks: Vec<Track> = people.candidates.into_iter().map(|candidate| candidate.track).collect();
        let depths = tracks.iter().map(|track| lifter.depths(track)).collect::<Result<_, _>>()?;
        let followed = Followed {
            tracks,
            depths,
            rackets: BTreeMap::new(),
            report: frames.report(),
            runtime: String::new(),
            balls: BTreeMap::new(),
        };
        self.save(path, &followed)?;
        Ok(followed)
    }

    /// Looks for racket and ball where nobody has looked; whether there was anything to look at.
    fn look(&mut self, path: &Path, motion: &Motion, given: &mut Given) -> Result<bool, Box<dyn Error>> {
        if !crate::is_anything_unseen(motion, given) {
            return Ok(false);
        }
        let finder = match self.finder.take() {
            Some(finder) => self.finder.insert(finder),
            None => self.finder.insert(Finder::load(&self.places, 2)?),
        };
        crate::look(path, motion, given, finder)?;
        Ok(true)
    }

    fn save(&self, path: &Path, followed: &Followed) -> Result<(), Box<dyn Error>> {
        if let Some(folder) = self.keep {
            followed.save(&crate::kept_file(folder, path), MODEL)?;
        }
        Ok(())
    }
}

/// The clips of a folder in order of their names, those whose path contains `only`.
pub fn clips(folder: &Path, only: Option<&str>) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut clips: Vec<PathBuf> = std::fs::read_dir(folder)
        .map_err(|error| format!("{}: {error}", folder.display()))?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "mp4"))
        .filter(|path| only.is_none_or(|only| path.to_string_lossy().contains(only)))
        .collect();
    clips.sort();
    if clips.is_empty() {
        return Err(format!("{}: no clip (.mp4) to measure", folder.display()).into());
    }
    Ok(clips)
}

/// What the program says beside the numbers of a clip.
fn warnings(
    name: &str,
    info: &ClipInfo,
    followed: &Followed,
    given: &Given,
    motion: &Motion,
    measures: &ClipMeasures,
) -> Vec<String> {
    let unnamed =
        ModelNote { name: String::new(), file: String::new(), sha256: String::new(), licence: String::new() };
    let results = Results {
        clip: name,
        sha256: "",
        info,
        report: &followed.report,
        no_sound: None,
        labels: &Labels::default(),
        given,
        capture_rate_given: false,
        subject: None,
        people: followed.tracks.len(),
        model: &unnamed,
        detectors: &[],
        runtime: "",
        motion,
        measures,
    };
    Notes::of(&results).warnings
}
