//! Landmarks of a whole clip in little memory.
//!
//! An hour of practice has 200,000 frames. Numbers are kept in 32 bits here, which hold a pixel to a ten-thousandth and a metre to a
//! thousandth of a millimetre, and are worked with in 64.

use super::landmark::{COUNT, Landmark};
use super::motion::{Depth, MotionPoint};
use crate::geometry::{Camera, Point2};

/// What stands in the place of the first number where there is nothing.
const NONE: f32 = f32::INFINITY;

/// Something that can be kept as a few 32-bit numbers, the first of them finite.
pub trait Kept: Copy {
    /// The numbers.
    type Numbers: Copy + PartialEq + std::fmt::Debug + AsRef<[f32]>;
    /// What is kept where there is nothing.
    const NOTHING: Self::Numbers;
    /// As it is kept.
    fn numbers(self) -> Self::Numbers;
    /// As it was before, to seven digits.
    fn of(numbers: Self::Numbers) -> Self;
}

impl Kept for MotionPoint {
    type Numbers = [f32; 3];
    const NOTHING: [f32; 3] = [NONE; 3];

    fn numbers(self) -> [f32; 3] {
        let visibility = self.visibility as f32;
        // What is bridged is told by the sign.
        [self.at.x as f32, self.at.y as f32, if self.bridged { -1.0 - visibility } else { visibility }]
    }

    fn of([x, y, visibility]: [f32; 3]) -> Self {
        let bridged = visibility < 0.0;
        let visibility = f64::from(if bridged { -1.0 - visibility } else { visibility });
        Self { at: Point2::new(f64::from(x), f64::from(y)), visibility, bridged }
    }
}

impl Kept for Camera {
    type Numbers = [f32; 3];
    const NOTHING: [f32; 3] = [NONE; 3];

    fn numbers(self) -> [f32; 3] {
        [self.right as f32, self.up as f32, self.away as f32]
    }

    fn of(numbers: [f32; 3]) -> Self {
        let [right, up, away] = numbers.map(f64::from);
        Self::new(right, up, away)
    }
}

impl Kept for Depth {
    type Numbers = [f32; 2];
    const NOTHING: [f32; 2] = [NONE; 2];

    fn numbers(self) -> [f32; 2] {
        [self.away as f32, self.spread as f32]
    }

    fn of(numbers: [f32; 2]) -> Self {
        let [away, spread] = numbers.map(f64::from);
        Self { away, spread }
    }
}

/// What is known of `N` landmarks in each frame of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Compact<T: Kept, const N: usize = COUNT>(Vec<[T::Numbers; N]>);

/// Something for each landmark in one frame.
pub type OfAll<T> = [Option<T>; COUNT];

fn read<T: Kept>(numbers: T::Numbers) -> Option<T> {
    (numbers.as_ref().first() != Some(&NONE)).then(|| T::of(numbers))
}

impl<T: Kept, const N: usize> Compact<T, N> {
    /// So many frames in which nothing is known.
    pub fn nothing(frames: usize) -> Self {
        Self(vec![[T::NOTHING; N]; frames])
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is no frame.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What is known at a place of a frame; nothing in a frame that doesn't exist.
    pub fn get(&self, frame: usize, place: usize) -> Option<T> {
        read(self.0.get(frame)?[place])
    }

    /// Sets what is known at a place of a frame.
    ///
    /// # Panics
    /// Where the frame doesn't exist.
    pub fn set(&mut self, frame: usize, place: usize, value: Option<T>) {
        self.0[frame][place] = value.map_or(T::NOTHING, T::numbers);
    }

    /// Sets all that is known in a frame.
    ///
    /// # Panics
    /// Where the frame doesn't exist.
    pub fn put(&mut self, frame: usize, values: [Option<T>; N]) {
        self.0[frame] = values.map(|value| value.map_or(T::NOTHING, T::numbers));
    }

    /// All that is known in a frame; nothing in one that doesn't exist.
    pub fn at(&self, frame: usize) -> [Option<T>; N] {
        self.0.get(frame).map_or([None; N], |numbers| numbers.map(read))
    }

    /// All that is known, frame by frame.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = [Option<T>; N]> + '_ {
        self.0.iter().map(|numbers| numbers.map(read))
    }

