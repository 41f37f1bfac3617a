//! `toeline.toml`: settings that stay, for all clips of a folder and for single players.
//!
//! ```toml
//! height_cm = 178
//! coach = "Kim"
//! targets = "drill"
//!
//! [players.P01]
//! height_cm = 181
//! hand = "left"
//! ```

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::known::{FIELDS_OF_VIEW, HEIGHTS, Known, RACKETS, RATES, VIEWS};
use crate::error::ErrorKind;
use crate::pose::Side;
use crate::scene::View;
use crate::table::{Drill, Grip};
use crate::targets::Shipped;

/// The file.
pub const FILE: &str = "toeline.toml";

/// What a `toeline.toml` says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settings {
    all: Known,
    players: BTreeMap<String, Known>,
    /// The targets: the word for a shipped set or a file's path.
    pub targets: Option<PathBuf>,
}

/// A `toeline.toml` can't be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SettingsError {
    /// It can't be read.
    #[error("{path}: cannot be read ({source}); check who may read it", path = .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// It is no TOML, or says something that nobody asks.
    #[error("{path}: {problem}; settings are height_cm, hand, view, grip, drill, fov, racket_length_cm, capture_fps, player, coach and targets, \
             and the same for a player under [players.CODE]", path = .path.display())]
    Text {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// A value can't be.
    #[error("{path}: {problem}", path = .path.display())]
    Value {
        /// The file.
        path: PathBuf,
        /// What is wrong, and what would be right.
        problem: String,
    },
}

impl SettingsError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        ErrorKind::Input
    }
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Entry {
    player: Option<String>,
    height_cm: Option<f64>,
    hand: Option<String>,
    view: Option<String>,
    grip: Option<String>,
    drill: Option<String>,
    fov: Option<f64>,
    racket_length_cm: Option<f64>,
    capture_fps: Option<f64>,
    coach: Option<String>,
}

impl Settings {
    /// Reads the file of a folder; `None` where there is none.
    ///
    /// # Errors
    /// [`SettingsError`].
    pub fn of_folder(folder: &Path) -> Result<Option<Self>, SettingsError> {
        let path = folder.join(FILE);
        match std::fs::read_to_string(&path) {
            Ok(text) => Self::parse(&text, &path).map(Some),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(SettingsError::Read { path, source }),
        }
    }

    /// What it says of a player's clips: what stands under the player's code counts more than what holds for all.
    pub fn of(&self, player: Option<&str>) -> Known {
        let own = player.and_then(|player| self.players.get(player)).cloned().unwrap_or_default();
        own.or(self.all.clone())
    }

    /// `path` is the file's, for errors and for targets beside it.
    fn parse(text: &str, path: &Path) -> Result<Self, SettingsError> {
        let wrong = |problem: String| SettingsError::Text { path: path.to_owned(), problem };
        let mut table: toml::Table =
            toml::from_str(text).map_err(|error| wrong(error.message().to_owned()))?;
        let named = match table.remove("targets") {
            None => None,
            Some(toml::Value::String(name)) => Some(name),
            Some(_) => return Err(wrong("targets must be a word or a file's name in quotes".to_owned())),
        };
        let targets = named.map(|name| match Shipped::named(&name) {
            Some(_) => PathBuf::from(name),
            None => path.with_file_name(name),
        });
        let mut players = BTreeMap::new();
        if let Some(entries) = table.remove("players") {
            let toml::Value::Table(entries) = entries else {
                return Err(wrong("players must be sections such as [players.P01]".to_owned()));
            };
            for (code, entry) in entries {
                let entry: Entry = entry.try_into().map_err(|error: toml::de::Error| {
                    wrong(format!("[players.{code}]: {}", error.message()))
                })?;
                let known = entry.known(path, &format!("[players.{code}]: "))?;
                players.insert(code, known);
            }
        }
        let entry: Entry = toml::Value::Table(table)
            .try_into()
            .map_err(|error: toml::de::Error| wrong(error.message().to_owned()))?;
        Ok(Self { all: entry.known(path, "")?, players, targets })
    }
}

