//! `review.html`: what a player gets of a clip.

use askama::Template;

use super::advice::{self, Unmeasured};
use super::change::{Before, Change};
use super::finding::{Well, Work, why_none};
use super::strokes::{Cell, Strokes};
use super::words::{self, capitalised};
use super::{CAUTIONS, DEFER, Image, PageError};
use crate::draw::{self, Chart};
use crate::measure::Grade;
use crate::table::notes::{Settings, Source};
use crate::table::{Notes, Results, counted, fixed, headlines};
use crate::targets::{Finding, Middle};

/// What the page is made from.
#[derive(Debug, Clone, Copy)]
pub struct Review<'a> {
    /// The clip's numbers.
    pub results: &'a Results<'a>,
    /// What lies outside the targets, the most telling first.
    pub findings: &'a [Finding],
    /// Which targets are met surely.
    pub met: &'a [Middle],
    /// The coach's own words.
    pub note: Option<&'a str>,
    /// Pictures of this clip.
    pub pictures: &'a Pictures,
    /// Charts of this clip.
    pub charts: &'a [Chart],
    /// An earlier session.
    pub before: Option<&'a Before>,
}

/// Pictures of a clip.
#[derive(Debug, Clone, Default)]
pub struct Pictures {
    /// The picture that shows a finding, by its measure's id.
    pub of_findings: Vec<(&'static str, Image)>,
    /// The moments of one stroke in order, with their names.
    pub moments: Vec<(String, Image)>,
    /// That stroke's number.
    pub stroke: Option<usize>,
}

#[derive(Template)]
#[template(path = "review.html")]
struct Page<'a> {
    title: String,
    facts: Vec<(&'static str, String)>,
    note: Vec<String>,
    work: Vec<Work<'a>>,
    why_none: &'static str,
    well: Vec<Well>,
    change: Option<Change<'a>>,
    moments: &'a [(String, Image)],
    typical: Option<usize>,
    several: bool,
    strokes: Strokes,
    /// SVG of the charts, and of the strips of one measure each.
    charts: Vec<&'a str>,
    strips: Vec<&'a str>,
    /// Whether two strips stand side by side.
    narrow: bool,
    filming: Vec<String>,
    unmeasured: Vec<Unmeasured>,
    glossary: Vec<(String, String)>,
    cautions: [&'static str; 3],
    defer: &'static str,
    estimated: String,
    clip: &'a str,
    model: &'a str,
    version: &'static str,
}

impl Review<'_> {
    /// The page.
    ///
    /// # Errors
    /// [`PageError`]: a chart can't be drawn, the template can't be filled.
    pub fn page(&self) -> Result<String, PageError> {
        let measured = &self.results.measures.strokes;
        let notes = Notes::of(self.results);
        let image = |finding: &Finding| {
            let of_findings = &self.pictures.of_findings;
            of_findings.iter().find(|(id, _)| *id == finding.measure().id).map(|(_, image)| image)
        };
        let work: Vec<Work<'_>> =
            self.findings.iter().map(|f| Work::of(f, image(f))).collect::<Result<_, _>>()?;
        let fit = |outcome: &crate::measure::Outcome| outcome.is_ok_and(|found| found.grade > Grade::Low);
        let any_fit = measured.iter().any(|stroke| stroke.measured.outcomes.iter().any(fit));
        let strips: Vec<String> = self.shown().map(draw::strip_file).collect();
        let page = Page {
            title: format!("Review of {}", kinds(self.results)),
            facts: facts(self.results, &notes.settings),
            note: self.note.map(paragraphs).unwrap_or_default(),
            why_none: why_none(measured.len(), any_fit),
            well: self
                .met
                .iter()
                .filter(|met| self.findings.iter().all(|finding| finding.measure().id != met.measure().id))
                .map(Well::of)
                .collect(),
            change: self.before.map(Change::of).transpose()?,
            moments: &self.pictures.moments,
            typical: self.pictures.stroke,
            several: measured.len() > 1,
            strokes: Strokes::of(measured),
            charts: self.charts(|chart| !draw::is_strip(&chart.file)),
            strips: self.charts(|chart| strips.contains(&chart.file)),
            narrow: measured.len() <= draw::MOST_IN_NARROW_STRIP,
            filming: advice::filming(&notes.warnings, measured),
            unmeasured: advice::unmeasured(measured),
            glossary: self.glossary(),
            cautions: CAUTIONS,
            defer: DEFER,
            estimated: estimated(&notes.settings),
            clip: self.results.clip,
            model: &self.results.model.name,
            version: env!("CARGO_PKG_VERSION"),
            work,
        };
        Ok(page.render()?)
    }

    /// Measures that the page shows numbers of.
    fn shown(&self) -> impl Iterator<Item = &'static crate::measure::Measure> {
        let of_table: Vec<_> =
            headlines(&self.results.measures.strokes).iter().map(|h| h.measure.id).collect();
        let named: Vec<_> = self
            .findings
            .iter()
            .map(|f| f.measure().id)
            .chain(self.met.iter().map(|m| m.measure().id))
            .collect();
        crate::measure::CATALOGUE.iter().filter(move |m| of_table.contains(&m.id) || named.contains(&m.id))
    }

    /// The charts of the whole strokes, and the strips of what the page speaks of.
    fn charts(&self, is_wanted: impl Fn(&Chart) -> bool) -> Vec<&str> {
        self.charts.iter().filter(|chart| is_wanted(chart)).map(|chart| chart.svg.as_str()).collect()
    }

    /// What the measures on the page are, in the order of a stroke.
    fn glossary(&self) -> Vec<(String, String)> {
        let text = |measure: &crate::measure::Measure| {
            format!("{} {}.", measure.definition, capitalised(measure.sign))
        };
        self.shown().map(|measure| (words::title(measure), text(measure))).collect()
    }
}

/// `4 forehands`, `3 forehands and 2 backhands`.
fn kinds(results: &Results<'_>) -> String {
    let found = counted(&results.measures.strokes);
    match found.split_last() {
        None => results.clip.to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Who, when, how.
fn facts(results: &Results<'_>, settings: &Settings) -> Vec<(&'static str, String)> {
    let labels = results.labels;
    let mut facts = Vec::new();
    let mut add = |name, value: Option<String>| facts.extend(value.map(|value| (name, value)));
    add("Player", labels.player.clone());
    add("Day", labels.date.clone());
    add("Drill", labels.drill.map(|drill| drill.name().to_owned()));
    add("Grip", labels.grip.map(|grip| grip.name().to_owned()));
    add("Hand", settings.hand.value.map(str::to_owned));
    add("Filmed from", settings.view.value.map(str::to_owned));
    add("Clip", Some(results.clip.to_owned()));
    facts
}

/// Which values were not given, in sentences; empty where all were.
fn estimated(settings: &Settings) -> String {
    let guessed = |source: Option<Source>| matches!(source, Some(Source::Estimated | Source::Assumed));
    let mut sentences = Vec::new();
    if let (Some(height), true) = (settings.height_cm.value, guessed(settings.height_cm.source)) {
        let height = fixed(height, 0);
        sentences.push(format!(
            "The player's height was not given: {height} cm are assumed, and all lengths hang on that."
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
fn paragraphs(text: &str) -> Vec<String> {
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
