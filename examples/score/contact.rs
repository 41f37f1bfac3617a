//! How well contact is timed, by method and rate, and what that does to the place of the hand.

use std::collections::BTreeMap;

use toeline::measure::clip::MeasuredStroke;
use toeline::measure::{CATALOGUE, Measure};
use toeline::stroke::{Boundary, Stroke};
use toeline::units::Seconds;

use crate::report::quantile;

/// One stroke's contact against the true one.
struct Timed {
    clip: String,
    method: &'static str,
    rate: f64,
    /// Found minus true, ms.
    error: f64,
    plus_minus: Option<f64>,
    /// Place of the hand at the contact found minus at the true one, in the same motion, cm.
    place: Option<f64>,
    /// Peak speed of the hand over the true one, minus 1, %.
    speed: Option<f64>,
    ball: Option<bool>,
}

/// All contacts.
#[derive(Default)]
pub struct Contacts {
    each: bool,
    timed: Vec<Timed>,
}

fn measure(id: &str) -> Option<&'static Measure> {
    CATALOGUE.iter().find(|m| m.id == id)
}

impl Contacts {
    pub fn new(each: bool) -> Self {
        Self { each, ..Self::default() }
    }

    /// Compares a stroke of a clip with `rate` pictures a second.
    pub fn add(
        &mut self,
        clip: &str,
        rate: f64,
        contact: f64,
        true_speed: Option<f64>,
        found: &MeasuredStroke,
    ) {
        let mark = found.stroke.phases.contact;
        let place = measure("hand_ahead_of_front_toe_cm").and_then(|m| {
            let mut moved: Stroke = found.stroke.clone();
            moved.phases.contact.time = Seconds(contact);
            Some(m.of(&found.stroke).ok()? - m.of(&moved).ok()?)
        });
        let speed = measure("hand_speed_peak_mps")
            .and_then(|m| Some(100.0 * (m.of(&found.stroke).ok()? / true_speed? - 1.0)));
        let at = Boundary::ALL.iter().position(|b| *b == Boundary::Contact);
        self.timed.push(Timed {
            clip: clip.to_owned(),
            method: mark.method.name(),
            rate: (rate / 30.0).round() * 30.0,
            error: 1000.0 * (mark.time.0 - contact),
            plus_minus: at.and_then(|b| found.measured.boundaries[b]).map(Seconds::milliseconds),
            place,
            speed,
            ball: found.stroke.ball,
        });
    }

    pub fn print(&self) {
        println!(
            "\n{:<28} {:>3} {:>8} {:>9} {:>7} {:>7} {:>8} {:>10} {:>10} {:>12} {:>12}",
            "contact (ms)",
            "n",
            "bias",
            "median|e|",
            "p90|e|",
            "inside",
            "median ±",
            "place cm",
            "p90 cm",
            "speed bias %",
            "per clip %"
        );
        let mut groups: BTreeMap<String, Vec<&Timed>> = BTreeMap::new();
        for timed in &self.timed {
            groups.entry("all".into()).or_default().push(timed);
            groups.entry(format!("all at {:>3}/s", timed.rate)).or_default().push(timed);
            groups.entry(timed.method.into()).or_default().push(timed);
            groups.entry(format!("{} at {:>3}/s", timed.method, timed.rate)).or_default().push(timed);
        }
        for (name, group) in &groups {
            self.line(name, group);
        }
        if self.each {
            let mut clips: BTreeMap<String, Vec<&Timed>> = BTreeMap::new();
            for timed in &self.timed {
                clips.entry(timed.clip.clone()).or_default().push(timed);
            }
            for (name, group) in &clips {
                self.line(&format!("  {name}"), group);
                let errors: Vec<String> = group
                    .iter()
                    .map(|t| {
                        let half = t.plus_minus.map_or("?".into(), |p| format!("{p:.1}"));
                        let ball = t.ball.map_or("", |ball| if ball { ", ball" } else { ", no ball" });
                        format!("{:+.1} ± {half} ({}{ball})", t.error, t.method)
                    })
                    .collect();
                println!("      {}", errors.join(", "));
            }
        }
        let balls = |ball| self.timed.iter().filter(|t| t.ball == ball).count();
        println!("ball: yes {}, no {}, not told {}", balls(Some(true)), balls(Some(false)), balls(None));
    }

    fn line(&self, name: &str, group: &[&Timed]) {
        let errors: Vec<f64> = group.iter().map(|t| t.error).collect();
        let absolute: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
        let places: Vec<f64> = group.iter().filter_map(|t| Some(t.place?.abs())).collect();
        let speeds: Vec<f64> = group.iter().filter_map(|t| t.speed).collect();
        let halves: Vec<f64> = group.iter().filter_map(|t| t.plus_minus).collect();
        let inside = group.iter().filter(|t| t.plus_minus.is_some_and(|p| t.error.abs() <= p)).count();
        let mut clips: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        for timed in group {
            clips.entry(&timed.clip).or_default().extend(timed.speed);
        }
        let of_clips: Vec<f64> = clips.values().filter(|v| !v.is_empty()).map(|v| quantile(v, 0.5)).collect();
        println!(
            "{name:<28} {:>3} {:>8.1} {:>9.1} {:>7.1} {:>6.0}% {:>8.1} {:>10.2} {:>10.2} {:>12.1} {:>12.1}",
            group.len(),
            quantile(&errors, 0.5),
            quantile(&absolute, 0.5),
            quantile(&absolute, 0.9),
            100.0 * inside as f64 / group.len() as f64,
            quantile(&halves, 0.5),
            quantile(&places, 0.5),
            quantile(&places, 0.9),
            quantile(&speeds, 0.5),
            quantile(&of_clips, 0.5),
        );
    }
}
