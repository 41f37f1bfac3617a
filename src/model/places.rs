//! Where the inference library and the models are looked for.

use std::env;
use std::path::{Path, PathBuf};

use super::{Card, ModelError, SeriesCard};

/// File name of the inference library on this system.
pub const LIBRARY: &str = if cfg!(target_os = "windows") {
    "onnxruntime.dll"
} else if cfg!(target_os = "macos") {
    "libonnxruntime.dylib"
} else {
    "libonnxruntime.so"
};

/// The folders that may hold `runtime/` and `models/`, first come first served.
#[derive(Debug, Clone, Default)]
pub struct Places {
    /// The inference library's file where the user named one.
    pub library: Option<PathBuf>,
    /// Folders to search.
    pub folders: Vec<PathBuf>,
}

impl Places {
    /// The usual places: the library that `ORT_DYLIB_PATH` names; the folders `TOELINE_DATA`, the program's own,
    /// `../share/toeline` beside it, the user's (`$XDG_DATA_HOME/toeline` or `~/.local/share/toeline`), and the project's
    /// for a program that runs where it was built.
    pub fn usual() -> Self {
        let folder = |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        let mut folders: Vec<PathBuf> = folder("TOELINE_DATA").into_iter().collect();
        let program = env::current_exe().and_then(|path| path.canonicalize()).ok();
        let beside = program.as_deref().and_then(Path::parent);
        if let Some(beside) = beside {
            folders.push(beside.to_owned());
            folders.push(beside.join("../share/toeline"));
        }
        let user = folder("XDG_DATA_HOME").or_else(|| folder("HOME").map(|home| home.join(".local/share")));
        folders.extend(user.map(|data| data.join("toeline")));
        folders.push(PathBuf::from(env!("CARGO_MANIFEST_DIR")));
        if let Some(beside) = beside {
            folders.extend(beside.ancestors().skip(1).map(Path::to_owned));
        }
        Self { library: folder("ORT_DYLIB_PATH"), folders }
    }

    /// The inference library's file. It is there, though it may still not load.
    ///
    /// # Errors
    /// [`ModelError::RuntimeSettingWrong`] and [`ModelError::RuntimeMissing`].
    pub fn runtime(&self) -> Result<PathBuf, ModelError> {
        if let Some(named) = &self.library {
            return if named.is_file() {
                Ok(named.clone())
            } else {
                Err(ModelError::RuntimeSettingWrong(named.clone()))
            };
        }
        self.folders
            .iter()
            .flat_map(|folder| [folder.join("runtime").join(LIBRARY), folder.join(LIBRARY)])
            .find(|path| path.is_file())
            .ok_or_else(|| ModelError::RuntimeMissing { name: LIBRARY, looked: self.listed() })
    }

    /// Reads the card of a model, given by name (`pose_landmark_full`) or by the path of its card (`…/mine.toml`)
    /// or of its file (`…/mine.onnx`, with the card beside it).
    ///
    /// # Errors
    /// [`ModelError::CardMissing`] and those of [`Card::read`].
    pub fn card(&self, name: &str) -> Result<Card, ModelError> {
        let given = Path::new(name);
        if given.extension().is_some_and(|ending| ending == "toml" || ending == "onnx") {
            return Card::read(&given.with_extension("toml"));
        }
        Card::read(&self.card_file(name)?)
    }

    /// Reads the card of a network for series of numbers, given by name.
    ///
    /// # Errors
    /// [`ModelError::CardMissing`] and those of [`SeriesCard::read`].
    pub fn series_card(&self, name: &str) -> Result<SeriesCard, ModelError> {
        SeriesCard::read(&self.card_file(name)?)
    }

    fn card_file(&self, name: &str) -> Result<PathBuf, ModelError> {
        self.folders
            .iter()
            .map(|folder| folder.join("models").join(format!("{name}.toml")))
            .find(|path| path.is_file())
            .ok_or_else(|| ModelError::CardMissing { name: name.to_owned(), looked: self.listed() })
    }

    fn listed(&self) -> String {
        let folders: Vec<String> = self.folders.iter().map(|folder| folder.display().to_string()).collect();
        folders.join(", ")
    }
}
