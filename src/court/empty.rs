//! The picture of a court without the people on it.

use std::cell::OnceCell;

use super::align::{Map, Places, STILL};
use super::plane::Plane;
use super::register::Edges;
use crate::geometry::Point2;
use crate::units::FrameIndex;
use crate::video::Picture;

/// A part of a picture where somebody is, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hidden {
    /// Its upper left corner.
    pub from: Point2,
    /// Its lower right corner.
    pub to: Point2,
}

impl Hidden {
    /// Whether a point is in it.
    pub(super) fn holds(&self, p: Point2) -> bool {
        (self.from.x..=self.to.x).contains(&p.x) && (self.from.y..=self.to.y).contains(&p.y)
    }

    /// The part that holds all these points, wider by a share of its height; `None` for no point.
    pub fn around(points: impl IntoIterator<Item = Point2>, wider: f64) -> Option<Self> {
        let mut points = points.into_iter();
        let first = points.next()?;
        let mut hidden = Self { from: first, to: first };
        for point in points {
            hidden.from = Point2::new(hidden.from.x.min(point.x), hidden.from.y.min(point.y));
            hidden.to = Point2::new(hidden.to.x.max(point.x), hidden.to.y.max(point.y));
        }
        let margin = wider * (hidden.to.y - hidden.from.y);
        let margin = Point2::new(margin, margin);
        Some(Self { from: hidden.from - margin, to: hidden.to + margin })
    }
}

/// One picture of a clip and who is in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// Its number in the clip.
    pub frame: FrameIndex,
    /// The picture.
    pub picture: Picture,
    /// Where people are.
    pub people: Vec<Hidden>,
    /// The player's feet (the middle between both heels) and nose, pixels, where they are seen.
    pub player: Option<[Point2; 2]>,
}

/// What pictures of one place show when nobody is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Empty {
    /// The picture of the clip onto which the others were brought.
    pub frame: FrameIndex,
    /// The median picture.
    pub picture: Picture,
    /// Which pixels were never seen without somebody before them, row by row.
    pub hidden: Vec<bool>,
    /// The player's feet and nose at the moment at which the player stood most upright, in this picture.
    pub player: Option<[Point2; 2]>,
}

impl Empty {
    /// Whether somebody was always before the pixel at a place; that of the border for one outside the picture.
    pub(super) fn hides(&self, p: Point2) -> bool {
        let pixel = |at: f64, size: u32| (at.max(0.0) as usize).min(size as usize - 1);
        let (width, height) = (self.picture.width, self.picture.height);
        self.hidden[pixel(p.y, height) * width as usize + pixel(p.x, width)]
    }
}

/// More pictures than this add nothing to a median.
const MOST: usize = 11;

impl Empty {
    /// The median of each pixel over the pictures in which nobody is before it; where somebody always is, over all. Pictures of
    /// a camera that moves are brought onto the middle one first; those in which too little of it is recognised are left
    /// out. `None` where there is no picture or their sizes differ.
    pub fn of(shots: &[Shot]) -> Option<Self> {
        let chosen: Vec<&Shot> = shots.iter().step_by(shots.len().div_ceil(MOST).max(1)).collect();
        let middle = *chosen.get(chosen.len() / 2)?;
        let (width, height) = (middle.picture.width, middle.picture.height);
        let pixels = width as usize * height as usize;
        let whole = |p: &Picture| (p.width, p.height) == (width, height) && p.rgb.len() == 3 * pixels;
        if pixels == 0 || !chosen.iter().all(|shot| whole(&shot.picture)) {
            return None;
        }
        let maps = maps(&chosen);
        let layers: Vec<Layer> =
            chosen.iter().zip(&maps).filter_map(|(shot, map)| Some(Layer::new(shot, (*map)?))).collect();
        let (rgb, hidden) = medians(&layers, pixels);
        let upright = chosen.iter().zip(&maps).filter_map(|(shot, map)| {
            let back = (*map)?.inverse()?;
            Some(shot.player?.map(|p| back.apply(p)))
        });
        let tall = |p: &[Point2; 2]| p[0].y - p[1].y;
        let player = upright.max_by(|a, b| tall(a).total_cmp(&tall(b)));
        Some(Self { frame: middle.frame, picture: Picture { width, height, rgb }, hidden, player })
    }
}

/// The map from the middle picture to each, where it is found.
fn maps(shots: &[&Shot]) -> Vec<Option<Map>> {
    let middle = shots.len() / 2;
    // One at a time: a plane takes more memory than the picture.
    let plane = |k: usize| Plane::darkest(&shots[k].picture);
    let own = plane(middle);
    let places = Places::of(&own, &shots[middle].people);
    let edges = OnceCell::new();
    let (width, height) = (own.width as f64, own.height as f64);
    let mut maps = vec![None; shots.len()];
    maps[middle] = Some(Map::SAME);
    let mut walk = |order: &mut dyn Iterator<Item = usize>| {
        // The next picture has moved on from the last one.
        let mut guess = Map::SAME;
        for k in order {
            let plane = plane(k);
            if let Some(map) = places.find_in(&plane, &guess) {
                let is_still = map.largest_move(width, height) < STILL;
                let edges = || edges.get_or_init(|| Edges::of(&own, &shots[middle].people));
                let map = if is_still { Map::SAME } else { edges().bring(&plane, &map) };
                guess = map;
                maps[k] = Some(map);
            }
        }
    };
    walk(&mut (middle + 1..shots.len()));
    walk(&mut (0..middle).rev());
    maps
}

