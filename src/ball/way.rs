//! A ball's way through a few pictures: place, speed and bend by least squares.

use crate::geometry::Point2;
use crate::units::{FrameIndex, Seconds};

/// A spot that belongs to a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighted {
    /// The picture.
    pub frame: FrameIndex,
    /// Its time.
    pub time: Seconds,
    /// Its place against the background, pixels: the picture's when nothing moves the camera.
    pub at: Point2,
}

/// A ball's way before or after contact, against the background.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Where it was seen.
    pub sights: Vec<Sighted>,
    /// The time to which the numbers below belong.
    time: Seconds,
    /// Place (pixels), speed and change of speed (per second), right and down.
    terms: [[f64; 2]; 3],
    /// Their covariance, the same in both directions.
    covariance: [[f64; 3]; 3],
}

/// What is known of a way before it is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Expected {
    /// Error of one sight, pixels per axis (1 standard deviation).
    pub(super) place: f64,
    /// Change of speed downward by weight, pixels per second squared.
    pub(super) fall: f64,
    /// How far the change of speed is from that (1 standard deviation).
    pub(super) bend: f64,
}

impl Way {
    /// The way through sights, told at a time; `None` where they don't tell a speed.
    pub(super) fn through(sights: Vec<Sighted>, time: Seconds, expected: Expected) -> Option<Self> {
        let weight = expected.place.powi(-2);
        let mut normal = [[0.0; 3]; 3];
        let mut right = [[0.0; 2]; 3];
        for sight in &sights {
            let powers = powers(sight.time - time);
            for i in 0..3 {
                for j in 0..3 {
                    normal[i][j] += weight * powers[i] * powers[j];
                }
                right[i][0] += weight * powers[i] * sight.at.x;
                right[i][1] += weight * powers[i] * sight.at.y;
            }
        }
        let known = expected.bend.powi(-2);
        normal[2][2] += known;
        right[2][1] += known * expected.fall;
        let covariance = inverse(normal)?;
        let terms =
            std::array::from_fn(|i| [0, 1].map(|c| (0..3).map(|j| covariance[i][j] * right[j][c]).sum()));
        Some(Self { sights, time, terms, covariance })
    }

    /// How far its sights lie off, root mean square, pixels.
    pub(super) fn off(&self) -> f64 {
        let squares: f64 = self.sights.iter().map(|s| self.at(s.time).distance(s.at).powi(2)).sum();
        (squares / self.sights.len().max(1) as f64).sqrt()
    }

    /// Where the ball is at a time, against the background, pixels.
    pub fn at(&self, time: Seconds) -> Point2 {
        let powers = powers(time - self.time);
        let [x, y] = [0, 1].map(|c| (0..3).map(|i| powers[i] * self.terms[i][c]).sum());
        Point2::new(x, y)
    }

    /// Error of that, pixels per axis (1 standard deviation).
    pub fn spread(&self, time: Seconds) -> f64 {
        let powers = powers(time - self.time);
        let square: f64 =
            (0..3).map(|i| (0..3).map(|j| powers[i] * powers[j] * self.covariance[i][j]).sum::<f64>()).sum();
        square.max(0.0).sqrt()
    }

    /// Pixels per second to the right and down at a time.
    pub fn speed(&self, time: Seconds) -> [f64; 2] {
        let since = (time - self.time).0;
        [0, 1].map(|c| self.terms[1][c] + since * self.terms[2][c])
    }
}

fn powers(since: Seconds) -> [f64; 3] {
    [1.0, since.0, 0.5 * since.0 * since.0]
}

/// The inverse of a symmetric matrix by its cofactors; `None` where it has none.
fn inverse(m: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let minor = |i: usize, j: usize| {
        let (a, b) = ((i + 1) % 3, (i + 2) % 3);
        let (c, d) = ((j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let determinant: f64 = (0..3).map(|j| m[0][j] * minor(0, j)).sum();
    let scale = m[0][0] * m[1][1] * m[2][2];
    (determinant.abs() > 1e-12 * scale.abs() && determinant.is_finite())
        .then(|| std::array::from_fn(|i| std::array::from_fn(|j| minor(j, i) / determinant)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thrown_ball_is_where_its_parabola_leads() {
        let place = |t: f64| Point2::new(800.0 - 2500.0 * t, 400.0 + 90.0 * t + 0.5 * 2300.0 * t * t);
        let sights = (0..5).map(|i| {
            let t = -0.1 + f64::from(i) / 60.0;
            Sighted { frame: FrameIndex(i as usize), time: Seconds(3.0 + t), at: place(t) }
        });
        let expected = Expected { place: 2.0, fall: 2300.0, bend: 1200.0 };
        let way = Way::through(sights.collect(), Seconds(3.0), expected).unwrap();
        let (found, truth) = (way.at(Seconds(3.01)), place(0.01));
        assert!(found.distance(truth) < 0.5, "{found:?} {truth:?}");
        assert!((way.speed(Seconds(3.0))[0] + 2500.0).abs() < 15.0);
        assert!(way.off() < 0.1);
        assert!(way.spread(Seconds(3.01)) > way.spread(Seconds(2.95)));
    }
}
