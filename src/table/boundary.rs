//! What the boundaries between phases are, in words.

use crate::stroke::Boundary;

/// The exact definition of a boundary.
pub const fn definition(boundary: Boundary) -> &'static str {
    match boundary {
        Boundary::PrepStart => {
            "The unit turn begins: the last moment before the backswing's end at which the shoulder line is within 6° of \
             its direction in the quiet ready pose. Where there is no quiet ready pose, or turn can't be seen, the \
             hitting hand's first sustained retreat (method hand-retreat)."
        }
        Boundary::DropStart => {
            "The hitting hand is highest between the start of the preparation and the low point. A takeback without a \
             loop has no drop."
        }
        Boundary::BackswingEnd => {
            "The hitting hand is farthest from the net between the start of the preparation and contact."
        }
        Boundary::LowPoint => "The hitting hand is lowest between the top of the takeback and contact.",
        Boundary::ForwardStart => {
            "The last time before the hand's peak speed toward the net (in the 0.30 s before contact) at which that speed \
             is at most 25 % of the peak; not before the backswing's end. Where the hand is never that slow, the backswing's \
             end itself (method backswing-end; what hangs on it has a low grade)."
        }
        Boundary::Contact => {
            "The instant at which the ball is met. The peak of the hand's speed is not contact: contact comes a little \
             after it. Method sound: the hit was heard, less the time that sound takes from the player to the camera. Method \
             kinematic: the hand's movement alone. Method sound+kinematic: the hand's movement, moved by as much as hits \
             of other strokes in the clip come later. Method ball: where the ball's ways to the strings and from them meet; \
             ball+sound and ball+kinematic: together with the hit that was heard, and with the hand's movement."
        }
        Boundary::FinishEnd => {
            "The first time after contact at which the hand's speed falls under 15 % of its peak; absent where it never \
             does before the next stroke."
        }
    }
}

/// The phases with the boundaries between which they lie, in words.
pub const PHASES: [(&str, &str); 4] = [
    (
        "preparation",
        "from the start of the preparation to the start of the drop (of the forward swing where there is no drop)",
    ),
    ("drop", "from the start of the drop to the start of the forward swing"),
    ("forward-swing", "from the start of the forward swing to contact"),
    ("finish", "from contact to the end of the finish"),
];
