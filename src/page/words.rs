//! Numbers and lists as a player reads them.

pub use crate::compare::words::within;
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

/// So many of a thing: `1 stroke`, `4 strokes`.
pub fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}
