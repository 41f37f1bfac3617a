//! Two cameras on the same strokes: what each gives alone, and both together.

use std::error::Error;
use std::path::{Path, PathBuf};

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use toeline::analyse::{Analyser, Analysis, Method};
use toeline::geometry::Court;
use toeline::measure::clip::{self, ClipMeasures, Stated};
use toeline::measure::pair;
use toeline::measure::{CATALOGUE, Grade, Measurement};
use toeline::pose::landmark::COUNT;
use toeline::pose::{Joint, Side};
use toeline::scene::{CourtMotion, Direction};
use toeline::units::{Degrees, Metres, Seconds};

use crate::bvh::Take;
use crate::film::{Film, filmed};
use crate::reader::Reader;
use crate::recorded::FOCAL;
use crate::report::quantile;
use crate::season::err_lastingly;
use crate::truth::{TrueStroke, Truth};

/// A stroke's contact lies this near to the true one, seconds.
const SAME_STROKE: f64 = 0.4;

/// Errors of one measure.
#[derive(Default)]
struct Errors {
    off: Vec<f64>,
    inside: usize,
    /// The largest of values graded better than low.
    trusted: f64,
    plus_minus: Vec<f64>,
}

impl Errors {
    fn add(&mut self, truth: f64, found: Option<Measurement>) {
        let Some(found) = found else { return };
        let off = found.value - truth;
        self.inside += usize::from(off.abs() <= found.plus_minus);
        if found.grade > Grade::Low {
            self.trusted = self.trusted.max(off.abs());
        }
        self.off.push(off);
        self.plus_minus.push(found.plus_minus);
    }

    fn print(&self) -> String {
        if self.off.is_empty() {
            return format!("{:>33}", "–");
        }
        let away: Vec<f64> = self.off.iter().map(|off| off.abs()).collect();
        format!(
            "{:>7.2} {:>+7.2} ±{:<6.2} {:>2}/{:<2} {:>5.1}",
            quantile(&away, 0.5),
            quantile(&self.off, 0.5),
            quantile(&self.plus_minus, 0.5),
            self.inside,
            self.off.len(),
            self.trusted
        )
    }
}

/// Measures two clips, with the true height and with nothing given, and prints the errors of both alone and together.
pub fn print(paths: [&Path; 2], keep: Option<&Path>) -> Result<(), Box<dyn Error>> {
    let mut analyser = Analyser::new(&Method::default())?;
    let mut clips = Vec::new();
    for path in paths {
        let truth = Truth::read(&crate::truth_file(path))?;
        clips.push((crate::analysed(path, &Stated::default(), &mut analyser, keep, false)?, truth));
    }
    for is_given in [true, false] {
        let measured = |(analysis, truth): &(Analysis, Truth)| match is_given {
            true => {
                let given = Stated { height: Some(Metres(truth.height)), ..Stated::default() };
                clip::measure(&analysis.motion, &given, &analysis.seen)
            }
            false => analysis.measures.clone(),
        };
        let (first, second) = (measured(&clips[0]), measured(&clips[1]));
        let matching = pair::matched(&first.strokes, &second.strokes).map_err(|why| why.words())?;
        println!(
            "\n{}: {} of {} strokes matched, offset {:+.4} s, drift {:+.6}, apart {:.4} s",
            if is_given { "height given" } else { "nothing given" },
            matching.pairs.len(),
            clips[0].1.strokes.len(),
            matching.offset.0,
            matching.drift,
            matching.apart.0
        );
        let mut both = first.clone();
        let joined =
            pair::combine(&mut both, &second, "second".to_owned(), matching.clone()).ok_or("no stroke")?;
        print_errors(&clips[0].1, (&first, &second), &both, &joined);
        print_joints(&clips[0].1, [&first, &second, &both], &joined);
        let contacts = |clip: &ClipMeasures| -> Vec<String> {
            let offs = clip.strokes.iter().map(|stroke| {
                let met = stroke.stroke.phases.contact.time.0;
                let truth = clips[0].1.strokes.iter().map(|s| s.contact - met);
                let off = truth.fold(f64::MAX, |near, off| if off.abs() < near.abs() { off } else { near });
                format!("{:+.1}", -1000.0 * off)
            });
            offs.collect()
        };
        println!("clock {:+.4} s, drift {:+.6}", joined.matching.offset.0, joined.matching.drift);
        println!(
            "contacts off, ms: first {:?} second {:?} both {:?}",
            contacts(&first),
            contacts(&second),
            contacts(&both)
        );
    }
    Ok(())
}

