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
