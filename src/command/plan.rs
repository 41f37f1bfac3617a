//! What was typed, resolved: each clip with the folder for its results, and what is known beforehand.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

use super::args::{InputArgs, MeasureArgs, MethodArgs, OutputArgs};
use super::exit::{Result, UsageError};
use super::review;
use crate::analyse::{Method, Way, most_threads};
use crate::measure::clip::Stated;
use crate::scene::{Stature, direction};
use crate::season::settings::SettingsError;
use crate::season::{Known, Settings};
use crate::table::exchange::Exchange;
use crate::table::marks::Marks;
use crate::table::{Decimal, Drill, Labels, SaidBy};
use crate::targets;
use crate::units::{Degrees, Metres};

/// A clip, what is known of it beforehand, and where its results go.
#[derive(Debug, Clone)]
pub struct Job {
    /// The clip.
    pub clip: PathBuf,
    /// The clip's name in the tables.
    pub name: String,
    /// The folder of its results.
    pub folder: PathBuf,
    /// What the user says of it.
    pub details: ClipDetails,
    /// The clip's SHA-256, where it is known already.
    pub sha256: Option<String>,
    /// Kept motions besides the folder's own that may be of this clip.
    pub motions: Vec<PathBuf>,
    /// The player's stature as other clips have shown it.
    pub stature: Option<Stature>,
    /// Another clip of the same strokes.
    pub and: Option<PathBuf>,
    /// Files that are to stand in the folder besides the results: name and text.
    pub beside: Vec<(&'static str, String)>,
}

impl Job {
    /// A clip of which nothing is said.
    pub fn of(clip: &Path, folder: PathBuf) -> Self {
        Self {
            clip: clip.to_owned(),
            name: name_of(clip),
            folder,
            details: ClipDetails::default(),
            sha256: None,
            motions: Vec::new(),
            stature: None,
            and: None,
            beside: Vec::new(),
        }
    }
}

/// What the user says of a clip.
#[derive(Debug, Clone, Default)]
pub struct ClipDetails {
    /// What the numbers depend on.
    pub stated: Stated,
    /// What changes no number.
    pub labels: Labels,
}

impl ClipDetails {
    /// What was typed, and where that says nothing, what the first of the sources says that says anything, with what said it.
    #[must_use]
    pub fn completed(self, sources: &[(SaidBy, Known)]) -> Self {
        let Self { mut stated, mut labels } = self;
        let mut said_by = BTreeMap::new();
        let mut note = |name: &'static str, by: Option<SaidBy>| {
            said_by.extend(by.map(|by| (name, by)));
        };
        note("player", complete(&mut labels.player, sources, |known| known.player.clone()));
        note("date", complete(&mut labels.date, sources, |known| known.date.clone()));
        note("drill", complete(&mut labels.drill, sources, |known| known.drill));
        note("grip", complete(&mut labels.grip, sources, |known| known.grip));
        note("coach", complete(&mut labels.coach, sources, |known| known.coach.clone()));
        note("hand", complete(&mut stated.hand, sources, |known| known.hand));
        note("view", complete(&mut stated.direction.view, sources, |known| known.view));
        let metres = |cm: Option<f64>| cm.map(|cm| Metres(cm / 100.0));
        note("height_cm", complete(&mut stated.height, sources, |known| metres(known.height_cm)));
        note(
            "racket_length_cm",
            complete(&mut stated.racket_length, sources, |known| metres(known.racket_length_cm)),
        );
        note("fov", complete(&mut stated.field_of_view, sources, |known| known.fov.map(Degrees)));
        note("capture_fps", complete(&mut stated.capture_rate, sources, |known| known.capture_fps));
        stated.shadow = labels.drill == Some(Drill::Shadow);
        labels.said_by = said_by;
        Self { stated, labels }
    }

    /// What was typed of a clip, and what the settings beside it say.
    ///
    /// # Errors
    /// [`SettingsError`].
    pub fn with_settings(self, settings: Option<&Settings>) -> Self {
        let known = settings.map(|settings| {
            // Whose clips these are may stand in the settings themselves.
            let whose = self.labels.player.clone().or_else(|| settings.of(None).player);
            (SaidBy::Settings, settings.of(whose.as_deref()))
        });
        self.completed(known.as_slice())
    }
}

