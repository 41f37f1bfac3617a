//! Which strokes of two sessions are of the same sort, and whether they were measured alike.

use std::collections::{BTreeMap, BTreeSet};

use crate::measure::{Measure, Unit};
use crate::table::{ReadClip, ReadStroke, Recorded};
use crate::targets::{Set, Target};

/// Frame rates that differ by more than this factor are not the same.
const SAME_RATE: f64 = 1.15;

/// Statures that differ by more (cm) are not the same player's.
const SAME_HEIGHT: f64 = 1.0;

/// Strokes of one sort.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Group {
    /// Kind of the strokes, volleys apart from ground strokes.
    pub kind: String,
    /// The hitting hand.
    pub hand: String,
    /// From where the camera looks.
    pub view: String,
}

impl Group {
    fn of(stroke: &ReadStroke) -> Self {
        Self { kind: stroke.sort().name().to_owned(), hand: stroke.hand.clone(), view: stroke.view.clone() }
    }
}

/// The strokes that are compared.
#[derive(Debug)]
pub struct Matched<'a> {
    /// Their sort, where both sessions have it.
    pub group: Option<Group>,
    /// Strokes before.
    pub before: Vec<&'a ReadStroke>,
    /// Strokes after.
    pub after: Vec<&'a ReadStroke>,
    /// Why nothing can be compared.
    pub refused: Option<String>,
    /// Why times and speeds can't be compared.
    pub times_refused: Option<String>,
    /// Whether part of the measurement's error is the same in both sessions: one player, one side, one rate.
    pub shares_error: bool,
    /// What a person should know.
    pub notes: Vec<String>,
    /// How the racket is held after, where all clips agree.
    grip: Option<String>,
}

impl Matched<'_> {
    /// The target that fits most of the strokes after.
    pub fn target<'s>(&self, set: &'s Set, measure: &str) -> Option<&'s Target> {
        let mut fits: Vec<(&Target, usize)> = Vec::new();
        for stroke in &self.after {
            let Some(target) = set.for_stroke(measure, &stroke.circumstances(self.grip.as_deref())) else {
                continue;
            };
            match fits.iter_mut().find(|(known, _)| std::ptr::eq(*known, target)) {
                Some((_, count)) => *count += 1,
                None => fits.push((target, 1)),
            }
        }
        fits.into_iter().max_by_key(|(_, count)| *count).map(|(target, _)| target)
    }

    /// Whether a measure can be seen in the strokes' view.
    pub fn shows(&self, measure: &Measure) -> bool {
        self.group.as_ref().is_some_and(|group| measure.views.iter().any(|view| view.name() == group.view))
    }

    /// Why a measure can't be compared.
    pub fn refusal(&self, measure: &Measure) -> Option<&str> {
        let is_time = matches!(measure.unit, Unit::Millisecond | Unit::MetrePerSecond);
        self.refused.as_deref().or_else(|| self.times_refused.as_deref().filter(|_| is_time))
    }
}

/// Finds the sort of strokes that both sessions have most of, and what else differs.
pub fn pair<'a>(before: &'a Recorded, after: &'a Recorded) -> Matched<'a> {
    let counts = [counted(before), counted(after)];
    let shared = counts[0]
        .iter()
        .filter_map(|(group, n)| Some((group, (*n).min(*counts[1].get(group)?))))
        .max_by_key(|(_, n)| *n)
        .map(|(group, _)| group.clone());
    // Without a sort in common each side shows what it has most of.
    let most =
        |side: &BTreeMap<Group, usize>| side.iter().max_by_key(|(_, n)| **n).map(|(group, _)| group.clone());
    let groups = [0, 1].map(|side| shared.clone().or_else(|| most(&counts[side])));
    let [mine, theirs] = [(before, &groups[0]), (after, &groups[1])].map(|(recorded, group)| {
        recorded.strokes.iter().filter(|s| Some(Group::of(s)) == *group).collect::<Vec<_>>()
    });
    let clips = [clips(before, &mine), clips(after, &theirs)];
    let mut matched = Matched {
        refused: None,
        times_refused: None,
        shares_error: true,
        notes: Vec::new(),
        grip: only(&clips[1], |clip| clip.grip.clone()),
        group: shared,
        before: mine,
        after: theirs,
    };
    for (recorded, kept, when) in
        [(before, matched.before.len(), "before"), (after, matched.after.len(), "after")]
    {
        let left_out = recorded.strokes.len() - kept;
        if matched.group.is_some() && left_out > 0 {
            matched.notes.push(format!(
                "{left_out} strokes {when} are of another kind, hand or view and are left out"
            ));
        }
    }
    if matched.group.is_none() {
        matched.refused = Some(why_no_group(&groups));
    }
    how_measured(&mut matched, &clips);
    who_and_what(&mut matched);
    matched
}

fn counted(recorded: &Recorded) -> BTreeMap<Group, usize> {
    let mut counts = BTreeMap::new();
    for stroke in &recorded.strokes {
        *counts.entry(Group::of(stroke)).or_insert(0) += 1;
    }
    counts
}

fn why_no_group(groups: &[Option<Group>; 2]) -> String {
    let [Some(before), Some(after)] = groups else {
        return match groups {
            [None, None] => "there are no strokes in either session".to_owned(),
            [None, _] => "there are no strokes before".to_owned(),
            _ => "there are no strokes after".to_owned(),
        };
    };
    let parts = [
        ("view", &before.view, &after.view),
        ("hitting hand", &before.hand, &after.hand),
        ("kind of stroke", &before.kind, &after.kind),
    ];
    let differing: Vec<String> = parts
        .iter()
        .filter(|(_, before, after)| before != after)
        .map(|(what, before, after)| format!("the {what} differs, {before} before and {after} after"))
        .collect();
    differing.join("; ")
}

