//! `review.html`: what a player gets of a clip.

use askama::Template;

use super::advice::{self, Unmeasured};
use super::card;
use super::change::{Before, Change};
use super::finding::{Well, Work, why_none};
use super::strokes::{Cell, Strokes};
use super::words::{self, capitalised};
use super::{CAUTIONS, DEFER, Image, PageError, SHARING};
use crate::draw::moment::Instant;
use crate::draw::{self, Chart};
use crate::measure::Grade;
use crate::measure::clip::MeasuredStroke;
use crate::stroke::{Boundary, Sort};
use crate::table::notes::{Settings, Source};
use crate::table::{Notes, Results, counted, fixed, headlines};
use crate::targets::{Finding, Middle};

/// Advice that holds these words asks for the player's height.
const HEIGHT: &str = "how tall the player is";

/// More praise than this nobody reads.
const MOST_WELL: usize = 4;

/// What the page is made from.
#[derive(Debug, Clone, Copy)]
pub struct Review<'a> {
    /// The clip's numbers.
    pub results: &'a Results<'a>,
    /// What lies outside the targets, the most telling first.
    pub findings: &'a [Finding],
    /// Which targets are met surely.
    pub met: &'a [Middle],
    /// What one or two strokes show of what targets ask for.
    pub few: &'a [Middle],
    /// The coach's own words.
    pub note: Option<&'a str>,
    /// Pictures of this clip.
    pub pictures: &'a Pictures,
    /// Charts of this clip.
    pub charts: &'a [Chart],
    /// What to film otherwise next time, in a sentence.
    pub next_time: Option<&'a str>,
    /// An earlier session.
    pub before: Option<&'a Before>,
}

/// Pictures of a clip.
#[derive(Debug, Clone, Default)]
pub struct Pictures {
    /// The picture that shows a finding, by the kind of strokes and its measure's id.
    pub of_findings: Vec<(Sort, &'static str, Image)>,
    /// One stroke of each kind.
    pub moments: Vec<Moments>,
}

/// A stroke in pictures.
#[derive(Debug, Clone)]
pub struct Moments {
    /// Its kind.
    pub sort: Sort,
    /// Its number.
    pub stroke: usize,
    /// Its moments in order, with their names.
    pub pictures: Vec<(String, Image)>,
}

/// The strokes of one kind, in pictures and numbers.
struct Part<'a> {
    /// What tells its headings and their names apart from other parts'; empty where there is only one.
    of: String,
    suffix: String,
    moments: &'a [(String, Image)],
    typical: Option<usize>,
    several: bool,
    strokes: Strokes,
}

