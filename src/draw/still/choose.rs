//! Which strokes are worth stills.

use crate::measure::Grade;
use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::stats::medoid;
use crate::stroke::Sort;
use crate::targets::{Observed, Set};

/// What a stroke is shown for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It resembles the others most.
    Typical,
    /// It is nearest to its targets.
    Best,
    /// It is farthest from its targets.
    Farthest,
}

impl Role {
    /// The role in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Typical => "most typical stroke",
            Self::Best => "nearest to the targets",
            Self::Farthest => "farthest from the targets",
        }
    }
}

/// A stroke that is worth stills.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chosen {
    /// Its place among the clip's strokes.
    pub place: usize,
    /// What it is shown for, at least one.
    pub roles: Vec<Role>,
}

/// Of each kind the most typical stroke, the one nearest to the targets and the one farthest from them, each once, in that
/// order; `grip` and `drill` are what the player says. Where nothing can be judged by the targets, or all strokes are equally
/// far, only the typical one is chosen.
pub fn chosen(clip: &ClipMeasures, targets: &Set, grip: Option<&str>, drill: Option<&str>) -> Vec<Chosen> {
    Sort::ALL.into_iter().flat_map(|sort| of_one_kind(clip, sort, targets, grip, drill)).collect()
}

fn of_one_kind(
    clip: &ClipMeasures,
    sort: Sort,
    targets: &Set,
    grip: Option<&str>,
    drill: Option<&str>,
) -> Vec<Chosen> {
    let places: Vec<usize> =
        (0..clip.strokes.len()).filter(|i| clip.strokes[*i].stroke.sort() == sort).collect();
    let rows = |least: Grade| -> Vec<Vec<Option<f64>>> {
        places.iter().map(|place| values(&clip.strokes[*place], least)).collect()
    };
    let fit = rows(Grade::Fair);
    // Values of a low grade say little, but more than none.
    let judged = fit.iter().flatten().any(Option::is_some);
    let typical = medoid(&if judged { fit } else { rows(Grade::Low) });
    let observed: Vec<Observed<'_>> =
        places.iter().map(|place| Observed::of(&clip.strokes[*place], grip, drill)).collect();
    let ends = targets.best_and_farthest(&observed).filter(|(best, farthest)| best != farthest);
    let roles = [
        (typical, Role::Typical),
        (ends.map(|ends| ends.0), Role::Best),
        (ends.map(|ends| ends.1), Role::Farthest),
    ];
    let mut all: Vec<Chosen> = Vec::new();
    for (place, role) in roles {
        let Some(place) = place.map(|i| places[i]) else { continue };
        match all.iter_mut().find(|chosen| chosen.place == place) {
            Some(chosen) => chosen.roles.push(role),
            None => all.push(Chosen { place, roles: vec![role] }),
        }
    }
    all
}

fn values(stroke: &MeasuredStroke, least: Grade) -> Vec<Option<f64>> {
    let value = |outcome: &crate::measure::Outcome| {
        outcome.ok().filter(|value| value.grade >= least).map(|value| value.value)
    };
    stroke.measured.outcomes.iter().map(value).collect()
}