    /// Adds a frame.
    pub fn push(&mut self, frame: [Option<T>; N]) {
        self.0.push(frame.map(|value| value.map_or(T::NOTHING, T::numbers)));
    }

    /// Whether anything is known in a frame.
    pub fn is_known(&self, frame: usize) -> bool {
        self.0.get(frame).is_some_and(|numbers| numbers.iter().any(|n| read::<T>(*n).is_some()))
    }
}

impl<T: Kept, const N: usize> Default for Compact<T, N> {
    fn default() -> Self {
        Self::nothing(0)
    }
}

impl<T: Kept, const N: usize> From<Vec<[Option<T>; N]>> for Compact<T, N> {
    fn from(frames: Vec<[Option<T>; N]>) -> Self {
        let mut compact = Self(Vec::with_capacity(frames.len()));
        frames.into_iter().for_each(|frame| compact.push(frame));
        compact
    }
}

/// The landmarks whose depth is told, in the depth network's order: left before right.
pub const DEEP: [Landmark; 14] = [
    Landmark::LeftShoulder,
    Landmark::RightShoulder,
    Landmark::LeftElbow,
    Landmark::RightElbow,
    Landmark::LeftWrist,
    Landmark::RightWrist,
    Landmark::LeftHip,
    Landmark::RightHip,
    Landmark::LeftKnee,
    Landmark::RightKnee,
    Landmark::LeftAnkle,
    Landmark::RightAnkle,
    Landmark::LeftToe,
    Landmark::RightToe,
];

/// Depths of those in each frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DepthTable(Compact<Depth, { DEEP.len() }>);

impl DepthTable {
    /// So many frames in which nothing is told.
    pub fn nothing(frames: usize) -> Self {
        Self(Compact::nothing(frames))
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is no frame.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Sets the depth of one of [`DEEP`] in a frame.
    ///
    /// # Panics
    /// Where the frame doesn't exist.
    pub fn set(&mut self, frame: usize, place: usize, depth: Option<Depth>) {
        self.0.set(frame, place, depth);
    }

    /// Depths of all landmarks in a frame.
    pub fn at(&self, frame: usize) -> OfAll<Depth> {
        let mut all = [None; COUNT];
        for (place, landmark) in DEEP.into_iter().enumerate() {
            all[landmark as usize] = self.0.get(frame, place);
        }
        all
    }

    /// Adds a frame.
    pub fn push(&mut self, all: OfAll<Depth>) {
        self.0.push(DEEP.map(|landmark| all[landmark as usize]));
    }

    /// Whether any depth is told.
    pub fn is_told(&self) -> bool {
        (0..self.len()).any(|frame| self.0.is_known(frame))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_comes_back_and_nothing_stays_nothing() {
        let point = |bridged| MotionPoint { at: Point2::new(1279.25, -3.5), visibility: 0.75, bridged };
        let mut points: Compact<MotionPoint> = Compact::nothing(2);
        points.set(1, 4, Some(point(true)));
        points.set(1, 5, Some(point(false)));
        assert_eq!((points.get(1, 4), points.get(1, 5)), (Some(point(true)), Some(point(false))));
        assert_eq!((points.get(1, 6), points.get(0, 4), points.get(2, 4)), (None, None, None));
        assert!(points.is_known(1) && !points.is_known(0) && !points.is_known(2));
        assert_eq!(points, points.clone());
        let unseen = MotionPoint { visibility: 0.0, ..point(true) };
        points.set(0, 0, Some(unseen));
        assert_eq!(points.at(0)[0], Some(unseen));
    }

    #[test]
    fn depths_are_those_of_the_joints() {
        let depth = Some(Depth { away: -0.25, spread: 0.5 });
        let mut all = [None; COUNT];
        all[Landmark::LeftKnee as usize] = depth;
        let mut table = DepthTable::default();
        table.push(all);
        table.push([None; COUNT]);
        assert_eq!((table.at(0), table.at(1), table.len()), (all, [None; COUNT], 2));
        assert!(table.is_told() && !DepthTable::nothing(3).is_told());
    }
}
