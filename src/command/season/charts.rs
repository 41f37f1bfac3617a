//! Trend charts of every group and measure.

use std::collections::{BTreeSet, HashSet};
use std::fs;
use std::path::Path;

use rayon::prelude::*;

use crate::compare::{Session as Compared, Verdict, compare_as_one_of};
use crate::draw::DrawError;
use crate::draw::trend::{Band, Order, Point, Trend};
use crate::measure::{CATALOGUE, Grade};
use crate::page::season::{self as page, Shown};
use crate::page::year::share_of_first_and_last;
use crate::season::{Group, Session};
use crate::table::{Drill, Recorded};
use crate::targets;
use crate::targets::reference::reference;

/// A chart that is to be drawn.
struct Wanted<'a> {
    group: &'a Group,
    stem: &'a str,
    measure: usize,
    order: Order,
    /// Measures that have surely changed from the first session to the last.
    changed: &'a BTreeSet<&'static str>,
    /// The group's strokes.
    strokes: &'a Recorded,
}

/// Draws the charts into the folder `charts` of a folder; answers with those of each group. `recorded` are the strokes of all groups.
///
/// # Errors
/// [`DrawError`].
pub fn write_all(
    folder: &Path,
    groups: &[Group],
    recorded: &Recorded,
    targets: &targets::Set,
) -> Result<Vec<Vec<Shown>>, DrawError> {
    let stems = stems(groups);
    groups
        .iter()
        .zip(&stems)
        .map(|(group, stem)| {
            let mine = strokes_of(group, recorded);
            let targets =
                &mine.height_cm().map_or_else(|| targets.clone(), |height| targets.for_height(height));
            let changed = &changed(&mine, targets);
            let wanted: Vec<Wanted<'_>> = (0..CATALOGUE.len())
                .flat_map(|measure| {
                    [Order::Days, Order::Drills].map(|order| Wanted {
                        group,
                        stem,
                        measure,
                        order,
                        changed,
                        strokes: &mine,
                    })
                })
                .collect();
            let charts: Vec<Option<Shown>> =
                wanted.par_iter().map(|wanted| wanted.write(folder, targets)).collect::<Result<_, _>>()?;
            Ok(charts.into_iter().flatten().collect())
        })
        .collect()
}

impl Wanted<'_> {
    /// Draws the chart, where there is something to draw.
    fn write(&self, folder: &Path, targets: &targets::Set) -> Result<Option<Shown>, DrawError> {
        let sessions = self.sessions();
        let points: Vec<Point> = sessions.iter().filter_map(|session| point(session, self.measure)).collect();
        let drills: HashSet<&str> =
            points.iter().map(|point| point.drill.as_str()).filter(|d| !d.is_empty()).collect();
        if points.is_empty() || (self.order == Order::Drills && drills.len() < 2) {
            return Ok(None);
        }
        let low = sessions
            .iter()
            .filter_map(|s| s.describe(self.measure))
            .filter(|d| d.grade == Grade::Low)
            .count();
        let measure = &CATALOGUE[self.measure];
        let whose = page::title(self.group);
        let ending = if self.order == Order::Drills { "_by_drill" } else { "" };
        let file = format!("charts/{}_{}{ending}.svg", self.stem, measure.id);
        let title = format!("{}, {whose}", measure.title);
        let is_low = 2 * low > points.len();
        let band = self.band(targets);
        let says_something = band.is_some() || self.changed.contains(measure.id);
        let is_told = self.order == Order::Days && points.len() > 1 && says_something && !is_low;
        let usual = self.strokes.height_cm().and_then(|height| reference(measure, &self.group.kind, height));
        let usual = usual.map(|found| (found.low, found.high));
        let trend = Trend { measure, whose: &whose, points, order: self.order, band, usual, is_low };
        let svg = trend.draw().map_err(|source| DrawError::Chart { file: file.clone(), source })?;
        let path = folder.join(&file);
        fs::write(&path, svg).map_err(|source| DrawError::File { path, source })?;
        Ok(Some(Shown { file, title, measure: measure.id, is_told }))
    }

    /// The range that all strokes with a value have for their target; none where it differs with how they stood, held the racket
    /// or got the ball.
    fn band(&self, targets: &targets::Set) -> Option<Band> {
        let measured = self.strokes.strokes.iter().filter(|stroke| stroke.values[self.measure].is_some());
        let mut bands = measured.map(|stroke| {
            let grip = self.strokes.clips.get(stroke.source).and_then(|clip| clip.grip.as_deref());
            let target = targets.for_stroke(CATALOGUE[self.measure].id, &stroke.circumstances(grip))?;
            (target.low.is_some() || target.high.is_some()).then_some((target.low, target.high))
        });
        let first = bands.next()??;
        bands.all(|band| band == Some(first)).then_some(first)
    }

    /// The sessions in the order in which they stand on the chart.
    fn sessions(&self) -> Vec<&Session> {
        let mut sessions: Vec<&Session> = self.group.sessions.iter().collect();
        match self.order {
            Order::Days => sessions.retain(|session| !session.date.is_empty()),
            Order::Drills => sessions.sort_by_key(|session| {
                Drill::ALL.iter().position(|drill| drill.name() == session.drill).unwrap_or(Drill::ALL.len())
            }),
        }
        sessions
    }
}

