//! A coach's ranges for measures, and what a player's strokes show against them.
//!
//! A set of targets is a TOML file; two are shipped ([`Shipped`]), what sound club players do and strict aims for training. [`Set::findings`] says in which measures the strokes lie
//! outside, at most [`MOST_FINDINGS`], the most telling first, and never from values of a low grade; [`Set::met`] in which
//! they surely lie inside.

mod error;
mod file;
mod finding;
pub mod reference;
mod set;
mod standing;

pub use error::TargetError;
pub use finding::{Finding, MOST_FINDINGS, Middle, Observed, Side};
pub use reference::Reference;
pub use set::{Circumstances, Conditions, DRILLS, Exercise, GRIPS, Set, Target};

/// The exercises that every set can name.
const EXERCISES: &str = include_str!("exercises.toml");

/// A set of targets that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shipped {
    /// What most sound club players do.
    Club,
    /// Strict aims for training.
    Drill,
}

impl Shipped {
    /// Both; the first is the usual one.
    pub const ALL: [Self; 2] = [Self::Club, Self::Drill];

    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Club => "club",
            Self::Drill => "drill",
        }
    }

    /// The set of this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|set| set.name() == name)
    }

    /// The set as it is written, with the exercises, to start one's own from.
    pub fn text(self) -> String {
        let own = match self {
            Self::Club => include_str!("club.toml"),
            Self::Drill => include_str!("drill.toml"),
        };
        format!("{own}\n{EXERCISES}")
    }
}