/// A picture brought onto the middle one.
struct Layer<'a> {
    rgb: std::borrow::Cow<'a, [u8]>,
    /// What doesn't count: people, and what lies outside the picture.
    hidden: Vec<bool>,
}

impl<'a> Layer<'a> {
    fn new(shot: &'a Shot, map: Map) -> Self {
        let (width, height) = (shot.picture.width as usize, shot.picture.height as usize);
        let mask = mask(&shot.people, width, height);
        if map == Map::SAME {
            return Self { rgb: (&shot.picture.rgb).into(), hidden: mask };
        }
        let mut rgb = vec![0; 3 * width * height];
        let mut hidden = vec![true; width * height];
        for (k, (to, hidden)) in rgb.chunks_exact_mut(3).zip(&mut hidden).enumerate() {
            let p = map.apply(Point2::new((k % width) as f64, (k / width) as f64));
            if p.x < 0.0 || p.y < 0.0 || p.x >= width as f64 - 1.0 || p.y >= height as f64 - 1.0 {
                continue;
            }
            let (left, top) = (p.x as usize, p.y as usize);
            let (u, v) = ((p.x - left as f64) as f32, (p.y - top as f64) as f32);
            let start = top * width + left;
            *hidden = mask[start];
            for (channel, to) in to.iter_mut().enumerate() {
                let at = |k: usize| f32::from(shot.picture.rgb[3 * k + channel]);
                let upper = at(start) * (1.0 - u) + at(start + 1) * u;
                let lower = at(start + width) * (1.0 - u) + at(start + width + 1) * u;
                *to = (upper * (1.0 - v) + lower * v + 0.5) as u8;
            }
        }
        Self { rgb: rgb.into(), hidden }
    }
}

/// The median of each pixel, and where nothing was ever seen without somebody before it.
fn medians(layers: &[Layer], pixels: usize) -> (Vec<u8>, Vec<bool>) {
    let mut rgb = vec![0; 3 * pixels];
    let mut always = vec![false; pixels];
    let mut seen = [0; MOST];
    for (pixel, (to, always)) in rgb.chunks_exact_mut(3).zip(&mut always).enumerate() {
        let mut count = 0;
        for (k, layer) in layers.iter().enumerate() {
            if !layer.hidden[pixel] {
                seen[count] = k;
                count += 1;
            }
        }
        if count == 0 {
            *always = true;
            count = layers.len();
            (0..count).for_each(|k| seen[k] = k);
        }
        for (channel, to) in to.iter_mut().enumerate() {
            let mut values = [0; MOST];
            for (value, k) in values.iter_mut().zip(&seen[..count]) {
                *value = layers[*k].rgb[3 * pixel + channel];
            }
            let values = &mut values[..count];
            *to = *values.select_nth_unstable(count / 2).1;
        }
    }
    (rgb, always)
}

fn mask(hidden: &[Hidden], width: usize, height: usize) -> Vec<bool> {
    let mut mask = vec![false; width * height];
    let clip = |v: f64, most: usize| v.clamp(0.0, most as f64) as usize;
    for part in hidden {
        let (left, right) = (clip(part.from.x, width), clip(part.to.x + 1.0, width));
        for y in clip(part.from.y, height)..clip(part.to.y + 1.0, height) {
            mask[y * width..][left.min(right)..right].fill(true);
        }
    }
    mask
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A textured wall over a plain floor, with somebody dark at the left who is masked.
    fn shot(frame: usize, dark: bool) -> Shot {
        let (width, height) = (320, 200);
        let mut rgb: Vec<u8> = (0..width * height)
            .flat_map(|k| {
                let (x, y) = (k % width, k / width);
                let tile = if (x / 12 + y / 9) % 2 == 0 { 60 } else { 160 };
                [if y < 150 { tile + (x * 7 % 13) as u8 } else { 200 }; 3]
            })
            .collect();
        let mut people = Vec::new();
        if dark {
            (40..190).for_each(|y| rgb[3 * (width * y + 20)..3 * (width * y + 60)].fill(10));
            people.extend(Hidden::around([Point2::new(20.0, 40.0), Point2::new(60.0, 190.0)], 0.0));
        }
        let player = dark.then(|| [Point2::new(40.0, 190.0), Point2::new(40.0, 45.0)]);
        Shot { frame: FrameIndex(frame), picture: Picture { width: 320, height: 200, rgb }, people, player }
    }

    #[test]
    fn somebody_who_steps_aside_once_is_gone() {
        let shots: Vec<Shot> =
            [true, true, false, true, true].iter().enumerate().map(|(k, d)| shot(k, *d)).collect();
        let empty = Empty::of(&shots).unwrap();
        assert_eq!(empty.picture, shot(0, false).picture);
        assert!(empty.hidden.iter().all(|h| !h));
        assert_eq!((empty.frame, empty.player.unwrap()[0]), (FrameIndex(2), Point2::new(40.0, 190.0)));
        let never = Empty::of(&shots[..2]).unwrap();
        assert!(never.hidden[320 * 100 + 40] && !never.hidden[320 * 100 + 80]);
        assert_eq!(Empty::of(&[]), None);
    }
}
