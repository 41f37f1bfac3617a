//! Size of a difference against the strokes' own spread.

use statrs::function::gamma::ln_gamma;

use super::Summary;

/// Hedges' g: difference of means (after − before) over the pooled standard deviation, with the exact correction for small
/// samples J = Γ(m/2) / (√(m/2)·Γ((m − 1)/2)), m = n₁ + n₂ − 2 (Hedges 1981, J Educ Stat 6:107). `None` for fewer than
/// two values on a side, or without any spread.
pub fn hedges_g(before: &[f64], after: &[f64]) -> Option<f64> {
    let (before, after) = (Summary::of(before)?, Summary::of(after)?);
    let freedom = (before.n + after.n) as f64 - 2.0;
    let squares = before.sd?.powi(2) * (before.n - 1) as f64 + after.sd?.powi(2) * (after.n - 1) as f64;
    let pooled = (squares / freedom).sqrt();
    let correction =
        (ln_gamma(0.5 * freedom) - ln_gamma(0.5 * (freedom - 1.0))).exp() / (0.5 * freedom).sqrt();
    (pooled > 0.0).then(|| correction * (after.mean - before.mean) / pooled)
}
