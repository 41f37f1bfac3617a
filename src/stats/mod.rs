//! Statistics of small samples: pure functions. What can't be computed is `None`.

mod describe;

pub use describe::{Interval, Summary, mean_interval};
