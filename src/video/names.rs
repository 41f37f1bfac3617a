//! Which files of a folder are clips.

use std::path::Path;

/// Endings of files that are taken for clips.
const ENDINGS: [&str; 19] = [
    "mp4", "mov", "m4v", "mkv", "avi", "webm", "mts", "m2ts", "ts", "mpg", "mpeg", "wmv", "flv", "3gp",
    "ogv", "ogg", "mxf", "dv", "asf",
];

/// Whether a file's name is that of a clip; a clip that a person names may be called anything.
pub fn is_clip(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_are_told_by_their_ending_in_capitals_too() {
        let is = |name: &str| is_clip(Path::new(name));
        assert!(is("P01/a.mp4") && is("b.MOV") && is("2025-06-14 c.m2ts"));
        assert!(!is("season.csv") && !is("mp4") && !is("a.mp4.part"));
    }
}
