//! From the network's maps to places where the racket may be.

use ndarray::{ArrayView2, ArrayView3, Axis};

/// A racket in a crop; coordinates are shares of the crop's side, 0 to 1 from the upper left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// End of the grip.
    pub butt: [f64; 2],
    /// Where the hoop begins.
    pub throat: [f64; 2],
    /// Middle of the strings.
    pub middle: [f64; 2],
    /// The hoop's far end.
    pub tip: [f64; 2],
    /// Logarithm of the chance that it is here.
    pub score: f64,
    /// Chance that the tip is within a fifth of the racket's length.
    pub confidence: f64,
    /// Chances that butt, throat, middle and tip are in the crop.
    pub seen: [f64; 4],
}

/// Peaks of a map that are looked at.
const PEAKS: usize = 3;

/// Half the side of the window over which a peak is placed, cells.
const REACH: usize = 2;

/// Where throat and middle lie between butt and tip, and how far they may lie off, shares of the length.
const THROAT: f64 = 0.465;
const MIDDLE: f64 = 0.76;
const OFF_LINE: f64 = 0.07;

/// A peak of one map.
#[derive(Debug, Clone, Copy)]
struct Peak {
    at: [f64; 2],
    mass: f64,
}

/// Rackets that the maps of butt, throat, tip and middle (logits, `[4, H, W]`) may show, likeliest first and no more than
/// `limit`. `seen` are the chances that each point is in the crop, in the maps' order.
pub fn candidates(heat: ArrayView3<f32>, seen: &[f32; 4], limit: usize) -> Vec<Candidate> {
    if heat.len_of(Axis(0)) != 4 {
        return Vec::new();
    }
    let peaks: Vec<Vec<Peak>> = heat.outer_iter().map(|map| peaks(map, PEAKS)).collect();
    let mut found = Vec::new();
    for butt in &peaks[0] {
        for tip in &peaks[2] {
            let (throat, throat_off) = nearest(&peaks[1], butt.at, tip.at, THROAT);
            let (middle, middle_off) = nearest(&peaks[3], butt.at, tip.at, MIDDLE);
            let score = 1.5 * tip.mass.ln() + butt.mass.ln() - throat_off - middle_off;
            let fits = (-0.5 * (throat_off + middle_off)).exp();
            found.push(Candidate {
                butt: butt.at,
                throat,
                middle,
                tip: tip.at,
                score,
                confidence: (tip.mass * f64::from(seen[2]) * fits.max(0.5)).clamp(0.0, 1.0),
                seen: [seen[0], seen[1], seen[3], seen[2]].map(f64::from),
            });
        }
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found.truncate(limit);
    found
}

/// The peak that fits a place between butt and tip best, or that place itself; and what it speaks against the racket, in
/// logarithms.
fn nearest(peaks: &[Peak], butt: [f64; 2], tip: [f64; 2], share: f64) -> ([f64; 2], f64) {
    let length = (tip[0] - butt[0]).hypot(tip[1] - butt[1]).max(0.05);
    let expected = [butt[0] + share * (tip[0] - butt[0]), butt[1] + share * (tip[1] - butt[1])];
    let against = |peak: &Peak| {
        let off = (peak.at[0] - expected[0]).hypot(peak.at[1] - expected[1]) / length / OFF_LINE;
        0.5 * off * off - peak.mass.max(1e-6).ln()
    };
    const NOT_THERE: f64 = 3.0;
    let best = peaks.iter().map(|peak| (peak.at, against(peak))).min_by(|a, b| a.1.total_cmp(&b.1));
    best.filter(|(_, against)| *against < NOT_THERE).unwrap_or((expected, NOT_THERE))
}

/// The largest separate peaks of a map of logits.
fn peaks(map: ArrayView2<f32>, limit: usize) -> Vec<Peak> {
    let (rows, columns) = map.dim();
    let largest = map.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let chance = map.mapv(|logit| f64::from(logit - largest).exp());
    let sum = chance.sum().max(1e-12);
    let window = |at: usize, length: usize| at.saturating_sub(REACH)..(at + REACH + 1).min(length);
    let mut found: Vec<Peak> = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let value = chance[[row, column]];
            // Of equal neighbours the first is the peak.
            let stronger = |r, c| chance[[r, c]] > value || chance[[r, c]] == value && (r, c) < (row, column);
            let beaten = window(row, rows).any(|r| window(column, columns).any(|c| stronger(r, c)));
            if beaten || value < 1e-3 {
                continue;
            }
            let (mut mass, mut x, mut y) = (0.0, 0.0, 0.0);
            for r in window(row, rows) {
                for c in window(column, columns) {
                    let weight = chance[[r, c]];
                    mass += weight;
                    x += weight * (c as f64 + 0.5);
                    y += weight * (r as f64 + 0.5);
                }
            }
            let at = [x / mass / columns as f64, y / mass / rows as f64];
            found.push(Peak { at, mass: mass / sum });
        }
    }
    found.sort_by(|a, b| b.mass.total_cmp(&a.mass));
    found.truncate(limit);
    found
}

#[cfg(test)]
mod tests {
    use ndarray::Array3;

    use super::*;

    /// Maps with a bump at each place (x, y in cells), the tip's with a second, lower one.
    fn maps(places: [[f64; 2]; 4], other_tip: [f64; 2]) -> Array3<f32> {
        let bump = |place: [f64; 2], height: f64, x: usize, y: usize| {
            let off = (x as f64 + 0.5 - place[0]).hypot(y as f64 + 0.5 - place[1]);
            height * (-0.5 * (off / 1.2_f64).powi(2)).exp()
        };
        Array3::from_shape_fn((4, 40, 40), |(k, y, x)| {
            let second = if k == 2 { bump(other_tip, 10.0, x, y) } else { 0.0 };
            (bump(places[k], 12.0, x, y) + second) as f32
        })
    }

    #[test]
    fn the_racket_that_fits_its_proportions_comes_first_and_the_other_is_kept() {
        let places = [[20.0, 20.0], [26.5, 20.0], [34.0, 20.0], [30.6, 20.0]];
        let found = candidates(maps(places, [20.0, 4.0]).view(), &[1.0; 4], 4);
        assert!((found[0].tip[0] - 34.0 / 40.0).abs() < 0.01 && (found[0].tip[1] - 0.5).abs() < 0.01);
        assert!(found.iter().any(|c| (c.tip[1] - 0.1).abs() < 0.02), "{found:?}");
        assert!(found.windows(2).all(|pair| pair[0].score >= pair[1].score));
        assert!(found[0].confidence > found[1].confidence);
    }
}
