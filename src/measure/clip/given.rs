//! What the numbers of a clip depend on besides the player's motion.

use crate::ball::Balls;
use crate::court::{Reading as Lines, Uprights};
use crate::geometry::Point2;
use crate::pose::{Motion, Side};
use crate::racket::Sightings;
use crate::recogniser::Chances;
use crate::scene::direction::{self};
use crate::scene::space::Lift;
use crate::scene::{
    ASSUMED_STATURE, BodyPrior, Filmed, Ground, Known, Lens, LensEvidence, Space, Stand, Stature,
};
use crate::sound::Heard;
use crate::stroke::Corrections;
use crate::units::{Degrees, Metres};

/// What a person has stated about clip and player; everything unset is estimated.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stated {
    /// The hitting hand.
    pub hand: Option<Side>,
    /// The player's stature.
    pub height: Option<Metres>,
    /// View and side of the net.
    pub direction: direction::Stated,
    /// Horizontal field of view.
    pub field_of_view: Option<Degrees>,
    /// The flat method instead of the perspective one.
    pub planar: bool,
    /// From the camera to the player over the ground.
    pub camera_distance: Option<Metres>,
    /// The lens over the ground.
    pub camera_height: Option<Metres>,
    /// Whether no ball is hit in the clip, as in shadow swings.
    pub shadow: bool,
    /// The racket's true length.
    pub racket_length: Option<Metres>,
    /// Pictures a second that the camera took, where the file tells another rate.
    pub capture_rate: Option<f64>,
    /// A pixel on the player.
    pub subject: Option<Point2>,
    /// What was corrected after a look at the numbers.
    pub corrections: Corrections,
}

/// What file, networks and pictures have shown besides the player's motion.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// The lens's 35 mm equivalent from the file.
    pub equivalent_mm: Option<f64>,
    /// What is known about the pose model's body.
    pub body: BodyPrior,
    /// What there is to hear; `None` where the clip has no sound that can be used.
    pub sound: Option<Heard>,
    /// The player's stature as other clips have shown it; `None` where none has.
    pub stature: Option<Stature>,
    /// The racket; `None` where nobody has looked for it.
    pub racket: Option<Sightings>,
    /// Balls near contact; `None` where nobody has looked for them.
    pub balls: Option<Balls>,
    /// What the court's lines say of the camera; `None` where nobody has looked for them.
    pub lines: Option<Lines>,
    /// What stands upright around the court; `None` where nobody has looked for it.
    pub uprights: Option<Uprights>,
    /// Which strokes the recogniser sees.
    pub chances: Chances,
}

/// What the numbers depend on besides the motion.
#[derive(Debug, Clone, Copy)]
pub(super) struct Given<'a> {
    pub stated: &'a Stated,
    pub seen: &'a Seen,
}

impl<'a> Given<'a> {
    /// A motion in space as a camera has seen it.
    pub fn lifted(&self, filmed: &Filmed, motion: &Motion, lift: Lift) -> Space {
        Space::lift(motion, &filmed.stand, filmed.scale, &self.seen.body, lift)
    }

    /// What is known of the camera of pictures of `size` pixels.
    pub fn camera<'l>(
        &self,
        size: (u32, u32),
        lines: Option<&'l Lines>,
        uprights: Option<&'l Uprights>,
    ) -> Known<'l>
    where
        'a: 'l,
    {
        let Self { stated, seen } = *self;
        Known {
            lens: LensEvidence { size, view: stated.field_of_view, equivalent_mm: seen.equivalent_mm },
            distance: stated.camera_distance,
            height: stated.camera_height,
            stature: stated.corrections.height.or(stated.height).map(Stature::given).or(seen.stature),
            lines,
            placed: stated.corrections.placed.as_ref(),
            uprights,
        }
    }
}

/// The camera, as far as it can be told before the strokes are found.
pub(super) fn camera_of(motion: &Motion, given: &Given<'_>, known: &Known<'_>, lift: Lift) -> Filmed {
    let usual = Stand::level(Lens::usual(motion.size));
    let seen = Space::lift(motion, &usual, ASSUMED_STATURE, &given.seen.body, lift);
    Filmed::of(known, Ground::of(&seen))
}
