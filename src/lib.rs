//! Measures tennis strokes in practice clips.
//!
//! Data flows one way through the rooms of this crate: [`video`] decodes a clip, [`pose`] follows the player with the
//! networks of [`model`], [`scene`] finds view, direction to the net and scale and lifts the motion into the court's
//! frame, [`stroke`] finds strokes and their phases, [`measure`] computes the catalogue's numbers, [`table`] and [`draw`]
//! write them down, [`season`] joins many clips, described by [`stats`], [`page`] makes what is sent to a player, and
//! [`command`] is what a person types.

#[cfg(test)]
extern crate self as toeline;

pub mod ball;
pub mod command;
pub mod compare;
pub mod court;
pub mod draw;
pub mod filter;
pub mod geometry;
pub mod kept;
pub mod measure;
pub mod model;
pub mod order;
pub mod page;
pub mod pose;
pub mod racket;
pub mod scene;
pub mod season;
pub mod sound;
pub mod stats;
pub mod stroke;
pub mod table;
pub mod targets;
pub mod units;
pub mod video;
