//! What the names of files and folders say: the day, the player's code, the drill.
//!
//! Only what can't mean anything else is taken: a day as `2025-06-14`, `2025_06_14` or `20250614`; a code of one or two
//! capital letters and one to three digits, such as `P01`; a drill by its own word.

use crate::table::Drill;

/// Years that a clip can be from.
const YEARS: std::ops::RangeInclusive<u32> = 1990..=2099;

/// Words that look like codes but are none.
const NO_CODES: [&str; 6] = ["MP4", "GX01", "GH01", "R1", "V1", "V2"];

/// What names say of a clip.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NameDetails {
    /// The player's code.
    pub player: Option<String>,
    /// The day, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// The drill.
    pub drill: Option<Drill>,
}

impl NameDetails {
    /// What a path within the season's folder says (`/` between names); the file's own name counts most, then the nearest
    /// folder.
    pub fn of(path: &str) -> Self {
        let mut details = Self::default();
        let mut parts = path.rsplit('/');
        let file = parts.next().unwrap_or_default();
        let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
        for name in [stem].into_iter().chain(parts) {
            details.date = details.date.or_else(|| date(name));
            details.player = details.player.or_else(|| player(name));
            details.drill = details.drill.or_else(|| drill(name));
        }
        details
    }
}

/// The first day in a name.
fn date(name: &str) -> Option<String> {
    let bytes = name.as_bytes();
    let digits = |at: usize, count: usize| -> Option<u32> {
        let text = name.get(at..at + count)?;
        text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok())?
    };
    let digit_at = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    (0..bytes.len()).filter(|&at| at == 0 || !digit_at(at - 1)).find_map(|at| {
        let year = digits(at, 4)?;
        let separated =
            bytes.get(at + 4).is_some_and(|b| b"-_. ".contains(b)) && bytes.get(at + 7) == bytes.get(at + 4);
        let (month, day, end) = if separated {
            (digits(at + 5, 2)?, digits(at + 8, 2)?, at + 10)
        } else {
            (digits(at + 4, 2)?, digits(at + 6, 2)?, at + 8)
        };
        (YEARS.contains(&year) && is_day(year, month, day) && !digit_at(end))
            .then(|| format!("{year:04}-{month:02}-{day:02}"))
    })
}

/// Whether there is such a day.
fn is_day(year: u32, month: u32, day: u32) -> bool {
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => 0,
    };
    (1..=days).contains(&day)
}

/// Whether a text is a day as `YYYY-MM-DD` and nothing else.
pub fn whole_date(text: &str) -> bool {
    text.len() == 10 && text.is_ascii() && date(text).is_some_and(|date| date == text)
}

fn words(name: &str) -> impl Iterator<Item = &str> {
    name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty())
}

fn player(name: &str) -> Option<String> {
    let is_code = |word: &&str| {
        let letters = word.chars().take_while(char::is_ascii_uppercase).count();
        let digits = &word[letters..];
        (1..=2).contains(&letters)
            && (1..=3).contains(&digits.len())
            && digits.bytes().all(|b| b.is_ascii_digit())
            && !NO_CODES.contains(word)
    };
    words(name).find(is_code).map(str::to_owned)
}

fn drill(name: &str) -> Option<Drill> {
    let words: Vec<String> = words(name).map(str::to_lowercase).collect();
    let has = |wanted: &str| words.iter().any(|word| word == wanted);
    let together = words.windows(2).any(|pair| pair[0] == "hand" && pair[1] == "feed") || has("handfeed");
    if together {
        return Some(Drill::HandFeed);
    }
    Drill::ALL.into_iter().find(|drill| has(drill.name()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_day_code_and_drill() {
        let details = |path: &str| {
            let details = NameDetails::of(path);
            let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
            format!(
                "{} {} {}",
                or_dash(details.player),
                or_dash(details.date),
                details.drill.map_or("-", Drill::name)
            )
        };
        for (path, wanted) in [
            ("P01/2025-06-14/shadow 1.mp4", "P01 2025-06-14 shadow"),
            ("2025_06_14_P12_hand-feed.mov", "P12 2025-06-14 hand-feed"),
            ("Summer/P3/VID_20250614_101530.mp4", "P3 2025-06-14 -"),
            ("P01/P02_2024-02-29.mkv", "P02 2024-02-29 -"),
            ("P01/2025-02-29.mkv", "P01 - -"),
            ("IMG_0042.MOV", "- - -"),
            ("MVI_1234.AVI", "- - -"),
            ("C0001.MP4", "- - -"),
            ("GX010042.MP4", "- - -"),
            ("2025-06-14 Rally.webm", "- 2025-06-14 rally"),
            ("dropped balls.mp4", "- - -"),
            ("1920x1080.mp4", "- - -"),
            ("120250614.mp4", "- - -"),
            ("tür_P07_2025.06.14.mp4", "P07 2025-06-14 -"),
        ] {
            assert_eq!(details(path), wanted, "{path}");
        }
    }
}
