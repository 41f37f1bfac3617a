//! How far the racket's tip is from where it truly is.

use std::error::Error;
use std::path::Path;

use serde_json::Value;

use toeline::geometry::{Court, Point2, angle_between};
use toeline::measure::clip::{ClipMeasures, MeasuredStroke};
use toeline::racket::RacketMotion;
use toeline::units::{FrameIndex, Seconds};

use crate::report::quantile;

/// A racket that looks shorter than this share of its length is not counted.
const LEAST_SHARE: f64 = 0.5;

/// The true racket in one picture.
#[derive(Clone, Copy)]
pub struct TrueRacket {
    frame: FrameIndex,
    butt: Point2,
    tip: Point2,
    /// Length that it has square to the lens there, pixels.
    length: f64,
}

/// The rackets of a truth file that are in the picture and not foreshortened.
pub fn of_truth(json: &Value) -> Vec<TrueRacket> {
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    let size = (number(&json["width"]), number(&json["height"]));
    let one = |frame: &Value| {
        let turn = if frame["R"].is_array() { &frame["R"] } else { &json["camera"]["R"] };
        let shift = if frame["tvec"].is_array() { &frame["tvec"] } else { &json["camera"]["t"] };
        let ends = [0, 2].map(|k| std::array::from_fn::<f64, 3, _>(|c| number(&frame["racket3d"][k][c])));
        let away = |p: &[f64; 3]| (0..3).map(|c| number(&turn[2][c]) * p[c]).sum::<f64>() + number(&shift[2]);
        let metres = (0..3).map(|c| (ends[0][c] - ends[1][c]).powi(2)).sum::<f64>().sqrt();
        let length = metres * number(&json["camera"]["fx"]) / (0.5 * (away(&ends[0]) + away(&ends[1])));
        let points: Vec<Point2> = (0..4)
            .map(|k| Point2::new(number(&frame["racket2d"][k][0]), number(&frame["racket2d"][k][1])))
            .collect();
        let inside = points.iter().all(|p| p.x >= 0.0 && p.y >= 0.0 && p.x < size.0 && p.y < size.1);
        let shown = points[0].distance(points[2]) / length;
        let frame = FrameIndex(frame["i"].as_u64()? as usize);
        (inside && shown >= LEAST_SHARE).then_some(TrueRacket {
            frame,
            butt: points[0],
            tip: points[2],
            length,
        })
    };
    json["frames"].as_array().map_or(Vec::new(), |frames| frames.iter().filter_map(one).collect())
}

/// Rackets that were read by eye: a CSV with frame, point, x, y, visible. Their length is the longest of them.
pub fn of_labels(path: &Path) -> Result<Vec<TrueRacket>, Box<dyn Error>> {
    let mut found: Vec<TrueRacket> = Vec::new();
    let mut butts = std::collections::BTreeMap::new();
    let mut tips = std::collections::BTreeMap::new();
    for record in csv::ReaderBuilder::new().flexible(true).from_path(path)?.records() {
        let record = record?;
        let place =
            Point2::new(record[2].trim().parse().unwrap_or(-1.0), record[3].trim().parse().unwrap_or(-1.0));
        let frame: usize = record[0].parse()?;
        match (&record[1], record[4].trim()) {
            ("butt", "1") => drop(butts.insert(frame, place)),
            ("tip", "1") => drop(tips.insert(frame, place)),
            _ => {}
        }
    }
    for (frame, tip) in tips {
        if let Some(butt) = butts.get(&frame) {
            found.push(TrueRacket { frame: FrameIndex(frame), butt: *butt, tip, length: 0.0 });
        }
    }
    let lengths: Vec<f64> = found.iter().map(|r| r.butt.distance(r.tip)).collect();
    // The median of the longer half: single labels may be off.
    let length = quantile(&lengths, 0.75);
    found.iter_mut().for_each(|racket| racket.length = length);
    Ok(found)
}