fn print_errors(
    truth: &Truth,
    (first, second): (&ClipMeasures, &ClipMeasures),
    both: &ClipMeasures,
    joined: &pair::Second,
) {
    println!(
        "{:<34} {:>33} {:>33} {:>33}",
        "median |error|, error, ±, inside, trusted", "first", "second", "both"
    );
    for (place, measure) in CATALOGUE.iter().enumerate() {
        let mut errors: [Errors; 3] = Default::default();
        let mut origins = Vec::new();
        for &(a, b) in &joined.matching.pairs {
            let met = both.strokes[a].stroke.phases.contact.time.0;
            let Some(stroke) = truth.strokes.iter().find(|stroke| (stroke.contact - met).abs() < SAME_STROKE)
            else {
                continue;
            };
            let Some(value) = stroke.value(measure) else { continue };
            let found = [&first.strokes[a], &second.strokes[b], &both.strokes[a]];
            for (errors, found) in errors.iter_mut().zip(found) {
                errors.add(value, found.measured.outcomes[place].ok());
            }
            origins.push(format!("{:?}", joined.origins[a][place]).chars().next().unwrap_or(' '));
        }
        if errors.iter().all(|errors| errors.off.is_empty()) {
            continue;
        }
        let [one, two, all] = errors.each_ref().map(Errors::print);
        let own = |errors: &Errors| {
            let away: Vec<f64> = errors.off.iter().map(|off| off.abs()).collect();
            if away.is_empty() { f64::INFINITY } else { quantile(&away, 0.5) }
        };
        let better = own(&errors[0]).min(own(&errors[1]));
        let mark = if own(&errors[2]) > better * 1.0 + 1e-9 { "worse" } else { "" };
        println!("{:<34} {one} | {two} | {all} {} {mark}", measure.id, origins.iter().collect::<String>());
    }
}

/// Joints whose errors are told, from the middle of the hips.
const JOINTS: [Joint; 6] =
    [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Knee, Joint::Ankle, Joint::Toe];

/// So long before contact and after it the joints are compared, seconds.
const AROUND: (f64, f64) = (1.0, 0.4);

/// By how much a motion is turned about the vertical against the true one, radians: what the net's direction is off by, which says nothing of how
/// the motion itself was read.
fn turn(found: &CourtMotion, truth: &CourtMotion, contact: Seconds, own: impl Fn(Seconds) -> Seconds) -> f64 {
    let (mut sin, mut cos) = (0.0, 0.0);
    for joint in JOINTS {
        for side in [Side::Left, Side::Right] {
            for step in 0..=((AROUND.0 + AROUND.1) / 0.02) as usize {
                let time = contact + Seconds(0.02 * step as f64 - AROUND.0);
                let from_hips = |motion: &CourtMotion, time| {
                    Some(motion.at(joint.on(side), time)? - motion.middle(Joint::Hip, time)?)
                };
                if let Some((a, b)) = from_hips(found, own(time)).zip(from_hips(truth, time)) {
                    cos += a.net * b.net + a.side * b.side;
                    sin += a.net * b.side - a.side * b.net;
                }
            }
        }
    }
    sin.atan2(cos)
}

/// What joints of some strokes are off by, through the stroke and at contact.
#[derive(Default, Clone)]
struct Off {
    all: Vec<Court>,
    met: Vec<Court>,
}

impl Off {
    /// Adds a joint from the hips around a contact; `own` turns a time of the true motion into one of the found motion.
    fn add(
        &mut self,
        found: &CourtMotion,
        truth: &CourtMotion,
        (joint, side): (Joint, Side),
        contact: Seconds,
        own: impl Fn(Seconds) -> Seconds,
        turn: f64,
    ) {
        let (sin, cos) = turn.sin_cos();
        let from_hips = |motion: &CourtMotion, time| {
            Some(motion.at(joint.on(side), time)? - motion.middle(Joint::Hip, time)?)
        };
        for step in 0..=((AROUND.0 + AROUND.1) / 0.02) as usize {
            let time = contact + Seconds(0.02 * step as f64 - AROUND.0);
            let Some((found, truth)) = from_hips(found, own(time)).zip(from_hips(truth, time)) else {
                continue;
            };
            let (net, side) = (found.net * cos - found.side * sin, found.side * cos + found.net * sin);
            let found = Court { net, side, ..found };
            self.all.push(found - truth);
            if (time - contact).abs().0 < 0.011 {
                self.met.push(found - truth);
            }
        }
    }

