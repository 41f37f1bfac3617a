//! How a racket that was seen in a picture is drawn over it.

use super::style::{self, Pen};
use crate::geometry::Point2;
use crate::racket::Racket;

/// From this confidence of its tip on a racket is where it was seen: of rendered clips' rackets one in some thousands was off
/// by more than a tenth of the player's height. Of those below one in thirty was.
const SURE: f64 = 0.5;

/// How surely a racket is where it was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trust {
    /// It is there.
    Sure,
    /// It may be elsewhere, or was bridged from pictures beside.
    Doubtful,
}

impl Trust {
    /// How surely a racket is there.
    pub fn of(racket: &Racket) -> Self {
        if racket.tip.confidence < SURE { Self::Doubtful } else { Self::Sure }
    }

    /// What its axis looks like over a picture.
    pub const fn pen(self) -> Pen {
        const AXIS: Pen = Pen::new(style::BLUE, 5.0);
        match self {
            Self::Sure => AXIS,
            Self::Doubtful => AXIS.dashed(14.0, 10.0),
        }
    }
}

/// Squares (middle and half a side, pixels) that cover a racket in a picture; `height` is the player's, pixels.
pub fn areas(racket: &Racket, height: f64) -> Vec<(Point2, f64)> {
    /// Half widths of grip and hoop, in body heights, and where on the way from butt to tip the hoop is.
    const GRIP: f64 = 0.02;
    const HOOP: f64 = 0.055;
    const FROM: f64 = 0.5;
    const STEPS: usize = 12;
    let on = |i: usize| i as f64 / STEPS as f64;
    let hoop = |share: f64| (FROM..0.95).contains(&share);
    let square = |share: f64| {
        (racket.butt.at.lerp(racket.tip.at, share), height * if hoop(share) { HOOP } else { GRIP })
    };
    (0..=STEPS).map(|i| square(on(i))).collect()
}
