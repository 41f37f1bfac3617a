//! How far the background has moved from one picture to the next.

use super::map::Map;

/// A difference larger than this is the player's movement, grey levels; all such count alike.
pub const MOST: i32 = 25;

/// Places between those that are compared, in the coarse and in the fine search; and between the coarse search's shifts.
const COARSE: usize = 4;
/// Places between those that are compared in the fine search.
pub const FINE: usize = 2;
const STRIDE: i32 = 4;

/// Side of a block that tells its own shift, places; how far that is looked for around the whole's; the least change of the
/// difference with the shift that tells something, grey levels; and how near two blocks' shifts are that agree, places.
const BLOCK: usize = 24;
const NEAR: i32 = 3;
const TEXTURE: f64 = 1.0;
const AGREE: f64 = 0.3;

/// A shift near where it is expected counts although another one differs less, down to so small a share: lines that are thin or alike,
/// and what lies over the picture, mislead a search that knows of nothing.
const FIRM: f64 = 0.8;

/// The shift (right, down) in places of the grid with which `to` shows what `from` shows, up to `reach` to the right or
/// left and half of that up or down: the least difference, and near it the shift on which most blocks agree.
pub fn shift(from: &Map, to: &Map, reach: i32) -> (f64, f64) {
    agreed(from, to, searched(from, to, reach).by)
}

/// The same where about `expected` is expected, as from a camera that goes on turning; and the least difference found anywhere.
pub fn shift_about(from: &Map, to: &Map, reach: i32, expected: (f64, f64)) -> ((f64, f64), f64) {
    let anywhere = searched(from, to, reach);
    let there = refined(from, to, (expected.0.round() as i32, expected.1.round() as i32));
    let best = if FIRM * there.differs <= anywhere.differs { there } else { anywhere };
    (agreed(from, to, best.by), there.differs.min(anywhere.differs))
}

/// A shift in whole places, and by how much the maps differ with it, grey levels.
#[derive(Clone, Copy)]
struct Whole {
    by: (i32, i32),
    differs: f64,
}

/// The shift that differs least of all within reach.
fn searched(from: &Map, to: &Map, reach: i32) -> Whole {
    let mut best = (0, 0);
    let mut least = difference(from, to, best, COARSE);
    for y in -(reach / 2 / STRIDE)..=(reach / 2 / STRIDE) {
        for x in -(reach / STRIDE)..=(reach / STRIDE) {
            let by = (x * STRIDE, y * STRIDE);
            if let Some(sum) = difference_up_to(least, from, to, by, COARSE).filter(|sum| *sum < least) {
                (least, best) = (sum, by);
            }
        }
    }
    refined(from, to, best)
}

/// The shift that differs least near one.
fn refined(from: &Map, to: &Map, by: (i32, i32)) -> Whole {
    let mut best = Whole { by, differs: f64::INFINITY };
    for (stride, step) in [(STRIDE / 2, COARSE), (1, FINE)] {
        let around = best.by;
        // The first of equals is taken, so that the middle gives a bound but is no better than those before it.
        let bound = difference(from, to, around, step);
        best.differs = f64::INFINITY;
        for (x, y) in (-1..=1).flat_map(|y| (-1..=1).map(move |x| (x * stride, y * stride))) {
            let by = (around.0 + x, around.1 + y);
            let differs = difference_up_to(bound, from, to, by, step).filter(|sum| *sum < best.differs);
            if let Some(differs) = differs {
                best = Whole { by, differs };
            }
        }
    }
    best
}

/// The shift near one in whole places on which most blocks agree: blocks of the background agree with each other; those of the player
/// each go their own way.
fn agreed(from: &Map, to: &Map, best: (i32, i32)) -> (f64, f64) {
    let mut votes = [Vec::new(), Vec::new()];
    for top in (0..from.rows).step_by(BLOCK) {
        for left in (0..from.columns).step_by(BLOCK) {
            let near = |x: i32, y: i32| block_difference(from, to, (left, top), (best.0 + x, best.1 + y));
            for (axis, votes) in votes.iter_mut().enumerate() {
                votes.extend(block_shift(|by| if axis == 0 { near(by, 0) } else { near(0, by) }));
            }
        }
    }
    let agreed = votes.map(|votes| most_agreed(&votes).unwrap_or(0.0));
    (f64::from(best.0) + agreed[0], f64::from(best.1) + agreed[1])
}

/// How far a block has moved along one axis and how surely, from its difference at shifts from −[`NEAR`] to [`NEAR`]; `None`
/// where it shows nothing that could move.
fn block_shift(difference: impl Fn(i32) -> Option<f64>) -> Option<(f64, f64)> {
    let all: Vec<f64> = (-NEAR..=NEAR).map(difference).collect::<Option<_>>()?;
    let least = (1..all.len() - 1).min_by(|a, b| all[*a].total_cmp(&all[*b]))?;
    let (before, here, after) = (all[least - 1], all[least], all[least + 1]);
    let slope = before.max(after) - here;
    (before.min(after) >= here && slope >= TEXTURE)
        .then(|| (least as f64 - f64::from(NEAR) + 0.5 * (before - after) / slope, slope))
}

