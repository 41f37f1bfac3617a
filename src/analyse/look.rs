//! Looking for racket and ball in the strokes in which nobody has looked for them yet, and for the court's lines.

use super::lines::Sampler;
use super::observer::go_on;
use super::source::Source;
use super::{AnalyseError, Networks, Observer, Watched};
use crate::ball::{Around, Balls, Looker};
use crate::court::{Reading, Uprights};
use crate::memory;
use crate::pose::{Motion, Side, Track};
use crate::racket::{LookError, Sightings};
use crate::units::{FrameIndex, Seconds};
use crate::video::ahead;

/// What is still to be looked at.
#[derive(Debug, Default)]
pub(super) struct Wanted {
    /// Pictures in which the racket is looked for, and around which hand.
    pub rackets: Vec<(FrameIndex, Side)>,
    /// Contacts around which balls are looked for.
    pub balls: Vec<Around>,
    /// The person by whom the court's lines are looked for.
    pub lines: Option<usize>,
    /// Whether the clip is long, so that the frames in which lines are looked for are read by themselves: these wait until all are there,
    /// and there is no room for them beside the network.
    pub is_long: bool,
}

/// What another look at the clip's pictures has brought.
pub(super) enum LookOutcome {
    /// Nothing: what there is to see was seen before.
    Known,
    /// Nothing: it could not be had, as the warning says.
    LeftOut(String),
    /// More of racket and ball, and what the court's lines and upright things say.
    New(Sightings, Balls, Option<(Reading, Uprights)>),
}

impl Wanted {
    /// Whether nothing is to be looked at.
    pub fn is_empty(&self) -> bool {
        self.rackets.is_empty() && self.balls.is_empty() && self.lines.is_none()
    }

    /// When the pictures are that have to be read.
    fn spans(&self, motion: &Motion) -> Vec<(Seconds, Seconds)> {
        let place = |frame: &FrameIndex| motion.indices.binary_search(frame).ok();
        let pictures = self.rackets.iter().filter_map(|(frame, _)| Some(motion.times[place(frame)?]));
        let around = self.balls.iter().map(Around::watched);
        pictures.map(|time| (time, time)).chain(around).collect()
    }
}

/// Looks for racket and ball, in the strokes alone, and for lines: before these are known most of the clip would be looked at in vain.
pub(super) fn look(
    source: &Source<'_>,
    (tracks, motion): (&[Track], &Motion),
    wanted: &Wanted,
    from_kept: bool,
    networks: &mut Networks,
    observer: &mut dyn Observer,
) -> Result<LookOutcome, AnalyseError> {
    let mut looker = Looker::new(motion, &wanted.balls);
    let mut sampler = match wanted.lines {
        Some(person) => Sampler::new(tracks, person, motion),
        None => Sampler::idle(motion),
    };
    if wanted.rackets.is_empty() && !looker.is_waiting() && !sampler.is_waiting() {
        return Ok(LookOutcome::Known);
    }
    let finder = match wanted.rackets.is_empty() {
        true => Ok(None),
        false => networks.finder().map(Some),
    };
    let finder = match finder {
        Ok(finder) => finder,
        // What was kept can be measured again without any network, then without the racket in strokes that are new.
        Err(error) if from_kept => {
            return Ok(LookOutcome::LeftOut(format!(
                "the racket was not looked for in some strokes: {error}"
            )));
        }
        Err(error) => return Err(error.into()),
    };
    let looking = |error: LookError| AnalyseError::looking(&source.info.name(), error);
    let mut spans = wanted.spans(motion);
    let mut apart = Sampler::idle(motion);
    if wanted.is_long {
        std::mem::swap(&mut sampler, &mut apart);
    }
    spans.extend(sampler.spans());
    let found = ahead(source.parts(&spans)?, |frames| {
        let mut frames = Watched::new(frames, &source.info, observer);
        let found = match finder {
            Some(finder) => {
                let mut seen = looker.beside(&mut frames);
                finder.look_through(sampler.beside(&mut seen), motion, &wanted.rackets)?
            }
            None => Sightings::default(),
        };
        let balls = looker.look_on(&mut sampler.beside(&mut frames))?;
        sampler.look_on(&mut frames)?;
        Ok((found, balls))
    });
    let (rackets, balls) = found.map_err(looking)?;
    go_on(observer, &source.info)?;
    // Reading the lines needs memory of its own.
    networks.release_finder();
    if apart.is_waiting() {
        let frames = source.parts(&apart.spans())?;
        let seen = apart.look_on(&mut Watched::new(frames, &source.info, observer));
        seen.map_err(|error| looking(error.into()))?;
        sampler = apart;
    }
    let court = sampler.reading();
    // What comes next needs as much.
    memory::give_back();
    Ok(LookOutcome::New(rackets, balls, court))
}