#[derive(Template)]
#[template(path = "review.html")]
struct Page<'a> {
    title: String,
    facts: Vec<(&'static str, String)>,
    note: Vec<String>,
    /// What counts most, and what else lies outside.
    focus: Option<Work<'a>>,
    also: Vec<Work<'a>>,
    why_none: &'static str,
    well: Vec<Well>,
    few: Vec<Well>,
    /// Contact of the most typical stroke, for a player to whom nothing is named.
    contact: Option<(String, &'a Image)>,
    change: Option<Change<'a>>,
    /// One for each kind of strokes.
    parts: Vec<Part<'a>>,
    /// SVG of the charts, and of the strips of one measure each.
    charts: Vec<Titled<'a>>,
    strips: Vec<Titled<'a>>,
    /// Whether two strips stand side by side.
    narrow: bool,
    next_time: Option<&'a str>,
    filming: Vec<String>,
    unmeasured: Vec<Unmeasured>,
    glossary: Vec<(String, String)>,
    cautions: [&'static str; 3],
    sharing: &'static str,
    defer: &'static str,
    estimated: String,
    clip: &'a str,
    version: &'static str,
}

/// A chart with its title, as the SVG has it.
struct Titled<'a> {
    title: String,
    svg: &'a str,
}

impl<'a> Titled<'a> {
    fn of(chart: &'a Chart) -> Self {
        let title = chart.svg.split_once("<title>").and_then(|(_, rest)| rest.split_once("</title>"));
        Self { title: title.map_or_else(String::new, |(title, _)| draw::svg::plain(title)), svg: &chart.svg }
    }
}

impl Review<'_> {
    /// The sheet for the court; `None` where there is nothing to work on.
    ///
    /// # Errors
    /// As [`Review::page`].
    pub fn card(&self) -> Result<Option<String>, PageError> {
        let Some(finding) = self.findings.first() else { return Ok(None) };
        let notes = Notes::of(self.results);
        let height = notes.settings.height_cm.value.unwrap_or_default();
        let item = Work::of(finding, self.image_of(finding), height)?;
        Ok(Some(card::text(item, &facts(self.results, &notes.settings))?))
    }

    fn image_of(&self, finding: &Finding) -> Option<&Image> {
        let of_findings = &self.pictures.of_findings;
        let shows =
            |shown: &&(Sort, &str, Image)| shown.0 == finding.middle.sort && shown.1 == finding.measure().id;
        of_findings.iter().find(shows).map(|(.., image)| image)
    }

    /// The page.
    ///
    /// # Errors
    /// [`PageError`]: a chart can't be drawn, the template can't be filled.
    pub fn page(&self) -> Result<String, PageError> {
        let measured = &self.results.measures.strokes;
        let notes = Notes::of(self.results);
        let height = notes.settings.height_cm.value.unwrap_or_default();
        let mut also: Vec<Work<'_>> =
            self.findings.iter().map(|f| Work::of(f, self.image_of(f), height)).collect::<Result<_, _>>()?;
        let is_mixed = sorts(measured).len() > 1;
        if is_mixed {
            for (work, finding) in also.iter_mut().zip(self.findings) {
                work.title = of_kind(finding.middle.sort, &work.title);
            }
        }
        let focus = (!also.is_empty()).then(|| also.remove(0));
        let well = |middle: &Middle| {
            let well = Well::of(middle);
            if is_mixed { Well { title: of_kind(middle.sort, &well.title), ..well } } else { well }
        };
        let fit = |outcome: &crate::measure::Outcome| outcome.is_ok_and(|found| found.grade > Grade::Low);
        let any_fit = measured.iter().any(|stroke| stroke.measured.outcomes.iter().any(fit));
        let judged = self.findings.iter().map(|finding| &finding.middle).chain(self.met);
        let strips: Vec<String> = judged.map(|middle| draw::strip_file(middle.measure())).collect();
        let page = Page {
            title: format!("Review of {}", kinds(self.results)),
            facts: facts(self.results, &notes.settings),
            note: self.note.map(paragraphs).unwrap_or_default(),
            why_none: why_none(measured.len(), any_fit),
            well: self
                .met
                .iter()
                .filter(|met| {
                    let same = |f: &Finding| f.measure().id == met.measure().id && f.middle.sort == met.sort;
                    !self.findings.iter().any(same)
                })
                .take(MOST_WELL)
                .map(well)
                .collect(),
            few: self.few.iter().map(well).collect(),
            contact: self.contact(),
            change: self.before.map(Change::of).transpose()?,
            parts: self.parts(height),
            charts: self.charts(|chart| !draw::is_strip(&chart.file)),
            strips: self.charts(|chart| strips.contains(&chart.file)),
            narrow: measured.len() <= draw::MOST_IN_NARROW_STRIP,
            next_time: self.next_time,
            filming: advice::filming(
                &notes.warnings,
                measured,
                !assumed_height(&notes.settings) || self.next_time.is_some_and(|said| said.contains(HEIGHT)),
            ),
            unmeasured: advice::unmeasured(measured),
            glossary: self.glossary(),
            cautions: CAUTIONS,
            sharing: SHARING,
            defer: DEFER,
            estimated: estimated(&notes.settings),
            clip: self.results.clip,
            version: env!("CARGO_PKG_VERSION"),
            focus,
            also,
        };
        super::text_of(&page)
    }

    /// Contact of the first kind's most typical stroke, with what it shows.
    fn contact(&self) -> Option<(String, &Image)> {
        let moments = self.pictures.moments.first()?;
        let name = capitalised(Instant::Boundary(Boundary::Contact).name());
        let (_, image) = moments.pictures.iter().find(|(moment, _)| *moment == name)?;
        Some((format!("{name} of stroke {}", moments.stroke), image))
    }

    /// One part for each kind of stroke; `height_cm` is the player's.
    fn parts(&self, height_cm: f64) -> Vec<Part<'_>> {
        let all = &self.results.measures.strokes;
        let sorts = sorts(all);
        let part = |(place, sort): (usize, &Sort)| {
            let strokes: Vec<&MeasuredStroke> = all.iter().filter(|s| s.stroke.sort() == *sort).collect();
            let moments = self.pictures.moments.iter().find(|moments| moments.sort == *sort);
            let is_one = sorts.len() == 1;
            Part {
                of: if is_one { String::new() } else { format!(": {}", sort.plural()) },
                suffix: if is_one { String::new() } else { format!("-{}", place + 1) },
                moments: moments.map_or(&[], |moments| &moments.pictures),
                typical: moments.map(|moments| moments.stroke),
                several: strokes.len() > 2,
                strokes: Strokes::of(&strokes, height_cm, self.results.second),
            }
        };
        sorts.iter().enumerate().map(part).collect()
    }

    /// Measures that the page shows numbers of.
    fn measures_with_numbers(&self) -> impl Iterator<Item = &'static crate::measure::Measure> {
        let all = &self.results.measures.strokes;
        let of_sort = |sort: Sort| {
            let strokes: Vec<&MeasuredStroke> = all.iter().filter(|s| s.stroke.sort() == sort).collect();
            headlines(&strokes, self.results.second)
        };
        let of_table: Vec<_> = sorts(all).into_iter().flat_map(of_sort).map(|h| h.measure.id).collect();
        let named: Vec<_> = self
            .findings
            .iter()
            .map(|f| f.measure().id)
            .chain(self.met.iter().map(|m| m.measure().id))
            .collect();
        crate::measure::CATALOGUE.iter().filter(move |m| of_table.contains(&m.id) || named.contains(&m.id))
    }

    /// The charts of the whole strokes, and the strips of what the page speaks of.
    fn charts(&self, is_wanted: impl Fn(&Chart) -> bool) -> Vec<Titled<'_>> {
        self.charts.iter().filter(|chart| is_wanted(chart)).map(Titled::of).collect()
    }

    /// What the measures on the page are, in the order of a stroke.
    fn glossary(&self) -> Vec<(String, String)> {
        let text = |measure: &crate::measure::Measure| {
            format!("{} {}.", measure.definition, capitalised(measure.sign))
        };
        self.measures_with_numbers().map(|measure| (words::title(measure), text(measure))).collect()
    }
}

