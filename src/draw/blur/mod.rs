//! Making faces unrecognisable.

mod others;

use crate::geometry::Point2;
use crate::pose::track::typical_height;
use crate::pose::{Landmark, Pose, Track};
use crate::units::Seconds;
use crate::video::Picture;

/// The points of a face, by their places among the landmarks: nose, eyes, ears, mouth.
const FACE: std::ops::RangeInclusive<usize> = Landmark::Nose as usize..=Landmark::MouthRight as usize;

/// Radius of the covered circle about the middle of the face's points, in heights of the body: crown and chin lie 0.10 from
/// there on a standing person, and somebody who crouches looks shorter than they are.
const RADIUS: f64 = 0.15;
/// … and at least so many times as far as the face's points reach.
const REACH: f64 = 2.0;
/// No head is covered with less, pixels.
const LEAST: f64 = 6.0;

/// A face is where its points say if they are likelier in sight than this; else it is covered where its neighbours in
/// time say as well.
const IN_SIGHT: f32 = 0.5;
/// A head is taken to stay where it was last seen, or first seen, for so long: people are looked for once a second.
const HOLD: Seconds = Seconds(1.0);
/// A head that was not seen may have moved by so many radii a second …
const WANDERING: f64 = 2.0;
/// … up to so many.
const FARTHEST: f64 = 1.0;

/// Squares across the radius of a covered head: a face is left four or five of them wide.
const SQUARES: f64 = 3.0;

/// A covered circle, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Head {
    /// Its middle.
    pub at: Point2,
    /// Its radius.
    pub radius: f64,
}

/// Where heads are in each picture of a clip.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heads {
    by_picture: Vec<Vec<Head>>,
}

impl Heads {
    /// The heads of everybody who was followed, by their points before any smoothing. Where somebody was not seen, or a face
    /// not well, places are held from the pictures around.
    pub fn of(tracks: &[Track]) -> Self {
        let pictures = tracks.iter().flat_map(|t| &t.frames).map(|f| f.index.0 + 1).max().unwrap_or(0);
        let mut by_picture = vec![Vec::new(); pictures];
        for track in tracks {
            let usual = typical_height(track);
            let seen: Vec<(Seconds, Head)> = track
                .frames
                .iter()
                .filter_map(|f| Some((f.time, f.pose.as_ref().filter(|p| is_in_sight(p))?)))
                .map(|(time, pose)| (time, head_of(pose, usual)))
                .collect();
            for frame in &track.frames {
                let heads: &mut Vec<Head> = &mut by_picture[frame.index.0];
                heads.extend(frame.pose.as_ref().map(|pose| head_of(pose, usual)));
                if !frame.pose.as_ref().is_some_and(is_in_sight) {
                    heads.extend(heads_between(&seen, frame.time));
                }
            }
        }
        Self { by_picture }
    }

    /// Adds heads that were found in another way.
    pub fn add(&mut self, picture: usize, heads: impl IntoIterator<Item = Head>) {
        if let Some(known) = self.by_picture.get_mut(picture) {
            known.extend(heads);
        }
    }

    /// The heads in a picture, by its number from 0.
    pub fn in_picture(&self, picture: usize) -> &[Head] {
        self.by_picture.get(picture).map_or(&[], Vec::as_slice)
    }

    /// Covers the heads of a picture.
    pub fn cover(&self, number: usize, picture: &mut Picture) {
        for head in self.in_picture(number) {
            cover(picture, head);
        }
    }
}

fn is_in_sight(pose: &Pose) -> bool {
    let face = pose.visibility.get(FACE).unwrap_or(&[]);
    !face.is_empty() && face.iter().sum::<f32>() / face.len() as f32 >= IN_SIGHT
}

/// The circle around a face; `usual` is the person's usual height in the clip, pixels.
fn head_of(pose: &Pose, usual: f64) -> Head {
    let face = pose.points.get(FACE).unwrap_or(&[]);
    let mean = |f: fn(&Point2) -> f64| face.iter().map(f).sum::<f64>() / face.len().max(1) as f64;
    let at = Point2::new(mean(|p| p.x), mean(|p| p.y));
    let reach = face.iter().map(|p| p.distance(at)).fold(0.0, f64::max);
    let ys = || pose.points.iter().map(|p| p.y);
    let height = ys().fold(f64::MIN, f64::max) - ys().fold(f64::MAX, f64::min);
    Head { at, radius: (RADIUS * height.max(usual)).max(REACH * reach).max(LEAST) }
}

/// Where a head must be by what was seen before and after.
fn heads_between(seen: &[(Seconds, Head)], time: Seconds) -> Vec<Head> {
    let next = seen.partition_point(|(t, _)| *t < time);
    let near = |place: Option<usize>| {
        place.and_then(|i| seen.get(i)).filter(|(t, _)| (*t - time).abs() <= HOLD).copied()
    };
    let (before, after) = (near(next.checked_sub(1)), near(Some(next)));
    let grown = |(t, head): (Seconds, Head)| {
        let away = (WANDERING * (t - time).abs().0).min(FARTHEST);
        Head { radius: head.radius * (1.0 + away), ..head }
    };
    match (before, after) {
        (Some(a), Some(b)) => {
            let share = (time - a.0).0 / (b.0 - a.0).0.max(1e-9);
            let nearer = if share < 0.5 { a } else { b };
            let between = Head { at: a.1.at.lerp(b.1.at, share), radius: a.1.radius.max(b.1.radius) };
            vec![Head { radius: grown((nearer.0, between)).radius, ..between }]
        }
        (only, other) => only.or(other).map(grown).into_iter().collect(),
    }
}

