//! `toeline inspect`: what kind of clip this is and what it is good for.

use std::fs;
use std::io;
use std::iter;
use std::path::Path;
use std::sync::Arc;

use super::args::InspectArgs;
use super::exit::{Exit, Failure, Interrupted, Result};
use super::progress::Progress;
use super::{interrupt, output, plan};
use crate::analyse::{Analyser, Analysis, Known, Method};
use crate::draw::ground::{self, Ground};
use crate::draw::{DrawError, still};
use crate::error::ErrorKind;
use crate::geometry::Point2;
use crate::inspect::{self, Inspection};
use crate::pose::{Landmark, Motion};
use crate::scene::{Sway, Witness};
use crate::table::marks::Marks;
use crate::table::{Placing, Writer};
use crate::units::{FrameIndex, Metres, Seconds};
use crate::video::{Clip, Frame, Index, Parts, Picture, VideoError};

/// So much of a long clip is looked at, from its beginning: what kind of clip it is shows soon. More where no stroke is found there, and in
/// the end all.
const FIRST: [Seconds; 2] = [Seconds(45.0), Seconds(180.0)];
/// A clip that is not so many times longer is looked at whole.
const LONGER: f64 = 4.0 / 3.0;

/// The picture's file.
const PICTURE: &str = "inspect.png";

/// Looks at a clip and says what it is good for.
///
/// # Errors
/// Whatever goes wrong with the clip, the networks or the picture's file.
pub fn run(args: &InspectArgs) -> Result<Exit> {
    interrupt::listen();
    let mut analyser = Analyser::new(&Method { model: args.method.model.clone(), ..Method::default() })?;
    let settings = plan::settings_beside(&args.clip)?;
    let details = plan::details(&args.input, args.method.planar).with_settings(settings.as_ref());
    let name = plan::name_of(&args.clip);
    let marks = args.method.marks.as_deref().map(Marks::read).transpose()?;
    let file = args.clip.file_name().map(|file| file.to_string_lossy().into_owned()).unwrap_or_default();
    let marks = marks.as_ref().map(|marks| marks.of_clip(&[&name, &file])).transpose()?;
    let beside = args.clip.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = args.out.as_deref().or(beside).unwrap_or_else(|| Path::new("."));
    // The clip comes first: a place that can't be written to is no news where there is no clip.
    let info = Clip::open(&args.clip, details.stated.capture_rate)?.info().clone();
    let length = info.expected_frames().map_or(0.0, |frames| frames as f64 / info.capture_rate);
    let placing = Placing::begin(folder, Writer::Inspection)?;
    let mut progress = Progress::new(&name, args.quiet);
    let mut measure = |first: Option<Seconds>, progress: &mut Progress| {
        let known = Known { marks: marks.as_ref(), first, ..Known::default() };
        analyser.measure_knowing(&args.clip, &details.stated, known, progress)
    };
    let measured = |first: Option<Seconds>| {
        measure(first, &mut progress).map_err(|error| match error.kind() {
            ErrorKind::Cancelled => Failure::from(Interrupted),
            _ => error.into(),
        })
    };
    let (looked_at, analysis) =
        as_far_as_needed(length, |analysis: &Analysis| !analysis.strokes().is_empty(), measured)?;
    progress.end();
    let mut inspection = Inspection::of(&analysis, &name);
    inspection.looked_at_s = looked_at.map(|first| first.0);
    let drawn = picture(&analysis)?;
    if let Some(picture) = &drawn {
        let file = placing.part().join(PICTURE);
        let failed = |source| DrawError::File { path: folder.join(PICTURE), source };
        fs::write(file, still::png(picture).map_err(failed)?).map_err(failed)?;
    }
    interrupt::check()?;
    placing.finish()?;
    if args.json {
        let mut text = serde_json::to_string_pretty(&inspection)?;
        text.push('\n');
        output::print(&text)?;
    } else {
        output::print(&inspect::text(&inspection))?;
    }
    if drawn.is_some() && !args.quiet {
        output::note(&format!("The camera is drawn in {}", folder.join(PICTURE).display()));
    }
    Ok(if analysis.strokes().is_empty() { Exit::NothingFound } else { Exit::Done })
}

/// What a look at a long clip's beginning gives, or at all of it, and how much that was; as much is looked at as `is_enough` needs.
fn as_far_as_needed<A, E>(
    length: f64,
    is_enough: impl Fn(&A) -> bool,
    mut look: impl FnMut(Option<Seconds>) -> Result<A, E>,
) -> Result<(Option<Seconds>, A), E> {
    for first in FIRST.into_iter().filter(|first| length > LONGER * first.0) {
        let seen = look(Some(first))?;
        if is_enough(&seen) {
            return Ok((Some(first), seen));
        }
    }
    Ok((None, look(None)?))
}

