//! The way from a clip to its numbers.

use std::path::{Path, PathBuf};
use std::thread;

use super::analysis::settings;
use super::coarse::{self, Looked};
use super::look::{LookOutcome, Wanted, look};
use super::networks::runtime_build;
use super::observer::{go_on, share};
use super::source::Source;
use super::{AnalyseError, Analysis, MOST_THREADS, Networks, Observer, Part};
use crate::kept::Followed;
use crate::measure::clip::{Found, Seen, Stated, Unmeasured};
use crate::memory;
use crate::model::{Device, ModelError, Places};
use crate::pose::{self, Care, Choice, Depths, Motion, NoSubject, People, Seed, Track, follow_clip};
use crate::recogniser::{self, Chances};
use crate::scene::Stature;
use crate::sound::Heard;
use crate::table::marks::ClipMarks;
use crate::table::sha256;
use crate::units::Seconds;
use crate::video::{Clip, ClipInfo, ClipReport, Sound, Thinned};

/// How much of the work following is; the rest is looking for racket, ball and lines.
const FOLLOWING: f64 = 0.8;
/// How much of it is done once racket and ball were looked for.
const LOOKED: f64 = 0.95;

/// The clip is looked through for racket and ball at most so often: where the racket has shown another stroke or hand, once more.
const LOOKS: usize = 2;

/// How much of it a first look at single pictures is.
const COARSE: f64 = 0.4;

/// Strokes are found anew after each close look; more often than this nothing new comes of it.
const ROUNDS: usize = 4;

/// What may be a stroke is looked at this long before and after contact, to see whether it is one.
const AROUND: Seconds = Seconds(0.3);

/// So long before and after what may be contact, measures hang on single frames.
const ALIKE: Seconds = Seconds(0.2);

/// A clip longer than this (seconds) is looked at in single pictures first …
const LONG: f64 = 20.0;
/// … where it has at least so many pictures a second; others have too few to leave any out.
const LEAST_RATE: f64 = 24.0;

/// Which pictures of a clip are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Way {
    /// All of a short clip; of a long one single pictures, and all of them around strokes.
    #[default]
    ByLength,
    /// All.
    EveryFrame,
    /// Single pictures, and all of them around strokes.
    Coarse,
}

impl Way {
    /// Whether a clip is looked at in single pictures first.
    fn is_coarse(self, info: &ClipInfo) -> bool {
        let seconds = info.expected_frames().map_or(0.0, |frames| frames as f64 / info.capture_rate);
        match self {
            Self::EveryFrame => false,
            Self::Coarse => true,
            Self::ByLength => seconds > LONG && info.capture_rate >= LEAST_RATE,
        }
    }
}

/// What a close look has given besides the motion.
#[derive(Debug, Default)]
struct Refined {
    looked: Looked,
    left_out: Option<String>,
    /// What was found in the motion as it then is, where that is known.
    found: Option<Found>,
}

/// How clips are measured.
#[derive(Debug, Clone)]
pub struct Method {
    /// The pose network: `full`, `lite`, `heavy`, a card's name, or the path of a card or ONNX file.
    pub model: String,
    /// Where networks and the inference library are looked for.
    pub places: Places,
    /// How many cores to use.
    pub threads: usize,
    /// What the networks for pictures run on.
    pub device: Device,
    /// Which pictures are looked at.
    pub way: Way,
}

