//! Loads the inference library, once a process.

use std::sync::{Mutex, PoisonError};

use ort::environment::Environment;

use super::{ModelError, Places};

static LOADED: Mutex<Option<Environment>> = Mutex::new(None);

/// The loaded inference library; loads it on the first call.
///
/// # Errors
/// Those of [`Places::runtime`], and [`ModelError::RuntimeUnusable`].
pub fn environment(places: &Places) -> Result<Environment, ModelError> {
    let mut loaded = LOADED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(environment) = &*loaded {
        return Ok(environment.clone());
    }
    // The binding panics when it has to look for the library itself: it is always found first.
    let path = places.runtime()?;
    let unusable = |reason: String| ModelError::RuntimeUnusable { path: path.clone(), reason };
    let environment = ort::init_from(&path)
        .map_err(|error| unusable(error.to_string()))?
        .with_name("toeline")
        .build()
        .map_err(|error| unusable(error.to_string()))?;
    Ok(loaded.insert(environment).clone())
}

/// What the loaded library says of its making; `None` before it is loaded.
pub fn build() -> Option<&'static str> {
    let loaded = LOADED.lock().unwrap_or_else(PoisonError::into_inner);
    loaded.is_some().then(ort::info)
}
