//! The player's stature: the number that sets the scale of everything.

use super::prior::bell;
use crate::units::Metres;

/// Stature assumed where none is given.
pub const ASSUMED_STATURE: Metres = Metres(1.75);

/// Spread of an assumed stature over club players, relative (1 standard deviation).
const ASSUMED_SPREAD: f64 = 0.055;

/// Share of children among players, and how tall they are: mean and spread, metres.
const CHILDREN: f64 = 0.12;
const CHILD: (f64, f64) = (1.35, 0.15);

/// Spread of a stated stature, shoes and slouching, relative (1 standard deviation).
const STATED_SPREAD: f64 = 0.012;

/// A stature that the court tells no better than this (relative) is not taken from it.
const MEASURED_SPREAD: f64 = 0.04;

/// The model's body is of the player's stature to this share (1 standard deviation). From rendered players.
pub(super) const MODEL_SCALE: f64 = 0.02;

/// What share of that error's variance stays the same in all clips of one player; the rest changes with camera and stroke. Rendered
/// players that were filmed from several places leave both open; half is in the middle.
const OF_PLAYER: f64 = 0.5;

/// Where a stature comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatureSource {
    /// The user said it.
    Given,
    /// It was measured with the court's lines.
    Lines,
    /// It was measured with points of the court that the user has placed.
    Points,
    /// It was measured with the court in other clips of the player.
    Season,
    /// It is that of many players.
    Assumed,
}

impl StatureSource {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Given, Self::Lines, Self::Points, Self::Season, Self::Assumed];

    /// The word in tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Lines => "court lines",
            Self::Points => "court points",
            Self::Season => "season",
            Self::Assumed => "assumed",
        }
    }
}

/// A player's stature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stature {
    /// The stature.
    pub metres: Metres,
    /// Its relative spread (1 standard deviation).
    pub spread: f64,
    /// Where it comes from.
    pub source: StatureSource,
}

impl Stature {
    /// The one that the user has said.
    pub const fn given(metres: Metres) -> Self {
        Self { metres, spread: STATED_SPREAD, source: StatureSource::Given }
    }

    /// That of many players.
    pub const fn assumed() -> Self {
        Self { metres: ASSUMED_STATURE, spread: ASSUMED_SPREAD, source: StatureSource::Assumed }
    }

    /// The best that is known: what was `known` beforehand, what was `measured` (metres, standard deviation and with what), or what many
    /// players are.
    pub(super) fn of(known: Option<Self>, measured: Option<(f64, f64, StatureSource)>) -> Self {
        let measured = measured.filter(|(metres, spread, _)| *spread < MEASURED_SPREAD * metres);
        let measured = measured.map(|(metres, spread, source)| Self {
            metres: Metres(metres),
            spread: spread / metres,
            source,
        });
        known.or(measured).unwrap_or(Self::assumed())
    }

    /// Whether the clip's own court tells it.
    pub fn is_by_court(&self) -> bool {
        matches!(self.source, StatureSource::Lines | StatureSource::Points)
    }

    /// The stature, unless it is but assumed.
    pub fn told(&self) -> Option<Metres> {
        (self.source != StatureSource::Assumed).then_some(self.metres)
    }

    /// Relative spread of the stature that the model's body shows (1 standard deviation).
    pub(super) fn as_seen(&self) -> f64 {
        self.spread.hypot(MODEL_SCALE)
    }

    /// How likely the body that the model sees is to be so tall, metres, up to a factor: somebody of whom nothing is known may be a
    /// child.
    pub(super) fn chance(&self, metres: f64) -> f64 {
        if self.source != StatureSource::Assumed {
            return bell(metres, self.metres.0, self.metres.0 * self.as_seen());
        }
        Self::humps().map(|hump| chance_in(hump, metres)).iter().sum()
    }

    /// Adults and children: their share, and their stature as the model's body shows it, metres and variance.
    fn humps() -> [(f64, f64, f64); 2] {
        let adult = Self::assumed();
        let spread = adult.metres.0 * adult.as_seen();
        [(1.0 - CHILDREN, adult.metres.0, spread * spread), (CHILDREN, CHILD.0, CHILD.1 * CHILD.1)]
    }

