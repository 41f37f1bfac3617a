//! Numbers and lists as a player reads them.

pub(super) use crate::draw::capitalised;
use crate::measure::Measure;

/// A measure's name as a heading.
pub fn title(measure: &Measure) -> String {
    capitalised(measure.title)
}

/// From where a camera with this word for its view looks, as `from behind`.
pub fn seen_from(view: &str) -> String {
    match view {
        "back" => "from behind".to_owned(),
        "diagonal" => "at a slant".to_owned(),
        view => format!("from the {view}"),
    }
}

/// Whose strokes of which kind, from where: `P01: forehands, filmed from the side`.
pub fn whose(code: Option<&str>, kinds: &str, view: &str) -> String {
    let seen_from = seen_from(view);
    match code {
        Some(code) => format!("{code}: {kinds}, filmed {seen_from}"),
        None => format!("Your {kinds}, filmed {seen_from}"),
    }
}

/// Names as a list: `forehands, backhands and volleys`.
pub fn listed(names: &[&str]) -> String {
    match names.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
    }
}

/// So many of a thing: `1 stroke`, `4 strokes`.
pub fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}
