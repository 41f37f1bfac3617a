//! What stands still behind the people: how far it moves across the picture as the camera turns, and where the clip is cut.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::geometry::Point2;
use crate::model::Image;
use crate::order::median;
use crate::units::Seconds;
use crate::video::Map;
use crate::video::align::{self, FINE};

/// Width of the small pictures that are compared, places.
const COLUMNS: usize = 213;

/// A camera turns no faster than this from one picture to the next, places.
const REACH: i32 = 32;

/// Where the background has moved this far from the picture it is compared with, a later picture takes its place. Until then
/// errors don't add up, so that a camera on a tripod stays where it is however long the clip.
const NEXT_KEY: f64 = 16.0;

/// A shift up to this is an error of the comparison, places: a person who fills much of the picture makes as much. Up to twice
/// of it, it counts in part, so that a camera in a calm hand doesn't jump.
const STILL: f64 = 0.5;

/// Two pictures that differ by more than this after the best shift (mean over the picture, grey levels, each place counted up
/// to [`align::MOST`]), and by more than this many times what pictures before them did, are of different shots. Over 190 real
/// clips pictures of one shot differ by less than 11, pictures of different ones by 14 to 25.
const CUT: f64 = 12.5;
const CUT_RATIO: f64 = 1.8;
/// How many differences before a cut are compared with it.
const USUAL: usize = 8;

/// A picture like those before a cut so soon after it continues their shot: a flash or a black picture lay between.
const INTERRUPTION: Seconds = Seconds(0.15);

/// So many shots are remembered, each by its first and last picture: one that looks like either was filmed from the same place.
const REMEMBERED: usize = 24;

/// How the background of a clip moved.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Course {
    /// How far the background has moved to the right and down since the first picture of the shot, per picture, pixels.
    pub shift: Vec<Point2>,
    /// The shot that each picture is of, from 0.
    pub shots: Vec<usize>,
}

impl Course {
    /// Numbers of the pictures at which another shot begins.
    pub fn cuts(&self) -> Vec<usize> {
        (1..self.shots.len()).filter(|i| self.shots[*i] != self.shots[*i - 1]).collect()
    }

    /// The course through all `pictures` of a clip of which only those with the numbers `looked_at` (increasing, one for each
    /// entry) were looked at: evenly from each to the next of the same shot.
    pub fn between(&self, looked_at: &[usize], pictures: usize) -> Self {
        if looked_at.len() != self.shift.len() || looked_at.is_empty() {
            return Self::default();
        }
        let at = |picture: usize| {
            let after = looked_at.partition_point(|number| *number < picture).min(looked_at.len() - 1);
            let before = if looked_at[after] > picture { after.saturating_sub(1) } else { after };
            let span = looked_at[after].saturating_sub(looked_at[before]).max(1) as f64;
            let share = picture.saturating_sub(looked_at[before]) as f64 / span;
            let goes_on = self.shots[before] == self.shots[after];
            let share = if goes_on { share.min(1.0) } else { 0.0 };
            (self.shift[before].lerp(self.shift[after], share), self.shots[before])
        };
        let (shift, shots) = (0..pictures).map(at).unzip();
        Self { shift, shots }
    }
}

/// The picture that later ones are compared with.
#[derive(Debug)]
struct Key {
    map: Map,
    shift: Point2,
    /// How far the background has moved since, places.
    moved: (f64, f64),
}

impl Key {
    const fn new(map: Map, shift: Point2) -> Self {
        Self { map, shift, moved: (0.0, 0.0) }
    }
}

/// What is known of a shot that was cut off.
#[derive(Debug)]
struct CutOff {
    last: Map,
    key: Key,
    shot: usize,
    shift: Point2,
    time: Seconds,
}

/// A picture of an earlier shot.
#[derive(Debug)]
struct Earlier {
    map: Map,
    shift: Point2,
    shot: usize,
}

/// Follows the background from picture to picture.
#[derive(Debug, Default)]
pub struct Background {
    course: Course,
    key: Option<Key>,
    last: Option<Map>,
    /// How far the background moved from the picture before the last one, places: a camera that turns goes on turning.
    pace: (f64, f64),
    cut_off: Option<CutOff>,
    earlier: VecDeque<Earlier>,
    /// Differences between the latest pictures.
    usual: Vec<f64>,
    shots: usize,
}

