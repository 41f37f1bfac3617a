//! Strokes resemble their neighbours: by how much, and what that does to a standard error.

/// Correlation that neighbours are taken to have where the strokes say nothing about it.
pub const USUAL: f64 = 0.25;

/// So many strokes weigh as much as that prior.
const PRIOR_WEIGHT: f64 = 15.0;

/// A correlation is never taken to be larger.
const LARGEST: f64 = 0.6;

/// Correlation of a sample with itself one place on, Σ(xᵢ − x̄)(xᵢ₊₁ − x̄) / Σ(xᵢ − x̄)² (Box, Jenkins & Reinsel 1994,
/// Time Series Analysis, eq. 2.1.11); 0 without any spread.
pub fn lag_one(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    let products: f64 = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
    if squares > 0.0 { products / squares } else { 0.0 }
}

/// By how much the standard error of a mean grows because neighbours resemble each other: √((1 + r)/(1 − r)) for a
/// first-order autoregressive series (Bartlett 1946, J R Stat Soc Suppl 8:27). The r of a short sample is hardly known and
/// comes out too small, so it is shrunk toward [`USUAL`] with weight n/(n + 15) on the data and kept from 0 to 0.6.
pub fn inflation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let own = n / (n + PRIOR_WEIGHT);
    let r = (own * lag_one(values) + (1.0 - own) * USUAL).clamp(0.0, LARGEST);
    ((1.0 + r) / (1.0 - r)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_that_alternate_do_not_shrink_the_error() {
        let alternating: Vec<f64> = (0..40).map(|i| f64::from(i % 2)).collect();
        assert!(lag_one(&alternating) < -0.9);
        assert_eq!(inflation(&alternating), 1.0);
        let drifting: Vec<f64> = (0..40).map(f64::from).collect();
        assert!((inflation(&drifting) - 2.0).abs() < 1e-12, "at most r = 0.6");
        assert!(
            (inflation(&[1.0, 1.0]) - {
                let r = USUAL * 15.0 / 17.0;
                ((1.0f64 + r) / (1.0 - r)).sqrt()
            })
            .abs()
                < 1e-12
        );
    }
}
