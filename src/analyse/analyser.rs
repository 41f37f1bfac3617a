//! The way from a clip to its numbers.

use std::path::{Path, PathBuf};

use super::analysis::settings;
use super::look::{Look, Wanted, look};
use super::networks::runtime_build;
use super::observer::{go_on, share};
use super::{AnalyseError, Analysis, Networks, Observer, Part};
use crate::kept::Followed;
use crate::measure::clip::{Seen, Stated, Unmeasured};
use crate::model::Places;
use crate::pose::{self, Choice, Motion, NoSubject, Track, follow_clip};
use crate::sound::Heard;
use crate::table::marks::ClipMarks;
use crate::table::sha256;
use crate::video::{Clip, ClipInfo, ClipReport, Sound};

/// How much of the work following is; the rest is looking for racket and ball.
const FOLLOWING: f64 = 0.8;

/// How clips are measured.
#[derive(Debug, Clone)]
pub struct Method {
    /// The pose network: `full`, `lite`, `heavy`, a card's name, or the path of a card or ONNX file.
    pub model: String,
    /// Where networks and the inference library are looked for.
    pub places: Places,
    /// How many cores a network may use; by the number of cores where it isn't said.
    pub threads: Option<usize>,
}

impl Default for Method {
    fn default() -> Self {
        Self { model: "full".to_owned(), places: Places::usual(), threads: None }
    }
}

/// What is known of a clip before it is measured, besides what a person has stated.
#[derive(Debug, Default)]
pub struct Known<'a> {
    /// Its SHA-256.
    pub sha256: Option<String>,
    /// Files of kept motions that may be of this clip.
    pub motions: Vec<PathBuf>,
    /// What looking at it has given, whatever networks it was made with.
    pub followed: Option<Followed>,
    /// What was corrected.
    pub marks: Option<&'a ClipMarks<'a>>,
}

/// Measures clips.
///
/// ```no_run
/// use std::path::Path;
/// use toeline::{Analyser, Method, Stated, Unobserved};
///
/// let mut analyser = Analyser::new(&Method::default())?;
/// let analysis = analyser.measure(Path::new("practice.mp4"), &Stated::default(), &mut Unobserved)?;
/// println!("{} strokes", analysis.strokes().len());
/// # Ok::<(), toeline::AnalyseError>(())
/// ```
pub struct Analyser {
    networks: Networks,
}

impl Analyser {
    /// An analyser that measures in this way. Networks are described now and loaded when a clip has to be looked at.
    ///
    /// # Errors
    /// [`AnalyseError::Model`] and [`AnalyseError::Offsets`] where a network's card is missing or can't be used.
    pub fn new(method: &Method) -> Result<Self, AnalyseError> {
        Ok(Self { networks: Networks::describe(method)? })
    }

    /// The networks.
    pub fn networks(&mut self) -> &mut Networks {
        &mut self.networks
    }

    /// Measures a clip.
    ///
    /// # Errors
    /// [`AnalyseError`]; its [`kind`](AnalyseError::kind) is `Cancelled` where the observer has cancelled.
    pub fn measure(
        &mut self,
        clip: &Path,
        stated: &Stated,
        observer: &mut dyn Observer,
    ) -> Result<Analysis, AnalyseError> {
        self.measure_knowing(clip, stated, Known::default(), observer)
    }

