//! WebVTT captions: a cue for each phase of each stroke, in the time of the file as a player shows it.

use std::fmt::Write;

use super::super::Results;
use crate::stroke::{Boundary, Phases};
use crate::units::Seconds;

/// The whole file.
pub fn text(results: &Results<'_>) -> String {
    // Slow motion is undone in all times; the file runs as slowly as it was stored.
    let slower = results.info.capture_rate / results.info.stored_rate;
    let mut text = String::from("WEBVTT\n");
    for stroke in &results.measures.strokes {
        for (name, from, to) in phases(&stroke.stroke.phases) {
            let title = format!("Stroke {} · {} · {name}", stroke.number, stroke.stroke.kind.name());
            // Writing into text doesn't fail.
            let _ = write!(text, "\n{} --> {}\n{title}\n", stamp(from * slower), stamp(to * slower));
        }
    }
    text
}

/// The phases that are known, with their ends.
fn phases(phases: &Phases) -> Vec<(&'static str, Seconds, Seconds)> {
    let at = |boundary| phases.get(boundary).map(|mark| mark.time);
    let forward = at(Boundary::ForwardStart);
    let drop = at(Boundary::DropStart).filter(|_| forward.is_some());
    let contact = Some(phases.contact.time);
    let spans = [
        ("preparation", at(Boundary::PrepStart), drop.or(forward)),
        ("drop", drop, forward),
        ("forward swing", forward, contact),
        ("finish", contact, at(Boundary::FinishEnd)),
    ];
    let known = spans.into_iter().filter_map(|(name, from, to)| Some((name, from?, to?)));
    known.filter(|(_, from, to)| milliseconds(*to) > milliseconds(*from)).collect()
}

fn milliseconds(time: Seconds) -> u64 {
    (time.0.max(0.0) * 1000.0).round() as u64
}

fn stamp(time: Seconds) -> String {
    let all = milliseconds(time);
    let (seconds, rest) = (all / 1000, all % 1000);
    format!("{:02}:{:02}:{:02}.{rest:03}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_carry_over() {
        assert_eq!(stamp(Seconds(3661.0005)), "01:01:01.001");
        assert_eq!(stamp(Seconds(59.9996)), "00:01:00.000");
    }
}
