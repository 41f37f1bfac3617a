//! Looking for racket and ball in the strokes in which nobody has looked for them yet.

use std::path::Path;

use super::observer::go_on;
use super::{AnalyseError, Networks, Observer, Watched};
use crate::ball::{Around, Balls, Looker};
use crate::pose::{Motion, Side};
use crate::racket::Sightings;
use crate::units::FrameIndex;
use crate::video::{Clip, ClipInfo};

/// What is still to be looked at.
#[derive(Debug, Default)]
pub(super) struct Wanted {
    /// Pictures in which the racket is looked for, and around which hand.
    pub rackets: Vec<(FrameIndex, Side)>,
    /// Contacts around which balls are looked for.
    pub balls: Vec<Around>,
}

/// What another look at the clip's pictures has brought.
pub(super) enum Look {
    /// Nothing: what there is to see was seen before.
    Known,
    /// Nothing: it could not be had, as the warning says.
    LeftOut(String),
    /// More of racket and ball.
    New(Sightings, Balls),
}

/// Looks for racket and ball: the clip is read again for that, because before its strokes are known most of it would be
/// looked at in vain.
pub(super) fn look(
    path: &Path,
    capture_rate: Option<f64>,
    info: &ClipInfo,
    motion: &Motion,
    wanted: &Wanted,
    networks: &mut Networks,
    observer: &mut dyn Observer,
) -> Result<Look, AnalyseError> {
    let mut looker = Looker::new(motion, &wanted.balls);
    if wanted.rackets.is_empty() && !looker.is_waiting() {
        return Ok(Look::Known);
    }
    let from_kept = !networks.is_loaded();
    let finder = match networks.finder() {
        Ok(finder) => finder,
        // What was kept can be measured again without any network, then without the racket in strokes that are new.
        Err(error) if from_kept => {
            return Ok(Look::LeftOut(format!("the racket was not looked for in some strokes: {error}")));
        }
        Err(error) => return Err(error.into()),
    };
    let frames = Clip::open(path, capture_rate)?.frames()?;
    let mut frames = Watched::new(frames, info, observer);
    let found = finder.look_through(looker.beside(&mut frames), motion, &wanted.rackets);
    let found = found.and_then(|found| Ok((found, looker.look_on(&mut frames)?)));
    let (rackets, balls) = found.map_err(|error| AnalyseError::looking(&info.name(), error))?;
    go_on(observer, info)?;
    Ok(Look::New(rackets, balls))
}
