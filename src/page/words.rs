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

/// Names as a list, each of them once, where it comes first.
pub fn each_once<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let mut found: Vec<&str> = Vec::new();
    for name in names {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    listed(&found)
}

/// So many of a thing: `1 stroke`, `4 strokes`.
pub fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_filmed_from_two_sides_is_named_once() {
        assert_eq!(each_once(["forehands", "backhands", "forehands"].into_iter()), "forehands and backhands");
        assert_eq!(each_once(["overheads"].into_iter()), "overheads");
        assert_eq!(each_once(std::iter::empty()), "");
    }
}