/// Takes a value from the first source that has one, where there is none; answers with what has said it.
fn complete<T>(
    value: &mut Option<T>,
    sources: &[(SaidBy, Known)],
    of: impl Fn(&Known) -> Option<T>,
) -> Option<SaidBy> {
    if value.is_some() {
        return Some(SaidBy::CommandLine);
    }
    let (by, found) = sources.iter().find_map(|(by, known)| Some((*by, of(known)?)))?;
    *value = Some(found);
    Some(by)
}

/// The settings in the folder of a clip.
///
/// # Errors
/// [`SettingsError`].
pub fn settings_beside(clip: &Path) -> Result<Option<Settings>, SettingsError> {
    Settings::of_folder(clip.parent().unwrap_or_else(|| Path::new("")))
}

/// How results are written.
#[derive(Debug, Clone, Default)]
pub struct Output {
    /// How numbers are written in CSV.
    pub decimal: Decimal,
    /// Whether a workbook is written.
    pub workbook: bool,
    /// Files for other programs.
    pub exchange: Vec<Exchange>,
    /// Whether a table for marks is written.
    pub marks_template: bool,
    /// What goes into the page for the player; none is written without.
    pub review: Option<review::Plan>,
    /// What is drawn over the clip's own pictures.
    pub pictures: Pictures,
}

/// What is drawn over a clip's own pictures.
#[derive(Debug, Clone, Default)]
pub struct Pictures {
    /// Stills.
    pub stills: bool,
    /// Only one still of each kind, the contact of the most typical stroke, for a player's page over many sessions.
    pub contact_alone: bool,
    /// The annotated clip.
    pub annotated: bool,
    /// Whether faces are made unrecognisable.
    pub blur_faces: bool,
    /// The coach's targets, by which strokes are chosen.
    pub targets: targets::Set,
}

impl Output {
    /// Whether it is asked what to film otherwise next time: for a page.
    pub fn wants_advice(&self) -> bool {
        self.review.is_some() || self.pictures.contact_alone
    }
}

impl Pictures {
    /// Whether any are.
    pub fn are_wanted(&self) -> bool {
        self.stills || self.contact_alone || self.annotated
    }
}

/// Everything that `measure` is to do.
#[derive(Debug)]
pub struct Plan {
    /// The clips.
    pub jobs: Vec<Job>,
    /// How clips are measured.
    pub method: Method,
    /// Corrections.
    pub marks: Option<Marks>,
    /// How results are written.
    pub output: Output,
    /// The folder for the results, where one was named.
    pub out: Option<PathBuf>,
    /// The coach's targets.
    pub targets: targets::Set,
    /// Whether notes are left out.
    pub quiet: bool,
    /// Whether JSON is printed.
    pub json: bool,
}

impl Plan {
    /// Resolves the arguments.
    ///
    /// # Errors
    /// [`UsageError`] where two clips would share a folder; those of [`Marks::read`], [`review::Plan::resolve`];
    /// [`targets::TargetError`].
    pub fn resolve(args: MeasureArgs) -> Result<Self> {
        let MeasureArgs {
            clips,
            and,
            input,
            subject,
            date,
            method,
            output,
            out,
            export,
            marks_template,
            pictures,
            page,
        } = args;
        let mut details = details(&input, method.planar);
        details.labels.date = date;
        details.stated.subject = subject;
        let several = clips.len() > 1;
        if and.is_some() && several {
            return Err(UsageError("--and goes with one clip: the first camera's".to_owned()).into());
        }
        let settings = clips.iter().map(|clip| settings_beside(clip)).collect::<Result<Vec<_>, _>>()?;
        let jobs: Vec<Job> = clips
            .into_iter()
            .zip(&settings)
            .map(|(clip, settings)| Job {
                details: details.clone().with_settings(settings.as_ref()),
                and: and.clone(),
                ..Job::of(&clip, folder_of(&clip, out.as_deref(), several))
            })
            .collect();
        for (i, job) in jobs.iter().enumerate() {
            if let Some(other) = jobs[..i].iter().find(|other| other.folder == job.folder) {
                return Err(UsageError(format!(
                    "{} and {} would both be written to {}; rename one, or measure them one after the other with --out",
                    other.clip.display(),
                    job.clip.display(),
                    job.folder.display()
                ))
                .into());
            }
        }
        let mut wanted = output_of(&output);
        wanted.marks_template = marks_template;
        wanted.exchange = export;
        let targets = targets::Set::asked_for(targets_named(&method, &settings)?.as_deref())?;
        if page.review || page.card {
            let mut review = review::Plan::resolve(page.note.as_deref(), page.before.as_deref(), &targets)?;
            (review.page, review.card) = (page.review, page.card);
            wanted.review = Some(review);
        }
        wanted.pictures = Pictures {
            // The page shows them, and the next session's page beside its own.
            stills: pictures.stills || page.review || page.card,
            contact_alone: false,
            annotated: pictures.annotated,
            blur_faces: pictures.blur_faces,
            targets: targets.clone(),
        };
        Ok(Self {
            jobs,
            method: self::method(&method, 1),
            marks: method.marks.as_deref().map(Marks::read).transpose()?,
            output: wanted,
            out,
            targets,
            quiet: output.quiet,
            json: output.json,
        })
    }
}