/// Covers a circle with large squares, each in the mean colour of what lies under it.
pub fn cover(picture: &mut Picture, head: &Head) {
    let (wide, high) = (picture.width as usize, picture.height as usize);
    let side = ((head.radius / SQUARES).round() as usize).max(4);
    let clamp = |v: f64, most: usize| v.clamp(0.0, most as f64) as usize;
    let (left, right) =
        (clamp(head.at.x - head.radius, wide), clamp((head.at.x + head.radius + 1.0).ceil(), wide));
    let (top, bottom) =
        (clamp(head.at.y - head.radius, high), clamp((head.at.y + head.radius + 1.0).ceil(), high));
    for y0 in (top..bottom).step_by(side) {
        for x0 in (left..right).step_by(side) {
            let (x1, y1) = ((x0 + side).min(right), (y0 + side).min(bottom));
            let mut sum = [0u64; 3];
            let row = |y: usize| (y * wide + x0) * 3..(y * wide + x1) * 3;
            for y in y0..y1 {
                for pixel in picture.rgb[row(y)].chunks_exact(3) {
                    for (sum, value) in sum.iter_mut().zip(pixel) {
                        *sum += u64::from(*value);
                    }
                }
            }
            let count = ((x1 - x0) * (y1 - y0)) as u64;
            let mean = sum.map(|sum| (sum / count) as u8);
            for y in y0..y1 {
                let start = row(y).start;
                for x in x0..x1 {
                    let apart = (x as f64 - head.at.x).hypot(y as f64 - head.at.y);
                    if apart <= head.radius {
                        let at = start + (x - x0) * 3;
                        picture.rgb[at..at + 3].copy_from_slice(&mean);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::landmark::COUNT;
    use crate::pose::track::TrackFrame;
    use crate::units::FrameIndex;

    /// Somebody 200 pixels high with the head's middle at `x`, 100.
    fn pose(x: f64, visibility: f32) -> Pose {
        let mut points = vec![Point2::new(x, 290.0); COUNT];
        for (i, point) in points[FACE].iter_mut().enumerate() {
            *point = Point2::new(x + i as f64 - 5.0, 100.0);
        }
        Pose { points, visibility: vec![visibility; COUNT], world: Vec::new(), presence: 1.0 }
    }

    fn track(poses: Vec<Option<Pose>>) -> Track {
        let frames = poses.into_iter().enumerate().map(|(i, pose)| TrackFrame {
            index: FrameIndex(i),
            time: Seconds(i as f64 / 30.0),
            duplicate: false,
            pose,
        });
        Track { size: (640, 360), frames: frames.collect() }
    }

    fn covers(head: &Head, x: f64) -> bool {
        // The head's own outline: 0.1 of 200 pixels up and down, half as much across.
        [(0.0, -20.0), (0.0, 20.0), (-14.0, 0.0), (14.0, 0.0)]
            .iter()
            .all(|(dx, dy)| head.at.distance(Point2::new(x + dx, 100.0 + dy)) <= head.radius)
    }

    #[test]
    fn the_head_is_covered_also_where_it_is_hidden_for_a_while() {
        let x = |i: usize| 100.0 + 2.0 * i as f64;
        let poses = (0..60)
            .map(|i| match i {
                20..30 => None,
                30..35 => Some(pose(500.0, 0.1)),
                _ => Some(pose(x(i), 0.9)),
            })
            .collect();
        let heads = Heads::of(&[track(poses)]);
        for i in 0..60 {
            assert!(
                heads.in_picture(i).iter().any(|head| covers(head, x(i))),
                "{i} {:?}",
                heads.in_picture(i)
            );
        }
        // What the model said where it saw little is covered too.
        assert!(heads.in_picture(32).iter().any(|head| covers(head, 500.0)));
    }

    #[test]
    fn everybody_is_covered_and_somebody_who_comes_late_a_little_before() {
        let late = (0..90).map(|i| (i >= 60).then(|| pose(400.0, 0.9))).collect();
        let here = (0..90).map(|_| Some(pose(100.0, 0.9))).collect();
        let heads = Heads::of(&[track(here), track(late)]);
        assert_eq!(heads.in_picture(10).len(), 1);
        assert_eq!(heads.in_picture(45).len(), 2);
        assert_eq!(heads.in_picture(80).len(), 2);
        assert!(heads.in_picture(500).is_empty());
    }

    #[test]
    fn nothing_fine_is_left_under_it_and_nothing_beside_it_changes() {
        let (wide, high) = (200u32, 150u32);
        let stripes = |x: u32, y: u32| if (x + y).is_multiple_of(2) { 255 } else { 0 };
        let rgb = (0..high).flat_map(|y| (0..wide).flat_map(move |x| [stripes(x, y); 3])).collect();
        let mut picture = Picture { width: wide, height: high, rgb };
        // Half outside the picture.
        for head in [
            Head { at: Point2::new(90.0, 70.0), radius: 30.0 },
            Head { at: Point2::new(-5.0, 149.0), radius: 20.0 },
        ] {
            cover(&mut picture, &head);
        }
        for y in 0..high {
            for x in 0..wide {
                let value = picture.pixel(x, y).unwrap()[0];
                let inside = |x0: f64, y0: f64, r: f64| (f64::from(x) - x0).hypot(f64::from(y) - y0) <= r;
                if inside(90.0, 70.0, 30.0) || inside(-5.0, 149.0, 20.0) {
                    assert!((100..=155).contains(&value), "{x} {y} {value}");
                } else {
                    assert_eq!(value, stripes(x, y), "{x} {y}");
                }
            }
        }
    }
}
