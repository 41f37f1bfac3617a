//! The phases between the boundaries.

use super::{Boundary, Phases};
use crate::units::Seconds;

impl Phases {
    /// The phases that are known, with begin and end, in order of time.
    pub fn spans(&self) -> Vec<(&'static str, Seconds, Seconds)> {
        let at = |boundary| self.get(boundary).map(|mark| mark.time);
        let forward = at(Boundary::ForwardStart);
        let drop = at(Boundary::DropStart).filter(|_| forward.is_some());
        let contact = Some(self.contact.time);
        let spans = [
            ("preparation", at(Boundary::PrepStart), drop.or(forward)),
            ("drop", drop, forward),
            ("forward swing", forward, contact),
            ("finish", contact, at(Boundary::FinishEnd)),
        ];
        let known = spans.into_iter().filter_map(|(name, from, to)| Some((name, from?, to?)));
        known.filter(|(_, from, to)| to > from).collect()
    }
}