    fn print(&self) -> String {
        let axes: [fn(&Court) -> f64; 3] = [|e| e.net, |e| e.side, |e| e.up];
        let square = axes.map(|of| {
            let sum = self.all.iter().map(|error| of(error).powi(2)).sum::<f64>();
            100.0 * (sum / self.all.len().max(1) as f64).sqrt()
        });
        let mean = axes.map(|of| 100.0 * self.met.iter().map(of).sum::<f64>() / self.met.len().max(1) as f64);
        format!(
            " | {:5.1} {:5.1} {:5.1}  ({:+5.1} {:+5.1} {:+5.1})",
            square[0], square[1], square[2], mean[0], mean[1], mean[2]
        )
    }
}

const TITLE: &str = "joints from the hips, cm off toward the net, to the side, up: root mean square (mean at contact), first | second | both";

/// Prints how far each joint is from where it truly is.
fn print_joints(truth: &Truth, clips: [&ClipMeasures; 3], joined: &pair::Second) {
    println!("{TITLE}");
    for joint in JOINTS {
        for is_hitting in [true, false] {
            let mut off: [Off; 3] = Default::default();
            for (which, (off, clip)) in off.iter_mut().zip(&clips).enumerate() {
                for &(a, b) in &joined.matching.pairs {
                    let own = &clip.strokes[if which == 1 { b } else { a }].stroke;
                    let contact = clips[2].strokes[a].stroke.phases.contact.time;
                    let near = |stroke: &&TrueStroke| (stroke.contact - contact.0).abs() < SAME_STROKE;
                    let Some(stroke) = truth.strokes.iter().find(near) else { continue };
                    let side = if is_hitting { own.motion.hand } else { own.motion.hand.other() };
                    // The second clip's clock is its own.
                    let own_time =
                        |time| if which == 1 { joined.matching.clock().second(time) } else { time };
                    off.add(&own.motion, stroke.motion(), (joint, side), contact, own_time, 0.0);
                }
            }
            let side = if is_hitting { "hitting" } else { "off" };
            println!("  {:<10} {side:<8}{}", format!("{joint:?}"), off.each_ref().map(Off::print).concat());
        }
    }
}

/// The second camera looks from behind, from in front, or diagonally from behind: degrees by which the net lies farther away than square to it.
const SECOND: [f64; 3] = [80.0, -90.0, 50.0];

/// The second camera of a recorded take starts so much later, and its clock runs so much faster.
const LATER: f64 = 0.7;
const FASTER: f64 = 5e-4;

