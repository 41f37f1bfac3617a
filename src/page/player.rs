//! `season/players/CODE.html`: a pupil's year.

use std::collections::BTreeSet;

use askama::Template;

use super::finding::{Work, why_none};
use super::review::paragraphs;
use super::words::{self, capitalised, counted, title};
use super::year::{Filmed, Year};
use super::{CAUTIONS, DEFER, Image, PageError, SHARING};
use crate::compare::telling::{Named, headline};
use crate::compare::{ComparedMeasure, Comparison, Verdict};
use crate::targets::Finding;

/// No more changes than this are named of two sessions.
const MOST_NAMED: usize = 3;

/// So many sessions back it is told what was asked; with more the page prints on more than two sheets.
const MOST_ASKED: usize = 3;

/// What the page is made from.
#[derive(Debug)]
pub struct Player<'a> {
    /// The player's code, where there is one.
    pub code: Option<&'a str>,
    /// What the player has hit, most first.
    pub parts: &'a [Part],
    /// The coach's name.
    pub coach: Option<&'a str>,
    /// The player's height, cm.
    pub height_cm: f64,
    /// What to film otherwise next time, in a sentence.
    pub next_time: Option<&'a str>,
    /// The coach's notes: day and text.
    pub notes: &'a [(String, String)],
}

/// Strokes that may be set beside each other.
#[derive(Debug)]
pub struct Part {
    /// Their sessions.
    pub year: Year,
    /// Contact in a typical stroke of each session: date and picture.
    pub contacts: Vec<(String, Image)>,
    /// Charts over the sessions: titles and SVG.
    pub trends: Vec<(String, String)>,
}

/// A session of the player.
#[derive(Debug)]
pub struct Day {
    /// The day.
    pub date: String,
    /// How many strokes.
    pub strokes: usize,
    /// Whether any of their values is better than a rough guide.
    pub is_fit: bool,
    /// What lay outside the targets, the most telling first.
    pub findings: Vec<Finding>,
    /// What the session before had asked for: that session's comparison with this one.
    pub since: Option<Comparison>,
}

#[derive(Template)]
#[template(path = "player.html")]
struct Page<'a> {
    title: String,
    when: String,
    coach: Option<&'a str>,
    parts: Vec<ShownPart<'a>>,
    next_time: Option<&'a str>,
    notes: Vec<(&'a str, Vec<String>)>,
    cautions: [&'static str; 3],
    sharing: &'static str,
    defer: &'static str,
    version: &'static str,
}

/// A part of the page.
struct ShownPart<'a> {
    /// What it is called, and what tells its headings and their names apart from other parts'; these are empty where there is only one.
    name: String,
    of: String,
    suffix: String,
    /// Its sessions and strokes; empty where there is only one part.
    when: String,
    last: &'a str,
    work: Vec<Work<'a>>,
    why_none: &'static str,
    asked: Vec<FollowUp>,
    changes: Vec<Changes>,
    contacts: &'a [(String, Image)],
    trends: &'a [(String, String)],
}

/// What a review asked for, and what came of it.
pub(super) struct FollowUp {
    date: String,
    pub title: String,
    aim: String,
    then: String,
    next: Option<String>,
    pub next_date: String,
    pub outcome: &'static str,
    /// Whether that is a change.
    pub is_change: bool,
}

/// Two sessions in words.
struct Changes {
    title: &'static str,
    lead: String,
    named: Vec<Named>,
}

impl Player<'_> {
    /// The page; `None` without a session.
    ///
    /// # Errors
    /// [`PageError`].
    pub fn page(&self) -> Result<Option<String>, PageError> {
        let Some(first) = self.parts.first() else { return Ok(None) };
        let title = match self.parts {
            [_] => words::whose(self.code, first.year.filmed.kind.plural(), &first.year.filmed.view),
            parts => {
                let kinds = words::each_once(parts.iter().map(|part| part.year.filmed.kind.plural()));
                self.code.map_or_else(|| format!("Your {kinds}"), |code| format!("{code}: {kinds}"))
            }
        };
        let parts = (0..self.parts.len()).filter_map(|place| self.part(place).transpose());
        let page = Page {
            title,
            when: when(self.parts.iter().flat_map(|part| &part.year.days)),
            coach: self.coach,
            parts: parts.collect::<Result<_, _>>()?,
            next_time: self.next_time,
            notes: self.notes.iter().map(|(day, text)| (day.as_str(), paragraphs(text))).collect(),
            cautions: CAUTIONS,
            sharing: SHARING,
            defer: DEFER,
            version: env!("CARGO_PKG_VERSION"),
        };
        Ok(Some(super::text_of(&page)?))
    }

    fn part(&self, place: usize) -> Result<Option<ShownPart<'_>>, PageError> {
        let Part { year, contacts, trends } = &self.parts[place];
        let Some(last) = year.days.last() else { return Ok(None) };
        let is_one = self.parts.len() == 1;
        let name = self.name_of(place);
        let work = last.findings.iter().map(|finding| Work::of(finding, None, self.height_cm));
        let asked = year.days.windows(2).filter_map(|pair| follow_up(&pair[0], &pair[1]));
        let mut asked: Vec<FollowUp> = asked.collect();
        asked.drain(..asked.len().saturating_sub(MOST_ASKED));
        Ok(Some(ShownPart {
            of: if is_one { String::new() } else { format!(": {name}") },
            suffix: if is_one { String::new() } else { format!("-{}", place + 1) },
            when: if is_one { String::new() } else { when(year.days.iter()) },
            name: capitalised(&name),
            last: &last.date,
            work: work.collect::<Result<_, _>>()?,
            why_none: why_none(last.strokes, last.is_fit),
            asked,
            changes: year.compared.iter().map(|(title, comparison)| changes(title, comparison)).collect(),
            contacts,
            trends,
        }))
    }

    /// The kind of a part, with what tells it apart from other parts of that kind.
    fn name_of(&self, place: usize) -> String {
        let Filmed { kind, hand, view } = &self.parts[place].year.filmed;
        let alike = |is_alike: &dyn Fn(&Filmed) -> bool| {
            self.parts.iter().filter(|part| is_alike(&part.year.filmed)).count() > 1
        };
        let mut name = kind.plural().to_owned();
        if alike(&|other| other.kind == *kind) {
            name = format!("{name}, filmed {}", words::seen_from(view));
        }
        if alike(&|other| other.kind == *kind && other.view == *view) {
            name = format!("{name}, {hand} hand");
        }
        name
    }
}

