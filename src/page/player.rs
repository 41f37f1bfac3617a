//! `season/players/CODE.html`: a pupil's year.

use askama::Template;

use super::finding::{Work, why_none};
use super::review::paragraphs;
use super::words::{counted, title};
use super::{CAUTIONS, DEFER, Image, PageError, SHARING};
use crate::compare::telling::{Named, headline};
use crate::compare::{ComparedMeasure, Comparison, Verdict};
use crate::targets::Finding;

/// No more changes than this are named of two sessions.
const MOST_NAMED: usize = 3;

/// What the page is made from.
#[derive(Debug)]
pub struct Player<'a> {
    /// The player's code, where there is one.
    pub code: Option<&'a str>,
    /// Kind and view of the strokes that the page speaks of, in words.
    pub kind: &'a str,
    /// The sessions in order.
    pub sessions: &'a [Day],
    /// The first session and the last, and the one before the last and the last.
    pub compared: &'a [(&'static str, Comparison)],
    /// The player's height, cm.
    pub height_cm: f64,
    /// Contact in a typical stroke of each session: date and picture.
    pub contacts: &'a [(String, Image)],
    /// Charts over the sessions: titles and SVG.
    pub trends: &'a [(String, String)],
    /// What to film otherwise next time, in a sentence.
    pub next_time: Option<&'a str>,
    /// The coach's notes: day and text.
    pub notes: &'a [(String, String)],
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
    strokes: String,
    last: &'a str,
    work: Vec<Work<'a>>,
    why_none: &'static str,
    asked: Vec<FollowUp>,
    changes: Vec<Changes>,
    contacts: &'a [(String, Image)],
    trends: &'a [(String, String)],
    next_time: Option<&'a str>,
    notes: Vec<(&'a str, Vec<String>)>,
    cautions: [&'static str; 3],
    sharing: &'static str,
    defer: &'static str,
    version: &'static str,
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
        let (Some(first), Some(last)) = (self.sessions.first(), self.sessions.last()) else {
            return Ok(None);
        };
        let work = last.findings.iter().map(|finding| Work::of(finding, None, self.height_cm));
        let strokes = self.sessions.iter().map(|day| day.strokes).sum();
        let page = Page {
            title: match self.code {
                Some(code) => format!("{code}: {}", self.kind),
                None => format!("Your {}", self.kind),
            },
            when: match self.sessions {
                [only] => format!("1 session, {}", only.date),
                sessions => {
                    let count = counted(sessions.len(), "session");
                    format!("{count} from {} to {}", first.date, last.date)
                }
            },
            strokes: counted(strokes, "stroke"),
            last: &last.date,
            work: work.collect::<Result<_, _>>()?,
            why_none: why_none(last.strokes, last.is_fit),
            asked: self.sessions.windows(2).filter_map(|pair| follow_up(&pair[0], &pair[1])).collect(),
            changes: self.compared.iter().map(|(title, comparison)| changes(title, comparison)).collect(),
            contacts: self.contacts,
            trends: self.trends,
            next_time: self.next_time,
            notes: self.notes.iter().map(|(day, text)| (day.as_str(), paragraphs(text))).collect(),
            cautions: CAUTIONS,
            sharing: SHARING,
            defer: DEFER,
            version: env!("CARGO_PKG_VERSION"),
        };
        Ok(Some(super::text_of(&page)?))
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
