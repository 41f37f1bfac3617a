//! The one list of measures: headers, dictionary, explanations and chart labels all come from here.

use Formula::{Of, Shared};

use super::readings::Readings;
use super::{Missing, contact, lag, posture, ready, rotation, serve, swing, takeback, tempo, weight};
use crate::scene::View;
use crate::stroke::{Boundary, Sort, Stroke};

/// Unit of a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Centimetres.
    Centimetre,
    /// Degrees of arc.
    Degree,
    /// Milliseconds.
    Millisecond,
    /// Metres per second.
    MetrePerSecond,
    /// A plain number.
    One,
}

impl Unit {
    /// The sign written beside a value.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Centimetre => "cm",
            Self::Degree => "°",
            Self::Millisecond => "ms",
            Self::MetrePerSecond => "m/s",
            Self::One => "",
        }
    }

    /// The sign with the space that belongs before it.
    pub const fn suffix(self) -> &'static str {
        match self {
            Self::Centimetre => " cm",
            Self::Degree => "°",
            Self::Millisecond => " ms",
            Self::MetrePerSecond => " m/s",
            Self::One => "",
        }
    }

    /// UCUM code (Unified Code for Units of Measure 2.2).
    pub const fn ucum(self) -> &'static str {
        match self {
            Self::Centimetre => "cm",
            Self::Degree => "deg",
            Self::Millisecond => "ms",
            Self::MetrePerSecond => "m/s",
            Self::One => "1",
        }
    }
}

/// The part of the stroke that a measure speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Family {
    /// The ready pose.
    Ready,
    /// Preparation and backswing.
    Takeback,
    /// The racket or hand trailing the forearm.
    Lag,
    /// Where and how the ball is met.
    Contact,
    /// Feet, base and balance.
    Weight,
    /// Turn of shoulders and hips.
    Rotation,
    /// Lengths of phases and speed.
    Tempo,
}

impl Family {
    /// The heading under which its measures are listed.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Ready => "Ready",
            Self::Takeback => "Takeback",
            Self::Lag => "Lag",
            Self::Contact => "Contact",
            Self::Weight => "Weight and base",
            Self::Rotation => "Rotation",
            Self::Tempo => "Timing",
        }
    }
}

/// One entry of the catalogue.
#[derive(Debug)]
pub struct Measure {
    /// Unique name, snake case, unit as suffix; the column's name.
    pub id: &'static str,
    /// A few words for charts and tables.
    pub title: &'static str,
    /// The part of the stroke.
    pub family: Family,
    /// Unit of its values.
    pub unit: Unit,
    /// Digits after the point in tables.
    pub decimals: usize,
    /// What it is, exactly.
    pub definition: &'static str,
    /// What its sign or size means.
    pub sign: &'static str,
    /// Views from which a good or fair grade can be given; from others, which show it only by the model's guess at depth, a
    /// value is never better than low.
    pub views: &'static [View],
    /// Where the definition comes from.
    pub source: &'static str,
    /// Largest ± (95 %) for the grades good and fair, in the measure's unit.
    pub grades: (f64, f64),
    /// What the draws of errors leave out, in the measure's unit (1 standard deviation): how the landmarks of a turned shoulder, foot or
    /// hip err with the pose, ways along the lens, the flat top of a turn's speed. From rendered and recorded players.
    pub undrawn: f64,
    /// The kinds of strokes that have it.
    pub kinds: &'static [Sort],
    /// Boundaries besides contact at which it is read or at which its span begins or ends, where it hangs on how they were found.
    pub hangs_on: &'static [Boundary],
    /// Whether its value is the middle of what the draws give instead of what the likeliest reading does: which way the racket points, and
    /// when or how far something is fastest or bent most, are choices that noise can turn, and the middle of many such choices is
    /// steadier than one (Breiman 1996, Mach Learn 24:123).
    pub middle_of_draws: bool,
    /// The formula.
    pub compute: Formula,
}

