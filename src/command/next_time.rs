//! What to film otherwise next time: found with a clip's numbers, and for a season the advice that most of its clips give.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::analyse::Analysis;
use crate::inspect;
use crate::table::{TableError, write_json};

/// The file in the folder of a season's clip.
const FILE: &str = "next_time.json";

/// What would better a clip's numbers most.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NextTime {
    /// What to do.
    advice: String,
    /// That in a sentence, with what it would give.
    sentence: String,
}

impl NextTime {
    /// The advice for a clip; `None` where nothing would help much.
    pub fn of(analysis: &Analysis) -> Option<Self> {
        let gains = inspect::remedies(analysis);
        let best = gains.first()?;
        Some(Self { advice: best.advice.to_owned(), sentence: best.sentence() })
    }

    /// The sentence.
    pub fn sentence(&self) -> &str {
        &self.sentence
    }

    /// Writes it into a clip's folder.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn write(&self, folder: &Path) -> Result<(), TableError> {
        write_json(&folder.join(FILE), self)
    }

    /// The advice that most of some clips give, as the last of them says it.
    pub fn of_most<'a>(folders: impl Iterator<Item = &'a PathBuf>) -> Option<Self> {
        // What can't be read has no advice to give.
        let read = |folder: &PathBuf| -> Option<Self> {
            serde_json::from_slice(&fs::read(folder.join(FILE)).ok()?).ok()
        };
        let mut given: BTreeMap<String, (usize, Self)> = BTreeMap::new();
        for found in folders.filter_map(read) {
            let count = given.get(&found.advice).map_or(0, |(count, _)| *count);
            given.insert(found.advice.clone(), (count + 1, found));
        }
        given.into_values().max_by_key(|(count, _)| *count).map(|(_, found)| found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_season_gives_the_advice_that_most_of_its_clips_give() {
        let place = tempfile::tempdir().unwrap();
        let folders: Vec<PathBuf> = ["a", "b", "c", "d"].map(|name| place.path().join(name)).to_vec();
        let say = |folder: &PathBuf, advice: &str, sentence: &str| {
            fs::create_dir_all(folder).unwrap();
            NextTime { advice: advice.to_owned(), sentence: sentence.to_owned() }.write(folder).unwrap();
        };
        say(&folders[0], "lines", "lines 1");
        say(&folders[1], "height", "height 1");
        say(&folders[2], "lines", "lines 2");
        assert_eq!(NextTime::of_most(folders.iter()).unwrap().sentence(), "lines 2");
        assert_eq!(NextTime::of_most(folders[3..].iter()), None);
    }
}
