//! `frames.csv`: one row per frame of the clip.

use std::collections::BTreeMap;

use super::Results;
use super::cell::Cell;
use super::sheet::{Column, Kind, Sheet};
use crate::ball::Flight;
use crate::geometry::{Court, Point2};
use crate::measure::clip::MeasuredStroke;
use crate::pose::Landmark;
use crate::racket::{Racket, RacketPoint};
use crate::scene::CourtMotion;
use crate::stroke::phases;
use crate::units::{FrameIndex, Seconds};

/// A part of the racket.
type Part = fn(&Racket) -> RacketPoint;

/// Parts of the racket that have columns.
const RACKET: [(&str, Part); 4] =
    [("butt", |r| r.butt), ("throat", |r| r.throat), ("middle", |r| r.middle), ("tip", |r| r.tip)];

/// A finish whose end was not seen is taken to last this long at most.
const LONGEST_FINISH: Seconds = Seconds(1.5);

/// A picture.
#[derive(Debug, Clone, Copy)]
pub struct FrameRow<'a> {
    results: &'a Results<'a>,
    frame: usize,
    /// Number of the stroke and name of the phase.
    place: Option<(usize, &'static str)>,
    hand_speed: Option<f64>,
    racket: Option<Racket>,
    ball: Option<Point2>,
}

/// A clip's pictures in order.
pub fn rows<'a>(results: &'a Results<'a>) -> impl Iterator<Item = FrameRow<'a>> {
    let measures = results.measures;
    let speeds = hand_speeds(results);
    let flights = measures.strokes.iter().filter_map(|stroke| stroke.flight.as_ref());
    let balls: BTreeMap<FrameIndex, Point2> = flights.flat_map(Flight::sights).collect();
    let rackets = rackets(&measures.strokes);
    speeds.into_iter().enumerate().map(move |(frame, hand_speed)| {
        let place = place(&measures.strokes, results.motion.times[frame]);
        let index = results.motion.indices[frame];
        let own =
            place.and_then(|(number, _)| measures.strokes.iter().find(|stroke| stroke.number == number));
        let racket = own.and_then(|stroke| stroke.racket.at(index)).or_else(|| rackets.get(&index).copied());
        FrameRow { results, frame, place, hand_speed, racket, ball: balls.get(&index).copied() }
    })
}

/// The racket in each frame in which it was seen, as the earliest stroke has it.
fn rackets(strokes: &[MeasuredStroke]) -> BTreeMap<FrameIndex, Racket> {
    let seen = |stroke: &'_ MeasuredStroke| {
        let frames = stroke.racket.indices.iter().copied().zip(stroke.racket.rackets.iter().copied());
        frames.filter_map(|(frame, racket)| Some((frame, racket?))).collect::<Vec<_>>()
    };
    strokes.iter().rev().flat_map(seen).collect()
}

/// So many pictures are turned into the court's frame at a time, a whole clip's would fill much memory; and so many on either side are
/// turned with them, more than a speed needs.
const AT_ONCE: usize = 1000;
const BESIDE: usize = 20;

/// Speed of the hitting hand in each picture, metres per second.
fn hand_speeds(results: &Results<'_>) -> Vec<Option<f64>> {
    let (measures, times) = (results.measures, &results.motion.times);
    let Some((direction, hitting)) = measures.direction.zip(measures.hitting) else {
        return vec![None; times.len()];
    };
    let mut speeds = Vec::with_capacity(times.len());
    for from in (0..times.len()).step_by(AT_ONCE) {
        let to = (from + AT_ONCE).min(times.len());
        let around = from.saturating_sub(BESIDE)..(to + BESIDE).min(times.len());
        let motion = CourtMotion::new(&measures.space, &direction, hitting.hand, around);
        let speed = |time: &Seconds| phases::velocity(&motion, *time).map(Court::norm);
        speeds.extend(times[from..to].iter().map(speed));
    }
    speeds
}

/// Number of the stroke to which a time belongs, and its phase. Where two strokes overlap the earlier one has it.
fn place(strokes: &[MeasuredStroke], time: Seconds) -> Option<(usize, &'static str)> {
    let stroke = strokes.iter().find(|stroke| {
        let phases = &stroke.stroke.phases;
        let end = phases.finish_end.map_or(phases.contact.time + LONGEST_FINISH, |mark| mark.time);
        time >= phases.preparation_begin() && time <= end
    })?;
    let phases = &stroke.stroke.phases;
    let reached = |mark: Option<phases::Mark>| mark.is_some_and(|mark| time >= mark.time);
    let phase = match () {
        () if time >= phases.contact.time => "finish",
        () if reached(phases.forward_start) => "forward-swing",
        () if reached(phases.drop_start) => "drop",
        () => "preparation",
    };
    Some((stroke.number, phase))
}