/// A group's strokes.
fn strokes_of(group: &Group, recorded: &Recorded) -> Recorded {
    recorded.only(|stroke| {
        stroke.player.as_deref().unwrap_or_default() == group.player
            && stroke.view == group.view
            && stroke.sort().name() == group.kind
    })
}

/// The measures of a group's strokes that have surely changed from the first day to the last.
fn changed(mine: &Recorded, targets: &targets::Set) -> BTreeSet<&'static str> {
    let day = |date: &str| Compared {
        name: date.to_owned(),
        recorded: mine.only(|stroke| stroke.date.as_deref() == Some(date)),
    };
    let days: BTreeSet<&str> = mine.strokes.iter().filter_map(|stroke| stroke.date.as_deref()).collect();
    match (days.first(), days.last()) {
        (Some(first), Some(last)) if first != last => {
            let share = share_of_first_and_last(days.len());
            let comparison = compare_as_one_of(&day(first), &day(last), mine, targets, share);
            let changed = comparison.rows.iter().filter(|row| row.verdict == Verdict::Changed);
            changed.map(|row| row.measure.id).collect()
        }
        _ => BTreeSet::new(),
    }
}

fn point(session: &Session, measure: usize) -> Option<Point> {
    let described = session.describe(measure)?;
    Some(Point {
        date: session.date.clone(),
        drill: session.drill.clone(),
        values: session.values[measure].clone(),
        median: described.summary.median,
        interval: described.median_interval,
    })
}

/// A beginning for the file names of each group, made of letters, digits and hyphens, each once.
fn stems(groups: &[Group]) -> Vec<String> {
    let mut taken = HashSet::new();
    groups
        .iter()
        .map(|group| {
            let plain = |text: &str| -> String {
                text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect()
            };
            let player = if group.player.is_empty() { "player".to_owned() } else { plain(&group.player) };
            let stem = format!("{player}_{}_{}", plain(&group.view), plain(&group.kind));
            let mut own = stem.clone();
            let mut number = 2;
            // File systems that don't tell capitals from small letters count too.
            while !taken.insert(own.to_lowercase()) {
                own = format!("{stem}-{number}");
                number += 1;
            }
            own
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_pcg::Pcg64Mcg;

    use super::*;
    use crate::compare::null_tests::session;
    use crate::measure::Measure;
    use crate::targets::{Set, Shipped};

    #[test]
    fn a_target_that_all_strokes_have_is_drawn() {
        let targets = Set::shipped(Shipped::Club).unwrap();
        let mut strokes = session(0, 8, 0.0, &targets, &mut Pcg64Mcg::seed_from_u64(1)).recorded;
        let measure = Measure::place("pelvis_over_base_at_finish").unwrap();
        let like = strokes.strokes.iter().find_map(|stroke| stroke.values.iter().flatten().next().copied());
        for stroke in &mut strokes.strokes {
            stroke.stance = Some("neutral".to_owned());
            stroke.values[measure] = like;
        }
        let group = Group {
            player: String::new(),
            view: "side".to_owned(),
            kind: "forehand".to_owned(),
            sessions: Vec::new(),
        };
        let band = |strokes: &Recorded| {
            let changed = &BTreeSet::new();
            Wanted { group: &group, stem: "", measure, order: Order::Days, changed, strokes }.band(&targets)
        };
        assert_eq!(band(&strokes), Some((Some(0.55), None)));
        strokes.strokes[0].stance = Some("open".to_owned());
        assert_eq!(band(&strokes), None, "nothing is asked of how an open stance finishes");
    }
}
