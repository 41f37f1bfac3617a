//! Numbers that carry their exact derivatives, so that a formula is written once.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// Number of quantities after which is derived.
pub(super) const COUNT: usize = 15;

/// What a formula needs of a number.
pub(super) trait Real:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
{
    fn from(value: f64) -> Self;
    /// The value without derivatives.
    fn value(self) -> f64;
    fn sin(self) -> Self;
    fn cos(self) -> Self;
    fn exp(self) -> Self;
    fn sqrt(self) -> Self;
}

impl Real for f64 {
    fn from(value: f64) -> Self {
        value
    }
    fn value(self) -> f64 {
        self
    }
    fn sin(self) -> Self {
        self.sin()
    }
    fn cos(self) -> Self {
        self.cos()
    }
    fn exp(self) -> Self {
        self.exp()
    }
    fn sqrt(self) -> Self {
        self.sqrt()
    }
}

/// A value with its derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dual {
    pub value: f64,
    pub slope: [f64; COUNT],
}

impl Dual {
    /// The quantity number `index`.
    pub fn unknown(value: f64, index: usize) -> Self {
        let mut slope = [0.0; COUNT];
        slope[index] = 1.0;
        Self { value, slope }
    }

    fn chain(self, value: f64, factor: f64) -> Self {
        Self { value, slope: self.slope.map(|s| s * factor) }
    }

    fn join(self, other: Self, value: f64, a: f64, b: f64) -> Self {
        let mut slope = self.slope;
        slope.iter_mut().zip(other.slope).for_each(|(s, o)| *s = a * *s + b * o);
        Self { value, slope }
    }
}

impl Add for Dual {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        self.join(o, self.value + o.value, 1.0, 1.0)
    }
}
impl Sub for Dual {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        self.join(o, self.value - o.value, 1.0, -1.0)
    }
}
impl Mul for Dual {
    type Output = Self;
    fn mul(self, o: Self) -> Self {
        self.join(o, self.value * o.value, o.value, self.value)
    }
}
impl Div for Dual {
    type Output = Self;
    fn div(self, o: Self) -> Self {
        let value = self.value / o.value;
        self.join(o, value, 1.0 / o.value, -value / o.value)
    }
}
impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        self.chain(-self.value, -1.0)
    }
}
impl Add<f64> for Dual {
    type Output = Self;
    fn add(self, o: f64) -> Self {
        Self { value: self.value + o, ..self }
    }
}
impl Sub<f64> for Dual {
    type Output = Self;
    fn sub(self, o: f64) -> Self {
        Self { value: self.value - o, ..self }
    }
}
impl Mul<f64> for Dual {
    type Output = Self;
    fn mul(self, o: f64) -> Self {
        self.chain(self.value * o, o)
    }
}

impl Real for Dual {
    fn from(value: f64) -> Self {
        Self { value, slope: [0.0; COUNT] }
    }
    fn value(self) -> f64 {
        self.value
    }
    fn sin(self) -> Self {
        self.chain(self.value.sin(), self.value.cos())
    }
    fn cos(self) -> Self {
        self.chain(self.value.cos(), -self.value.sin())
    }
    fn exp(self) -> Self {
        let value = self.value.exp();
        self.chain(value, value)
    }
    fn sqrt(self) -> Self {
        let root = self.value.sqrt();
        self.chain(root, 0.5 / root.max(1e-12))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn formula<T: Real>(x: T, y: T) -> T {
        (x.sin() * y + x / y.exp() - 3.0).cos() * (x * x + y * y).sqrt() + (x * 2.0 + 1.0)
    }

    #[test]
    fn derivatives_are_those_of_small_steps() {
        let (x, y, step) = (0.7, 0.4, 1e-6);
        let exact = formula(Dual::unknown(x, 0), Dual::unknown(y, 3));
        let slope = |a: f64, b: f64| (a - b) / (2.0 * step);
        assert_eq!(exact.value, formula(x, y));
        assert!((exact.slope[0] - slope(formula(x + step, y), formula(x - step, y))).abs() < 1e-7);
        assert!((exact.slope[3] - slope(formula(x, y + step), formula(x, y - step))).abs() < 1e-7);
        assert_eq!(exact.slope[5], 0.0);
    }
}
