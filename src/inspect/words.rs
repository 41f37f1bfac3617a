//! An inspection in plain words.

use std::fmt::Write;

use super::Inspection;
use crate::measure::{Grade, Measure, Missing};
use crate::table::fixed;
use crate::table::notes::{Setting, Source};

/// What each group of measures is called.
const GROUPS: [(Grade, &str); 3] =
    [(Grade::Good, "Good"), (Grade::Fair, "Fair"), (Grade::Low, "A rough guide only")];

/// The whole text; ends with a line break.
pub fn text(inspection: &Inspection) -> String {
    let mut text = String::new();
    for (title, sentences) in [
        ("Camera", camera(inspection)),
        ("Player", player(inspection)),
        ("Strokes", strokes(inspection)),
        ("Measures", measures(inspection)),
        ("What would help most", remedies(inspection)),
        ("Please note", notes(inspection)),
    ] {
        if sentences.is_empty() {
            continue;
        }
        // Writing into text doesn't fail.
        let _ = writeln!(text, "{title}");
        for sentence in sentences {
            let _ = writeln!(text, "  {sentence}");
        }
    }
    text
}

fn notes(inspection: &Inspection) -> Vec<String> {
    let part = inspection.looked_at_s.map(|first| {
        format!(
            "only the first {first:.0} s of the clip were looked at; `toeline measure` looks at all of it"
        )
    });
    part.into_iter().chain(inspection.notes.warnings.iter().cloned()).collect()
}

fn camera(inspection: &Inspection) -> Vec<String> {
    let settings = &inspection.notes.settings;
    let mut lines = Vec::new();
    if let Some(view) = settings.view.value {
        let net = settings.net.value.map_or(String::new(), |net| format!(", the net on the {net}"));
        let off = settings.net_direction_deg.value.map_or(String::new(), |angle| {
            let off = ((angle + 45.0).rem_euclid(90.0) - 45.0).abs();
            let off = Setting { value: Some(off), ..settings.net_direction_deg };
            let off = amount(&off, 0, "°").unwrap_or_default();
            format!(", {off} off square{}", because(settings.net_direction_deg.source))
        });
        lines.push(format!("{view} view{net}{off}"));
    }
    if let Some(distance) = amount(&settings.camera_distance_m, 1, " m") {
        lines.push(format!("{distance} from the player{}", because(settings.camera_distance_m.source)));
    }
    if let Some(height) = amount(&settings.camera_height_m, 1, " m") {
        lines.push(format!("{height} over the ground{}", because(settings.camera_height_m.source)));
    }
    if settings.camera_pitch_deg.value.is_some() && settings.camera_roll_deg.value.is_some() {
        let tilt = |setting: &Setting<f64>, negative: &str, positive: &str| {
            let value = setting.value.filter(|value| value.abs() >= 0.5)?;
            let word = if value < 0.0 { negative } else { positive };
            let size = Setting { value: Some(value.abs()), ..*setting };
            Some(format!("{word} {}", amount(&size, 0, "°")?))
        };
        let pitch = tilt(&settings.camera_pitch_deg, "looks down", "looks up");
        let roll = tilt(&settings.camera_roll_deg, "leans right", "leans left");
        let pitch = pitch.unwrap_or_else(|| "looks straight ahead".to_owned());
        let tilt = roll.map_or(pitch.clone(), |roll| format!("{pitch}, {roll}"));
        lines.push(format!("{tilt}{}", because(settings.camera_pitch_deg.source)));
    }
    if let Some(view) = amount(&settings.field_of_view_deg, 0, "°") {
        lines.push(format!("shows {view} from left to right{}", because(settings.field_of_view_deg.source)));
    }
    lines.push(match inspection.court_lines.as_slice() {
        [] => "no court lines could be read".to_owned(),
        seen => format!("court lines read: {}", seen.join(", ")),
    });
    if !inspection.court_points.is_empty() {
        lines.push(format!("court points given: {}", inspection.court_points.join(", ")));
    }
    lines
}

