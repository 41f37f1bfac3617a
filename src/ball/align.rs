//! How far the background has moved from one picture to the next.

use super::map::Map;

/// A difference larger than this is the player's movement, grey levels; all such count alike.
const MOST: i32 = 25;

/// Places between those that are compared, in the coarse and in the fine search; and between the coarse search's shifts.
const COARSE: usize = 4;
const FINE: usize = 2;
const STRIDE: i32 = 3;

/// The shift (right, down) in places of the grid with which `to` shows what `from` shows, up to `reach` to the right or
/// left and half of that up or down: the least sum of absolute differences, between places by the slopes around it.
pub(super) fn shift(from: &Map, to: &Map, reach: i32) -> (f64, f64) {
    let mut best = (0, 0);
    let mut least = difference(from, to, best, COARSE);
    for y in -(reach / 2 / STRIDE)..=(reach / 2 / STRIDE) {
        for x in -(reach / STRIDE)..=(reach / STRIDE) {
            let by = (x * STRIDE, y * STRIDE);
            let sum = difference(from, to, by, COARSE);
            if sum < least {
                (least, best) = (sum, by);
            }
        }
    }
    let around = best;
    let mut fine = [[0.0; 7]; 7];
    for (j, row) in fine.iter_mut().enumerate() {
        for (i, value) in row.iter_mut().enumerate() {
            *value = difference(from, to, (around.0 + i as i32 - 3, around.1 + j as i32 - 3), FINE);
        }
    }
    let inner = (1..6).flat_map(|j| (1..6).map(move |i| (i, j)));
    let (i, j) = inner.min_by(|a, b| fine[a.1][a.0].total_cmp(&fine[b.1][b.0])).unwrap_or((3, 3));
    let between = |before: f64, here: f64, after: f64| {
        let slope = before.max(after) - here;
        if slope > 1e-9 { 0.5 * (before - after) / slope } else { 0.0 }
    };
    let x = f64::from(around.0 + i as i32 - 3) + between(fine[j][i - 1], fine[j][i], fine[j][i + 1]);
    let y = f64::from(around.1 + j as i32 - 3) + between(fine[j - 1][i], fine[j][i], fine[j + 1][i]);
    (x, y)
}

/// Mean absolute difference of green where both maps have something, grey levels.
fn difference(from: &Map, to: &Map, (right, down): (i32, i32), step: usize) -> f64 {
    let (mut sum, mut count) = (0, 0);
    for y in (0..from.rows).step_by(step) {
        let other = y as i32 + down;
        if other < 0 || other as usize >= to.rows {
            continue;
        }
        let first = (-right).max(0) as usize;
        let last = (to.columns as i32 - right).clamp(0, from.columns as i32) as usize;
        // The same places count whatever the shift.
        let first = first.next_multiple_of(step);
        for x in (first..last).step_by(step) {
            let a = from.values[y * from.columns + x][1];
            let b = to.values[other as usize * to.columns + (x as i32 + right) as usize][1];
            sum += (i32::from(a) - i32::from(b)).abs().min(MOST);
            count += 1;
        }
    }
    if count == 0 { f64::from(MOST) } else { f64::from(sum) / f64::from(count) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A pattern moved to the right and down, with a dark thing in it that has not moved.
    fn pattern(right: f64, down: f64) -> Map {
        let (columns, rows) = (120, 90);
        let values = (0..columns * rows)
            .map(|k| {
                let (x, y) = ((k % columns) as f64, (k / columns) as f64);
                let (u, v) = ((x - right) * 0.21, (y - down) * 0.17);
                let bright = 120.0 + 50.0 * (u.sin() + (v + 0.5 * u).cos());
                let player = (x - 60.0).abs() < 12.0 && (y - 45.0).abs() < 30.0;
                [0, if player { 10 } else { bright as u8 }, 0]
            })
            .collect();
        Map { columns, rows, values }
    }

    #[test]
    fn a_moved_background_is_found_behind_a_player_who_stays() {
        for by in [(0.0, 0.0), (7.3, -2.6), (-17.0, 4.4)] {
            let found = shift(&pattern(0.0, 0.0), &pattern(by.0, by.1), 30);
            assert!((found.0 - by.0).abs() < 0.25 && (found.1 - by.1).abs() < 0.25, "{by:?} {found:?}");
        }
    }
}