    /// What the court alone has said where it told this stature: metres and variance, without what players usually are and without the
    /// error that all clips of the player share.
    pub fn by_court_alone(&self) -> (f64, f64) {
        let Metres(told) = self.metres;
        let (usual, of_usual) = Self::usual(told);
        let variance = (told * self.spread).powi(2) - (told * MODEL_SCALE).powi(2);
        // Statures that are told less surely are not taken from the court, so the court's share is never nothing.
        let precision = (1.0 / variance.max(f64::MIN_POSITIVE) - 1.0 / of_usual).max(f64::MIN_POSITIVE);
        let alone = (told / variance.max(f64::MIN_POSITIVE) - usual / of_usual) / precision;
        (alone, 1.0 / precision + (1.0 - OF_PLAYER) * (told * MODEL_SCALE).powi(2))
    }

    /// What players of about such a stature usually are, adults or children, as the model's body shows it: metres and variance.
    pub fn usual(near: f64) -> (f64, f64) {
        let [adults, children] = Self::humps();
        let are_children = chance_in(children, near) > chance_in(adults, near);
        let (_, metres, variance) = if are_children { children } else { adults };
        (metres, variance)
    }

    /// The stature that several clips of a player have told together: `metres` with the variance of all but the error that these clips share.
    pub fn of_season(metres: f64, variance: f64) -> Self {
        let shared = OF_PLAYER * MODEL_SCALE.powi(2);
        let spread = (variance / metres.powi(2) + shared).sqrt();
        Self { metres: Metres(metres), spread, source: StatureSource::Season }
    }
}

/// How likely somebody of one of [`Stature::humps`] is to be so tall, metres, up to a factor.
fn chance_in((share, mean, variance): (f64, f64, f64), metres: f64) -> f64 {
    share * bell(metres, mean, variance.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_known_counts_more_than_what_the_court_tells() {
        let lines = Some((1.8, 0.05, StatureSource::Lines));
        assert_eq!(Stature::of(Some(Stature::given(Metres(1.7))), lines).metres, Metres(1.7));
        assert_eq!(Stature::of(None, lines).source, StatureSource::Lines);
        let too_open = Some((1.8, 0.08, StatureSource::Lines));
        assert_eq!(Stature::of(None, too_open), Stature::assumed());
        assert_eq!(Stature::of(Some(Stature::of_season(1.6, 1e-3)), lines).source, StatureSource::Season);
        assert_eq!(
            (Stature::assumed().told(), Stature::given(Metres(1.7)).told()),
            (None, Some(Metres(1.7)))
        );
    }

    /// A stature by the court holds what players usually are; several of them must not hold it several times.
    #[test]
    fn what_the_court_alone_says_is_farther_from_what_players_usually_are() {
        let told = Stature { metres: Metres(1.60), spread: 0.035, source: StatureSource::Lines };
        let (alone, variance) = told.by_court_alone();
        assert!(alone < 1.58 && alone > 1.5, "{alone}");
        // With what players usually are, it is as it was told.
        let (usual, of_usual) = Stature::usual(1.60);
        let court = variance - (1.0 - OF_PLAYER) * (1.60 * MODEL_SCALE).powi(2);
        let together = (alone / court + usual / of_usual) / (1.0 / court + 1.0 / of_usual);
        assert!((together - 1.60).abs() < 1e-9, "{together}");
    }

    #[test]
    fn somebody_of_whom_nothing_is_known_may_be_a_child() {
        let unlikely = |stature: Stature| stature.chance(1.2) / stature.chance(1.75);
        assert!(unlikely(Stature::assumed()) > 0.01, "{}", unlikely(Stature::assumed()));
        assert!(unlikely(Stature::given(Metres(1.75))) < 1e-6);
        let usual = |near| Stature::usual(near).0;
        assert_eq!([usual(1.15), usual(1.62), usual(1.9)], [CHILD.0, ASSUMED_STATURE.0, ASSUMED_STATURE.0]);
        // What the court alone says of a child isn't pushed away from adults.
        let told = Stature { metres: Metres(1.20), spread: 0.03, source: StatureSource::Lines };
        assert!((told.by_court_alone().0 - 1.20).abs() < 0.02, "{:?}", told.by_court_alone());
    }
}
