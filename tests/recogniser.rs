//! The recogniser against strokes of real players, given as the points that the pose model marked.

#![allow(clippy::unwrap_used, reason = "a test that can't go on should panic")]

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use flate2::read::GzDecoder;
use toeline::geometry::Point2;
use toeline::model::Places;
use toeline::pose::{Landmark, Motion, Pose, Side, Track, TrackFrame};
use toeline::recogniser::{Event, Recogniser, events};
use toeline::units::{FrameIndex, Seconds};

const RATE: f64 = 30.0;

/// A line of `fixtures/points.csv.gz`.
#[derive(serde::Deserialize)]
struct Line {
    clip: usize,
    kind: String,
    hand: String,
    contact: f64,
    frame: usize,
    point: String,
    x: f64,
    y: f64,
    visible: f32,
}

/// A player's track with what a person says of the stroke in it.
struct Labelled {
    track: Track,
    kind: String,
    hand: Side,
    contact: Seconds,
}

fn clips() -> BTreeMap<usize, Labelled> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/points.csv.gz");
    let mut clips: BTreeMap<usize, Labelled> = BTreeMap::new();
    for line in csv::Reader::from_reader(GzDecoder::new(File::open(file).unwrap())).deserialize() {
        let line: Line = line.unwrap();
        let clip = clips.entry(line.clip).or_insert_with(|| Labelled {
            track: Track { size: (852, 480), frames: Vec::new() },
            kind: line.kind.clone(),
            hand: if line.hand == "right" { Side::Right } else { Side::Left },
            contact: Seconds(line.contact / RATE),
        });
        let index = FrameIndex(line.frame);
        if clip.track.frames.last().is_none_or(|frame| frame.index != index) {
            // The nose comes first; points that are not listed lie there, unseen.
            let pose = Pose {
                points: vec![Point2::new(line.x, line.y); Landmark::ALL.len()],
                visibility: vec![0.0; Landmark::ALL.len()],
                world: Vec::new(),
                presence: 1.0,
            };
            let time = Seconds(line.frame as f64 / RATE);
            clip.track.frames.push(TrackFrame { index, time, duplicate: false, pose: Some(pose) });
        }
        let landmark = Landmark::ALL.into_iter().find(|landmark| landmark.name() == line.point).unwrap();
        let pose = clip.track.frames.last_mut().and_then(|frame| frame.pose.as_mut()).unwrap();
        pose.points[landmark as usize] = Point2::new(line.x, line.y);
        pose.visibility[landmark as usize] = line.visible;
    }
    clips
}

fn surest(read: &toeline::recogniser::Chances) -> Event {
    events(read).into_iter().max_by(|a, b| a.odds.total_cmp(&b.odds)).unwrap()
}

#[test]
fn strokes_of_real_players_are_named_with_hand_and_contact() {
    let mut recogniser = Recogniser::load(&Places::usual()).unwrap();
    let clips = clips();
    assert_eq!(clips.len(), 9);
    for (number, clip) in clips {
        let motion = Motion::from_track(&clip.track);
        let event = surest(&recogniser.read(&motion, Some(&clip.track)).unwrap());
        let place = ["forehand", "backhand", "overhead"].iter().position(|kind| *kind == clip.kind).unwrap();
        assert!(event.odds > 1.25, "clip {number}: odds {:.2}", event.odds);
        assert!(event.of_hand(clip.hand)[place] > 0.8, "clip {number}: {event:?}");
        let off = (event.contact.time - clip.contact).abs().0;
        assert!(off < 0.2, "clip {number}: contact {off:.3} s off");
    }
}

#[test]
fn hands_behind_the_body_are_read_where_the_model_guesses_them() {
    let mut recogniser = Recogniser::load(&Places::usual()).unwrap();
    // A backhand with two hands seen from behind: the body hides both for half a second.
    let hidden = clips().remove(&3).unwrap();
    let motion = Motion::from_track(&hidden.track);
    let bridged = recogniser.read(&motion, None).unwrap();
    let both_ways = recogniser.read(&motion, Some(&hidden.track)).unwrap();
    assert_eq!(both_ways.readings.len(), 2 * bridged.readings.len());
    let best = |read| toeline::recogniser::best_odds(read).unwrap();
    assert!(best(&bridged) < 0.0 && best(&both_ways) > 2.0);
}