    /// Measures a clip of which something is known already.
    ///
    /// # Errors
    /// As [`Self::measure`], and [`AnalyseError::Marks`] for corrections that don't fit the clip.
    pub fn measure_knowing(
        &mut self,
        path: &Path,
        stated: &Stated,
        known: Known<'_>,
        observer: &mut dyn Observer,
    ) -> Result<Analysis, AnalyseError> {
        let clip = Clip::open(path, stated.capture_rate)?;
        let info = clip.info().clone();
        let sha256 = match known.sha256 {
            Some(known) => known,
            None => sha256(path)?,
        };
        let settings = settings(&sha256, &info, &self.networks);
        let kept = || known.motions.iter().find_map(|file| Followed::load(file, &settings).ok());
        let mut followed = match known.followed.or_else(kept) {
            Some(followed) => followed,
            None => self.follow(clip, &mut Part::new(observer, 0.0, FOLLOWING))?,
        };
        self.fill_depths(&mut followed)?;
        let mut stated = stated.clone();
        let choice = choice(&mut stated, &info, known.marks);
        let (person, motion) = subject_of(&followed, &info, choice)
            .map_err(|source| AnalyseError::Subject { clip: info.name(), source })?;
        if let Some(marks) = known.marks {
            stated.corrections = marks.corrections(&motion)?;
        }
        let sound = listen(&info, &followed.report, stated.shadow);
        let mut seen = Seen {
            equivalent_mm: info.focal_length_35mm,
            body: self.networks.body.clone(),
            sound: sound.as_ref().ok().cloned(),
            racket: person.and_then(|person| followed.rackets.get(&person).cloned()),
            balls: person.and_then(|person| followed.balls.get(&person).cloned()),
            lines: None,
        };
        let mut warnings = Vec::new();
        let strokes = Unmeasured::of(&motion, &stated, &seen);
        let wanted = person.map_or_else(Wanted::default, |_| Wanted {
            rackets: strokes.to_look_at(seen.racket.as_ref().unwrap_or(&Default::default())),
            balls: strokes.to_watch(seen.balls.as_ref().unwrap_or(&Default::default())),
        });
        let mut rest = Part::new(observer, FOLLOWING, 1.0);
        let measures =
            match look(path, stated.capture_rate, &info, &motion, &wanted, &mut self.networks, &mut rest)? {
                Look::Known => strokes.measure(),
                Look::LeftOut(warning) => {
                    warnings.push(warning);
                    strokes.measure()
                }
                Look::New(rackets, balls) => {
                    drop(strokes);
                    seen.racket.get_or_insert_default().join(rackets);
                    seen.balls.get_or_insert_default().join(balls);
                    // A ball that is seen moves the contact.
                    Unmeasured::of(&motion, &stated, &seen).measure()
                }
            };
        if let Some(marks) = known.marks {
            marks.check(&stated.corrections, &measures)?;
        }
        if let Some(person) = person {
            followed.rackets.extend(seen.racket.clone().map(|racket| (person, racket)));
            followed.balls.extend(seen.balls.clone().map(|balls| (person, balls)));
        }
        go_on(observer, &info)?;
        observer.progress(1.0);
        Ok(Analysis {
            people: followed.people().candidates.iter().filter(|candidate| candidate.seen > 0.0).count(),
            no_sound: sound.err(),
            model: self.networks.model.clone(),
            detectors: self.networks.detectors.clone(),
            info,
            sha256,
            stated,
            seen,
            motion,
            measures,
            followed,
            warnings,
            settings,
        })
    }

    /// Follows everybody through the clip.
    fn follow(&mut self, clip: Clip, observer: &mut dyn Observer) -> Result<Followed, AnalyseError> {
        let info = clip.info().clone();
        let models = self.networks.models()?;
        let mut frames = clip.frames()?;
        let people = follow_clip(&mut frames, models, pose::Settings::default(), |done| {
            observer.progress(share(done, &info));
            go_on(observer, &info)
        });
        let people = people.map_err(|error| AnalyseError::following(&info.name(), error))?;
        Ok(Followed {
            tracks: people.candidates.into_iter().map(|candidate| candidate.track).collect(),
            depths: Vec::new(),
            rackets: Default::default(),
            report: frames.report(),
            runtime: runtime_build(),
            balls: Default::default(),
        })
    }

    /// Tells the depth of everybody for whom it isn't known.
    fn fill_depths(&mut self, followed: &mut Followed) -> Result<(), AnalyseError> {
        for track in &followed.tracks[followed.depths.len().min(followed.tracks.len())..] {
            followed.depths.push(self.networks.lifter()?.depths(track)?);
        }
        Ok(())
    }
}

/// How the subject is chosen; notes the place that marks name.
fn choice(stated: &mut Stated, info: &ClipInfo, marks: Option<&ClipMarks<'_>>) -> Choice {
    let by_options = stated.subject.map(Choice::At);
    stated.subject = marks.and_then(ClipMarks::subject_place).or(stated.subject);
    let by_marks = marks.and_then(|marks| marks.subject(info.capture_rate));
    by_marks.or(by_options).unwrap_or(Choice::Swinging)
}

/// What there is to hear in the clip, or why nothing is listened to.
fn listen(info: &ClipInfo, report: &ClipReport, shadow: bool) -> Result<Heard, String> {
    if shadow {
        return Err("shadow swings have no hits".to_owned());
    }
    let sound = Sound::read(info, report).map_err(|reason| reason.to_string())?;
    Heard::listen(&sound).ok_or_else(|| "the sound track is silent".to_owned())
}

/// The player among those who were followed, and their motion; without any picture where nobody was seen.
fn subject_of(
    followed: &Followed,
    info: &ClipInfo,
    choice: Choice,
) -> Result<(Option<usize>, Motion), NoSubject> {
    let subject = match followed.people().subject(choice) {
        Ok(index) => Some(index),
        Err(NoSubject::Nobody) => None,
        Err(error) => return Err(error),
    };
    let nobody = || Track { size: (info.width, info.height), frames: Vec::new() };
    let motion = subject.and_then(|index| followed.motion(index));
    Ok((subject, motion.unwrap_or_else(|| Motion::from_track(&nobody()))))
}
