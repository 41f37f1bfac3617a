//! The ready pose.

use super::Missing;
use crate::stroke::Stroke;

/// Needs the racket's tip, which the body alone doesn't show.
pub fn tip_above_eyes(_: &Stroke) -> Result<f64, Missing> {
    Err(Missing::NoRacket)
}