/// The table.
pub fn sheet<'a>() -> Sheet<FrameRow<'a>> {
    let mut columns = vec![
        Column::new("frame", Kind::Integer, "Number of the frame, from 0.", |row: &FrameRow| {
            Cell::whole(row.results.motion.indices[row.frame].0)
        })
        .at_least(0.0)
        .required(),
        Column::new("time_s", Kind::Number, "Seconds since the clip's first frame.", |row: &FrameRow| {
            Cell::number(row.results.motion.times[row.frame].0, 4)
        })
        .in_unit("s")
        .required(),
        Column::new("stroke", Kind::Integer, "Number of the stroke that is going on.", |row: &FrameRow| {
            row.place.map_or(Cell::Empty, |(number, _)| Cell::whole(number))
        })
        .at_least(1.0),
        Column::new("phase", Kind::String, "Phase of the stroke.", |row: &FrameRow| {
            Cell::maybe(row.place.map(|(_, phase)| phase))
        })
        .one_of(super::boundary::PHASES.map(|(name, _)| name)),
    ];
    for landmark in Landmark::ALL {
        let name = landmark.name();
        let words = name.replace('_', " ");
        let at = move |row: &FrameRow| row.results.motion.point(row.frame, landmark);
        columns.push(pixels(format!("{name}_x"), format!("{words}, to the right"), move |row| {
            at(row).map(|p| p.at.x)
        }));
        columns
            .push(pixels(format!("{name}_y"), format!("{words}, down"), move |row| at(row).map(|p| p.at.y)));
        columns.push(share(
            format!("{name}_vis"),
            format!("Chance that the {words} is in sight, as the model sees it."),
            move |row| at(row).map(|p| p.visibility),
        ));
    }
    for (part, point) in RACKET {
        let at = move |row: &FrameRow| row.racket.as_ref().map(point);
        let words = format!("racket's {part}");
        columns.push(pixels(format!("racket_{part}_x"), format!("{words}, to the right"), move |row| {
            at(row).map(|p| p.at.x)
        }));
        columns.push(pixels(format!("racket_{part}_y"), format!("{words}, down"), move |row| {
            at(row).map(|p| p.at.y)
        }));
        columns.push(share(
            format!("racket_{part}_conf"),
            format!("Chance that the {words} is there; looked for in strokes only."),
            move |row| at(row).map(|p| p.confidence),
        ));
    }
    let around_contact = "ball, {}; looked for around contact only";
    columns.push(pixels("ball_x".to_owned(), around_contact.replace("{}", "to the right"), |row| {
        row.ball.map(|at| at.x)
    }));
    columns.push(pixels("ball_y".to_owned(), around_contact.replace("{}", "down"), |row| {
        row.ball.map(|at| at.y)
    }));
    columns.push(
        Column::new(
            "hand_speed_mps",
            Kind::Number,
            "Speed of the hitting hand (wrist).",
            |row: &FrameRow| Cell::maybe_number(row.hand_speed, 2),
        )
        .in_unit("m/s")
        .at_least(0.0),
    );
    Sheet {
        name: "frames",
        title: "Frames",
        description: "One row per frame: the player's landmarks after smoothing, in pixels of the upright frame \
                      (first pixel's centre at 0, 0), and the hitting hand's speed. Empty = not seen.",
        key: &["frame"],
        of_strokes: false,
        columns,
    }
}

fn pixels<'a>(
    name: String,
    what: String,
    value: impl Fn(&FrameRow<'_>) -> Option<f64> + 'static,
) -> Column<FrameRow<'a>> {
    let description = format!("Place of the {what}.");
    Column::new(name, Kind::Number, description, move |row: &FrameRow| Cell::maybe_number(value(row), 2))
        .in_unit("{pixel}")
}

fn share<'a>(
    name: String,
    description: String,
    value: impl Fn(&FrameRow<'_>) -> Option<f64> + 'static,
) -> Column<FrameRow<'a>> {
    Column::new(name, Kind::Number, description, move |row: &FrameRow| Cell::maybe_number(value(row), 2))
        .in_unit("1")
        .at_least(0.0)
        .at_most(1.0)
}