impl Entry {
    fn known(self, path: &Path, place: &str) -> Result<Known, SettingsError> {
        let wrong = |problem: String| SettingsError::Value {
            path: path.to_owned(),
            problem: format!("{place}{problem}"),
        };
        let within = |name: &str, range: std::ops::RangeInclusive<f64>, value: Option<f64>| match value {
            Some(value) if !range.contains(&value) => {
                Err(wrong(format!("{name} must be between {} and {}", range.start(), range.end())))
            }
            value => Ok(value),
        };
        Ok(Known {
            view: word("view", self.view, &VIEWS, View::name).map_err(wrong)?,
            drill: word("drill", self.drill, &Drill::ALL, Drill::name).map_err(wrong)?,
            hand: word("hand", self.hand, &[Side::Left, Side::Right], Side::name).map_err(wrong)?,
            grip: word("grip", self.grip, &Grip::ALL, Grip::name).map_err(wrong)?,
            height_cm: within("height_cm", HEIGHTS, self.height_cm)?,
            fov: within("fov", FIELDS_OF_VIEW, self.fov)?,
            racket_length_cm: within("racket_length_cm", RACKETS, self.racket_length_cm)?,
            capture_fps: within("capture_fps", RATES, self.capture_fps)?,
            player: self.player,
            coach: self.coach,
            date: None,
            and: None,
        })
    }
}

/// One of several words.
fn word<T: Copy>(
    name: &str,
    text: Option<String>,
    all: &[T],
    word_of: impl Fn(T) -> &'static str,
) -> Result<Option<T>, String> {
    let Some(text) = text else { return Ok(None) };
    let found = all.iter().copied().find(|value| word_of(*value) == text.to_lowercase());
    found.map(Some).ok_or_else(|| {
        let words: Vec<&str> = all.iter().map(|value| word_of(*value)).collect();
        format!("{name} is `{text}`; use {}", words.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Settings, String> {
        Settings::parse(text, Path::new("clips/toeline.toml")).map_err(|error| error.to_string())
    }

    #[test]
    fn what_stands_under_a_players_code_counts_more() {
        let settings = parsed(
            "height_cm = 178\ncoach = 'Kim'\nfov = 65.5\ntargets = 'mine.toml'\n[players.P01]\nheight_cm = 181\nhand = 'left'\nracket_length_cm = 63.5",
        )
        .unwrap();
        let first = settings.of(Some("P01"));
        assert_eq!((first.height_cm, first.hand, first.fov), (Some(181.0), Some(Side::Left), Some(65.5)));
        assert_eq!((first.racket_length_cm, first.coach.as_deref()), (Some(63.5), Some("Kim")));
        let other = settings.of(Some("P02"));
        assert_eq!((other.height_cm, other.hand), (Some(178.0), None));
        assert_eq!(settings.of(None), other);
        // A file's name is meant from the settings' folder, a set's word as it is.
        assert_eq!(settings.targets.as_deref(), Some(Path::new("clips/mine.toml")));
        assert_eq!(parsed("targets = 'drill'").unwrap().targets.as_deref(), Some(Path::new("drill")));
        assert_eq!(parsed("player = 'P07'").unwrap().of(None).player.as_deref(), Some("P07"));
    }

    #[test]
    fn what_is_wrong_is_named() {
        for (text, wanted) in [
            ("height_cm = 1.81", "height_cm must be between 80 and 250"),
            ("[players.P01]\nhand = 'both'", "[players.P01]: hand is `both`; use left, right"),
            ("heigth_cm = 181", "heigth_cm"),
            ("height_cm = 'tall'", "toeline.toml"),
            ("targets = 3", "targets must be"),
            ("[players.P01]\nsize = 3", "[players.P01]: unknown field `size`"),
            ("height_cm", "clips/toeline.toml"),
        ] {
            let error = parsed(text).unwrap_err();
            assert!(error.contains(wanted), "{text}: {error}");
        }
    }

    #[test]
    fn a_folder_need_not_have_settings() {
        let place = tempfile::tempdir().unwrap();
        assert_eq!(Settings::of_folder(place.path()).unwrap(), None);
        std::fs::write(place.path().join(FILE), "height_cm = 170").unwrap();
        assert_eq!(Settings::of_folder(place.path()).unwrap().unwrap().of(None).height_cm, Some(170.0));
    }
}
