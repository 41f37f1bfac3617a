//! Small things that are in one picture and in none around it.

use super::colour::yellow;
use super::map::{Grid, apart};
use super::sight::Spot;
use crate::video::Map;

/// What stands out less than this is noise, grey levels.
const LEAST: f64 = 14.0;

/// Spots that are kept of a picture.
const KEPT: usize = 14;

/// What surrounds a ball is looked at in eight places this far from its middle, diameters.
const AROUND: f64 = 1.3;

/// Of the eight places two may look like the ball: those along its path, over which it smears.
const ALIKE: usize = 2;

/// Something that is not yellow counts as much as a yellow thing that stands out this share as far.
const NOT_YELLOW: f64 = 0.3;

/// A spot's middle is read from what stands out by at least this share of its highest point.
const SHARE: f64 = 0.5;

/// The spots of a picture, likeliest first. `others` are earlier and later pictures with their shifts against this one, in
/// places of the grid.
///
/// Each place has two numbers: how far its colour is from the colours around it, but for the nearest two of eight; and how
/// far it is from what the other pictures show there, but for the nearest one, which may show the ball's way back. The
/// smaller one tells how far something small and passing stands out.
pub(super) fn spots(grid: &Grid, here: &Map, others: &[(&Map, (i32, i32))]) -> Vec<Spot> {
    if others.len() < 2 {
        return Vec::new();
    }
    let around: Vec<(i32, i32)> = (0..8)
        .map(|k| {
            let (sin, cos) = (std::f64::consts::FRAC_PI_4 * f64::from(k)).sin_cos();
            let reach = AROUND * grid.diameter;
            ((reach * cos).round() as i32, (reach * sin).round() as i32)
        })
        .collect();
    let least = (LEAST * LEAST) as i32;
    let mut out = vec![0.0_f32; here.values.len()];
    for y in 0..here.rows as i32 {
        for x in 0..here.columns as i32 {
            let at = y as usize * here.columns + x as usize;
            let colour = here.values[at];
            let passing = passing(colour, others, (x, y));
            if passing < least {
                continue;
            }
            let small = small(colour, here, &around, (x, y));
            if small >= least {
                out[at] = f64::from(passing.min(small)).sqrt() as f32;
            }
        }
    }
    peaks(grid, here, &around, &out)
}

/// Square of the distance of a colour to what the other pictures show there, but for the nearest.
fn passing(colour: [u8; 3], others: &[(&Map, (i32, i32))], (x, y): (i32, i32)) -> i32 {
    let mut nearest = [i32::MAX; 2];
    for (map, (right, down)) in others {
        if let Some(other) = map.at(x + right, y + down) {
            let off = apart(colour, other);
            if off < nearest[0] {
                nearest = [off, nearest[0]];
            } else {
                nearest[1] = nearest[1].min(off);
            }
        }
    }
    if nearest[1] == i32::MAX { 0 } else { nearest[1] }
}

/// Square of the distance of a colour to those around it, but for the nearest two.
fn small(colour: [u8; 3], here: &Map, around: &[(i32, i32)], (x, y): (i32, i32)) -> i32 {
    let mut off = [i32::MAX; 8];
    let seen = around.iter().filter_map(|(dx, dy)| here.at(x + dx, y + dy)).map(|other| apart(colour, other));
    off.iter_mut().zip(seen).for_each(|(to, from)| *to = from);
    off.sort_unstable();
    if off[ALIKE] == i32::MAX { 0 } else { off[ALIKE] }
}

/// The middle of the colours around a place, of each of red, green and blue.
fn beside(here: &Map, around: &[(i32, i32)], (x, y): (i32, i32)) -> [u8; 3] {
    let (mut seen, mut count) = ([[0_u8; 8]; 3], 0);
    for colour in around.iter().filter_map(|(dx, dy)| here.at(x + dx, y + dy)).take(8) {
        (0..3).for_each(|c| seen[c][count] = colour[c]);
        count += 1;
    }
    seen.map(|mut values| {
        let values = &mut values[..count];
        values.sort_unstable();
        values.get(count / 2).copied().unwrap_or(0)
    })
}

/// The highest points, each with what belongs to it taken out before the next is looked for.
fn peaks(grid: &Grid, here: &Map, around: &[(i32, i32)], out: &[f32]) -> Vec<Spot> {
    let reach = grid.diameter.round().max(2.0) as i32;
    let place = |at: usize| ((at % here.columns) as i32, (at / here.columns) as i32);
    let score = |at: usize| {
        let yellow = yellow(here.values[at], beside(here, around, place(at)));
        let share = NOT_YELLOW + (1.0 - NOT_YELLOW) * yellow;
        (f64::from(out[at]) * share, yellow, at)
    };
    let mut order: Vec<(f64, f64, usize)> = (0..out.len()).filter(|at| out[*at] > 0.0).map(score).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
    let mut taken: Vec<(i32, i32)> = Vec::new();
    let mut spots = Vec::new();
    for (_, yellow, at) in order {
        let (x, y) = place(at);
        if taken.iter().any(|(u, v)| (u - x).abs() <= reach && (v - y).abs() <= reach) {
            continue;
        }
        taken.push((x, y));
        let top = f64::from(out[at]);
        let (mut weights, mut right, mut down) = (0.0, 0.0, 0.0);
        for v in (y - reach).max(0)..=(y + reach).min(here.rows as i32 - 1) {
            for u in (x - reach).max(0)..=(x + reach).min(here.columns as i32 - 1) {
                let weight = f64::from(out[v as usize * here.columns + u as usize]) - SHARE * top;
                if weight > 0.0 {
                    weights += weight;
                    right += weight * f64::from(u);
                    down += weight * f64::from(v);
                }
            }
        }
        let at_place = grid.place(right / weights, down / weights);
        spots.push(Spot { at: at_place, contrast: top, yellow });
        if spots.len() == KEPT {
            break;
        }
    }
    spots
}