/// The targets that were asked for: by the option, else by the settings beside the clips.
fn targets_named(method: &MethodArgs, settings: &[Option<Settings>]) -> Result<Option<PathBuf>, UsageError> {
    let mut named = settings.iter().map(|settings| settings.as_ref().and_then(|s| s.targets.clone()));
    let first = named.next().flatten();
    match &method.targets {
        Some(targets) => Ok(Some(targets.clone())),
        None if named.all(|other| other == first) => Ok(first),
        None => Err(UsageError(
            "the settings beside the clips (toeline.toml) name different targets; give --targets, or measure the clips one \
             folder at a time"
                .to_owned(),
        )),
    }
}

/// How results are written, as far as all commands have it in common.
pub fn output_of(output: &OutputArgs) -> Output {
    let decimal = if output.decimal_comma { Decimal::Comma } else { Decimal::Point };
    Output { decimal, workbook: output.xlsx, ..Output::default() }
}

/// A clip's file name as it stands in the tables.
pub fn name_of(clip: &Path) -> String {
    let name = clip.file_name().map_or_else(|| clip.to_owned(), PathBuf::from);
    super::output::one_line(&name.to_string_lossy())
}

/// How clips are measured, so many at a time.
pub fn method(args: &MethodArgs, jobs: usize) -> Method {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let share = (cores / jobs.max(1)).clamp(1, most_threads(args.device));
    let way = match (args.every_frame, args.coarse) {
        (true, _) => Way::EveryFrame,
        (false, true) => Way::Coarse,
        (false, false) => Way::ByLength,
    };
    let threads = args.threads.map_or(share, usize::from);
    Method { model: args.model.clone(), threads, device: args.device, way, ..Method::default() }
}

/// `<clip stem>-toeline` beside the clip, or in the folder for several, or the folder itself for one clip.
pub fn folder_of(clip: &Path, out: Option<&Path>, several: bool) -> PathBuf {
    let mut name = clip.file_stem().map_or_else(OsString::new, OsString::from);
    name.push("-toeline");
    match out {
        None => clip.with_file_name(name),
        Some(out) if several => out.join(name),
        Some(out) => out.to_owned(),
    }
}

/// What is said of a clip by the options that all commands have in common.
pub fn details(input: &InputArgs, planar: bool) -> ClipDetails {
    let labels = Labels {
        player: input.player.clone(),
        date: None,
        drill: input.drill,
        grip: input.grip,
        coach: input.coach.clone(),
        ..Labels::default()
    };
    ClipDetails { stated: Stated { planar, ..stated(input) }, labels }
}

fn stated(input: &InputArgs) -> Stated {
    Stated {
        hand: input.hand,
        height: input.height.map(|height| Metres(height / 100.0)),
        direction: direction::Stated { view: input.view, net: input.net },
        field_of_view: input.fov.map(Degrees),
        camera_distance: input.camera_distance.map(Metres),
        camera_height: input.camera_height.map(|height| Metres(height / 100.0)),
        racket_length: input.racket_length.map(|length| Metres(length / 100.0)),
        shadow: input.drill == Some(Drill::Shadow),
        capture_rate: input.capture_fps,
        ..Stated::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_go_beside_the_clip_or_where_they_are_wanted() {
        let folder =
            |clip: &str, out: Option<&str>, several| folder_of(Path::new(clip), out.map(Path::new), several);
        assert_eq!(folder("a/b.mp4", None, false), Path::new("a/b-toeline"));
        assert_eq!(folder("b.mp4", None, true), Path::new("b-toeline"));
        assert_eq!(folder("a/b.mp4", Some("r"), false), Path::new("r"));
        assert_eq!(folder("a/b.mp4", Some("r"), true), Path::new("r/b-toeline"));
    }
}
