//! Statistics of small samples that follow one another in time: pure functions, seeded where they draw.
//!
//! Strokes of one session are few and resemble their neighbours, so intervals are wider than a textbook's: see
//! [`dependence`]. Samples are slices in the order in which the strokes were hit. What can't be computed is `None`.

mod bootstrap;
mod combinations;
pub mod compare;
pub mod dependence;
mod describe;
mod distribution;
mod effect;
mod medoid;
mod multiple;
mod permutation;
mod sessions;

pub use bootstrap::bca;
pub use compare::{Difference, Extra, difference};
pub use describe::{Summary, mean_interval, outliers};
pub use distribution::{normal_cdf, normal_quantile, t_quantile, t_two_sided};
pub use effect::hedges_g;
pub use medoid::medoid;
pub use multiple::{benjamini_hochberg, holm};
pub use permutation::permutation_p;
pub use sessions::{Between, FEWEST_SESSIONS, between_sessions};

/// Half width of a two-sided 95 % interval in standard deviations of a normal distribution.
pub const TWO_SIDED_95: f64 = 1.959_963_985;

/// Standard error of a median in standard errors of a mean, √(π/2), for values that are nearly normal.
pub const MEDIAN_OVER_MEAN: f64 = 1.253_314_137;

/// An interval that holds the truth in 95 of 100 cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

impl Interval {
    /// Whether a value lies in it, ends included.
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// Whether all of it lies within `±margin`.
    pub fn is_within(&self, margin: f64) -> bool {
        self.low >= -margin && self.high <= margin
    }
}
