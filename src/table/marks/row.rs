//! What a row of marks says.

use super::super::by_hand::{ByHandError, ByHandRow};
use super::{Event, Mark, Marks, OTHERS, When};
use crate::court::Spot;
use crate::geometry::Point2;
use crate::pose::Side;
use crate::stroke::{Boundary, Kind};
use crate::units::{FrameIndex, Metres, Seconds};

/// Statures that are taken for a player's, centimetres.
const STATURES: std::ops::RangeInclusive<f64> = 80.0..=250.0;

impl Marks {
    /// A row's mark; none where nothing is filled in.
    pub(super) fn mark<'a>(&self, row: &'a ByHandRow) -> Result<Option<Mark<'a>>, ByHandError> {
        let table = &self.table;
        let wrong = |problem: String| table.wrong(row, problem);
        let others = || OTHERS.iter().map(|other| other.event);
        let names =
            || Boundary::ALL.map(Boundary::name).into_iter().chain(others()).collect::<Vec<_>>().join(", ");
        let event = table
            .cell(row, "event")
            .ok_or_else(|| wrong(format!("names no event; use one of {}", names())))?;
        let (x, y) = (table.number(row, "x")?, table.number(row, "y")?);
        let value = table.cell(row, "value");
        let when = match (table.number(row, "time_s")?, table.number(row, "frame")?) {
            (Some(_), Some(_)) => {
                return Err(wrong("has both a time and a frame; give one of them".to_owned()));
            }
            (Some(time), None) if time >= 0.0 => Some(When::At(Seconds(time))),
            (None, Some(frame)) if frame >= 0.0 && frame.fract() == 0.0 => {
                Some(When::In(FrameIndex(frame as usize)))
            }
            (None, None) => None,
            _ => return Err(wrong("time_s and frame start at 0, and a frame is a whole number".to_owned())),
        };
        let place = match (x, y) {
            (Some(x), Some(y)) => Some(Point2::new(x, y)),
            (None, None) => None,
            _ => {
                return Err(wrong(
                    "has only one of x and y; give both, pixels from the upper left".to_owned(),
                ));
            }
        };
        let stroke = match table.number(row, "stroke")? {
            None => None,
            Some(number) if number >= 1.0 && number.fract() == 0.0 => Some(number as usize),
            Some(_) => return Err(wrong("stroke is a number from 1, as in strokes.csv".to_owned())),
        };
        let boundary = Boundary::ALL.into_iter().find(|boundary| boundary.name() == event);
        if boundary.is_none() && !others().any(|other| other == event) {
            return Err(wrong(format!("there is no event `{event}`; use one of {}", names())));
        }
        if (when, place, value) == (None, None, None) {
            return Ok(None);
        }
        let whole_clip = |event: Event| match stroke {
            None => Ok(event),
            Some(_) => Err(wrong("concerns the whole clip; leave `stroke` empty".to_owned())),
        };
        let event = match (event, boundary) {
            (_, Some(boundary)) => {
                let when =
                    when.ok_or_else(|| wrong(format!("{} needs a time_s or a frame", boundary.name())))?;
                if stroke.is_none() && boundary != Boundary::Contact {
                    return Err(wrong(format!("{} needs the number of a stroke", boundary.name())));
                }
                Event::Boundary(boundary, when)
            }
            ("hand", _) => Event::Hand(match value {
                Some("right") => Side::Right,
                Some("left") => Side::Left,
                _ => return Err(wrong("hand needs `right` or `left` as value".to_owned())),
            }),
            ("kind", _) => Event::Kind(match value {
                Some("forehand") => Kind::Forehand,
                Some("backhand") => Kind::Backhand,
                Some("overhead") => Kind::Overhead,
                _ => {
                    return Err(wrong("kind needs `forehand`, `backhand` or `overhead` as value".to_owned()));
                }
            }),
            ("subject", _) => whole_clip(Event::Subject(
                place.ok_or_else(|| wrong("subject needs x and y of a pixel on the player".to_owned()))?,
                when,
            ))?,
            ("racket_tip", _) => {
                let need = || wrong("racket_tip needs x and y, and a frame or time_s".to_owned());
                Event::RacketTip(place.ok_or_else(need)?, when.ok_or_else(need)?)
            }
            ("court_point", _) => {
                let spot = value.and_then(Spot::named).ok_or_else(|| {
                    wrong(format!(
                        "court_point needs a point of the court as value, one of {}",
                        Spot::names()
                    ))
                })?;
                let need = || wrong("court_point needs x and y, and a frame or time_s".to_owned());
                whole_clip(Event::CourtPoint(spot, place.ok_or_else(need)?, when.ok_or_else(need)?))?
            }
            ("scale", _) => {
                let height = table.number(row, "value")?.filter(|height| STATURES.contains(height));
                let height = height.ok_or_else(|| {
                    wrong("scale needs the player's height in cm as value, 80 to 250".to_owned())
                })?;
                whole_clip(Event::Scale(Metres(height / 100.0)))?
            }
            _ => {
                if value != Some("yes") {
                    return Err(wrong("no_stroke needs `yes` as value".to_owned()));
                }
                if stroke.is_none() {
                    return Err(wrong("no_stroke needs the number of a stroke".to_owned()));
                }
                Event::NoStroke
            }
        };
        Ok(Some(Mark { row, stroke, event }))
    }
}
