//! Quantiles of the distributions that intervals are made from.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The value under which a share `p` of Student's t distribution with `freedom` degrees of freedom lies. Freedom beyond
/// what the distribution's formulas hold is the normal distribution. `None` for a share or freedom that isn't one.
pub fn t_quantile(p: f64, freedom: f64) -> Option<f64> {
    /// From here on the two quantiles agree to seven digits.
    const NEARLY_NORMAL: f64 = 1e7;
    if freedom.is_nan() || freedom <= 0.0 {
        return None;
    }
    if freedom > NEARLY_NORMAL {
        return normal_quantile(p);
    }
    is_share(p).then(|| StudentsT::new(0.0, 1.0, freedom).ok().map(|t| t.inverse_cdf(p))).flatten()
}

/// Two-sided p of Student's t with `freedom` degrees of freedom; the normal distribution's for an infinite freedom. `None`
/// where the freedom isn't one.
pub fn t_two_sided(t: f64, freedom: f64) -> Option<f64> {
    if freedom.is_nan() || freedom <= 0.0 || t.is_nan() {
        return None;
    }
    let tail = match StudentsT::new(0.0, 1.0, freedom) {
        Ok(student) if freedom.is_finite() => student.cdf(-t.abs()),
        _ => normal_cdf(-t.abs()),
    };
    Some((2.0 * tail).min(1.0))
}

/// The value under which a share `p` of the standard normal distribution lies.
pub fn normal_quantile(p: f64) -> Option<f64> {
    is_share(p).then(|| Normal::standard().inverse_cdf(p))
}

/// The share of the standard normal distribution under `z`.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

fn is_share(p: f64) -> bool {
    p > 0.0 && p < 1.0
}
