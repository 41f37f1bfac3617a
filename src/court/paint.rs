//! Where the paint of a court lies (ITF Rules of Tennis, appendix on the court's plan).

use serde::{Deserialize, Serialize};

/// From a baseline's outer edge to the net, metres.
pub const NET: f64 = 11.885;
/// From the centre line to the outer edge of a sideline of the doubles court, metres.
pub const DOUBLES: f64 = 5.485;
/// From the centre line to the outer edge of a sideline of the singles court, metres.
pub const SINGLES: f64 = 4.115;
/// From the net to the outer edge of a service line, metres.
pub const SERVICE: f64 = 6.40;

/// From the centre line to the net posts of a doubles court, metres.
pub const POST: f64 = 6.40;
/// Height of the net's band: 0.914 m in the middle, 1.07 m at the posts; its mean, metres.
pub const NET_HEIGHT: f64 = 0.97;
/// Height of the middle of the white band along the net's top, in the middle of the net and at its posts, metres: the band is 5 to 6.35 cm
/// wide and hangs down from the top.
pub(super) const TAPE_HEIGHT: (f64, f64) = (0.914 - 0.03, 1.07 - 0.03);
/// Narrowest and widest band along the net's top, metres.
pub(super) const TAPE: (f64, f64) = (0.05, 0.064);
/// Length of the mark in the middle of a baseline, from its outer edge, metres.
pub const MARK: f64 = 0.18;

/// A painted line of the court, named as somebody sees it who stands at their own baseline and faces the net.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Line {
    /// Left sideline of the doubles court.
    DoublesLeft,
    /// Right sideline of the doubles court.
    DoublesRight,
    /// Left sideline of the singles court.
    SinglesLeft,
    /// Right sideline of the singles court.
    SinglesRight,
    /// The line between the service boxes.
    Centre,
    /// The short mark in the middle of the player's own baseline.
    Mark,
    /// The player's own baseline.
    Baseline,
    /// The service line before the net.
    Service,
    /// The service line beyond the net.
    ServiceFar,
    /// The baseline beyond the net.
    BaselineFar,
    /// The white band along the top of the net: no line on the ground.
    Net,
}

impl Line {
    /// All lines.
    pub const ALL: [Self; 11] = [
        Self::DoublesLeft,
        Self::DoublesRight,
        Self::SinglesLeft,
        Self::SinglesRight,
        Self::Centre,
        Self::Mark,
        Self::Baseline,
        Self::Service,
        Self::ServiceFar,
        Self::BaselineFar,
        Self::Net,
    ];

    /// Whether it runs toward the net; the others run across.
    pub fn is_along(self) -> bool {
        (self as usize) < Self::Baseline as usize
    }

    /// The lines that are painted on the ground: all but the net.
    pub fn painted() -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().filter(|line| *line != Self::Net)
    }

    /// Whether it is a baseline, which may be painted wider than the others.
    pub fn is_base(self) -> bool {
        matches!(self, Self::Baseline | Self::BaselineFar)
    }

    /// Where its outer edge lies, metres: `x` for a line that runs toward the net, `y` for one that runs across. Of the
    /// centre line and the mark the middle.
    pub fn place(self) -> f64 {
        match self {
            Self::DoublesLeft => -DOUBLES,
            Self::DoublesRight => DOUBLES,
            Self::SinglesLeft => -SINGLES,
            Self::SinglesRight => SINGLES,
            Self::Centre | Self::Mark | Self::Baseline => 0.0,
            Self::Service => NET - SERVICE,
            Self::ServiceFar => NET + SERVICE,
            Self::BaselineFar => 2.0 * NET,
            Self::Net => NET,
        }
    }

    /// On which side of its place the paint lies: 1 toward larger values, −1 toward smaller ones, 0 on both.
    pub fn paint_side(self) -> f64 {
        match self {
            Self::DoublesLeft | Self::SinglesLeft | Self::Baseline | Self::Service => 1.0,
            Self::DoublesRight | Self::SinglesRight | Self::ServiceFar | Self::BaselineFar => -1.0,
            Self::Centre | Self::Mark | Self::Net => 0.0,
        }
    }

    /// From where to where it runs, metres: `y` for a line that runs toward the net, `x` for one that runs across.
    pub fn extent(self) -> (f64, f64) {
        match self {
            Self::DoublesLeft | Self::DoublesRight | Self::SinglesLeft | Self::SinglesRight => {
                (0.0, 2.0 * NET)
            }
            Self::Centre => (NET - SERVICE, NET + SERVICE),
            Self::Mark => (0.0, MARK),
            Self::Baseline | Self::BaselineFar => (-DOUBLES, DOUBLES),
            Self::Service | Self::ServiceFar => (-SINGLES, SINGLES),
            Self::Net => (-POST, POST),
        }
    }

    /// How high it lies over the ground, metres.
    pub fn height(self) -> f64 {
        if self == Self::Net { NET_HEIGHT } else { 0.0 }
    }

    /// Two ends of the line's outer edge on the ground, (x, y) metres.
    pub fn ends(self) -> [(f64, f64); 2] {
        let (place, (from, to)) = (self.place(), self.extent());
        if self.is_along() { [(place, from), (place, to)] } else { [(from, place), (to, place)] }
    }

    /// What a person calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::DoublesLeft => "left doubles line",
            Self::DoublesRight => "right doubles line",
            Self::SinglesLeft => "left singles line",
            Self::SinglesRight => "right singles line",
            Self::Centre => "centre line",
            Self::Mark => "centre mark",
            Self::Baseline => "baseline",
            Self::Service => "service line",
            Self::ServiceFar => "far service line",
            Self::BaselineFar => "far baseline",
            Self::Net => "net",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_lie_where_the_plan_says() {
        let [left, right] = Line::Service.ends();
        assert!((left.1 - 5.485).abs() < 1e-9 && (left.0, right.0) == (-4.115, 4.115));
        let [near, far] = Line::Centre.ends();
        assert!(near.1 == NET - SERVICE && (far.1 - near.1 - 12.80).abs() < 1e-9);
        assert_eq!(Line::BaselineFar.place(), 23.77);
    }
}