/// The kinds of some strokes in the order in which they are listed.
fn sorts(strokes: &[MeasuredStroke]) -> Vec<Sort> {
    let occurs = |sort: &Sort| strokes.iter().any(|stroke| stroke.stroke.sort() == *sort);
    Sort::ALL.into_iter().filter(occurs).collect()
}

/// A title that says of which kind of strokes it is.
fn of_kind(sort: Sort, title: &str) -> String {
    format!("{title} ({})", sort.plural())
}

/// `4 forehands`, `3 forehands and 2 backhands`.
fn kinds(results: &Results<'_>) -> String {
    let found = counted(&results.measures.strokes);
    if found.is_empty() {
        return results.clip.to_owned();
    }
    words::listed(&found.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Who, when, how.
fn facts(results: &Results<'_>, settings: &Settings) -> Vec<(&'static str, String)> {
    let labels = results.labels;
    let mut facts = Vec::new();
    let mut add = |name, value: Option<String>| facts.extend(value.map(|value| (name, value)));
    add("Player", labels.player.clone());
    add("Date", labels.date.clone());
    add("Coach", labels.coach.clone());
    add("Drill", labels.drill.map(|drill| drill.name().to_owned()));
    add("Grip", labels.grip.map(|grip| grip.name().to_owned()));
    add("Hand", settings.hand.value.map(str::to_owned));
    add(
        "Height",
        settings.height_cm.value.map(|height| {
            let assumed = if assumed_height(settings) { " (assumed)" } else { "" };
            format!("{} cm{assumed}", fixed(height, 0))
        }),
    );
    add(
        "Filmed",
        settings.view.value.map(|view| match results.second {
            None => words::seen_from(view),
            Some(second) => {
                format!("{} and {}", words::seen_from(view), words::seen_from(second.view.name()))
            }
        }),
    );
    add("Clip", Some(results.clip.to_owned()));
    facts
}

/// Whether the player's height was not given.
fn assumed_height(settings: &Settings) -> bool {
    matches!(settings.height_cm.source, Some(Source::Estimated | Source::Assumed))
}

/// Which values were not given, in sentences; empty where all were.
fn estimated(settings: &Settings) -> String {
    let guessed = |source: Option<Source>| matches!(source, Some(Source::Estimated | Source::Assumed));
    let mut sentences = Vec::new();
    if let (Some(height), true) = (settings.height_cm.value, assumed_height(settings)) {
        let height = fixed(height, 0);
        sentences.push(format!(
            "The player's height was not given: {height} cm is assumed, and every length depends on it."
        ));
    }
    let read: Vec<&str> = [
        ("the hitting hand", settings.hand.source),
        ("the view", settings.view.source),
        ("the side of the net", settings.net.source),
    ]
    .into_iter()
    .filter_map(|(name, source)| guessed(source).then_some(name))
    .collect();
    if !read.is_empty() {
        sentences.push(format!("Read from the pictures: {}.", read.join(", ")));
    }
    sentences.join(" ")
}

/// Paragraphs of plain text: what empty lines part.
pub(super) fn paragraphs(text: &str) -> Vec<String> {
    let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n");
    let mut paragraphs: Vec<String> = vec![String::new()];
    for line in text.lines().map(str::trim) {
        match paragraphs.last_mut() {
            Some(_) if line.is_empty() => paragraphs.push(String::new()),
            Some(last) if last.is_empty() => line.clone_into(last),
            Some(last) => {
                last.push('\n');
                last.push_str(line);
            }
            None => {}
        }
    }
    paragraphs.retain(|paragraph| !paragraph.is_empty());
    paragraphs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_lines_part_paragraphs() {
        assert_eq!(paragraphs("\u{feff}one\r\ntwo\r\n\r\n\r\n  three \n"), ["one\ntwo", "three"]);
        assert!(paragraphs(" \n\t\n").is_empty());
    }
}
