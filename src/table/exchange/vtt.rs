//! WebVTT captions: a cue for each phase of each stroke, in the time of the file as a player shows it.

use std::fmt::Write;

use super::super::Results;
use crate::units::Seconds;

/// The whole file.
pub fn text(results: &Results<'_>) -> String {
    // Slow motion is undone in all times; the file runs as slowly as it was stored.
    let slower = results.info.capture_rate / results.info.stored_rate;
    let mut text = String::from("WEBVTT\n");
    for stroke in &results.measures.strokes {
        for (name, from, to) in stroke.stroke.phases.spans() {
            if milliseconds(to) <= milliseconds(from) {
                continue;
            }
            let title = format!("Stroke {} · {} · {name}", stroke.number, stroke.stroke.kind.name());
            // Writing into text doesn't fail.
            let _ = write!(text, "\n{} --> {}\n{title}\n", stamp(from * slower), stamp(to * slower));
        }
    }
    text
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
