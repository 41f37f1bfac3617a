//! A trend in words.

use super::Trend;

impl Trend<'_> {
    pub(super) fn description(&self) -> String {
        let all: Vec<String> = self
            .points
            .iter()
            .map(|point| {
                let number = |value: f64| self.measure.number(value);
                let interval = point
                    .interval
                    .map_or_else(String::new, |i| format!(" ({} to {})", number(i.low), number(i.high)));
                let drill = if point.drill.is_empty() { String::new() } else { format!(" {}", point.drill) };
                let day = if point.date.is_empty() { "no date" } else { &point.date };
                let unit = self.measure.suffix();
                let strokes = if point.values.len() == 1 { "stroke" } else { "strokes" };
                format!(
                    "{day}{drill}: {} {strokes}, median {}{unit}{interval}.",
                    point.values.len(),
                    number(point.median)
                )
            })
            .collect();
        format!("{}. {} {}. {}", self.whose, self.measure.definition, self.measure.sign, all.join(" "))
    }
}