/// How a measure is computed; values in its unit.
#[derive(Debug, Clone, Copy)]
pub enum Formula {
    /// From the stroke alone.
    Of(fn(&Stroke) -> Result<f64, Missing>),
    /// From what several measures read of it.
    Shared(fn(&Readings<'_>) -> Result<f64, Missing>),
}

impl Formula {
    /// The value, or why there is none.
    ///
    /// # Errors
    /// The reason.
    pub fn compute(self, readings: &Readings<'_>) -> Result<f64, Missing> {
        match self {
            Of(formula) => formula(readings.stroke),
            Shared(formula) => formula(readings),
        }
    }
}

impl Measure {
    /// The entry with this id.
    pub fn find(id: &str) -> Option<&'static Measure> {
        CATALOGUE.iter().find(|m| m.id == id)
    }

    /// The place of this id in the catalogue, and so among a stroke's outcomes.
    pub fn place(id: &str) -> Option<usize> {
        CATALOGUE.iter().position(|m| m.id == id)
    }

    /// Its value on a stroke, or why there is none.
    ///
    /// # Errors
    /// The reason; [`Missing::NotForThisKind`] where strokes of this kind have no such thing.
    pub fn of(&self, stroke: &Stroke) -> Result<f64, Missing> {
        self.read(&Readings::of(stroke))
    }

    /// The same, beside other measures of the stroke.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn read(&self, readings: &Readings<'_>) -> Result<f64, Missing> {
        if self.kinds.contains(&readings.stroke.sort()) {
            self.compute.compute(readings)
        } else {
            Err(Missing::NotForThisKind)
        }
    }

    /// Whether it hangs on how a boundary was found.
    pub fn hangs_on(&self, boundary: Boundary) -> bool {
        self.hangs_on.contains(&boundary)
    }

    /// Whether the value is a length, which is also given in body heights.
    pub fn is_length(&self) -> bool {
        self.unit == Unit::Centimetre
    }

    /// A ± as text with the measure's digits, but never as nothing.
    pub fn format_plus_minus(&self, plus_minus: f64) -> String {
        self.format(plus_minus.max(10_f64.powi(-(self.decimals as i32))))
    }

    /// A value as text with the measure's digits.
    pub fn format(&self, value: f64) -> String {
        let text = format!("{value:.*}", self.decimals);
        // "-0.0" reads like a finding.
        if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    }
}

use Boundary::{ForwardStart, PrepStart};
use View::{Back, Diagonal, Front, Side};

/// Strokes after the bounce; one whose kind could not be told is taken for that.
const GROUND: &[Sort] = &[Sort::Forehand, Sort::Backhand, Sort::Unknown];
const FOREHAND: &[Sort] = &[Sort::Forehand];
const OVERHEAD: &[Sort] = &[Sort::Overhead];
const ALL: &[Sort] = &Sort::ALL;
const NO_VOLLEY: &[Sort] = &[Sort::Forehand, Sort::Backhand, Sort::Overhead, Sort::Unknown];
const NO_OVERHEAD: &[Sort] =
    &[Sort::Forehand, Sort::Backhand, Sort::ForehandVolley, Sort::BackhandVolley, Sort::Unknown];

const OWN: &str = "toeline's definition";
const CONVENTION: &str = "coaching convention; toeline's definition";

