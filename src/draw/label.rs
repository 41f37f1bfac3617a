//! Finding room for labels.

use super::canvas::At;

/// A rectangle: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area(pub f64, pub f64, pub f64, pub f64);

impl Area {
    /// A rectangle around a point.
    pub fn around((x, y): At, width: f64, height: f64) -> Self {
        Self(x - 0.5 * width, y - 0.5 * height, x + 0.5 * width, y + 0.5 * height)
    }

    /// How much two rectangles have in common, square pixels.
    pub fn overlap(&self, other: &Self) -> f64 {
        let wide = self.2.min(other.2) - self.0.max(other.0);
        let high = self.3.min(other.3) - self.1.max(other.1);
        if wide > 0.0 && high > 0.0 { wide * high } else { 0.0 }
    }

    /// Whether a point lies in it.
    pub fn holds(&self, (x, y): At) -> bool {
        (self.0..=self.2).contains(&x) && (self.1..=self.3).contains(&y)
    }

    /// The pieces of a line that lie in it (Liang and Barsky's clipping of each of its parts).
    pub fn clipped(&self, line: &[At]) -> Vec<Vec<At>> {
        let mut pieces: Vec<Vec<At>> = Vec::new();
        for pair in line.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let way = (to.0 - from.0, to.1 - from.1);
            let edges = [
                (-way.0, from.0 - self.0),
                (way.0, self.2 - from.0),
                (-way.1, from.1 - self.1),
                (way.1, self.3 - from.1),
            ];
            let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
            for (speed, room) in edges {
                if speed < 0.0 {
                    enters = enters.max(room / speed);
                } else if speed > 0.0 {
                    leaves = leaves.min(room / speed);
                } else if room < 0.0 {
                    leaves = -1.0;
                }
            }
            if enters >= leaves {
                continue;
            }
            let at = |share: f64| (from.0 + share * way.0, from.1 + share * way.1);
            match pieces.last_mut() {
                Some(piece) if enters == 0.0 && piece.last() == Some(&from) => piece.push(at(leaves)),
                _ => pieces.push(vec![at(enters), at(leaves)]),
            }
        }
        pieces
    }

    fn outside(&self, of: &Self) -> f64 {
        (self.2 - self.0) * (self.3 - self.1) - self.overlap(of)
    }
}

/// Keeps labels off each other, and off lines where there is room elsewhere.
#[derive(Debug)]
pub struct Placer {
    bounds: Area,
    taken: Vec<Area>,
    better_free: Vec<Area>,
}

impl Placer {
    /// A placer for labels that stay within `bounds`.
    pub fn new(bounds: Area) -> Self {
        Self { bounds, taken: Vec::new(), better_free: Vec::new() }
    }

