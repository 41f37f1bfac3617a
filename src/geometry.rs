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

impl Add for Point2 {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Point2 {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl Point2 {
    /// A point from its pixel coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, pixels.
    pub fn distance(self, other: Self) -> f64 {
        let Self { x, y } = self - other;
        (x * x + y * y).sqrt()
    }

    /// The point a share `t` of the way to `other` (0 = here, 1 = there).
    pub fn lerp(self, other: Self, t: f64) -> Self {
        Self::new(self.x + (other.x - self.x) * t, self.y + (other.y - self.y) * t)
    }
}

macro_rules! vector {
    ($(#[$meta:meta])* $name:ident { $($(#[$field_meta:meta])* $field:ident),* }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
        pub struct $name { $($(#[$field_meta])* pub $field: f64,)* }

        impl $name {
            /// A point from its three coordinates in metres.
            pub const fn new($($field: f64),*) -> Self {
                Self { $($field),* }
            }

            /// Scalar product.
            pub fn dot(self, other: Self) -> f64 {
                0.0 $(+ self.$field * other.$field)*
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

            /// The same direction with length 1; `None` where the vector has no length.
            pub fn unit(self) -> Option<Self> {
                let norm = self.norm();
                (norm > 1e-12).then(|| self / norm)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self { $($field: self.$field + other.$field),* }
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                *self = *self + other;
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self { $($field: self.$field - other.$field),* }
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                self * -1.0
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self { $($field: self.$field * factor),* }
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                self * (1.0 / divisor)
            }
        }
    };
}

vector!(
    /// A point or direction of the court's frame, in metres: `net` horizontal toward the net, `side` horizontal toward
    /// the hitting-arm side of a player who faces the net, `up` vertical.
    Court {
        /// Toward the net, metres.
        net,
        /// Toward the hitting-arm side of a player who faces the net, metres.
        side,
        /// Upward, metres over the ground.
        up
    }
);

vector!(
    /// A point or direction of the camera's frame held level, in metres: `right` as in the picture, `up` vertical,
    /// `away` horizontal from the lens into the scene.
    Camera {
        /// To the right of the picture, metres.
        right,
        /// Upward, metres.
        up,
        /// Away from the lens, metres.
        away
    }
);

/// Angle between two directions in degrees, 0 to 180; `None` where one of them has no length.
pub fn angle_between(a: Court, b: Court) -> Option<f64> {
    let lengths = a.norm() * b.norm();
    (lengths > 1e-12).then(|| (a.dot(b) / lengths).clamp(-1.0, 1.0).acos().to_degrees())
}

/// An angle in degrees brought into −180 … 180.
pub fn wrapped(degrees: f64) -> f64 {
    (degrees + 180.0).rem_euclid(360.0) - 180.0
}

/// Steps after which a distorted direction has settled.
const UNDISTORTING: usize = 20;

/// Distortion times the squared distance from the axis, from which on a barrel's formula nears its fold (at −4/27).
const NEAR_FOLD: f64 = -0.14;

/// A direction (right and down per length along the optical axis) without the lens's radial distortion: solves u (1 + k1 |u|²) = (x, y).
pub fn undistorted(k1: f64, x: f64, y: f64) -> (f64, f64) {
    if k1 == 0.0 {
        return (x, y);
    }
    // What stretches the direction, s = 1 + k1 |u|², solves s³ − s² = k1 |(x, y)|²: Newton's method from the first terms of its series.
    let bend = k1 * (x * x + y * y);
    if bend > NEAR_FOLD {
        let mut stretch = 1.0 + bend * (1.0 - bend * (2.0 - 7.0 * bend));
        for _ in 0..UNDISTORTING {
            let step = (stretch * stretch * (stretch - 1.0) - bend) / (stretch * (3.0 * stretch - 2.0));
            stretch -= step;
            // What is left then is of this size squared.
            if step.abs() < 1e-8 {
                break;
            }
        }
        return (x / stretch, y / stretch);
    }
    let (mut u, mut v) = (x, y);
    for _ in 0..UNDISTORTING {
        let stretch = (1.0 + k1 * (u * u + v * v)).max(0.3);
        (u, v) = (x / stretch, y / stretch);
    }
    (u, v)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_distorted_direction_comes_back() {
        for k1 in [-0.2, -0.05, 0.0, 0.04, 0.3] {
            for (u, v) in [(0.0, 0.0), (0.2, -0.1), (-0.5, 0.3), (0.7, 0.4)] {
                let stretch = 1.0 + k1 * (u * u + v * v);
                let (x, y) = undistorted(k1, u * stretch, v * stretch);
                assert!((x - u).hypot(y - v) < 1e-12, "{k1}: {u} {v}, came back {x} {y}");
            }
        }
    }
}