/// Prints a line for one clip: of the pictures of its strokes that count, in how many the racket was seen and how near.
pub fn print(name: &str, truth: &[TrueRacket], measured: &ClipMeasures, each: bool) {
    let paths: Vec<&RacketMotion> = measured.strokes.iter().map(|stroke| &stroke.racket).collect();
    let (mut all, mut errors, mut turns, mut sure) = (0, Vec::new(), Vec::new(), Vec::new());
    for racket in truth {
        if !paths.iter().any(|path| path.indices.binary_search(&racket.frame).is_ok()) {
            continue;
        }
        all += 1;
        let Some(seen) = paths.iter().find_map(|path| path.at(racket.frame)) else { continue };
        let off = seen.tip.at.distance(racket.tip) / racket.length;
        let angle = |a: Point2, b: Point2| (b.y - a.y).atan2(b.x - a.x).to_degrees();
        let turned = angle(seen.butt.at, seen.tip.at) - angle(racket.butt, racket.tip);
        turns.push(toeline::geometry::wrapped(turned).abs());
        if seen.tip.confidence >= 0.5 {
            sure.push(off);
        }
        if each && off > 0.2 {
            print!(
                " {}:{off:.2}({:.2}{})",
                racket.frame.0,
                seen.tip.confidence,
                if seen.bridged { "b" } else { "" }
            );
        }
        errors.push(off);
    }
    let within = |errors: &[f64], limit: f64, of: usize| {
        100.0 * errors.iter().filter(|e| **e <= limit).count() as f64 / of.max(1) as f64
    };
    println!(
        "racket {name:<22} {all:>4} pictures, seen {:>3.0} %; tip of all ≤ 10 % {:>3.0} %, ≤ 20 % {:>3.0} %; of seen {:>3.0}, {:>3.0} %; \
         axis {:.1}°; sure {:>3.0} %, of these {:>3.0}, {:>3.0} %",
        100.0 * errors.len() as f64 / all.max(1) as f64,
        within(&errors, 0.1, all),
        within(&errors, 0.2, all),
        within(&errors, 0.1, errors.len()),
        within(&errors, 0.2, errors.len()),
        quantile(&turns, 0.5),
        100.0 * sure.len() as f64 / all.max(1) as f64,
        within(&sure, 0.1, sure.len()),
        within(&sure, 0.2, sure.len()),
    );
}

/// Prints the lag that was found and the true one before contact, both in steps of 30 ms from each one's contact.
pub fn print_lag(json: &Value, hand: usize, contacts: &[f64], measured: &ClipMeasures) {
    let (wrist, elbow) = if hand == 0 { (15, 13) } else { (16, 14) };
    let frames = json["frames"].as_array().map_or(&[] as &[Value], Vec::as_slice);
    let direction = |frame: &Value, kind: &str, from: usize, to: usize| {
        let at = |k: usize, c: usize| frame[kind][k][c].as_f64().unwrap_or(f64::NAN);
        Court::new(at(to, 0) - at(from, 0), at(to, 1) - at(from, 1), at(to, 2) - at(from, 2))
    };
    let truth = |t: f64| {
        let near = |f: &&Value| (f["t"].as_f64().unwrap_or(f64::NAN) - t).abs();
        let frame = frames.iter().min_by(|a, b| near(a).total_cmp(&near(b)))?;
        angle_between(direction(frame, "lm3d", elbow, wrist), direction(frame, "racket3d", 0, 2))
    };
    for contact in contacts {
        let near = |s: &&MeasuredStroke| (s.stroke.phases.contact.time.0 - contact).abs();
        let Some(stroke) = measured.strokes.iter().min_by(|a, b| near(a).total_cmp(&near(b))) else {
            continue;
        };
        let met = stroke.stroke.phases.contact.time;
        let line: Vec<String> = (0..=16)
            .rev()
            .map(|k| 0.03 * f64::from(k))
            .map(|before| {
                let found = toeline::measure::lag(&stroke.stroke, met - Seconds(before)).ok();
                let share = stroke.stroke.racket.as_ref().and_then(|r| r.share(met - Seconds(before)));
                let word = |v: Option<f64>, digits| v.map_or("–".to_owned(), |v| format!("{v:.digits$}"));
                format!("{}/{}({})", word(found, 0), word(truth(contact - before), 0), word(share, 1))
            })
            .collect();
        println!("  lag {contact:.2} s, −480 ms to contact, found/true(share): {}", line.join(" "));
    }
}
