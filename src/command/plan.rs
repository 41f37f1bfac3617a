//! What was typed, resolved: each clip with the folder for its results, and what is known beforehand.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use anyhow::Result;

use super::args::{DrillArg, Hand, InputArgs, MeasureArgs, Net, ViewArg};
use super::exit::UsageError;
use crate::geometry::Point2;
use crate::measure::clip::Given;
use crate::pose::Side;
use crate::scene::direction::Stated;
use crate::scene::{NetSide, View};
use crate::table::{Drill, Labels};
use crate::target;
use crate::units::{Degrees, Metres};

/// A clip and where its results go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// The clip.
    pub clip: PathBuf,
    /// The folder of its results.
    pub folder: PathBuf,
}

/// Everything that `measure` is to do.
#[derive(Debug)]
pub struct Plan {
    /// The clips.
    pub jobs: Vec<Job>,
    /// What the user knows that the numbers depend on.
    pub given: Given,
    /// What the user says for the tables.
    pub labels: Labels,
    /// The camera's rate.
    pub capture_rate: Option<f64>,
    /// A pixel on the player.
    pub subject: Option<Point2>,
    /// The pose network.
    pub model: String,
    /// The coach's targets.
    pub targets: target::Set,
    /// Whether notes are left out.
    pub quiet: bool,
    /// Whether JSON is printed.
    pub json: bool,
}

impl Plan {
    /// Resolves the arguments.
    ///
    /// # Errors
    /// [`UsageError`] where two clips would share a folder; [`target::TargetError`].
    pub fn resolve(args: MeasureArgs) -> Result<Self> {
        let MeasureArgs { clips, input, method, output } = args;
        let several = clips.len() > 1;
        let jobs: Vec<Job> = clips
            .into_iter()
            .map(|clip| Job { folder: folder_of(&clip, output.out.as_deref(), several), clip })
            .collect();
        for (i, job) in jobs.iter().enumerate() {
            if let Some(other) = jobs[..i].iter().find(|other| other.folder == job.folder) {
                return Err(UsageError(format!(
                    "{} and {} would both be written to {}; rename one, or measure them one after the other with --out",
                    other.clip.display(),
                    job.clip.display(),
                    job.folder.display()
                ))
                .into());
            }
        }
        let labels =
            Labels { player: input.player.clone(), date: input.date.clone(), drill: input.drill.map(drill) };
        let mut given = given(&input);
        given.planar = method.planar;
        Ok(Self {
            jobs,
            given,
            labels,
            capture_rate: input.capture_fps,
            subject: input.subject,
            model: method.model,
            targets: targets(method.targets.as_deref())?,
            quiet: output.quiet,
            json: output.json,
        })
    }
}

/// The coach's own targets, or the shipped ones.
///
/// # Errors
/// [`target::TargetError`].
pub fn targets(file: Option<&Path>) -> Result<target::Set, target::TargetError> {
    file.map_or_else(target::Set::shipped, target::Set::read)
}

/// `<clip stem>-toeline` beside the clip, or in the folder for several, or the folder itself for one clip.
pub fn folder_of(clip: &Path, out: Option<&Path>, several: bool) -> PathBuf {
    let mut name = clip.file_stem().map_or_else(OsString::new, OsString::from);
    name.push("-toeline");
    match out {
        None => clip.with_file_name(name),
        Some(out) if several => out.join(name),
        Some(out) => out.to_owned(),
    }
}

fn given(input: &InputArgs) -> Given {
    Given {
        hand: input.hand.map(|hand| match hand {
            Hand::Left => Side::Left,
            Hand::Right => Side::Right,
        }),
        height: input.height.map(|height| Metres(height / 100.0)),
        stated: Stated {
            view: input.view.map(|view| match view {
                ViewArg::Side => View::Side,
                ViewArg::Back => View::Back,
                ViewArg::Front => View::Front,
                ViewArg::Diagonal => View::Diagonal,
            }),
            net: input.net.map(|net| match net {
                Net::Left => NetSide::Left,
                Net::Right => NetSide::Right,
            }),
        },
        field_of_view: input.fov.map(Degrees),
        camera_distance: input.camera_distance.map(Metres),
        shadow: matches!(input.drill, Some(DrillArg::Shadow)),
        ..Given::default()
    }
}

const fn drill(drill: DrillArg) -> Drill {
    match drill {
        DrillArg::Shadow => Drill::Shadow,
        DrillArg::Drop => Drill::Drop,
        DrillArg::HandFeed => Drill::HandFeed,
        DrillArg::Machine => Drill::Machine,
        DrillArg::Rally => Drill::Rally,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_go_beside_the_clip_or_where_they_are_wanted() {
        let folder =
            |clip: &str, out: Option<&str>, several| folder_of(Path::new(clip), out.map(Path::new), several);
        assert_eq!(folder("a/b.mp4", None, false), Path::new("a/b-toeline"));
        assert_eq!(folder("b.mp4", None, true), Path::new("b-toeline"));
        assert_eq!(folder("a/b.mp4", Some("r"), false), Path::new("r"));
        assert_eq!(folder("a/b.mp4", Some("r"), true), Path::new("r/b-toeline"));
    }
}
