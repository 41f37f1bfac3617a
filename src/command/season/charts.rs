//! Trend charts of every group and measure.

use std::collections::HashSet;
use std::fs;
use std::path::Path;

use rayon::prelude::*;

use crate::draw::DrawError;
use crate::draw::trend::{Band, Order, Point, Trend};
use crate::measure::{CATALOGUE, Grade};
use crate::page::season::{self as page, Shown};
use crate::season::{Group, Session};
use crate::table::Drill;
use crate::targets::{self, Circumstances};

/// A chart that is to be drawn.
struct Wanted<'a> {
    group: &'a Group,
    stem: &'a str,
    measure: usize,
    order: Order,
}

/// Draws the charts into the folder `charts` of a folder; answers with those of each group.
///
/// # Errors
/// [`DrawError`].
pub fn write_all(
    folder: &Path,
    groups: &[Group],
    targets: &targets::Set,
) -> Result<Vec<Vec<Shown>>, DrawError> {
    let stems = stems(groups);
    groups
        .iter()
        .zip(&stems)
        .map(|(group, stem)| {
            let wanted: Vec<Wanted<'_>> = (0..CATALOGUE.len())
                .flat_map(|measure| {
                    [Order::Days, Order::Drills].map(|order| Wanted { group, stem, measure, order })
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
        let trend =
            Trend { measure, whose: &whose, points, order: self.order, band: self.band(targets), is_low };
        let svg = trend.draw().map_err(|source| DrawError::Chart { file: file.clone(), source })?;
        let path = folder.join(&file);
        fs::write(&path, svg).map_err(|source| DrawError::File { path, source })?;
        Ok(Some(Shown { file, title }))
    }

    /// The target of all strokes of this kind, however they stood, held the racket and got the ball.
    fn band(&self, targets: &targets::Set) -> Option<Band> {
        let circumstances = Circumstances { kind: &self.group.kind, ..Circumstances::default() };
        let target = targets.for_stroke(CATALOGUE[self.measure].id, &circumstances)?;
        (target.low.is_some() || target.high.is_some()).then_some((target.low, target.high))
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

fn point(session: &Session, measure: usize) -> Option<Point> {
    let described = session.describe(measure)?;
    Some(Point {
        date: session.date.clone(),
        drill: session.drill.clone(),
        values: session.values[measure].clone(),
        mean: described.summary.mean,
        interval: described.interval,
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
