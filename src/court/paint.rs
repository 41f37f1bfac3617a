//! Where the paint of a court lies (ITF Rules of Tennis, appendix on the court's plan).

/// From a baseline's outer edge to the net, metres.
pub const NET: f64 = 11.885;
/// From the centre line to the outer edge of a sideline of the doubles court, metres.
pub const DOUBLES: f64 = 5.485;
/// From the centre line to the outer edge of a sideline of the singles court, metres.
pub const SINGLES: f64 = 4.115;
/// From the net to the outer edge of a service line, metres.
pub const SERVICE: f64 = 6.40;

/// A painted line of the court, named as somebody sees it who stands at their own baseline and faces the net.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
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
    /// The player's own baseline.
    Baseline,
    /// The service line before the net.
    Service,
    /// The service line beyond the net.
    ServiceFar,
    /// The baseline beyond the net.
    BaselineFar,
}

impl Line {
    /// All lines.
    pub const ALL: [Self; 9] = [
        Self::DoublesLeft,
        Self::DoublesRight,
        Self::SinglesLeft,
        Self::SinglesRight,
        Self::Centre,
        Self::Baseline,
        Self::Service,
        Self::ServiceFar,
        Self::BaselineFar,
    ];

    /// Whether it runs toward the net; the others run across.
    pub fn is_along(self) -> bool {
        (self as usize) < Self::Baseline as usize
    }

    /// Where its outer edge lies, metres: `x` for a line that runs toward the net, `y` for one that runs across. The centre
    /// line's middle.
    pub fn place(self) -> f64 {
        match self {
            Self::DoublesLeft => -DOUBLES,
            Self::DoublesRight => DOUBLES,
            Self::SinglesLeft => -SINGLES,
            Self::SinglesRight => SINGLES,
            Self::Centre | Self::Baseline => 0.0,
            Self::Service => NET - SERVICE,
            Self::ServiceFar => NET + SERVICE,
            Self::BaselineFar => 2.0 * NET,
        }
    }

    /// On which side of its place the paint lies: 1 toward larger values, −1 toward smaller ones, 0 on both.
    pub fn paint_side(self) -> f64 {
        match self {
            Self::DoublesLeft | Self::SinglesLeft | Self::Baseline | Self::Service => 1.0,
            Self::DoublesRight | Self::SinglesRight | Self::ServiceFar | Self::BaselineFar => -1.0,
            Self::Centre => 0.0,
        }
    }

    /// From where to where it runs, metres: `y` for a line that runs toward the net, `x` for one that runs across.
    pub fn extent(self) -> (f64, f64) {
        match self {
            Self::DoublesLeft | Self::DoublesRight | Self::SinglesLeft | Self::SinglesRight => {
                (0.0, 2.0 * NET)
            }
            Self::Centre => (NET - SERVICE, NET + SERVICE),
            Self::Baseline | Self::BaselineFar => (-DOUBLES, DOUBLES),
            Self::Service | Self::ServiceFar => (-SINGLES, SINGLES),
        }
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
            Self::Baseline => "baseline",
            Self::Service => "service line",
            Self::ServiceFar => "far service line",
            Self::BaselineFar => "far baseline",
        }
    }
}

/// A point of the court where two lines meet, of which a person can tell the pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Corner {
    /// The line that runs toward the net.
    pub along: Line,
    /// The line that runs across.
    pub across: Line,
}

impl Corner {
    /// The crossing of two lines; `None` where they don't meet.
    pub fn new(along: Line, across: Line) -> Option<Self> {
        let meets = |line: Line, at: f64| line.extent().0 <= at && at <= line.extent().1;
        (along.is_along()
            && !across.is_along()
            && meets(along, across.place())
            && meets(across, along.place()))
        .then_some(Self { along, across })
    }

    /// Where the outer edges meet, (x, y) metres on the ground.
    pub fn place(self) -> (f64, f64) {
        (self.along.place(), self.across.place())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_meet_where_the_plan_says() {
        let corners = |across| Line::ALL.iter().filter(|line| Corner::new(**line, across).is_some()).count();
        assert_eq!(
            [Line::Baseline, Line::Service, Line::ServiceFar, Line::BaselineFar].map(corners),
            [4, 3, 3, 4]
        );
        let corner = Corner::new(Line::SinglesLeft, Line::Service).unwrap();
        assert_eq!(corner.place(), (-4.115, NET - 6.40));
        assert_eq!(Corner::new(Line::Centre, Line::Baseline), None);
    }
}