/// Films recorded takes from the side and from elsewhere at once, and prints how far the joints are off in each and in both together.
pub fn print_recorded(folder: &Path, only: Option<&str>) -> Result<(), Box<dyn Error>> {
    let mut reader = Reader::load()?;
    let mut takes: Vec<PathBuf> = std::fs::read_dir(folder)?.filter_map(|e| Some(e.ok()?.path())).collect();
    takes.retain(|path| path.extension().is_some_and(|e| e == "bvh"));
    takes.retain(|path| only.is_none_or(|only| path.to_string_lossy().contains(only)));
    takes.sort();
    let mut off: Vec<[Off; 3]> = vec![Default::default(); 2 * JOINTS.len()];
    let mut turns: [Vec<f64>; 3] = Default::default();
    let (mut strokes, mut alone, mut clocks) = ((0, 0), 0, Vec::new());
    for (number, path) in takes.iter().enumerate() {
        let take = Take::read(path)?.at_rate(60.0);
        let mut rng = Pcg64Mcg::seed_from_u64(number as u64);
        let mut filmed_from = |middle: f64, is_second: bool| -> Result<ClipMeasures, Box<dyn Error>> {
            let distance = rng.random_range(4.5..8.0);
            let film = Film {
                yaw: middle + rng.random_range(-15.0..15.0),
                distance,
                height: rng.random_range(0.9..2.2),
                focal: FOCAL * distance,
                noise: rng.random_range(0.002..0.005),
                seed: rng.random(),
            };
            let mut motion = filmed(&take, &film);
            err_lastingly(&mut motion, &reader.body, take.stature(), &mut rng);
            if is_second {
                motion.times.iter_mut().for_each(|time| *time = Seconds(time.0 * (1.0 + FASTER) - LATER));
            }
            let stated = Stated { height: Some(Metres(take.stature())), ..Stated::default() };
            reader.measured(motion, &stated)
        };
        let (first, second) = (filmed_from(0.0, false)?, filmed_from(SECOND[number % SECOND.len()], true)?);
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        let matching = match pair::matched(&first.strokes, &second.strokes) {
            Ok(matching) => matching,
            Err(why) => {
                println!("  {name}: {}", why.words());
                continue;
            }
        };
        let mut both = first.clone();
        let Some(joined) = pair::combine(&mut both, &second, name.to_string(), matching) else { continue };
        let truth = true_motion(&take);
        for &(a, b) in &joined.matching.pairs {
            let [one, other, all] =
                [&first.strokes[a], &second.strokes[b], &both.strokes[a]].map(|s| &s.stroke);
            strokes.0 += 1;
            if all.motion == one.motion {
                alone += 1;
                continue;
            }
            let contact = all.phases.contact.time;
            clocks.push(joined.matching.clock().second(contact).0 - contact.0 * (1.0 + FASTER) + LATER);
            let motions = [&one.motion, &other.motion, &all.motion];
            let on_second = |time| joined.matching.clock().second(time);
            let turned: [f64; 3] = std::array::from_fn(|which| match which {
                1 => turn(motions[1], &truth, contact, on_second),
                _ => turn(motions[which], &truth, contact, |time| time),
            });
            for (turns, turned) in turns.iter_mut().zip(turned) {
                turns.push(turned.to_degrees().abs());
            }
            for (place, off) in off.iter_mut().enumerate() {
                let side = if place % 2 == 0 { one.motion.hand } else { one.motion.hand.other() };
                for (which, (off, motion)) in off.iter_mut().zip(motions).enumerate() {
                    let own = |time| if which == 1 { joined.matching.clock().second(time) } else { time };
                    off.add(motion, &truth, (JOINTS[place / 2], side), contact, own, turned[which]);
                }
            }
        }
        strokes.1 += first.strokes.len();
    }
    let late: Vec<f64> = clocks.iter().map(|late| 1000.0 * late.abs()).collect();
    println!(
        "\n{} of {} strokes matched, {alone} not joined; clocks off by {:.1} ms, 90 % within {:.1} ms",
        strokes.0,
        strokes.1,
        quantile(&late, 0.5),
        quantile(&late, 0.9)
    );
    let turns = turns.each_ref().map(|turns| quantile(turns, 0.5));
    println!("turned against the truth by {turns:.1?} degrees; what follows is without that");
    println!("{TITLE}");
    for (place, off) in off.iter().enumerate() {
        let side = if place % 2 == 0 { "hitting" } else { "off" };
        println!(
            "  {:<10} {side:<8}{}",
            format!("{:?}", JOINTS[place / 2]),
            off.each_ref().map(Off::print).concat()
        );
    }
    Ok(())
}

/// A right-hander's recorded motion in the court's frame.
fn true_motion(take: &Take) -> CourtMotion {
    let (nx, nz) = take.net();
    let points = take.frames.iter().map(|frame| {
        frame.map(|point| point.map(|[x, y, z]| Court::new(x * nx + z * nz, z * nx - x * nz, y)))
    });
    let points: Vec<_> = points.collect();
    CourtMotion {
        hand: Side::Right,
        times: (0..points.len()).map(|i| Seconds(i as f64 * take.step)).collect(),
        visibility: vec![[1.0; COUNT]; points.len()],
        depth_spread: vec![[0.0; COUNT]; points.len()],
        points,
        direction: Direction::at(Degrees(0.0)),
        ground: 0.0,
    }
}
