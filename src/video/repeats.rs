//! Finds pictures that merely repeat the one before, as when material of 24 frames/s is stored at 30.
//!
//! A repeat shows as a sudden dip: the scene moves, stands for a picture or a few, and moves again. A quiet scene is
//! quiet for longer, and its changes come and go gradually; noise never lets a change fall far below its neighbours,
//! and averaged over blocks it stays below the motion that a verdict needs. So a short run of pictures is called
//! repeats only if their change is a small part of the change on both sides, and that change is motion. Where nothing
//! moves, no verdict is given.

use std::collections::VecDeque;

use super::frames::Frame;
use super::picture::Picture;

/// Blocks across and down in which brightness is averaged.
const BLOCKS: (usize, usize) = (64, 36);

/// Samples a block side, at most.
const SAMPLES: usize = 10;

/// The change of a picture is the mean over this many of its most changed blocks: a far player covers few.
const CHANGED_BLOCKS: usize = 16;

/// Least change (grey levels of 255) that counts as motion; averaged camera noise stays below.
const LEAST_MOTION: f32 = 1.5;

/// A repeat changes at most this share of what its neighbours change (what coding leaves of an exact repeat).
const REPEAT_SHARE: f32 = 0.15;

/// Most repeats in a row: 12 frames/s stored at 60. More pictures than that without motion are a quiet scene.
const LONGEST_RUN: usize = 4;

/// Marks repeats in a stream of frames, holding back at most five until their followers are known.
#[derive(Default)]
pub(super) struct RepeatFinder {
    previous: Vec<f32>,
    waiting: VecDeque<(Frame, f32)>,
    /// Change of the last frame that was let go as no repeat.
    before: Option<f32>,
    found: usize,
    ended: bool,
}

impl RepeatFinder {
    /// Takes the next frame of the clip.
    pub(super) fn push(&mut self, frame: Frame) {
        let blocks = brightness(&frame.picture);
        let change = change(&self.previous, &blocks);
        self.previous = blocks;
        // The first picture cannot repeat anything.
        self.waiting.push_back((frame, change.unwrap_or(f32::INFINITY)));
    }

    /// Says that no further frame comes.
    pub(super) fn end(&mut self) {
        self.ended = true;
    }

    /// The next frame about which there is a verdict, with it; `None` where more frames are needed or none is left.
    pub(super) fn pop(&mut self) -> Option<Frame> {
        let duplicate = self.verdict()?;
        let (mut frame, change) = self.waiting.pop_front()?;
        frame.duplicate = duplicate;
        if duplicate {
            self.found += 1;
        } else if change.is_finite() {
            self.before = Some(change);
        }
        Some(frame)
    }

    fn verdict(&self) -> Option<bool> {
        let (_, first) = self.waiting.front()?;
        if !first.is_finite() {
            return Some(false);
        }
        let mut run_change = 0.0_f32;
        for (length, (_, change)) in self.waiting.iter().enumerate() {
            let motion = LEAST_MOTION.max(run_change / REPEAT_SHARE);
            if length > 0 && *change >= motion {
                return Some(self.before.is_none_or(|before| before >= motion));
            }
            if length >= LONGEST_RUN {
                return Some(false);
            }
            run_change = run_change.max(*change);
            // Such a change needs motion that no picture has: no repeat, whatever follows.
            if run_change >= 255.0 * REPEAT_SHARE
                || self.before.is_some_and(|b| b * REPEAT_SHARE < run_change)
            {
                return Some(false);
            }
        }
        // At the very end only one side is known; it counts where the clip has shown repeats before.
        let motion = LEAST_MOTION.max(run_change / REPEAT_SHARE);
        self.ended.then(|| self.found > 0 && self.before.is_some_and(|before| before >= motion))
    }
}