/// The shift with which most agree: the mean of those around the one that has most beside it.
fn most_agreed(votes: &[(f64, f64)]) -> Option<f64> {
    let beside = |at: f64| votes.iter().filter(move |(shift, _)| (shift - at).abs() <= AGREE);
    let weight = |at: f64| beside(at).map(|(_, weight)| weight).sum::<f64>();
    let (best, _) = votes.iter().max_by(|a, b| weight(a.0).total_cmp(&weight(b.0)))?;
    Some(beside(*best).map(|(shift, weight)| shift * weight).sum::<f64>() / weight(*best))
}

/// Mean absolute difference of green over a block; `None` where it leaves the other map.
fn block_difference(
    from: &Map,
    to: &Map,
    (left, top): (usize, usize),
    (right, down): (i32, i32),
) -> Option<f64> {
    let (bottom, end) = ((top + BLOCK).min(from.rows), (left + BLOCK).min(from.columns));
    let (rows, columns) = ((top..bottom).step_by(FINE), (left..end).step_by(FINE));
    let (below, beside) = (rows.clone().next_back()?, columns.clone().next_back()?);
    // All of it lies in the other map where its first and last places do.
    to.at(left as i32 + right, top as i32 + down)?;
    to.at(beside as i32 + right, below as i32 + down)?;
    let count = rows.len() * columns.len();
    let mut sum = 0;
    for y in rows {
        let own = &from.values[y * from.columns..];
        let other = &to.values[(y as i32 + down) as usize * to.columns..];
        for x in columns.clone() {
            sum += i32::from(own[x][1].abs_diff(other[(x as i32 + right) as usize][1]));
        }
    }
    Some(f64::from(sum) / count as f64)
}

/// Mean absolute difference of green where both maps have something, grey levels, of which no more than [`MOST`] count at a
/// place; every `step`-th place is compared.
pub fn difference(from: &Map, to: &Map, by: (i32, i32), step: usize) -> f64 {
    difference_up_to(f64::INFINITY, from, to, by, step).unwrap_or(f64::INFINITY)
}

/// The same difference, or `None` where it is larger than `most`, which shows before all is compared.
fn difference_up_to(most: f64, from: &Map, to: &Map, (right, down): (i32, i32), step: usize) -> Option<f64> {
    let first = (-right).max(0) as usize;
    let last = (to.columns as i32 - right).clamp(0, from.columns as i32) as usize;
    // The same places count whatever the shift.
    let columns = (first.next_multiple_of(step)..last).step_by(step);
    let inside = |y: &usize| (0..to.rows as i32).contains(&(*y as i32 + down));
    let rows = (0..from.rows).step_by(step).filter(inside);
    let count = rows.clone().count() * columns.len();
    if count == 0 {
        return Some(f64::from(MOST));
    }
    let mut sum = 0;
    for y in rows {
        let own = &from.values[y * from.columns..];
        let other = &to.values[(y as i32 + down) as usize * to.columns..];
        for x in columns.clone() {
            sum += i32::from(own[x][1].abs_diff(other[(x as i32 + right) as usize][1])).min(MOST);
        }
        if f64::from(sum) / count as f64 > most {
            return None;
        }
    }
    Some(f64::from(sum) / count as f64)
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

    /// A net's meshes, moved to the right.
    fn meshes(right: f64) -> Map {
        let (columns, rows) = (120, 90);
        let values = (0..columns * rows)
            .map(|k| {
                let (x, y) = ((k % columns) as f64 - right, (k / columns) as f64);
                // No two meshes are quite alike.
                let mesh = (x * std::f64::consts::TAU / 4.0).cos() + (y * std::f64::consts::TAU / 4.0).cos();
                let shade = 12.0 * (0.021 * x * x).sin() + 12.0 * (0.017 * y * y).cos();
                [0, (120.0 + 40.0 * mesh + shade) as u8, 0]
            })
            .collect();
        Map { columns, rows, values }
    }

    #[test]
    fn where_all_is_alike_a_shift_is_taken_for_the_one_expected() {
        for (by, expected) in [(1.0, 0.0), (6.0, 5.0), (-9.0, -9.6)] {
            let ((right, _), differs) = shift_about(&meshes(0.0), &meshes(by), 32, (expected, 0.0));
            assert!((right - by).abs() < 0.5, "{by}: {right}");
            assert!(differs <= difference(&meshes(0.0), &meshes(by), (by as i32, 0), FINE));
        }
        // Where something else shows much better what was expected is given up.
        let ((right, _), _) = shift_about(&pattern(0.0, 0.0), &pattern(14.0, 0.0), 30, (-3.0, 0.0));
        assert!((right - 14.0).abs() < 0.25, "{right}");
    }

    #[test]
    fn a_moved_background_is_found_behind_a_player_who_stays() {
        for by in [(0.0, 0.0), (7.3, -2.6), (-17.0, 4.4)] {
            let found = shift(&pattern(0.0, 0.0), &pattern(by.0, by.1), 30);
            assert!((found.0 - by.0).abs() < 0.25 && (found.1 - by.1).abs() < 0.25, "{by:?} {found:?}");
        }
    }
}