/// A picture of the clip with the camera drawn over it; `None` where no player was seen.
fn picture(analysis: &Analysis) -> Result<Option<Picture>> {
    let filmed = &analysis.measures.filmed;
    let Some((height, _)) = filmed.height() else { return Ok(None) };
    let said = &analysis.stated.corrections;
    let (motion, sway) = (&analysis.motion, Sway::of(&analysis.motion));
    let middle = motion.indices.get(motion.len() / 2).copied();
    let lines = analysis.seen.lines.as_ref().filter(|_| filmed.court == Some(Witness::Lines));
    let first = said.court_points.first().map(|point| point.frame);
    let Some(frame) = lines.map(|lines| lines.frame).or(first).or(middle) else { return Ok(None) };
    let Some(mut picture) = picture_at(analysis, frame.0)? else { return Ok(None) };
    // The camera is that of a clip whose camera stood still; in this frame all lies elsewhere by so much.
    let moved = sway.moved(motion.indices.partition_point(|index| *index < frame));
    let mut stand = filmed.stand;
    stand.lens.middle = (stand.lens.middle.0 + moved.x, stand.lens.middle.1 + moved.y);
    let placed = said.placed.as_ref();
    let points: Vec<(Point2, &str)> =
        placed.iter().flat_map(|p| &p.spots).map(|spot| (spot.at + moved, spot.spot.name)).collect();
    let by_points =
        placed.filter(|_| filmed.court == Some(Witness::Points)).map(|placed| placed.reading.moved(moved));
    let ground = Ground {
        stand,
        height: Metres(height.value),
        net: analysis.measures.direction.map(|direction| direction.angle),
        foot: feet_in(motion, frame).unwrap_or(filmed.foot() + moved),
        court: lines.or(by_points.as_ref()),
        points: &points,
    };
    let failed = |source: io::Error| DrawError::Chart { file: PICTURE.to_owned(), source };
    ground::over(&mut picture, &ground).map_err(failed)?;
    Ok(Some(picture))
}

/// Where the player's feet are in one frame: in the middle of what is seen of them, as low as the lowest; `None` where they aren't seen.
fn feet_in(motion: &Motion, frame: FrameIndex) -> Option<Point2> {
    let place = motion.indices.binary_search(&frame).ok()?;
    let feet = [Landmark::LeftHeel, Landmark::RightHeel, Landmark::LeftToe, Landmark::RightToe];
    let seen: Vec<Point2> = feet.into_iter().filter_map(|l| Some(motion.point(place, l)?.at)).collect();
    let lowest = seen.iter().map(|at| at.y).max_by(f64::total_cmp)?;
    Some(Point2::new(seen.iter().map(|at| at.x).sum::<f64>() / seen.len() as f64, lowest))
}

/// One frame of the clip; what lies before it is passed over where the file allows it.
fn picture_at(analysis: &Analysis, place: usize) -> Result<Option<Picture>, VideoError> {
    let (path, rate) = (&analysis.info.path, analysis.stated.capture_rate);
    let index = Index::read(&analysis.info)?.map(Arc::new);
    let mut frames: Box<dyn Iterator<Item = Result<Frame, VideoError>>> = match &index {
        Some(index) => Box::new(Parts::open(path, rate, index, iter::once(place..place + 1))?),
        None => Box::new(Clip::open(path, rate)?.frames()?),
    };
    let wanted =
        frames.find(|frame| frame.as_ref().is_ok_and(|frame| frame.index.0 >= place) || frame.is_err());
    Ok(wanted.transpose()?.map(|frame| frame.picture))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_of_a_long_clip_is_looked_at_only_where_the_beginning_shows_nothing() {
        // How much of a clip of some length is looked at until a moment is reached, and what was looked at by the way.
        let looked = |length: f64, moment: f64| {
            let mut all = Vec::new();
            let is_there = |seen: &f64| *seen >= moment;
            let look = |first: Option<Seconds>| -> Result<f64, ()> {
                let seen = first.map_or(length, |first| first.0);
                all.push(seen);
                Ok(seen)
            };
            let found = as_far_as_needed(length, is_there, look).unwrap();
            (found.0.map(|first| first.0), all)
        };
        assert_eq!(looked(50.0, 20.0), (None, vec![50.0]));
        assert_eq!(looked(600.0, 20.0), (Some(45.0), vec![45.0]));
        assert_eq!(looked(600.0, 100.0), (Some(180.0), vec![45.0, 180.0]));
        assert_eq!(looked(600.0, 400.0), (None, vec![45.0, 180.0, 600.0]));
        assert_eq!(looked(200.0, 900.0), (None, vec![45.0, 200.0]));
    }
}
