//! Numbers and lists as a player reads them.

use crate::compare::words::{amount, number};
use crate::measure::Measure;
pub(super) use crate::draw::capitalised;

/// `35 ± 8 cm`.
pub fn within(measure: &Measure, value: f64, plus_minus: f64) -> String {
    let smallest = 10_f64.powi(-(measure.short_decimals() as i32));
    format!("{} ± {}", number(measure, value), amount(measure, plus_minus.max(smallest)))
}

/// A measure's name as a heading.
pub fn title(measure: &Measure) -> String {
    capitalised(measure.title)
}

/// So many of a thing: `1 stroke`, `4 strokes`.
pub fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}