impl Background {
    /// Looks at the next picture; answers with the number of its shot. One that repeats the picture before it need not be looked at.
    pub fn push(&mut self, image: Image<'_>, time: Seconds, repeats: bool) -> usize {
        if let Some(shift) = self.course.shift.last().copied().filter(|_| repeats) {
            return self.note(shift);
        }
        let step = (image.width() as usize / COLUMNS).max(1);
        let map = Map::shrunk((image.width() as usize, image.height() as usize), image.rgb(), step);
        let (Some(last), Some(key)) = (&self.last, &mut self.key) else {
            self.begin(map);
            return 0;
        };
        let (pace, differs) = align::shift_about(last, &map, REACH, self.pace);
        let places = f64::from(step as u32);
        let usual = median(self.usual.iter().copied()).unwrap_or(0.0);
        if differs > CUT && differs > CUT_RATIO * usual {
            return self.cut(map, time, places);
        }
        self.usual.push(differs);
        if self.usual.len() > USUAL {
            self.usual.remove(0);
        }
        self.pace = pace;
        let expected = (key.moved.0 + pace.0, key.moved.1 + pace.1);
        let (by, _) = align::shift_about(&key.map, &map, REACH, expected);
        key.moved = by;
        let counts = (by.0.hypot(by.1) / STILL - 1.0).clamp(0.0, 1.0);
        let counts = places * counts;
        let shift = Point2::new(key.shift.x + counts * by.0, key.shift.y + counts * by.1);
        if by.0.hypot(by.1) > NEXT_KEY {
            self.key = Some(Key::new(map.clone(), shift));
        }
        self.last = Some(map);
        self.note(shift)
    }

    /// How the background moved.
    pub fn finish(self) -> Course {
        self.course
    }

    fn note(&mut self, shift: Point2) -> usize {
        let shot = self.course.shots.last().copied().unwrap_or(0);
        self.course.shift.push(shift);
        self.course.shots.push(shot);
        shot
    }

    /// A shot begins with this picture.
    fn begin(&mut self, map: Map) {
        self.course.shift.push(Point2::default());
        self.course.shots.push(self.shots);
        self.remember(Earlier { map: map.clone(), shift: Point2::default(), shot: self.shots });
        self.shots += 1;
        self.usual.clear();
        self.key = Some(Key::new(map.clone(), Point2::default()));
        self.last = Some(map);
    }

    /// This picture isn't of the shot before it; answers with the number of the one that it is of. A place of the small picture is so many
    /// `places` pixels wide.
    fn cut(&mut self, map: Map, time: Seconds, places: f64) -> usize {
        self.pace = (0.0, 0.0);
        if let Some(before) = self.cut_off.take_if(|before| time - before.time <= INTERRUPTION) {
            let moved = align::shift(&before.last, &map, REACH);
            if difference(&before.last, &map, moved) <= CUT {
                self.course.shift.push(before.shift);
                self.course.shots.push(before.shot);
                (self.key, self.last) = (Some(before.key), Some(map));
                return before.shot;
            }
        }
        let shot = self.course.shots.last().copied().unwrap_or(0);
        let shift = self.course.shift.last().copied().unwrap_or_default();
        if let (Some(last), Some(key)) = (self.last.take(), self.key.take()) {
            self.remember(Earlier { map: last.clone(), shift, shot });
            self.cut_off = Some(CutOff { last, key, shot, shift, time });
        }
        if let Some((shot, shift)) = self.filmed_before(&map, places) {
            self.course.shift.push(shift);
            self.course.shots.push(shot);
            self.usual.clear();
            (self.key, self.last) = (Some(Key::new(map.clone(), shift)), Some(map));
            return shot;
        }
        self.begin(map);
        self.shots - 1
    }

    /// The earlier shot that was filmed from the same place as a picture, and how far the background has moved since that began: what
    /// was left out between two strokes, or joined from several recordings, is one shot.
    fn filmed_before(&self, map: &Map, places: f64) -> Option<(usize, Point2)> {
        self.earlier.iter().rev().find_map(|earlier| {
            let by = align::shift(&earlier.map, map, REACH);
            let shift = Point2::new(earlier.shift.x + places * by.0, earlier.shift.y + places * by.1);
            (difference(&earlier.map, map, by) <= CUT).then_some((earlier.shot, shift))
        })
    }

    fn remember(&mut self, picture: Earlier) {
        self.earlier.push_back(picture);
        if self.earlier.len() > 2 * REMEMBERED {
            self.earlier.pop_front();
        }
    }
}