/// The clips of some strokes.
fn clips<'a>(recorded: &'a Recorded, strokes: &[&ReadStroke]) -> Vec<&'a ReadClip> {
    let used: BTreeSet<usize> = strokes.iter().map(|stroke| stroke.source).collect();
    used.into_iter().filter_map(|source| recorded.clips.get(source)).collect()
}

/// What all clips have in common.
fn only<T: PartialEq>(clips: &[&ReadClip], of: impl Fn(&ReadClip) -> Option<T>) -> Option<T> {
    let first = of(clips.first()?)?;
    clips.iter().all(|clip| of(clip).as_ref() == Some(&first)).then_some(first)
}

/// Networks, methods, rates, sides and statures.
fn how_measured(matched: &mut Matched<'_>, sides: &[Vec<&ReadClip>; 2]) {
    let all: Vec<&ReadClip> = sides.iter().flatten().copied().collect();
    let name = |clip: &ReadClip| clip.model.clone().unwrap_or_default();
    for clip in &all {
        let first = all[0];
        let differs = |a: &Option<String>, b: &Option<String>| a.is_some() && b.is_some() && a != b;
        if matched.refused.is_none() && differs(&first.model_sha256, &clip.model_sha256) {
            matched.refused = Some(format!(
                "the pose models differ, {} and {}; measure again with one --model",
                name(first),
                name(clip)
            ));
        }
        if matched.refused.is_none() && differs(&first.method, &clip.method) {
            matched.refused =
                Some("one is measured with --planar and one is not; measure again alike".to_owned());
        }
    }
    if all.iter().any(|clip| clip.model_sha256.is_none() || clip.rate.is_none()) {
        matched.notes.push(
            "the model and the frame rate of the clips are not known; make sure that they are the same"
                .to_owned(),
        );
    }
    let rates = all.iter().filter_map(|clip| clip.rate);
    let (low, high) = rates.fold((f64::MAX, 0.0), |(low, high): (f64, f64), r| (low.min(r), high.max(r)));
    if high > SAME_RATE * low {
        matched.shares_error = false;
        matched.times_refused =
            Some(format!("the frame rates differ, {low:.0} and {high:.0} frames per second"));
        matched.notes.push(format!(
            "the frame rates differ ({low:.0} and {high:.0} frames per second): times and speeds are not compared, places \
             at contact have their full ±"
        ));
    }
    let nets: BTreeSet<&str> = all.iter().filter_map(|clip| clip.net.as_deref()).collect();
    if nets.len() > 1 {
        matched.shares_error = false;
        matched.notes.push("the camera stood on different sides of the player".to_owned());
    }
    let heights: Vec<(f64, bool)> = all.iter().filter_map(|clip| clip.height_cm).collect();
    let differs = |a: &(f64, bool), b: &(f64, bool)| (a.0 - b.0).abs() > SAME_HEIGHT;
    if heights.windows(2).any(|pair| differs(&pair[0], &pair[1])) {
        matched.shares_error = false;
        matched.notes.push(
            "the player's height is not the same in all clips, so lengths have different scales; give the same --height"
                .to_owned(),
        );
    }
}

/// Players and drills.
fn who_and_what(matched: &mut Matched<'_>) {
    let words = |strokes: &[&ReadStroke], of: fn(&ReadStroke) -> Option<&str>| -> BTreeSet<String> {
        strokes.iter().filter_map(|stroke| of(stroke).map(str::to_owned)).collect()
    };
    let listed = |words: &BTreeSet<String>| words.iter().cloned().collect::<Vec<_>>().join(", ");
    let player: fn(&ReadStroke) -> Option<&str> = |stroke| stroke.player.as_deref();
    let drill: fn(&ReadStroke) -> Option<&str> = |stroke| stroke.drill.as_deref();
    let (before, after) = (words(&matched.before, player), words(&matched.after, player));
    if !before.is_empty() && !after.is_empty() && before != after {
        matched.shares_error = false;
        matched.notes.push(format!(
            "the players differ ({} before, {} after): this compares two people",
            listed(&before),
            listed(&after)
        ));
    }
    let (before, after) = (words(&matched.before, drill), words(&matched.after, drill));
    if !before.is_empty() && !after.is_empty() && before != after {
        matched.notes.push(format!(
            "the drills differ ({} before, {} after): a change may come from the ball, not from the player",
            listed(&before),
            listed(&after)
        ));
    }
}

/// Earlier sessions with strokes of this sort, each in order; a session is a player's day, without a date a clip. The
/// clips of the compared sessions are left out, and with a player known other players.
pub fn earlier_sessions<'a>(
    earlier: &'a Recorded,
    group: &Group,
    compared: [&Recorded; 2],
) -> Vec<Vec<&'a ReadStroke>> {
    let taken: BTreeSet<(&str, Option<&str>)> = compared
        .iter()
        .flat_map(|recorded| &recorded.strokes)
        .map(|stroke| (stroke.clip.as_str(), stroke.date.as_deref()))
        .collect();
    let player = compared[1].strokes.iter().find_map(|stroke| stroke.player.as_deref());
    let mut sessions: BTreeMap<(&str, &str), Vec<&ReadStroke>> = BTreeMap::new();
    for stroke in &earlier.strokes {
        let is_taken = taken.contains(&(stroke.clip.as_str(), stroke.date.as_deref()));
        let is_other = player.is_some() && stroke.player.as_deref() != player;
        if is_taken || is_other || Group::of(stroke) != *group {
            continue;
        }
        let name = stroke.player.as_deref().unwrap_or_default();
        let day = stroke.date.as_deref().unwrap_or(&stroke.clip);
        sessions.entry((name, day)).or_default().push(stroke);
    }
    sessions.into_values().collect()
}
