//! Stills and the annotated clip: the clip is looked through once more.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::Result;

use super::interrupt::{self, Stoppable};
use super::measure::Watch;
use super::networks::Networks;
use super::plan::{Job, Pictures};
use crate::draw::annotated;
use crate::draw::blur::Heads;
use crate::draw::still::{self, Stills};
use crate::kept::Followed;
use crate::table::{Drill, Grip, Results};
use crate::video::{Clip, Frame, Frames, Picture, Sound, VideoError};

/// Where everybody's head is, where faces are to be covered.
///
/// # Errors
/// Those of the clip and of the object detector.
pub fn heads(
    job: &Job,
    followed: &Followed,
    wanted: &Pictures,
    networks: &mut Networks,
) -> Result<Option<Heads>> {
    if !(wanted.blur_faces && (wanted.stills || wanted.annotated)) {
        return Ok(None);
    }
    let mut heads = Heads::of(&followed.tracks);
    if let Some(detector) = &mut networks.models()?.objects {
        heads.look_for_others(Stoppable(&mut frames_of(job)?), detector)?;
    }
    Ok(Some(heads))
}

fn frames_of(job: &Job) -> Result<Frames> {
    Ok(Clip::open(&job.clip, job.said.capture_rate)?.frames()?)
}

/// Draws what is wanted into a clip's folder, with covered `heads`, and answers with the pictures that stills were made
/// from and those whose numbers (from 0) are in `also`.
///
/// # Errors
/// Those of the clip, of drawing and of writing.
pub fn draw(
    folder: &Path,
    job: &Job,
    results: &Results<'_>,
    wanted: &Pictures,
    heads: Option<&Heads>,
    also: &BTreeSet<usize>,
    watch: &mut Watch<'_>,
) -> Result<BTreeMap<usize, Picture>> {
    if !(wanted.stills || wanted.annotated) || results.measures.strokes.is_empty() {
        return Ok(BTreeMap::new());
    }
    let (motion, measures) = (results.motion, results.measures);
    let labels = results.labels;
    let chosen =
        still::chosen(measures, &wanted.targets, labels.grip.map(Grip::name), labels.drill.map(Drill::name));
    let mut needed = also.clone();
    if wanted.stills {
        needed.extend(still::pictures_of(motion, measures, &chosen));
    }
    let mut frames = frames_of(job)?;
    let mut kept: BTreeMap<usize, Picture> = BTreeMap::new();
    let mut done = 0;
    let frames = Stoppable(&mut frames).map(|frame: Result<Frame, VideoError>| {
        let mut frame = frame?;
        if let Some(heads) = heads {
            heads.cover(frame.index.0, &mut frame.picture);
        }
        if needed.contains(&frame.index.0) {
            kept.insert(frame.index.0, frame.picture.clone());
        }
        done += 1;
        watch(done, results.info);
        Ok(frame)
    });
    if wanted.annotated {
        // Without sound the clip is still worth seeing.
        let sound = Sound::read(results.info, results.report).ok();
        let file = folder.join("annotated.mp4");
        annotated::write(&file, motion, measures, sound.as_ref(), frames)?;
    } else {
        for frame in frames {
            let _: Frame = frame?;
        }
    }
    interrupt::check()?;
    if wanted.stills {
        Stills::new(motion, measures, &kept).write(&folder.join(still::FOLDER), &chosen)?;
    }
    Ok(kept)
}