impl Default for Method {
    fn default() -> Self {
        let cores = thread::available_parallelism().map_or(1, usize::from);
        Self {
            model: "full".to_owned(),
            places: Places::usual(),
            threads: cores.min(MOST_THREADS),
            device: Device::default(),
            way: Way::default(),
        }
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
    /// The player's stature as other clips have shown it.
    pub stature: Option<Stature>,
    /// What was corrected.
    pub marks: Option<&'a ClipMarks<'a>>,
    /// Only so much of a long clip is looked at, from its beginning. What is kept of such an analysis is not of the whole clip.
    pub first: Option<Seconds>,
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
    way: Way,
}

impl Analyser {
    /// An analyser that measures in this way. Networks are described now and loaded when a clip has to be looked at.
    ///
    /// # Errors
    /// [`AnalyseError::Model`] and [`AnalyseError::Offsets`] where a network's card is missing or can't be used.
    pub fn new(method: &Method) -> Result<Self, AnalyseError> {
        Ok(Self { networks: Networks::describe(method)?, way: method.way })
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
        let source = Source::open(path, stated.capture_rate, known.first)?;
        let sha256 = match known.sha256 {
            Some(known) => known,
            None => sha256(path)?,
        };
        let coarse = self.way.is_coarse(&source.info) && source.index()?.is_some();
        let settings = settings(&sha256, &source.info, &self.networks, coarse);
        let kept = || known.motions.iter().find_map(|file| Followed::load(file, &settings).ok());
        let mut thinned = None;
        let mut from_kept = true;
        let mut stated = stated.clone();
        let choice = choice(&mut stated, &source.info, known.marks);
        // Somebody who was pointed at may not have been worth following before.
        let has_subject = |followed: &Followed| {
            !matches!(followed.people().subject(choice), Err(NoSubject::NotThere { .. }))
        };
        let mut followed = match known.followed.or_else(kept).filter(has_subject) {
            Some(followed) => followed,
            None => {
                let observer = &mut Part::new(observer, 0.0, if coarse { COARSE } else { FOLLOWING });
                let (followed, left) = self.follow(&source, coarse, choice.seed(), observer)?;
                thinned = left;
                from_kept = false;
                followed
            }
        };
        if coarse {
            self.networks.release();
        }
        self.fill_in(&mut followed)?;
        match coarse {
            true => self.networks.release(),
            false => memory::give_back(),
        }
        let (subject, sound) = rayon::join(
            || subject_of(&followed, &source.info, choice),
            || listen(&source.info, &followed.report, stated.shadow),
        );
        let (person, mut motion) =
            subject.map_err(|error| AnalyseError::Subject { clip: source.info.name(), source: error })?;
        if let Some(marks) = known.marks {
            stated.corrections = marks.corrections(&motion)?;
        }
        let mut seen = Seen {
            equivalent_mm: source.info.focal_length_35mm,
            body: self.networks.body.clone(),
            stature: known.stature,
            sound: sound.as_ref().ok().cloned(),
            racket: person.and_then(|person| followed.rackets.get(&person).cloned()),
            balls: person.and_then(|person| followed.balls.get(&person).cloned()),
            lines: person.and_then(|person| followed.lines.get(&person).cloned()),
            uprights: person.and_then(|person| followed.uprights.get(&person).cloned()),
            chances: person.and_then(|person| followed.chances.get(person).cloned()).unwrap_or_default(),
        };
        let mut warnings = Vec::new();
        let mut found = None;
        if let Some(person) = person.filter(|_| coarse) {
            let observer = &mut Part::new(observer, COARSE, FOLLOWING);
            let known = (&stated, &seen, from_kept);
            let fine = self.refine(&source, person, &mut followed, &mut motion, known, observer)?;
            self.networks.release();
            warnings.extend(fine.left_out);
            found = fine.found;
            if let Some(thinned) = thinned {
                followed.report = thinned.report(fine.looked.pictures, fine.looked.duplicates);
            }
            if let Some(refined) = followed.chances.get(person) {
                seen.chances.clone_from(refined);
            }
        }
        let mut strokes = match found {
            Some(found) => Unmeasured::with(found, &motion, &stated, &seen),
            None => Unmeasured::of(&motion, &stated, &seen),
        };
        for round in 0..LOOKS {
            let wanted = person.map_or_else(Wanted::default, |_| Wanted {
                rackets: strokes.to_look_at(seen.racket.as_ref().unwrap_or(&Default::default())),
                balls: strokes.to_watch(seen.balls.as_ref().unwrap_or(&Default::default())),
                lines: if seen.lines.is_none() || seen.uprights.is_none() { person } else { None },
                is_long: coarse,
            });
            if wanted.is_empty() {
                break;
            }
            // What was found fills much memory in a long clip.
            drop(strokes);
            memory::give_back();
            let mut rest = Part::new(observer, if round == 0 { FOLLOWING } else { LOOKED }, 1.0);
            let is_new = match look(
                &source,
                (followed.tracks.as_slice(), &motion),
                &wanted,
                from_kept,
                &mut self.networks,
                &mut rest,
            )? {
                LookOutcome::Known => false,
                LookOutcome::LeftOut(warning) => {
                    warnings.push(warning);
                    false
                }
                LookOutcome::New(rackets, balls, court) => {
                    seen.racket.get_or_insert_default().join(rackets);
                    seen.balls.get_or_insert_default().join(balls);
                    if let Some((lines, uprights)) = court {
                        seen.lines.get_or_insert(lines);
                        seen.uprights.get_or_insert(uprights);
                    }
                    true
                }
            };
            // A racket that is seen tells strokes and hand, a ball moves the contact.
            strokes = Unmeasured::of(&motion, &stated, &seen);
            if !is_new {
                break;
            }
        }
        let measures = strokes.measure();
        if let Some(marks) = known.marks {
            marks.check(&stated.corrections, &measures)?;
        }
        if let Some(person) = person {
            followed.rackets.extend(seen.racket.clone().map(|racket| (person, racket)));
            followed.balls.extend(seen.balls.clone().map(|balls| (person, balls)));
            followed.lines.extend(seen.lines.clone().map(|lines| (person, lines)));
            followed.uprights.extend(seen.uprights.clone().map(|uprights| (person, uprights)));
        }
        go_on(observer, &source.info)?;
        observer.progress(1.0);
        Ok(Analysis {
            people: followed.people().candidates.iter().filter(|candidate| candidate.seen > 0.0).count(),
            no_sound: sound.err(),
            model: self.networks.model.clone(),
            detectors: self.networks.detectors.clone(),
            info: source.info,
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

    /// Follows everybody through the clip; what was thinned out of it where it was looked at in single pictures.
    fn follow(
        &mut self,
        source: &Source<'_>,
        coarse: bool,
        seed: Option<Seed>,
        observer: &mut dyn Observer,
    ) -> Result<(Followed, Option<Thinned>), AnalyseError> {
        let info = &source.info;
        let index = if coarse { source.index()? } else { None };
        let how = pose::Settings { seed, is_long: index.is_some(), ..Default::default() };
        let (people, report, thinned) = match index {
            Some(index) => {
                let (people, thinned) = coarse::follow(source, index, how, &mut self.networks, observer)?;
                (people, thinned.report(0, 0), Some(thinned))
            }
            None => {
                let models = self.networks.models()?;
                let mut frames = Clip::open(source.path, source.capture_rate)?.frames()?;
                let people = follow_clip(&mut frames, models, how, |done| {
                    observer.progress(share(done, info));
                    go_on(observer, info)
                });
                let people = people.map_err(|error| AnalyseError::following(&info.name(), error))?;
                (people, frames.report(), None)
            }
        };
        let People { candidates, background } = people;
        let followed = Followed {
            tracks: candidates.into_iter().map(|candidate| candidate.track.into_owned()).collect(),
            depths: Vec::new(),
            rackets: Default::default(),
            report,
            runtime: runtime_build(),
            balls: Default::default(),
            closely: Default::default(),
            background: background.into_owned(),
            chances: Vec::new(),
            lines: Default::default(),
            uprights: Default::default(),
        };
        Ok((followed, thinned))
    }

    /// Looks closely at a person who was followed through single pictures: at all that may be a stroke, then at all that is
    /// one, until nothing more is found.
    fn refine(
        &mut self,
        source: &Source<'_>,
        person: usize,
        followed: &mut Followed,
        motion: &mut Motion,
        (stated, seen, from_kept): (&Stated, &Seen, bool),
        observer: &mut dyn Observer,
    ) -> Result<Refined, AnalyseError> {
        let mut refined = Refined::default();
        let Some(index) = source.index()? else { return Ok(refined) };
        let begun = followed.closely.contains_key(&person);
        for round in 0..ROUNDS {
            let chances = followed.chances.get(person).unwrap_or(&seen.chances).clone();
            let seen = Seen { chances, ..seen.clone() };
            let unmeasured = Unmeasured::of(motion, stated, &seen);
            let (mut spans, mut fast) = (unmeasured.spans(), unmeasured.fast());
            if round == 0 && !begun {
                spans.extend(unmeasured.moments(AROUND));
                fast.extend(unmeasured.moments(AROUND));
            }
            if coarse::are_known(source, index, followed, person, (&spans, &fast)) {
                refined.found = Some(unmeasured.into_found());
                break;
            }
            // What was kept can be measured again without any network, then from single pictures in strokes that are new.
            if from_kept && let Err(error) = self.networks.landmarkers() {
                refined.left_out =
                    Some(format!("some strokes were measured from a few frames only: {error}"));
                refined.found = Some(unmeasured.into_found());
                break;
            }
            let care = Care { fast, alike: unmeasured.moments(ALIKE).collect() };
            // What is made anew below fills much memory in a long clip.
            drop(unmeasured);
            *motion = nobody(&source.info);
            followed.depths[person] = Default::default();
            memory::give_back();
            let from = round as f64 / ROUNDS as f64;
            let part = &mut Part::new(observer, from, from + 1.0 / ROUNDS as f64);
            let networks = &mut self.networks;
            let looked =
                coarse::look_closely(source, index, followed, person, (&spans, &care), networks, part)?;
            refined.looked.pictures += looked.pictures;
            refined.looked.duplicates += looked.duplicates;
            self.networks.release();
            let track = &followed.tracks[person];
            let mut anew = Motion::from_track(track);
            let (depths, chances) = self.read(track, &anew)?;
            (followed.depths[person], followed.chances[person]) = (depths, chances);
            followed.complete(person, &mut anew);
            *motion = anew;
            self.networks.release();
        }
        Ok(refined)
    }

    /// Tells the depth of everybody for whom it isn't known, and what strokes they play.
    fn fill_in(&mut self, followed: &mut Followed) -> Result<(), AnalyseError> {
        let known = followed.depths.len().min(followed.chances.len()).min(followed.tracks.len());
        for (person, track) in followed.tracks.iter().enumerate().skip(known) {
            let (depths, chances) = self.read(track, &Motion::from_track(track))?;
            if person == followed.depths.len() {
                followed.depths.push(depths);
            }
            if person == followed.chances.len() {
                followed.chances.push(chances);
            }
        }
        Ok(())
    }

    /// Depths of somebody's motion, and what strokes it shows; `track` is what it was made of.
    fn read(&mut self, track: &Track, motion: &Motion) -> Result<(Depths, Chances), ModelError> {
        let (lifter, recogniser) = self.networks.readers()?;
        let (depths, chances) =
            rayon::join(|| lifter.depths(motion), || recogniser.read(motion, Some(track)));
        Ok((depths?, chances?))
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

/// Somebody plays from these odds of a stroke on (logarithm); who stays under the second, beside somebody who plays, doesn't.
const PLAYS: f64 = 1.75;
const DOES_NOT_PLAY: f64 = 0.0;

/// The people among whom the subject is chosen: where it is not said who it is and somebody plays, those who don't are not asked.
fn players(followed: &Followed, choice: Choice) -> People<'_> {
    let mut people = followed.people();
    let odds: Vec<Option<f64>> = followed.chances.iter().map(recogniser::best_odds).collect();
    let somebody_plays = odds.iter().flatten().any(|odds| *odds > PLAYS);
    if choice == Choice::Swinging && somebody_plays {
        for (candidate, odds) in people.candidates.iter_mut().zip(odds) {
            if odds.is_none_or(|odds| odds < DOES_NOT_PLAY) {
                candidate.seen = 0.0;
            }
        }
    }
    people
}

/// The player among those who were followed, and their motion; without any picture where nobody was seen.
fn subject_of(
    followed: &Followed,
    info: &ClipInfo,
    choice: Choice,
) -> Result<(Option<usize>, Motion), NoSubject> {
    let subject = match players(followed, choice).subject(choice) {
        Ok(index) => Some(index),
        Err(NoSubject::Nobody) => None,
        Err(error) => return Err(error),
    };
    let motion = subject.and_then(|index| followed.motion(index));
    Ok((subject, motion.unwrap_or_else(|| nobody(info))))
}

/// The motion of a clip in which nobody is followed.
fn nobody(info: &ClipInfo) -> Motion {
    Motion::from_track(&Track { size: (info.width, info.height), frames: Vec::new() })
}