/// How many sessions from when to when, and how many strokes.
fn when<'a>(days: impl Iterator<Item = &'a Day> + Clone) -> String {
    let dates: BTreeSet<&str> = days.clone().map(|day| day.date.as_str()).collect();
    let strokes = counted(days.map(|day| day.strokes).sum(), "stroke");
    match (dates.first(), dates.last()) {
        (Some(first), Some(last)) if first != last => {
            format!("{} from {first} to {last}. {strokes}.", counted(dates.len(), "session"))
        }
        (Some(only), _) => format!("1 session, {only}. {strokes}."),
        _ => format!("{strokes}."),
    }
}

/// The first finding of a session and what the next session shows of it.
pub(super) fn follow_up(day: &Day, next: &Day) -> Option<FollowUp> {
    let finding = day.findings.first()?;
    let measure = finding.measure();
    let target = &finding.middle.target;
    let row = next.since.as_ref()?.rows.iter().find(|row| row.measure.id == measure.id);
    let medians = row.and_then(ComparedMeasure::medians);
    let outcome = match (row, medians) {
        (Some(row), Some([before, after])) => outcome(row, target.away(before), target.away(after)),
        _ => "not measured",
    };
    Some(FollowUp {
        date: day.date.clone(),
        title: title(measure),
        aim: measure.spoken_range(target.low, target.high).unwrap_or_default(),
        then: measure.spoken(finding.middle.median),
        next: medians.map(|[_, after]| measure.spoken(after)),
        next_date: next.date.clone(),
        outcome,
        is_change: row.is_some_and(|row| row.verdict == Verdict::Changed),
    })
}

fn outcome(row: &ComparedMeasure, before: f64, after: f64) -> &'static str {
    match row.verdict {
        Verdict::Changed if after == 0.0 => "reached the aim",
        Verdict::Changed if after < before => "nearer to the aim",
        Verdict::Changed => "farther from the aim",
        Verdict::Same => "stayed the same",
        Verdict::Unclear => "no clear change",
        Verdict::Described => "too few strokes to say",
        Verdict::Refused => "not comparable",
    }
}

fn changes(title: &'static str, comparison: &Comparison) -> Changes {
    let (lead, named) = headline(comparison, MOST_NAMED);
    Changes { title, lead, named }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_pcg::Pcg64Mcg;

    use super::*;
    use crate::compare::null_tests::session;
    use crate::table::Recorded;
    use crate::targets::{Set, Shipped};

    fn page(recorded: &Recorded) -> String {
        let part = |year| Part { year, contacts: Vec::new(), trends: Vec::new() };
        let targets = Set::shipped(Shipped::Club).unwrap();
        let parts: Vec<Part> = Year::all(recorded, &targets).into_iter().map(part).collect();
        let player = Player {
            code: Some("P01"),
            parts: &parts,
            coach: Some("Kim"),
            height_cm: 175.0,
            next_time: None,
            notes: &[],
        };
        player.page().unwrap().unwrap()
    }

    #[test]
    fn what_was_asked_long_ago_is_left_out() {
        let targets = Set::shipped(Shipped::Club).unwrap();
        let mut rng = Pcg64Mcg::seed_from_u64(1);
        let mut season = Recorded::default();
        for day in 0..12 {
            // Far outside the targets, so that each session has a finding.
            let mut recorded = session(day, 8, -20.0, &targets, &mut rng).recorded;
            recorded.strokes.iter_mut().for_each(|stroke| stroke.source = day);
            season.clips.append(&mut recorded.clips);
            season.strokes.append(&mut recorded.strokes);
        }
        let page = page(&season);
        assert_eq!(page.matches("Next session, 2025-05-").count(), MOST_ASKED, "{page}");
        assert!(page.contains(" Coach: Kim.</p>"), "{page}");
        assert!(page.contains("Next session, 2025-05-12") && !page.contains("Next session, 2025-05-09"));
    }

    #[test]
    fn each_kind_has_sections_of_its_own() {
        let targets = Set::shipped(Shipped::Club).unwrap();
        let mut recorded = session(0, 12, 0.0, &targets, &mut Pcg64Mcg::seed_from_u64(1)).recorded;
        let one = page(&recorded);
        assert!(
            one.contains("<h2 id=\"work\">What to work on now</h2>")
                && one.contains("P01: forehands, filmed")
        );
        recorded.strokes[..4].iter_mut().for_each(|stroke| stroke.kind = "backhand".to_owned());
        let two = page(&recorded);
        for words in [
            "<h1>P01: forehands and backhands</h1>",
            "12 strokes.",
            "<h2 id=\"work-1\">What to work on now: forehands</h2>",
            "<a href=\"#work-2\">Backhands</a>",
            "<h2 id=\"work-2\">What to work on now: backhands</h2>",
        ] {
            assert!(two.contains(words), "{words}: {two}");
        }
    }
}