/// How much two small pictures differ where one is shifted, grey levels.
fn difference(from: &Map, to: &Map, (right, down): (f64, f64)) -> f64 {
    align::difference(from, to, (right.round() as i32, down.round() as i32), FINE)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: (u32, u32) = (426, 240);

    /// A court with lines of its own, moved to the right.
    fn court(seed: f64, right: f64) -> Vec<u8> {
        (0..SIZE.0 * SIZE.1)
            .flat_map(|k| {
                let (x, y) = (f64::from(k % SIZE.0) - right, f64::from(k / SIZE.0));
                let wave = |f: f64, p: f64| (f * x + p * y + seed).sin();
                let bright =
                    128.0 + 40.0 * (wave(0.05 * seed, 0.02) + wave(0.013, 0.06 * seed) + wave(0.09, -0.05));
                [bright as u8; 3]
            })
            .collect()
    }

    fn follow(pictures: &[Vec<u8>]) -> Course {
        let mut background = Background::default();
        for (i, rgb) in pictures.iter().enumerate() {
            background.push(Image::new(SIZE.0, SIZE.1, rgb).unwrap(), Seconds(i as f64 / 30.0), false);
        }
        background.finish()
    }

    #[test]
    fn a_pan_is_followed_from_picture_to_picture() {
        let pictures: Vec<_> = (0..40).map(|i| court(1.0, 3.3 * f64::from(i))).collect();
        let course = follow(&pictures);
        assert!(course.cuts().is_empty(), "{:?}", course.shots);
        let last = course.shift[39];
        assert!((last.x - 3.3 * 39.0).abs() < 3.0 && last.y.abs() < 2.0, "{last:?}");
    }

    /// A plain court with a few thin lines, moved to the right; a player whom the camera follows and a name that was put over the picture
    /// stay.
    fn followed(right: f64) -> Vec<u8> {
        let lines = [-230.0, -120.0, -31.0, 60.0, 163.0, 290.0, 377.0];
        (0..SIZE.0 * SIZE.1)
            .flat_map(|k| {
                let (x, y) = (f64::from(k % SIZE.0), f64::from(k / SIZE.0));
                let on_line = lines.iter().any(|at| (x - right - at - 0.3 * (y - 120.0)).abs() < 3.0)
                    || [40.0, 182.0].iter().any(|at| (y - at).abs() < 2.5);
                let player = (x - 190.0).abs() < 40.0 && (y - 130.0).abs() < 75.0;
                let name = x > 330.0 && y > 205.0 && (0.7 * x).sin() * (0.5 * y).cos() > 0.1;
                let bright = match (player, name, on_line) {
                    (true, ..) => 70.0 + 0.2 * y,
                    (_, true, _) => 235.0,
                    (.., true) => 220.0,
                    _ => 90.0,
                };
                [bright as u8; 3]
            })
            .collect()
    }

    #[test]
    fn a_pan_with_the_player_is_followed_by_thin_lines() {
        let pictures: Vec<_> = (0..40).map(|i| followed(2.6 * f64::from(i))).collect();
        let course = follow(&pictures);
        for (i, shift) in course.shift.iter().enumerate() {
            let off = Point2::new(shift.x - 2.6 * i as f64, shift.y);
            assert!(off.x.hypot(off.y) < 4.0, "picture {i}: off by {off:?}");
        }
    }

    #[test]
    fn between_pictures_that_were_looked_at_the_background_moves_evenly() {
        let at = |x: f64| Point2::new(x, 0.0);
        let course = Course { shift: vec![at(0.0), at(8.0), at(0.0)], shots: vec![0, 0, 1] };
        let all = course.between(&[1, 5, 7], 9);
        let x: Vec<f64> = all.shift.iter().map(|shift| shift.x).collect();
        assert_eq!(x, [0.0, 0.0, 2.0, 4.0, 6.0, 8.0, 8.0, 0.0, 0.0]);
        assert_eq!(all.shots, [0, 0, 0, 0, 0, 0, 0, 1, 1]);
    }

    #[test]
    fn a_camera_at_rest_stays_where_it_is() {
        let course = follow(&vec![court(1.0, 0.0); 30]);
        assert!(course.shift.iter().all(|shift| *shift == Point2::default()));
    }

    #[test]
    fn a_cut_begins_another_shot_and_a_flash_does_not() {
        let (one, other, black) = (court(1.0, 0.0), court(2.7, 0.0), vec![0; 3 * (SIZE.0 * SIZE.1) as usize]);
        let course = follow(&[one.clone(), one.clone(), other.clone(), other.clone()]);
        assert_eq!(course.cuts(), [2]);
        let course = follow(&[one.clone(), one.clone(), black, one.clone(), one]);
        assert_eq!(course.shots, [0, 0, 1, 0, 0]);
    }

    #[test]
    fn a_shot_from_the_same_place_goes_on_with_the_earlier_one() {
        let (one, other) = (court(1.0, 0.0), court(2.7, 0.0));
        let mut pictures = vec![one.clone(); 3];
        pictures.extend(vec![other; 20]);
        pictures.extend([court(1.0, 6.0), court(1.0, 6.0)]);
        let course = follow(&pictures);
        assert_eq!(course.shots[22..], [1, 0, 0]);
        assert!((course.shift[24].x - 6.0).abs() < 1.5, "{:?}", course.shift[24]);
        assert_eq!(course.cuts(), [3, 23]);
    }
}
