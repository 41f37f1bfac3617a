//! `--and`: a second camera on the same session.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::exit::Result;
use super::output;
use super::pictures;
use super::plan::{Job, folder_of, name_of};
use crate::analyse::{Analyser, Analysis, Known, Observer};
use crate::draw::moment::{Instant, Lines};
use crate::draw::still::{self, Stills};
use crate::draw::{DrawError, capitalised};
use crate::measure::clip::MeasuredStroke;
use crate::measure::pair::{self, Origin, Second, Unmatched};
use crate::measure::{CATALOGUE, Measure};
use crate::page::{Image, seen_from};
use crate::scene::direction;
use crate::stroke::Boundary;
use crate::video::{Clip, Picture};

/// The file of the second clip's kept motion.
pub const MOTION: &str = "motion_and.bin";

/// The moment that shows most of a stroke.
const CONTACT: Instant = Instant::Boundary(Boundary::Contact);

/// A second clip, measured, and how its strokes belong to the first one's.
pub struct SecondView {
    name: String,
    analysis: Analysis,
    /// What of the first clip's numbers is this clip's now, or why nothing is.
    pub combined: std::result::Result<Second, Unmatched>,
}

/// A moment of a stroke of the second clip that is to be shown, with the measures whose lines are drawn.
pub struct Wanted<'a> {
    stroke: &'a MeasuredStroke,
    instant: Instant,
    ids: &'a [&'static str],
}

impl SecondView {
    /// Measures the second clip of a job and puts what it sees better into the first one's numbers.
    ///
    /// # Errors
    /// Whatever goes wrong with the clip.
    pub fn measure(
        clip: &Path,
        job: &Job,
        first: &mut Analysis,
        analyser: &mut Analyser,
        observer: &mut dyn Observer,
    ) -> Result<Self> {
        let mut stated = job.details.stated.clone();
        // What was said of the first camera holds for that alone.
        stated.direction = direction::Stated::default();
        (stated.field_of_view, stated.camera_distance, stated.camera_height) = (None, None, None);
        (stated.subject, stated.capture_rate) = (None, None);
        Clip::open(clip, None)?;
        let known = Known { motions: vec![job.folder.join(MOTION)], ..Known::default() };
        let mut analysis = analyser.measure_knowing(clip, &stated, known, observer)?;
        let name = name_of(clip);
        let matching = pair::matched(first.strokes(), analysis.strokes());
        let combined = matching.and_then(|matching| {
            pair::combine(&mut first.measures, &analysis.measures, name.clone(), matching)
                .ok_or(Unmatched::NoStroke)
        });
        if let Ok(combined) = &combined {
            // Its stills show what the table has.
            combined.number_second(&mut analysis.measures, &first.measures);
        }
        if let Err(why) = combined {
            output::note(&format!(
                "Warning: {} and {name}: {}; each is measured by itself: set their medians side by side",
                job.name,
                why.words()
            ));
        }
        Ok(Self { name, analysis, combined })
    }

    /// Keeps what looking at the clip has given.
    ///
    /// # Errors
    /// Where the file can't be written.
    pub fn keep(&self, folder: &Path) -> Result<()> {
        Ok(self.analysis.keep(&folder.join(MOTION))?)
    }

    /// The job of measuring the clip by itself, where its strokes are not the first one's.
    pub fn alone(&self, first: &Job, out: Option<&Path>) -> Option<Job> {
        self.combined.as_ref().err()?;
        let clip = &self.analysis.info.path;
        let folder: PathBuf = match out {
            None => folder_of(clip, None, false),
            Some(_) => first.folder.with_file_name(folder_of(clip, None, false).file_name()?),
        };
        let mut job = Job::of(clip, folder);
        job.details = first.details.clone();
        job.details.stated = self.analysis.stated.clone();
        job.motions = vec![first.folder.join(MOTION)];
        Some(job)
    }

    /// The second clip's stroke that is a stroke of the first.
    fn of(&self, first: &[MeasuredStroke], number: usize) -> Option<&MeasuredStroke> {
        let place = first.iter().position(|stroke| stroke.number == number)?;
        let combined = self.combined.as_ref().ok()?;
        let (_, other) = combined.matching.pairs.iter().find(|(a, _)| *a == place)?;
        self.analysis.strokes().get(*other)
    }

    /// A moment in which a measure that this view sees better shows; `None` where the first view sees it.
    pub fn showing<'a>(
        &'a self,
        first: &[MeasuredStroke],
        number: usize,
        instant: Instant,
        ids: &'a [&'static str],
    ) -> Option<Wanted<'a>> {
        let combined = self.combined.as_ref().ok()?;
        let view = first.first()?.stroke.motion.direction.view;
        let is_seen = |id: &&'static str| {
            let Some(place) = Measure::place(id) else { return false };
            let views = CATALOGUE[place].views;
            match combined.origin(place) {
                Origin::Own => false,
                Origin::Other => true,
                Origin::Both => !views.contains(&view) && views.contains(&combined.view),
            }
        };
        let stroke = self.of(first, number).filter(|_| ids.iter().any(is_seen))?;
        Some(Wanted { stroke, instant, ids })
    }

    /// Contact of a stroke of the first clip in this view.
    pub fn contact(&self, first: &[MeasuredStroke], number: usize) -> Option<Wanted<'_>> {
        Some(Wanted { stroke: self.of(first, number)?, instant: CONTACT, ids: &[] })
    }

    /// The caption of contact in this view.
    pub fn caption(&self) -> String {
        let view =
            self.combined.as_ref().map_or_else(|_| String::new(), |combined| seen_from(combined.view.name()));
        format!("{}, {view}", capitalised(CONTACT.name()))
    }

    /// The pictures that some moments need.
    ///
    /// # Errors
    /// Those of reading the clip.
    pub fn pictures(
        &self,
        wanted: &[Wanted<'_>],
        blur_faces: bool,
        analyser: &mut Analyser,
        observer: &mut dyn Observer,
    ) -> Result<BTreeMap<usize, Picture>> {
        let shown = wanted.iter().map(|wanted| (&wanted.stroke.stroke, wanted.instant));
        let needed: BTreeSet<usize> = still::pictures_needed(&self.analysis.motion, shown);
        pictures::of(&self.analysis, &needed, blur_faces, analyser, observer)
    }

    /// The still of a moment.
    ///
    /// # Errors
    /// Where it can't be drawn or packed.
    pub fn still(&self, wanted: &Wanted<'_>, seen: &BTreeMap<usize, Picture>) -> Result<Option<Image>> {
        let stills = Stills::new(&self.analysis.motion, &self.analysis.measures, seen);
        let lines = if wanted.ids.is_empty() { Lines::All } else { Lines::Of(wanted.ids) };
        let failed = |source| DrawError::Chart { file: self.name.clone(), source };
        let still = stills.one(wanted.stroke, wanted.instant, lines).map_err(failed)?;
        Ok(still.map(|still| Image::of(&still.image, &still.alt)).transpose()?)
    }
}
