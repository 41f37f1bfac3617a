//! `season.html`: the season at a glance, with the charts beside it.

use std::collections::BTreeSet;

use askama::Template;

use super::{CAUTIONS, DEFER, PageError, SHARING, words};
use crate::season::{Gathered, Group, State};
use crate::stroke::Sort;

/// A chart that the page shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// Its file within the season's folder.
    pub file: String,
    /// What it shows.
    pub title: String,
    /// The measure.
    pub measure: &'static str,
    /// Whether the page shows it: days of a measure that has a target or has surely changed. The others lie beside it.
    pub is_told: bool,
}

#[derive(Template)]
#[template(path = "season.html")]
struct Page<'a> {
    title: &'static str,
    /// From the first day to the last.
    days: Option<String>,
    measured: usize,
    clips: usize,
    strokes: usize,
    others: Vec<(&'a str, String)>,
    /// The players' pages: code and file.
    players: &'a [(String, String)],
    next_time: Option<&'a str>,
    groups: Vec<GroupPart<'a>>,
    cautions: [&'static str; 3],
    sharing: &'static str,
    defer: &'static str,
    version: &'static str,
}

struct GroupPart<'a> {
    title: String,
    sessions: Vec<SessionPart<'a>>,
    charts: Vec<&'a Shown>,
}

struct SessionPart<'a> {
    day: &'a str,
    drill: &'a str,
    strokes: usize,
}

/// The page. `charts` holds the charts of each group, in the same order, `players` the players' pages, code and file,
/// `next_time` says what to film otherwise.
///
/// # Errors
/// [`PageError::Template`].
pub fn text(
    gathered: &Gathered,
    groups: &[Group],
    charts: &[Vec<Shown>],
    players: &[(String, String)],
    next_time: Option<&str>,
) -> Result<String, PageError> {
    // The clips whose strokes are in no table.
    let others: Vec<(&str, String)> = gathered
        .clips
        .iter()
        .filter(|clip| clip.line.state != State::Measured)
        .map(|clip| {
            let why = clip.line.state.note().unwrap_or_else(|| "not measured yet".to_owned());
            (clip.line.file.as_str(), why)
        })
        .collect();
    let page = Page {
        title: "Season",
        days: days(groups),
        measured: gathered.clips.len() - others.len(),
        clips: gathered.clips.len(),
        strokes: gathered.strokes.len(),
        others,
        players,
        next_time,
        groups: groups.iter().zip(charts).map(|(group, charts)| GroupPart::of(group, charts)).collect(),
        cautions: CAUTIONS,
        sharing: SHARING,
        defer: DEFER,
        version: env!("CARGO_PKG_VERSION"),
    };
    super::text_of(&page)
}

/// From the first day to the last; `None` where no clip has a date.
fn days(groups: &[Group]) -> Option<String> {
    let days = groups.iter().flat_map(|group| &group.sessions).map(|session| session.date.as_str());
    let days: BTreeSet<&str> = days.filter(|day| !day.is_empty()).collect();
    let (first, last) = (days.first()?, days.last()?);
    Some(if first == last { (*first).to_owned() } else { format!("{first} to {last}") })
}

impl<'a> GroupPart<'a> {
    fn of(group: &'a Group, charts: &'a [Shown]) -> Self {
        let or = |text: &'a str, other: &'a str| if text.is_empty() { other } else { text };
        let sessions = group
            .sessions
            .iter()
            .map(|session| SessionPart {
                day: or(&session.date, "no date"),
                drill: or(&session.drill, "not said"),
                strokes: session.strokes,
            })
            .collect();
        Self { title: title(group), sessions, charts: charts.iter().filter(|chart| chart.is_told).collect() }
    }
}

/// Whose strokes of which kind and view.
pub fn title(group: &Group) -> String {
    let player = if group.player.is_empty() { "Player not named" } else { &group.player };
    let kinds = Sort::from_name(&group.kind).unwrap_or(Sort::Unknown).plural();
    words::whose(Some(player), kinds, &group.view)
}
