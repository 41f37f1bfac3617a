//! How often the ball near contact is found, and how near it is to the truth.

use serde_json::Value;

use toeline::ball::Flight;
use toeline::geometry::Point2;
use toeline::measure::clip::{ClipMeasures, MeasuredStroke};
use toeline::units::{FrameIndex, Seconds};

use crate::report::quantile;
use crate::truth::Truth;

/// Diameter of the balls in the truth, metres.
const DIAMETER: f64 = 0.067;

/// Pictures this near contact are counted, seconds.
const REACH: f64 = 0.15;

/// A sight farther off than this is of something else, diameters.
const WRONG: f64 = 1.0;

/// Contacts this near are of one stroke, seconds.
const SAME_STROKE: f64 = 0.4;

/// What was found in all clips.
#[derive(Default)]
pub struct Found {
    lines: Vec<String>,
    all: Tally,
}

/// What was found in some clips.
#[derive(Default)]
struct Tally {
    strokes: usize,
    with_flight: usize,
    without_ball: usize,
    invented: usize,
    pictures: usize,
    seen: usize,
    wrong: usize,
    errors: Vec<f64>,
    at_contact: Vec<f64>,
    held: usize,
    times: Vec<f64>,
    times_held: usize,
}

/// The true ball in one picture.
struct TrueBall {
    frame: usize,
    time: f64,
    at: Point2,
    diameter: f64,
}

impl Found {
    pub fn add(&mut self, name: &str, truth: &Truth, measured: &ClipMeasures) {
        let mut tally = Tally::default();
        let balls = balls(&truth.json);
        for stroke in &measured.strokes {
            tally.add(stroke, truth, &balls);
        }
        self.lines.push(tally.line(name));
        self.all.join(tally);
    }

    pub fn print(&self) {
        println!(
            "\nball                   strokes  found  invented | pictures  seen  wrong  median  p90 (diameters) | at \
             contact median  p90  in ± | time ms: n  median  p90  in ±"
        );
        self.lines.iter().for_each(|line| println!("{line}"));
        println!("{}", self.all.line("all"));
    }
}

impl Tally {
    fn add(&mut self, stroke: &MeasuredStroke, truth: &Truth, balls: &[TrueBall]) {
        let found = stroke.stroke.phases.contact.time.0;
        let off = |contact: f64| (contact - found).abs();
        let contacts = truth.strokes.iter().map(|stroke| stroke.contact).filter(|c| off(*c) < SAME_STROKE);
        let Some(contact) = contacts.min_by(|a, b| off(*a).total_cmp(&off(*b))) else { return };
        let size = |key: &str| truth.json[key].as_f64().unwrap_or(0.0);
        let inside = |ball: &&TrueBall| {
            (ball.time - contact).abs() <= REACH
                && (0.0..size("width")).contains(&ball.at.x)
                && (0.0..size("height")).contains(&ball.at.y)
        };
        let near: Vec<&TrueBall> = balls.iter().filter(inside).collect();
        if near.is_empty() {
            self.without_ball += 1;
            self.invented += usize::from(stroke.flight.is_some());
            return;
        }
        self.strokes += 1;
        self.pictures += near.len();
        let Some(flight) = &stroke.flight else { return };
        self.with_flight += 1;
        for (frame, at) in flight.sights() {
            let Some(ball) = balls.iter().find(|ball| FrameIndex(ball.frame) == frame) else { continue };
            let error = at.distance(ball.at) / ball.diameter;
            if error > WRONG {
                self.wrong += 1;
            } else {
                self.seen += usize::from((ball.time - contact).abs() <= REACH);
                self.errors.push(error);
            }
        }
        self.at_contact(flight, contact, balls);
    }

    fn at_contact(&mut self, flight: &Flight, contact: f64, balls: &[TrueBall]) {
        // From the last two pictures before contact, in which the true ball flies straight on.
        let last = balls.partition_point(|ball| ball.time <= contact);
        if let (Some([a, b]), Some((at, spread))) =
            (balls.get(last.saturating_sub(2)..last), flight.at(Seconds(contact)))
        {
            let true_at = a.at.lerp(b.at, (contact - a.time) / (b.time - a.time));
            let error = at.distance(true_at);
            self.at_contact.push(error / b.diameter);
            // Of a normal error in two directions 95 % lie within 2.45 standard deviations.
            self.held += usize::from(error <= 2.45 * spread);
        }
        if let Some(meeting) = flight.meeting.filter(|meeting| meeting.time.spread < Seconds(0.01)) {
            let error = meeting.time.time.0 - contact;
            self.times.push(1000.0 * error.abs());
            self.times_held += usize::from(error.abs() <= 1.96 * meeting.time.spread.0);
        }
    }

    fn join(&mut self, other: Self) {
        self.strokes += other.strokes;
        self.with_flight += other.with_flight;
        self.without_ball += other.without_ball;
        self.invented += other.invented;
        self.pictures += other.pictures;
        self.seen += other.seen;
        self.wrong += other.wrong;
        self.held += other.held;
        self.times_held += other.times_held;
        self.errors.extend(other.errors);
        self.at_contact.extend(other.at_contact);
        self.times.extend(other.times);
    }

    fn line(&self, name: &str) -> String {
        let share = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
        format!(
            "{name:<22} {:>7} {:>6} {:>5} of {} | {:>8} {:>4.0}% {:>6} {:>7.2} {:>5.2} | {:>6.2} {:>5.2} {:>4.0}% | {:>3} {:>6.1} \
             {:>5.1} {:>4.0}%",
            self.strokes,
            self.with_flight,
            self.invented,
            self.without_ball,
            self.pictures,
            share(self.seen, self.pictures),
            self.wrong,
            quantile(&self.errors, 0.5),
            quantile(&self.errors, 0.9),
            quantile(&self.at_contact, 0.5),
            quantile(&self.at_contact, 0.9),
            share(self.held, self.at_contact.len()),
            self.times.len(),
            quantile(&self.times, 0.5),
            quantile(&self.times, 0.9),
            share(self.times_held, self.times.len()),
        )
    }
}

fn balls(json: &Value) -> Vec<TrueBall> {
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    let one = |frame: &Value| {
        let place = frame["ball2d"].as_array()?;
        let turn = if frame["R"].is_array() { &frame["R"] } else { &json["camera"]["R"] };
        let shift = if frame["tvec"].is_array() { &frame["tvec"] } else { &json["camera"]["t"] };
        let along = |c: usize| number(&turn[2][c]) * number(&frame["ball3d"][c]);
        let away = (0..3).map(along).sum::<f64>() + number(&shift[2]);
        Some(TrueBall {
            frame: frame["i"].as_u64()? as usize,
            time: number(&frame["t"]),
            at: Point2::new(number(&place[0]), number(&place[1])),
            diameter: number(&json["camera"]["fx"]) * DIAMETER / away,
        })
    };
    json["frames"].as_array().map_or(Vec::new(), |frames| frames.iter().filter_map(one).collect())
}

/// Prints the flights of a clip without truth.
pub fn describe(measured: &ClipMeasures) {
    for stroke in &measured.strokes {
        let contact = stroke.stroke.phases.contact.time;
        println!("ball of the stroke at {:.3} s:", contact.0);
        let Some(flight) = &stroke.flight else { continue };
        for (frame, at) in flight.sights() {
            print!(" {}:({:.0}, {:.0})", frame.0, at.x, at.y);
        }
        println!("; at contact {:?}; turning at {:?}", flight.at(contact), flight.turning_point());
    }
}
