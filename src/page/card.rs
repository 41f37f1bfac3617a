//! `card.html`: the sheet for the court, with one finding, its picture, the drill and the number to watch.

use askama::Template;

use super::finding::Work;
use super::{PageError, SHARING};

#[derive(Template)]
#[template(path = "card.html")]
struct Card<'a> {
    title: String,
    who: String,
    item: Work<'a>,
    sharing: &'static str,
}

/// The sheet. `facts` say who and when.
///
/// # Errors
/// [`PageError::Template`].
pub fn text(item: Work<'_>, facts: &[(&'static str, String)]) -> Result<String, PageError> {
    let told = |wanted: &str| facts.iter().find(|(name, _)| *name == wanted).map(|(_, value)| value.as_str());
    let coach = told("Coach").map(|name| format!("coach {name}"));
    let who: Vec<&str> =
        ["Player", "Date", "Drill"].into_iter().filter_map(told).chain(coach.as_deref()).collect();
    Ok(Card { title: format!("On court: {}", item.title), who: who.join(" · "), item, sharing: SHARING }
        .render()?)
}
