//! Many measures at once.

/// Each p as the smallest false discovery rate at which it would still count (Benjamini & Hochberg 1995, J R Stat Soc B
/// 57:289), in the order of the input.
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut q = vec![1.0; p.len()];
    let mut least: f64 = 1.0;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(p[i] * p.len() as f64 / (rank + 1) as f64);
        q[i] = least;
    }
    q
}

/// Each p corrected for all of them together, so that at a level some true null is rejected with no more than that
/// probability, however the tests depend on each other (Holm 1979, Scand J Stat 6:65), in the order of the input.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut corrected = vec![1.0; p.len()];
    let mut most: f64 = 0.0;
    for (rank, &i) in order.iter().enumerate() {
        most = most.max(p[i] * (p.len() - rank) as f64).min(1.0);
        corrected[i] = most;
    }
    corrected
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holm_steps_down_and_never_turns_back() {
        let corrected = holm(&[0.01, 0.04, 0.03, 0.005]);
        let wanted = [0.03, 0.06, 0.06, 0.02];
        assert!(corrected.iter().zip(wanted).all(|(c, w)| (c - w).abs() < 1e-12), "{corrected:?}");
        assert_eq!(holm(&[0.4, 0.9]), [0.8, 0.9]);
        assert!(holm(&[]).is_empty());
    }
}