    /// Takes a place away.
    pub fn block(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Takes a place away unless there is no other.
    pub fn avoid(&mut self, area: Area) {
        self.better_free.push(area);
    }

    /// The middle of the free place nearest to a point, anywhere within the bounds, for a label of the given size; the place
    /// is taken then. `None` where every place is taken.
    pub fn place_anywhere(&mut self, (x, y): At, width: f64, height: f64) -> Option<At> {
        const STEP: f64 = 10.0;
        /// What covering a square pixel that is better left free costs, in pixels farther away.
        const COVERING: f64 = 0.08;
        /// What each pixel of the way to a label costs that runs over something, in pixels farther away.
        const CROSSING: f64 = 1.0;
        let Area(left, top, right, bottom) = self.bounds;
        let count = |from: f64, to: f64, length: f64| ((to - from - length) / STEP).floor() as i64;
        let mut best: Option<(At, f64)> = None;
        for row in 0..=count(top, bottom, height) {
            for column in 0..=count(left, right, width) {
                let at = (left + 0.5 * width + STEP * column as f64, top + 0.5 * height + STEP * row as f64);
                let beside = ((x - at.0).abs() - 0.5 * width).max(0.0);
                let over = ((y - at.1).abs() - 0.5 * height).max(0.0);
                let distance = beside.hypot(over);
                if best.is_some_and(|(_, cost)| cost <= distance) {
                    continue;
                }
                let area = Area::around(at, width, height);
                if self.taken.iter().any(|taken| taken.overlap(&area) > 0.0) {
                    continue;
                }
                let covered: f64 = self.better_free.iter().map(|free| free.overlap(&area)).sum();
                let cost = distance + COVERING * covered + CROSSING * self.crossed((x, y), &area);
                if best.is_none_or(|(_, least)| cost < least) {
                    best = Some((at, cost));
                }
            }
        }
        let (at, _) = best?;
        self.block(Area::around(at, width, height));
        Some(at)
    }

    /// The first of some places (middles) that is free for a label of the given size; it is taken then.
    pub fn first_free(&mut self, places: &[At], width: f64, height: f64) -> Option<At> {
        let free = |at: &&At| {
            let area = Area::around(**at, width, height);
            area.outside(&self.bounds) <= 0.0 && self.taken.iter().all(|taken| taken.overlap(&area) <= 0.0)
        };
        let at = *places.iter().find(free)?;
        self.block(Area::around(at, width, height));
        Some(at)
    }

    /// How many pixels of the straight way from a point to a label run over places that are taken.
    fn crossed(&self, (x, y): At, label: &Area) -> f64 {
        const STEP: f64 = 10.0;
        let (to_x, to_y) = (x.clamp(label.0, label.2), y.clamp(label.1, label.3));
        let length = (to_x - x).hypot(to_y - y);
        let count = (length / STEP) as usize;
        let over = (1..count).filter(|i| {
            let share = *i as f64 / count as f64;
            let (x, y) = (x + (to_x - x) * share, y + (to_y - y) * share);
            self.taken.iter().any(|a| a.0 < x && x < a.2 && a.1 < y && y < a.3)
        });
        over.count() as f64 * STEP
    }
}

/// Moves positions along a line apart until neighbours are `least` apart, within `low` to `high`; the order of the result
/// is that of the input.
pub fn spread(wanted: &[f64], least: f64, (low, high): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]).then(a.cmp(&b)));
    let least = least.min((high - low) / wanted.len().max(1) as f64);
    let mut placed = wanted.to_vec();
    let mut floor = low;
    for &i in &order {
        placed[i] = placed[i].max(floor);
        floor = placed[i] + least;
    }
    let mut ceiling = high;
    for &i in order.iter().rev() {
        placed[i] = placed[i].min(ceiling);
        ceiling = placed[i] - least;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_where_the_area_ends() {
        let area = Area(0.0, 0.0, 10.0, 10.0);
        assert_eq!(area.clipped(&[(5.0, 5.0), (5.0, 20.0)]), [[(5.0, 5.0), (5.0, 10.0)]]);
        let twice = area.clipped(&[(2.0, -4.0), (2.0, 4.0), (12.0, 4.0), (12.0, 8.0), (8.0, 8.0)]);
        assert_eq!(twice, [vec![(2.0, 0.0), (2.0, 4.0), (10.0, 4.0)], vec![(10.0, 8.0), (8.0, 8.0)]]);
        assert!(area.clipped(&[(-5.0, 3.0), (-5.0, 8.0)]).is_empty());
        assert!(area.holds((10.0, 0.0)) && !area.holds((10.1, 0.0)));
    }

    #[test]
    fn labels_find_the_nearest_room_or_none() {
        let mut placer = Placer::new(Area(0.0, 0.0, 200.0, 100.0));
        placer.block(Area(60.0, 0.0, 140.0, 100.0));
        let places: Vec<Option<At>> =
            (0..9).map(|_| placer.place_anywhere((90.0, 50.0), 60.0, 50.0)).collect();
        let areas: Vec<Area> = places.iter().flatten().map(|at| Area::around(*at, 60.0, 50.0)).collect();
        assert_eq!(areas.len(), 4, "{areas:?}");
        for (i, a) in areas.iter().enumerate() {
            assert!(a.0 >= 0.0 && a.1 >= 0.0 && a.2 <= 200.0 && a.3 <= 100.0);
            assert!(areas[i + 1..].iter().all(|b| a.overlap(b) == 0.0), "{areas:?}");
        }
        assert_eq!(places[4..], [None; 5]);
    }

    #[test]
    fn crowded_positions_move_apart() {
        assert_eq!(spread(&[10.0, 10.0, 50.0], 8.0, (0.0, 60.0)), [10.0, 18.0, 50.0]);
        assert_eq!(spread(&[59.0, 60.0], 8.0, (0.0, 60.0)), [52.0, 60.0]);
    }
}
