//! Which strokes are judged alike.

use serde::{Deserialize, Serialize};

use super::Kind;

/// Strokes that one set of definitions and targets holds for: the kind, volleys apart from ground strokes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sort {
    /// Ground stroke on the hitting arm's side.
    Forehand,
    /// Ground stroke on the other side, with one hand or two.
    Backhand,
    /// Ball taken out of the air on the hitting arm's side.
    ForehandVolley,
    /// Ball taken out of the air on the other side.
    BackhandVolley,
    /// Hit above the head: serve or smash.
    Overhead,
    /// Could not be told.
    Unknown,
}

impl Sort {
    /// All sorts in the order in which they are listed.
    pub const ALL: [Self; 6] = [
        Self::Forehand,
        Self::Backhand,
        Self::ForehandVolley,
        Self::BackhandVolley,
        Self::Overhead,
        Self::Unknown,
    ];

    /// The sort of a kind; only forehands and backhands are volleys.
    pub const fn of(kind: Kind, volley: bool) -> Self {
        match (kind, volley) {
            (Kind::Forehand, false) => Self::Forehand,
            (Kind::Forehand, true) => Self::ForehandVolley,
            (Kind::Backhand, false) => Self::Backhand,
            (Kind::Backhand, true) => Self::BackhandVolley,
            (Kind::Overhead, _) => Self::Overhead,
            (Kind::Unknown, _) => Self::Unknown,
        }
    }

    /// The sort that tables name with the columns `kind` and `volley`; a word that is not known stays as unknown.
    pub fn named(kind: &str, volley: bool) -> Self {
        let kinds = [Kind::Forehand, Kind::Backhand, Kind::Overhead];
        let kind = kinds.into_iter().find(|known| known.name() == kind).unwrap_or(Kind::Unknown);
        Self::of(kind, volley)
    }

    /// The sort with these words; `None` for others.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|sort| sort.name() == name)
    }

    /// The words for it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Forehand => "forehand",
            Self::Backhand => "backhand",
            Self::ForehandVolley => "forehand volley",
            Self::BackhandVolley => "backhand volley",
            Self::Overhead => "overhead",
            Self::Unknown => "unknown",
        }
    }

    /// One of it, as a player reads it.
    pub const fn spoken(self) -> &'static str {
        match self {
            Self::Overhead => "serve or overhead",
            Self::Unknown => "stroke of unknown kind",
            known => known.name(),
        }
    }

    /// Several of it, in words.
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Forehand => "forehands",
            Self::Backhand => "backhands",
            Self::ForehandVolley => "forehand volleys",
            Self::BackhandVolley => "backhand volleys",
            Self::Overhead => "serves or overheads",
            Self::Unknown => "strokes of unknown kind",
        }
    }

    /// Whether it is hit after the bounce; what could not be told is taken for that.
    pub const fn is_ground_stroke(self) -> bool {
        matches!(self, Self::Forehand | Self::Backhand | Self::Unknown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sort_is_found_by_its_columns() {
        assert_eq!(Sort::named("backhand", true).name(), "backhand volley");
        assert_eq!(Sort::named("overhead", true), Sort::Overhead);
        assert_eq!(Sort::named("lob", false), Sort::Unknown);
        for sort in Sort::ALL {
            assert_eq!(Sort::named(sort.name(), false) == sort, !sort.name().contains("volley"));
        }
    }
}
