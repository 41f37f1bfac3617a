//! Newtypes for the quantities that pass between rooms, so that a frame number is never taken for a time.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// Position of a picture in its clip, counted from 0 in presentation order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FrameIndex(pub usize);

impl fmt::Display for FrameIndex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "frame {}", self.0)
    }
}

macro_rules! quantity {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl $name {
            /// Magnitude without its sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
            /// The smaller of two (neither is NaN in this crate).
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
            /// The larger of two (neither is NaN in this crate).
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }
    };
}

quantity!(
    /// Time in seconds; positions in a clip count from its first picture.
    Seconds
);
quantity!(
    /// Length in metres.
    Metres
);
quantity!(
    /// Angle in degrees.
    Degrees
);

/// A time with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Seconds since the clip's first picture, or a span.
    pub time: Seconds,
    /// Standard deviation.
    pub spread: Seconds,
}

impl Seconds {
    /// The same span in milliseconds.
    pub fn milliseconds(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Degrees {
    /// The same angle in radians.
    pub fn radians(self) -> f64 {
        self.0.to_radians()
    }

    /// An angle given in radians.
    pub fn from_radians(radians: f64) -> Self {
        Self(radians.to_degrees())
    }
}

/// A day `YYYY-MM-DD` as a number; only differences mean something, which are days. `None` for what is no day. Days since the year 0
/// in the Gregorian calendar (Richards 2013, Explanatory Supplement to the Astronomical Almanac, 15.11, shifted).
pub fn day_number(date: &str) -> Option<f64> {
    let mut parts = date.split('-').map(|part| part.parse::<i64>().ok());
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    let (year, month) = if month > 2 { (year, month) } else { (year - 1, month + 12) };
    Some((365 * year + year / 4 - year / 100 + year / 400 + (153 * (month - 3) + 2) / 5 + day) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_through_leap_years() {
        let between = |a: &str, b: &str| day_number(b).unwrap() - day_number(a).unwrap();
        assert_eq!(between("2024-02-28", "2024-03-01"), 2.0);
        assert_eq!(between("2025-02-28", "2025-03-01"), 1.0);
        assert_eq!(between("2024-12-31", "2025-01-01"), 1.0);
        assert_eq!(between("2024-01-01", "2025-01-01"), 366.0);
        assert_eq!(day_number("soon"), None);
    }
}