/// Mean brightness (0 to 255) of each block.
fn brightness(picture: &Picture) -> Vec<f32> {
    let (width, height) = (picture.width as usize, picture.height as usize);
    let (across, down) = (BLOCKS.0.min(width), BLOCKS.1.min(height));
    let mut means = Vec::with_capacity(across * down);
    for row in 0..down {
        let (top, bottom) = (row * height / down, (row + 1) * height / down);
        let step_y = ((bottom - top) / SAMPLES).max(1);
        for column in 0..across {
            let (left, right) = (column * width / across, (column + 1) * width / across);
            let step_x = ((right - left) / SAMPLES).max(1);
            let (mut sum, mut count) = (0_u32, 0_u32);
            for y in (top..bottom).step_by(step_y) {
                let line =
                    picture.rgb.get((y * width + left) * 3..(y * width + right) * 3).unwrap_or_default();
                for pixel in line.chunks_exact(3).step_by(step_x) {
                    if let [red, green, blue] = *pixel {
                        // Green weighs double, nearly as in luma.
                        sum += u32::from(red) + 2 * u32::from(green) + u32::from(blue);
                        count += 4;
                    }
                }
            }
            means.push(sum as f32 / count.max(1) as f32);
        }
    }
    means
}

/// Mean difference (grey levels) of the most changed blocks; `None` for pictures that cannot be compared.
fn change(previous: &[f32], next: &[f32]) -> Option<f32> {
    if previous.len() != next.len() || next.is_empty() {
        return None;
    }
    let mut differences: Vec<f32> = previous.iter().zip(next).map(|(a, b)| (a - b).abs()).collect();
    let most = CHANGED_BLOCKS.min(differences.len());
    if most < differences.len() {
        differences.select_nth_unstable_by(most, |a, b| b.total_cmp(a));
    }
    Some(differences.iter().take(most).sum::<f32>() / most as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{FrameIndex, Seconds};

    /// Which of a clip's pictures count as repeats, each a bright bar at a place (pixels) plus a grey level.
    fn repeats(pictures: &[(usize, u8)]) -> Vec<usize> {
        let mut finder = RepeatFinder::default();
        let mut found = Vec::new();
        let mut take = |finder: &mut RepeatFinder| {
            while let Some(frame) = finder.pop() {
                if frame.duplicate {
                    found.push(frame.index.0);
                }
            }
        };
        for (index, (place, grey)) in pictures.iter().enumerate() {
            let mut rgb = vec![*grey; 128 * 72 * 3];
            for row in rgb.chunks_exact_mut(128 * 3) {
                row[place * 3..(place + 12) * 3].fill(200);
            }
            let picture = Picture { width: 128, height: 72, rgb };
            finder.push(Frame {
                index: FrameIndex(index),
                time: Seconds(0.0),
                picture,
                duplicate: false,
                damaged: false,
            });
            take(&mut finder);
        }
        finder.end();
        take(&mut finder);
        found
    }

    #[test]
    fn one_in_five() {
        let places: Vec<_> = [0, 4, 8, 12, 12, 16, 20, 24, 28, 28, 32].map(|place| (place, 20)).into();
        assert_eq!(repeats(&places), [4, 9]);
    }

    #[test]
    fn four_in_five_and_at_both_ends() {
        let places: Vec<_> = (0..15).map(|index| (index / 5 * 6, 20)).collect();
        assert_eq!(repeats(&places), [1, 2, 3, 4, 6, 7, 8, 9, 11, 12, 13, 14]);
    }

    #[test]
    fn a_still_scene_gives_no_verdict() {
        assert!(repeats(&[(5, 20); 20]).is_empty());
        // Flicker that comes and goes with every other picture, as coded noise may.
        let flicker: Vec<_> = (0..20).map(|index| (5, 20 + (index / 2 % 2) as u8)).collect();
        assert!(repeats(&flicker).is_empty());
    }

    #[test]
    fn a_stop_is_no_repeat() {
        let places: Vec<_> = (0..30_usize).map(|index| (index.min(10) * 4, 20)).collect();
        assert!(repeats(&places).is_empty());
    }
}