/// A value with its ±, with one digit more where its ± would be rounded to nothing.
fn amount(setting: &Setting<f64>, digits: usize, unit: &str) -> Option<String> {
    let is_nothing = |half: f64| half > 0.0 && half < 0.5 * 10.0_f64.powi(-(digits as i32));
    let digits = if setting.plus_minus.is_some_and(is_nothing) { digits + 1 } else { digits };
    let value = fixed(setting.value?, digits);
    let within = setting.plus_minus.map_or(String::new(), |half| format!(" ± {}", fixed(half, digits)));
    Some(format!("{value}{within}{unit}"))
}

fn because(source: Option<Source>) -> &'static str {
    match source {
        Some(Source::Lines) => " (court lines)",
        Some(Source::Points) => " (court points)",
        Some(Source::Season) => " (other clips)",
        Some(Source::Uprights) => " (posts and walls)",
        Some(Source::Given | Source::Marked) => " (stated)",
        Some(Source::File) => " (the file)",
        Some(Source::Player | Source::Estimated) => " (the player)",
        Some(Source::Assumed) => " (assumed)",
        None => "",
    }
}

fn player(inspection: &Inspection) -> Vec<String> {
    let Some(pixels) = inspection.player_pixels else { return vec!["nobody was seen".to_owned()] };
    let seen = 100.0 * inspection.player_seen;
    let mut lines = vec![format!("about {pixels:.0} pixels high, in sight in {seen:.0} % of the frames")];
    let height = &inspection.notes.settings.height_cm;
    if let Some(height_cm) = amount(height, 0, " cm") {
        lines.push(format!("{height_cm} tall{}", because(height.source)));
    }
    lines
}

fn strokes(inspection: &Inspection) -> Vec<String> {
    let mut lines = match inspection.strokes_seen.as_slice() {
        [] => vec!["none seen".to_owned()],
        seen => vec![seen.join(", ")],
    };
    if let Some(rate) = inspection.notes.settings.capture_rate.value {
        lines.push(format!("{} frames per second", fixed(rate, 0)));
    }
    if let Some(share) = inspection.racket_seen {
        lines.push(format!("the racket is seen in {:.0} % of their frames", 100.0 * share));
    }
    lines.push(inspection.notes.sound_in_words());
    lines
}

fn measures(inspection: &Inspection) -> Vec<String> {
    let mut lines: Vec<String> = GROUPS
        .iter()
        .filter_map(|(grade, title)| {
            let of_grade: Vec<String> = inspection
                .measures
                .iter()
                .filter(|reach| reach.grade == Some(grade.name()))
                .filter_map(|reach| named(reach.measure, reach.plus_minus?))
                .collect();
            (!of_grade.is_empty()).then(|| format!("{title}: {}", of_grade.join(", ")))
        })
        .collect();
    // By reason, in the order in which the catalogue comes to them; what other kinds of stroke have is not missing.
    let mut missing: Vec<(Missing, Vec<&str>)> = Vec::new();
    for reach in &inspection.measures {
        let Some(reason) = reach.reason.filter(|reason| *reason != Missing::NotForThisKind) else { continue };
        let Some(measure) = Measure::find(reach.measure) else { continue };
        match missing.iter_mut().find(|(known, _)| *known == reason) {
            Some((_, titles)) => titles.push(measure.title),
            None => missing.push((reason, vec![measure.title])),
        }
    }
    lines.extend(
        missing.iter().map(|(reason, titles)| format!("Missing, {}: {}", reason.name(), titles.join(", "))),
    );
    lines
}

fn named(id: &str, plus_minus: f64) -> Option<String> {
    let measure = Measure::find(id)?;
    Some(format!("{} ± {}", measure.title, measure.amount(plus_minus)))
}

fn remedies(inspection: &Inspection) -> Vec<String> {
    inspection
        .remedies
        .iter()
        .filter_map(|gain| {
            let measure = Measure::find(gain.measure)?;
            let [now, then] = gain.plus_minus.map(|half| measure.amount(half));
            Some(format!("{} ({}): {} from ± {now} to ± {then}", gain.advice, gain.options, measure.title))
        })
        .collect()
}
