//! Points and directions in a named frame of reference, and the angles between them.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// A point of the upright picture, in pixels: x to the right, y down, the first pixel's centre at (0, 0).
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point2 {
    /// To the right, pixels.
    pub x: f64,
    /// Down, pixels.
    pub y: f64,
}

impl Point2 {
    /// A point from its pixel coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, pixels.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The point a share `t` of the way to `other` (0 = here, 1 = there).
    pub fn lerp(self, other: Self, t: f64) -> Self {
        Self::new(self.x + (other.x - self.x) * t, self.y + (other.y - self.y) * t)
    }
}

/// A point or direction of the court's frame, in metres: `net` horizontal toward the net, `side` horizontal toward the
/// hitting-arm side of a player who faces the net, `up` vertical.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Court {
    /// Toward the net, metres.
    pub net: f64,
    /// Toward the hitting-arm side of a player who faces the net, metres.
    pub side: f64,
    /// Upward, metres over the ground.
    pub up: f64,
}

impl Court {
    /// A point from its three coordinates in metres.
    pub const fn new(net: f64, side: f64, up: f64) -> Self {
        Self { net, side, up }
    }

    /// Scalar product.
    pub fn dot(self, other: Self) -> f64 {
        self.net * other.net + self.side * other.side + self.up * other.up
    }

    /// Length of the vector, metres.
    pub fn norm(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// The part that lies in the ground's plane.
    pub fn horizontal(self) -> Self {
        Self { up: 0.0, ..self }
    }

    /// The point half way to another one.
    pub fn middle(self, other: Self) -> Self {
        (self + other) * 0.5
    }
}

impl Add for Court {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self::new(self.net + o.net, self.side + o.side, self.up + o.up)
    }
}

impl AddAssign for Court {
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}

impl Sub for Court {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self::new(self.net - o.net, self.side - o.side, self.up - o.up)
    }
}

impl Neg for Court {
    type Output = Self;
    fn neg(self) -> Self {
        self * -1.0
    }
}

impl Mul<f64> for Court {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        Self::new(self.net * k, self.side * k, self.up * k)
    }
}

impl Div<f64> for Court {
    type Output = Self;
    fn div(self, k: f64) -> Self {
        self * (1.0 / k)
    }
}

/// Angle between two directions in degrees, 0 to 180; `None` where one of them has no length.
pub fn angle_between(a: Court, b: Court) -> Option<f64> {
    let lengths = a.norm() * b.norm();
    (lengths > 1e-12).then(|| (a.dot(b) / lengths).clamp(-1.0, 1.0).acos().to_degrees())
}
