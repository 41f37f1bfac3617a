//! Where the net is, and with it the camera as it stood, as strokes and court tell together.

use super::given::{Given, camera_of};
use crate::geometry::Point2;
use crate::pose::Motion;
use crate::scene::direction;
use crate::scene::space::Lift;
use crate::scene::{Bearings, Direction, Filmed, Space, Sway};
use crate::stroke;
use crate::units::FrameIndex;

/// A motion in space, and what tells where the net is.
pub(super) struct Facing {
    pub filmed: Filmed,
    pub space: Space,
    /// The strokes that tell it; `None` where there are none.
    pub found: Option<stroke::Found>,
    /// Where it is as the court alone tells it, without any stroke.
    pub by_court: Option<Direction>,
}

impl Facing {
    /// What a motion and the court's lines tell together. `find` looks for strokes in a space, with what lines leave of the directions.
    pub fn of(
        picture: &Motion,
        given: Given<'_>,
        lift: Lift,
        is_unsuitable: bool,
        find: impl Fn(&Space, Option<&Bearings>) -> Option<stroke::Found>,
    ) -> Self {
        // Of a camera that was moved the lines and posts were read in one picture; the motion is that of a camera that stood still.
        let still = Sway::of(picture);
        let from = |frame: FrameIndex| {
            let place = picture.indices.partition_point(|index| *index < frame);
            still.steady(place, Point2::default())
        };
        let lines = given.seen.lines.as_ref().map(|lines| lines.moved(from(lines.frame)));
        let uprights = given.seen.uprights.as_ref().map(|uprights| uprights.moved(from(uprights.frame)));
        let known = given.camera(picture.size, lines.as_ref(), uprights.as_ref());
        let filmed = camera_of(picture, &given, &known, lift);
        let space = given.lifted(&filmed, picture, lift);
        let lines = filmed.bearings(&known);
        let found = if is_unsuitable { None } else { find(&space, lines.as_ref()) };
        let mut facing = Self { filmed, space, found, by_court: None };
        let told = match (&facing.found, &lines) {
            (Some(found), _) => Some((found.direction, found.player.clone())),
            (None, Some(lines)) if !is_unsuitable => {
                let stated = given.stated.direction;
                direction::without_strokes(&facing.space, &given.seen.body, stated, lines)
                    .map(|weighed| (weighed.direction, weighed.player))
            }
            _ => None,
        };
        let Some((told, player)) = told else { return facing };
        let before = facing.filmed.stand;
        let told = facing.filmed.face(told, &player, &known);
        if facing.filmed.stand != before {
            facing.space.forget();
            facing.space = given.lifted(&facing.filmed, picture, lift);
        }
        match (&mut facing.found, told) {
            (Some(found), Some(told)) => found.direction = told,
            // The strokes contradict the lines, which were misread: once more without them.
            (Some(_), None) => {
                let mut found = find(&facing.space, None);
                if let Some(found) = &mut found {
                    let again = facing.filmed.face(found.direction, &found.player, &known);
                    found.direction = again.unwrap_or(found.direction);
                }
                facing.found = found;
            }
            (None, told) => facing.by_court = told,
        }
        facing
    }
}
