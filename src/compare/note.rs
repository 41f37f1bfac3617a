//! What else is to be known of a measure that was compared.

use std::fmt;

use super::FEWEST_STROKES;

/// What else is to be known of a measure, in a short sentence without a full stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Note {
    /// Why it can't be compared.
    Refused(String),
    /// So many values lie far from the others, before or after.
    Outliers(usize, &'static str),
    /// There are too few strokes to judge.
    FewStrokes,
    /// The view shows it by guessed depth alone.
    GuessedDepth,
    /// A change would have to be this large, as the measure is written.
    Needed(String),
    /// Its values have a low grade.
    LowGrade,
    /// It was judged against so many earlier sessions.
    Sessions(usize),
    /// It may be no more than what sessions differ by anyway.
    NotSeparable,
    /// Among so many measures one may differ this much by chance.
    ByChance,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Refused(why) => f.write_str(why),
            Self::Outliers(1, when) => write!(f, "one value {when} lies far from the others"),
            Self::Outliers(count, when) => write!(f, "{count} values {when} lie far from the others"),
            Self::FewStrokes => {
                write!(f, "fewer than {FEWEST_STROKES} strokes have a value, so they are only described")
            }
            Self::GuessedDepth => f.write_str("this view shows it only by guessed depth"),
            Self::Needed(amount) => write!(f, "a change would have to be about {amount} to be seen"),
            Self::LowGrade => {
                f.write_str("the values have a low grade, so the size of the change is a rough guide only")
            }
            Self::Sessions(count) => write!(f, "judged against {count} earlier sessions"),
            Self::NotSeparable => f.write_str(
                "can't be told from the usual change from session to session; earlier sessions (--season) would show it",
            ),
            Self::ByChance => f.write_str("among this many measures one may differ this much by chance"),
        }
    }
}