/// Every measure, in the order of a stroke.
pub static CATALOGUE: &[Measure] = &[
    Measure {
        id: "ready_tip_above_eyes_cm",
        title: "racket tip above the eyes when ready",
        family: Family::Ready,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Height of the racket's tip minus the height of the eyes, mean over the 0.25 s before the preparation starts.",
        sign: "+ = tip above the eyes",
        views: &[Side, Back, Front, Diagonal],
        source: CONVENTION,
        grades: (6.0, 15.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(ready::tip_above_eyes),
    },
    Measure {
        id: "hand_behind_shoulder_cm",
        title: "hand behind the shoulder",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Largest distance along the direction to the net by which the hitting hand (wrist) is farther from the net than the rear shoulder (the one farther from the net at the end of the takeback), from the start of the preparation to the start of the forward swing.",
        sign: "+ = hand behind the shoulder",
        views: &[Side],
        source: CONVENTION,
        grades: (8.0, 16.0),
        undrawn: 2.7,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(takeback::hand_behind_shoulder),
    },
    Measure {
        id: "hand_behind_chest_plane_cm",
        title: "hand behind the chest's plane",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Largest distance in the same span of the hitting hand behind the upright plane through both shoulders, whose normal is the chest's forward direction.",
        sign: "+ = hand behind the back, − = in front of the chest",
        views: &[],
        source: OWN,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(takeback::hand_behind_chest_plane),
    },
    Measure {
        id: "hand_above_shoulder_cm",
        title: "hand above the shoulder at the top of the loop",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Height of the hitting hand minus the height of the rear shoulder (the one farther from the net at the end of the takeback) at the start of the drop.",
        sign: "+ = hand above the shoulder",
        views: &[Side, Back, Front],
        source: CONVENTION,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(takeback::hand_above_shoulder),
    },
    Measure {
        id: "elbow_at_backswing_end_deg",
        title: "elbow angle at the end of the takeback",
        family: Family::Takeback,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Inner angle of the hitting elbow between upper arm and forearm at the end of the takeback.",
        sign: "180 = straight arm",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(takeback::elbow_at_backswing_end),
    },
    Measure {
        id: "elbow_off_ribs_deg",
        title: "elbow away from the body in the drop",
        family: Family::Takeback,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Smallest angle between the hitting upper arm and the trunk during the drop.",
        sign: "small = elbow tucked in",
        views: &[Back, Front],
        source: CONVENTION,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: FOREHAND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(takeback::elbow_off_ribs),
    },
    Measure {
        id: "hand_to_body_in_drop_cm",
        title: "hand to body in the drop",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Smallest distance across (at right angles to the direction of the net) between the hitting hand and the hitting hip during the drop.",
        sign: "small = close to the body, ready to swing from the inside",
        views: &[Back, Front],
        source: CONVENTION,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: FOREHAND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(takeback::hand_to_body_in_drop),
    },
    Measure {
        id: "backswing_path_cm",
        title: "length of the hand's path in the takeback",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "Length of the hitting hand's path from the start of the preparation to the end of the takeback.",
        sign: "long = big takeback",
        views: &[Side],
        source: OWN,
        grades: (20.0, 40.0),
        undrawn: 7.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(takeback::backswing_path),
    },
    Measure {
        id: "backswing_travel_cm",
        title: "travel of the hand in the takeback",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Position of the hitting hand along the direction to the net at the start of the preparation minus its position farthest from the net before the forward swing.",
        sign: "+ = hand moved away from the net",
        views: &[Side],
        source: OWN,
        grades: (10.0, 20.0),
        undrawn: 1.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(takeback::backswing_travel),
    },
    Measure {
        id: "tip_direction_in_drop_deg",
        title: "where the racket points in the drop",
        family: Family::Takeback,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Where the racket (butt to tip) points seen from above at the low point of the hitting hand.",
        sign: "0 = straight away from the net, 90 = to the hitting side, 180 = to the net; missing where the racket stands upright",
        views: &[Side, Back, Front, Diagonal],
        source: CONVENTION,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: FOREHAND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(swing::tip_direction_in_drop),
    },
    Measure {
        id: "tip_across_back_cm",
        title: "racket tip across the back",
        family: Family::Takeback,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "How far the racket's tip gets to the off-hand side of the rear shoulder (in backhands to the hitting-hand side) while it is farther from the net than that shoulder, largest from the start of the preparation to the start of the forward swing.",
        sign: "+ = behind the back, − = beside the body",
        views: &[Back, Front],
        source: CONVENTION,
        grades: (10.0, 20.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: true,
        compute: Of(swing::tip_across_back),
    },
    Measure {
        id: "toss_arm_up_ms",
        title: "toss arm up before contact",
        family: Family::Takeback,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "How long before contact the tossing hand falls below its shoulder after its highest point in the 1.6 s before contact.",
        sign: "0 = still up at contact",
        views: &[Side, Back, Front, Diagonal],
        source: CONVENTION,
        grades: (60.0, 120.0),
        undrawn: 0.0,
        kinds: OVERHEAD,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(serve::toss_arm_up),
    },
    Measure {
        id: "elbow_in_drop_deg",
        title: "elbow angle in the racket's drop",
        family: Family::Takeback,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Inner angle of the hitting elbow where the hitting hand is lowest behind its shoulder on the way from its highest point to the ball.",
        sign: "180 = straight arm",
        views: &[Side],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: OVERHEAD,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(serve::elbow_in_drop),
    },
    Measure {
        id: "lag_peak_deg",
        title: "largest lag",
        family: Family::Lag,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Largest angle between forearm (elbow to wrist) and racket (butt to tip) in the 0.35 s before contact; of strokes with one hand.",
        sign: "0 = in line, 90 = square, over 90 = racket trails back; larger is not better",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::lag_peak),
    },
    Measure {
        id: "lag_peak_before_contact_ms",
        title: "largest lag before contact",
        family: Family::Lag,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the largest lag to contact.",
        sign: "+ = before contact",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (30.0, 60.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::lag_peak_before_contact),
    },
    Measure {
        id: "lag_onset_before_contact_ms",
        title: "onset of the lag before contact",
        family: Family::Lag,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the last moment before the largest lag at which the lag is under its base plus 10 % of its rise, to contact; the base is its least value in the 0.45 s before contact up to the peak. Read from a level base and a straight rise laid through the angle.",
        sign: "small = the racket flips late",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (30.0, 60.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::lag_onset_before_contact),
    },
    Measure {
        id: "lag_at_contact_deg",
        title: "lag at contact",
        family: Family::Lag,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Angle between forearm and racket at contact.",
        sign: "0 = in line",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(lag::lag_at_contact),
    },
    Measure {
        id: "hand_angle_peak_deg",
        title: "largest bend of the wrist",
        family: Family::Lag,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Largest angle between forearm (elbow to wrist) and hand (wrist to knuckles) in the 0.35 s before contact; from the body alone, so it is not the racket's lag.",
        sign: "0 = in line",
        views: &[],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::hand_angle_peak),
    },
    Measure {
        id: "hand_angle_peak_before_contact_ms",
        title: "largest bend of the wrist before contact",
        family: Family::Lag,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the largest bend of the wrist to contact.",
        sign: "+ = before contact",
        views: &[],
        source: OWN,
        grades: (30.0, 60.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::hand_angle_peak_before_contact),
    },
    Measure {
        id: "hand_angle_onset_before_contact_ms",
        title: "onset of the wrist's bend before contact",
        family: Family::Lag,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the last moment before the largest bend at which the bend is under its base plus 10 % of its rise, to contact; the base is its least value in the 0.45 s before contact up to the peak.",
        sign: "small = late",
        views: &[],
        source: OWN,
        grades: (30.0, 60.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Shared(lag::hand_angle_onset_before_contact),
    },
    Measure {
        id: "hand_angle_at_contact_deg",
        title: "bend of the wrist at contact",
        family: Family::Lag,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Angle between forearm and hand (wrist to knuckles) at contact; from the body alone.",
        sign: "0 = in line",
        views: &[],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(lag::hand_angle_at_contact),
    },
    Measure {
        id: "contact_ahead_of_front_toe_cm",
        title: "contact ahead of the front toe",
        family: Family::Contact,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Along the direction to the net, the point of contact (ball, else middle of the strings) minus the tip of the toe nearest the net.",
        sign: "+ = in front of the toe",
        views: &[Side],
        source: CONVENTION,
        grades: (10.0, 20.0),
        undrawn: 2.2,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::ahead_of_front_toe),
    },
    Measure {
        id: "hand_ahead_of_front_toe_cm",
        title: "hand ahead of the front toe at contact",
        family: Family::Contact,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Along the direction to the net, the hitting hand minus the tip of the toe nearest the net, at contact.",
        sign: "+ = in front of the toe",
        views: &[Side],
        source: CONVENTION,
        grades: (8.0, 16.0),
        undrawn: 1.7,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::hand_ahead_of_front_toe),
    },
    Measure {
        id: "contact_height_cm",
        title: "height of contact",
        family: Family::Contact,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "Height of the point of contact over the ground.",
        sign: "over the ground",
        views: &[Side, Back, Front],
        source: OWN,
        grades: (10.0, 20.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::height),
    },
    Measure {
        id: "contact_over_stature",
        title: "height of contact by stature",
        family: Family::Contact,
        unit: Unit::One,
        decimals: 2,
        definition: "Height of the point of contact over the ground as a share of the player's stature.",
        sign: "1 = as high as the player is tall",
        views: &[Side, Back, Front],
        source: OWN,
        grades: (0.06, 0.12),
        undrawn: 0.0,
        kinds: OVERHEAD,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::over_stature),
    },
    Measure {
        id: "contact_level",
        title: "level of contact",
        family: Family::Contact,
        unit: Unit::One,
        decimals: 2,
        definition: "Height of the point of contact against the player: 0 at the knee, 1 at the hip, 2 at the chest (0.72 of the way from hip to shoulder), linear between.",
        sign: "0 = knee, 1 = hip, 2 = chest",
        views: &[Side, Back, Front],
        source: CONVENTION,
        grades: (0.25, 0.5),
        undrawn: 0.02,
        kinds: NO_OVERHEAD,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::level),
    },
    Measure {
        id: "contact_elbow_deg",
        title: "elbow angle at contact",
        family: Family::Contact,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Inner angle of the hitting elbow at contact.",
        sign: "180 = straight arm",
        views: &[Side, Diagonal],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::elbow),
    },
    Measure {
        id: "contact_reach_cm",
        title: "reach at contact",
        family: Family::Contact,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "Distance across (at right angles to the direction of the net) from the middle of the hips to the point of contact, on the side on which the ball is met.",
        sign: "large = far from the body",
        views: &[Back, Front],
        source: OWN,
        grades: (10.0, 20.0),
        undrawn: 0.0,
        kinds: NO_OVERHEAD,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::reach),
    },
    Measure {
        id: "swing_slope_deg",
        title: "slope of the swing at contact",
        family: Family::Contact,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Direction of the path of the strings' middle in the upright plane along the direction to the net, mean over the 30 ms before contact.",
        sign: "+ = upward",
        views: &[Side],
        source: "toeline's definition; upward path 19° ± 4° in 13 college men: Kwon et al. 2017, J Sports Sci Med 16:505",
        grades: (6.0, 12.0),
        undrawn: 1.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(swing::slope),
    },
    Measure {
        id: "stance_width_cm",
        title: "stance width at contact",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "Horizontal distance between the ankles at contact.",
        sign: "large = wide base",
        views: &[Side, Back, Front],
        source: OWN,
        grades: (10.0, 20.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(weight::stance_width),
    },
    Measure {
        id: "step_length_cm",
        title: "step of the front foot",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 0,
        definition: "Position of the front toe along the direction to the net at contact minus its position at the start of the preparation; the front foot is the one whose toe is nearest the net at contact.",
        sign: "+ = stepped toward the net",
        views: &[Side],
        source: OWN,
        grades: (10.0, 20.0),
        undrawn: 1.4,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(weight::step_length),
    },
    Measure {
        id: "pelvis_over_base_at_contact",
        title: "hips over the feet at contact",
        family: Family::Weight,
        unit: Unit::One,
        decimals: 2,
        definition: "Middle of the hips projected onto the horizontal line from the back ankle to the front ankle, as a share of its length, at contact; the front foot is the one whose toe is nearest the net at contact.",
        sign: "0 = over the back ankle, 1 (100 %) = over the front ankle; posture, not force",
        views: &[Side],
        source: OWN,
        grades: (0.18, 0.36),
        undrawn: 0.0,
        kinds: NO_VOLLEY,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(weight::pelvis_over_base_at_contact),
    },
    Measure {
        id: "pelvis_over_base_at_finish",
        title: "hips over the feet at the finish",
        family: Family::Weight,
        unit: Unit::One,
        decimals: 2,
        definition: "Middle of the hips projected onto the horizontal line from the back ankle to the front ankle, as a share of its length, at the end of the finish.",
        sign: "0 = over the back ankle, 1 (100 %) = over the front ankle; posture, not force",
        views: &[Side],
        source: OWN,
        grades: (0.18, 0.36),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(weight::pelvis_over_base_at_finish),
    },
    Measure {
        id: "mass_over_base_at_finish",
        title: "centre of mass over the feet at the finish",
        family: Family::Weight,
        unit: Unit::One,
        decimals: 2,
        definition: "Centre of mass of a segment model projected onto the horizontal line from the back ankle to the front ankle, as a share of its length, at the end of the finish.",
        sign: "0 = over the back ankle, 1 (100 %) = over the front ankle",
        views: &[Side],
        source: "segment masses: de Leva 1996, J Biomech 29:1223",
        grades: (0.18, 0.36),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(weight::mass_over_base_at_finish),
    },
    Measure {
        id: "pelvis_advance_cm",
        title: "hips' forward travel",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Movement of the middle of the hips along the direction to the net from the start of the forward swing to the end of the finish.",
        sign: "+ = toward the net",
        views: &[Side],
        source: OWN,
        grades: (8.0, 16.0),
        undrawn: 0.6,
        kinds: GROUND,
        hangs_on: &[ForwardStart],
        middle_of_draws: false,
        compute: Of(weight::pelvis_advance),
    },
    Measure {
        id: "back_heel_lift_cm",
        title: "lift of the back heel",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Highest rise of the back heel over its flat height from contact to the start of the recovery, while the ball of that foot stays on the ground; a foot that steps has none. The back foot is the one whose toe is farther from the net at contact.",
        sign: "+ = heel off the ground",
        views: &[Side, Diagonal],
        source: CONVENTION,
        grades: (6.0, 12.0),
        undrawn: 1.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(weight::back_heel_lift),
    },
    Measure {
        id: "trunk_lean_at_contact_deg",
        title: "trunk lean at contact",
        family: Family::Weight,
        unit: Unit::Degree,
        decimals: 1,
        definition: "Angle of the line from the middle of the hips to the middle of the shoulders against the vertical, in the upright plane toward the net, at contact.",
        sign: "+ = toward the net",
        views: &[Side],
        source: OWN,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(posture::trunk_lean_at_contact),
    },
    Measure {
        id: "trunk_lean_at_finish_deg",
        title: "trunk lean at the finish",
        family: Family::Weight,
        unit: Unit::Degree,
        decimals: 1,
        definition: "Angle of the line from the middle of the hips to the middle of the shoulders against the vertical, in the upright plane toward the net, at the end of the finish.",
        sign: "+ = toward the net",
        views: &[Side],
        source: OWN,
        grades: (8.0, 16.0),
        undrawn: 2.7,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(posture::trunk_lean_at_finish),
    },
    Measure {
        id: "trunk_side_lean_at_contact_deg",
        title: "sideways lean of the trunk at contact",
        family: Family::Weight,
        unit: Unit::Degree,
        decimals: 1,
        definition: "Angle of the line from the middle of the hips to the middle of the shoulders against the vertical, in the upright plane across the direction to the net, at contact.",
        sign: "+ = toward the hitting side",
        views: &[Back, Front],
        source: OWN,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(posture::trunk_side_lean_at_contact),
    },
    Measure {
        id: "knee_bend_deg",
        title: "knee bend",
        family: Family::Weight,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Largest mean flexion of both knees from the start of the preparation (where that was not seen, 1.0 s before contact) to the start of the forward swing; in overheads and volleys in the second before contact.",
        sign: "0 = straight legs",
        views: &[Side, Diagonal],
        source: CONVENTION,
        grades: (10.0, 20.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[PrepStart],
        middle_of_draws: true,
        compute: Of(posture::knee_bend),
    },
    Measure {
        id: "head_shift_cm",
        title: "shift of the head in the forward swing",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Horizontal way of the nose from the start of the forward swing to contact, less the way of the middle of the hips. Of what lies along the lens only as much counts as its depth is known.",
        sign: "small = quiet head",
        views: &[Side, Back],
        source: CONVENTION,
        grades: (4.0, 8.0),
        undrawn: 2.5,
        kinds: GROUND,
        hangs_on: &[ForwardStart],
        middle_of_draws: false,
        compute: Of(posture::head_shift),
    },
    Measure {
        id: "finish_hand_above_shoulder_cm",
        title: "hand above the off shoulder in the finish",
        family: Family::Weight,
        unit: Unit::Centimetre,
        decimals: 1,
        definition: "Height of the hitting hand minus the height of the off shoulder, largest from contact to the end of the finish.",
        sign: "+ = hand finishes above the shoulder",
        views: &[Side, Back, Front, Diagonal],
        source: CONVENTION,
        grades: (8.0, 16.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(swing::finish_hand_above_shoulder),
    },
    Measure {
        id: "off_arm_hold_ms",
        title: "how long the off arm stays out",
        family: Family::Rotation,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "How long the off arm stays held out after its hand leaves the racket: from the wrists parting from their ready distance until the off arm bends (wrist nearer to its shoulder than 0.70 of the arm's length) or drops 0.30 m below the shoulder.",
        sign: "long = arm held across",
        views: &[Side, Diagonal, Front],
        source: CONVENTION,
        grades: (120.0, 240.0),
        undrawn: 100.0,
        kinds: FOREHAND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(rotation::off_arm_hold),
    },
    Measure {
        id: "shoulder_turn_deg",
        title: "shoulder turn",
        family: Family::Rotation,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Largest turn of the shoulder line about the vertical away from facing the net, from the start of the preparation (in overheads 1.0 s before contact) to contact.",
        sign: "90 = side-on",
        views: &[],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: NO_VOLLEY,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Shared(rotation::shoulder_turn),
    },
    Measure {
        id: "hip_turn_deg",
        title: "hip turn",
        family: Family::Rotation,
        unit: Unit::Degree,
        decimals: 0,
        definition: "The same for the line through the hips.",
        sign: "90 = side-on",
        views: &[],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: NO_VOLLEY,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Shared(rotation::hip_turn),
    },
    Measure {
        id: "separation_deg",
        title: "separation of shoulders and hips",
        family: Family::Rotation,
        unit: Unit::Degree,
        decimals: 0,
        definition: "Largest difference of shoulder turn minus hip turn from the start of the preparation to contact.",
        sign: "+ = shoulders turned farther than the hips",
        views: &[],
        source: OWN,
        grades: (15.0, 30.0),
        undrawn: 0.0,
        kinds: NO_VOLLEY,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Shared(rotation::separation),
    },
    Measure {
        id: "hips_before_contact_ms",
        title: "fastest turn of the hips before contact",
        family: Family::Rotation,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "How long before contact the line through the hips turns toward the net and on fastest, in the 0.5 s before contact to 0.05 s after it.",
        sign: "+ = before contact; hips usually before shoulders",
        views: &[Side, Back],
        source: "toeline's definition; order of the turn: Landlinger et al. 2010, J Sports Sci Med 9:643",
        grades: (25.0, 50.0),
        undrawn: 35.0,
        kinds: NO_VOLLEY,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(rotation::hips_before_contact),
    },
    Measure {
        id: "shoulders_before_contact_ms",
        title: "fastest turn of the shoulders before contact",
        family: Family::Rotation,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "The same for the line through the shoulders.",
        sign: "+ = before contact",
        views: &[Side, Back],
        source: "toeline's definition; order of the turn: Landlinger et al. 2010, J Sports Sci Med 9:643",
        grades: (25.0, 50.0),
        undrawn: 35.0,
        kinds: NO_VOLLEY,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(rotation::shoulders_before_contact),
    },
    Measure {
        id: "preparation_ms",
        title: "length of the preparation",
        family: Family::Tempo,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the start of the preparation to the start of the drop, or to the start of the forward swing when there is no drop.",
        sign: "long = early or slow preparation",
        views: &[Side, Back, Front, Diagonal],
        source: OWN,
        grades: (120.0, 240.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[PrepStart],
        middle_of_draws: false,
        compute: Of(tempo::preparation),
    },
    Measure {
        id: "drop_ms",
        title: "length of the drop",
        family: Family::Tempo,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the start of the drop to the start of the forward swing.",
        sign: "long = slow drop or a pause at the top",
        views: &[Side, Back, Front, Diagonal],
        source: OWN,
        grades: (120.0, 240.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[ForwardStart],
        middle_of_draws: false,
        compute: Of(tempo::drop),
    },
    Measure {
        id: "forward_swing_ms",
        title: "length of the forward swing",
        family: Family::Tempo,
        unit: Unit::Millisecond,
        decimals: 0,
        definition: "Time from the start of the forward swing to contact.",
        sign: "short = fast forward swing",
        views: &[Side, Back, Front, Diagonal],
        source: OWN,
        grades: (60.0, 120.0),
        undrawn: 0.0,
        kinds: GROUND,
        hangs_on: &[ForwardStart],
        middle_of_draws: false,
        compute: Of(tempo::forward_swing),
    },
    Measure {
        id: "hand_speed_peak_mps",
        title: "peak speed of the hand",
        family: Family::Tempo,
        unit: Unit::MetrePerSecond,
        decimals: 1,
        definition: "Largest speed of the hitting hand (wrist) from the start of the forward swing (in overheads from 0.35 s before contact) to contact.",
        sign: "indicative below 60 pictures a second",
        views: &[Side],
        source: OWN,
        grades: (0.8, 1.6),
        undrawn: 0.0,
        kinds: NO_VOLLEY,
        hangs_on: &[],
        middle_of_draws: true,
        compute: Of(tempo::hand_speed_peak),
    },
    Measure {
        id: "tip_speed_at_contact_mps",
        title: "speed of the racket's tip at contact",
        family: Family::Tempo,
        unit: Unit::MetrePerSecond,
        decimals: 1,
        definition: "Speed of the racket's tip just before contact, from a local polynomial.",
        sign: "needs 60 pictures a second or more",
        views: &[Side],
        source: OWN,
        grades: (1.5, 3.0),
        undrawn: 0.0,
        kinds: ALL,
        hangs_on: &[],
        middle_of_draws: false,
        compute: Of(contact::tip_speed),
    },
];

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn every_entry_is_whole() {
        let mut ids = HashSet::new();
        for m in CATALOGUE {
            assert!(ids.insert(m.id), "{} stands twice", m.id);
            assert!(m.id.chars().all(|c| c.is_ascii_lowercase() || c == '_'), "{}", m.id);
            for text in [m.title, m.definition, m.sign, m.source] {
                assert!(!text.trim().is_empty(), "{} lacks a part", m.id);
            }
            assert!(m.definition.ends_with('.'), "{}", m.id);
            assert!(!m.kinds.is_empty(), "{} is for no kind", m.id);
            assert!(m.grades.0 > 0.0 && m.grades.0 < m.grades.1, "{}", m.id);
            let suffix = match m.unit {
                Unit::Centimetre => "_cm",
                Unit::Degree => "_deg",
                Unit::Millisecond => "_ms",
                Unit::MetrePerSecond => "_mps",
                Unit::One => "",
            };
            assert!(m.id.ends_with(suffix), "{} should end with {suffix}", m.id);
        }
    }

    #[test]
    fn zero_has_no_sign() {
        let m = Measure::find("hand_behind_shoulder_cm").unwrap();
        assert_eq!(m.format(-0.04), "0.0");
        assert_eq!(m.format(-0.06), "-0.1");
    }
}
