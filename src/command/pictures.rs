//! Stills and the annotated clip: the clip is looked through once more.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::exit::Result;
use super::plan::Pictures;
use crate::analyse::{Analyser, Analysis, Observer, Part, Watched};
use crate::draw::annotated;
use crate::draw::blur::Heads;
use crate::draw::moment::Instant;
use crate::draw::still::{self, Role, Stills};
use crate::stroke::Boundary;
use crate::table::{Drill, Grip, Results};
use crate::video::{Clip, Frame, Frames, Picture, Sound, VideoError};

/// The moment that shows most of a stroke.
const CONTACT: Instant = Instant::Boundary(Boundary::Contact);

/// How much of drawing looking for other people's heads is.
const COVERING: f64 = 0.4;

/// Draws what is wanted into a clip's folder and answers with the pictures that stills were made from and those whose numbers
/// (from 0) are in `also`.
///
/// # Errors
/// Those of the clip, of the object detector, of drawing and of writing.
pub fn draw(
    folder: &Path,
    analysis: &Analysis,
    results: &Results<'_>,
    wanted: &Pictures,
    also: &BTreeSet<usize>,
    analyser: &mut Analyser,
    observer: &mut dyn Observer,
) -> Result<BTreeMap<usize, Picture>> {
    if !wanted.are_wanted() || results.measures.strokes.is_empty() {
        return Ok(BTreeMap::new());
    }
    let drawing = if wanted.blur_faces { COVERING } else { 0.0 };
    let heads = if wanted.blur_faces {
        Some(heads(analysis, analyser, &mut Part::new(observer, 0.0, drawing))?)
    } else {
        None
    };
    let (motion, measures) = (results.motion, results.measures);
    let labels = results.labels;
    let targets = wanted.targets.for_height(results.height_cm());
    let mut chosen =
        still::chosen(measures, &targets, labels.grip.map(Grip::name), labels.drill.map(Drill::name));
    let mut needed = also.clone();
    if wanted.stills {
        needed.extend(still::pictures_of(motion, measures, &chosen));
    } else if wanted.contact_alone {
        // What has no picture isn't drawn: of these strokes contact alone.
        chosen.retain(|chosen| chosen.roles.contains(&Role::Typical));
        let strokes = chosen.iter().map(|chosen| &measures.strokes[chosen.place].stroke);
        needed.extend(still::pictures_needed(motion, strokes.map(|s| (s, CONTACT))));
    }
    let mut kept: BTreeMap<usize, Picture> = BTreeMap::new();
    let mut part = Part::new(observer, drawing, 1.0);
    let frames = Watched::new(frames_of(analysis)?, results.info, &mut part);
    let frames = frames.map(|frame: std::result::Result<Frame, VideoError>| {
        let mut frame = frame?;
        if let Some(heads) = &heads {
            heads.cover(frame.index.0, &mut frame.picture);
        }
        if needed.contains(&frame.index.0) {
            kept.insert(frame.index.0, frame.picture.clone());
        }
        Ok(frame)
    });
    if wanted.annotated {
        // Without sound the clip is still worth seeing.
        let sound = Sound::read(results.info, results.report).ok();
        let file = folder.join("annotated.mp4");
        annotated::write(&file, motion, measures, sound.as_ref(), frames)?;
    } else {
        let last = needed.iter().next_back().copied();
        for frame in frames {
            let frame: Frame = frame?;
            if last.is_none_or(|last| frame.index.0 >= last) {
                break;
            }
        }
    }
    if wanted.stills || wanted.contact_alone {
        Stills::new(motion, measures, &kept).write(&folder.join(still::FOLDER), &chosen)?;
    }
    Ok(kept)
}

/// Single pictures of a clip by their numbers, with faces covered where that is wanted.
///
/// # Errors
/// Those of the clip and of the object detector.
pub fn of(
    analysis: &Analysis,
    needed: &BTreeSet<usize>,
    blur_faces: bool,
    analyser: &mut Analyser,
    observer: &mut dyn Observer,
) -> Result<BTreeMap<usize, Picture>> {
    let mut kept = BTreeMap::new();
    let Some(last) = needed.iter().next_back() else { return Ok(kept) };
    let heads = if blur_faces { Some(heads(analysis, analyser, observer)?) } else { None };
    for frame in frames_of(analysis)? {
        let mut frame = frame?;
        if needed.contains(&frame.index.0) {
            if let Some(heads) = &heads {
                heads.cover(frame.index.0, &mut frame.picture);
            }
            kept.insert(frame.index.0, frame.picture);
        }
        if frame.index.0 >= *last {
            break;
        }
    }
    Ok(kept)
}

/// Where everybody's head is, for covering faces.
fn heads(analysis: &Analysis, analyser: &mut Analyser, observer: &mut dyn Observer) -> Result<Heads> {
    let mut heads = Heads::of(&analysis.followed.tracks);
    if let Some(detector) = &mut analyser.networks().models()?.objects {
        let frames = Watched::new(frames_of(analysis)?, &analysis.info, observer);
        heads.look_for_others(frames, detector)?;
    }
    Ok(heads)
}

fn frames_of(analysis: &Analysis) -> Result<Frames> {
    Ok(Clip::open(&analysis.info.path, analysis.stated.capture_rate)?.frames()?)
}
