//! Ways to choose some of several places.

/// How many ways there are to choose `k` of `n`, if not more than `most`.
pub fn count(n: usize, k: usize, most: u64) -> Option<u64> {
    let mut ways: u64 = 1;
    for i in 0..k.min(n - k) {
        // Exact: a product of i + 1 neighbours divides by (i + 1)!.
        ways = ways.checked_mul((n - i) as u64)? / (i as u64 + 1);
        if ways > most {
            return None;
        }
    }
    Some(ways)
}

/// Calls `visit` with each way to choose `k` of the places 0 to `n` − 1, in order.
pub fn each(n: usize, k: usize, mut visit: impl FnMut(&[usize])) {
    let mut chosen: Vec<usize> = (0..k).collect();
    loop {
        visit(&chosen);
        // The last place that can still move on.
        let Some(i) = (0..k).rev().find(|&i| chosen[i] < n - k + i) else { return };
        chosen[i] += 1;
        for j in i + 1..k {
            chosen[j] = chosen[j - 1] + 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_is_visited_once() {
        let mut seen = std::collections::HashSet::new();
        each(7, 3, |chosen| assert!(seen.insert(chosen.to_vec())));
        assert_eq!(seen.len() as u64, count(7, 3, 100).unwrap());
        assert_eq!((count(16, 8, 20_000), count(18, 9, 20_000)), (Some(12_870), None));
    }
}
