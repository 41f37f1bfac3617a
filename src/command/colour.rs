//! Whether messages are coloured.

use std::env;
use std::ffi::OsString;
use std::io::{self, IsTerminal};
use std::sync::OnceLock;

use clap::ValueEnum;

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// On a terminal, unless NO_COLOR is set
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// The option's name.
pub const OPTION: &str = "color";

static MESSAGES: OnceLock<bool> = OnceLock::new();

impl Colour {
    /// What is asked for on a command line that has not been parsed yet: help and mistakes are coloured, too. What is not
    /// understood is told of when the line is parsed.
    pub fn asked_for(arguments: impl IntoIterator<Item = OsString>) -> Self {
        let mut arguments = arguments.into_iter().skip(1).take_while(|argument| argument != "--");
        let mut found = Self::Auto;
        while let Some(argument) = arguments.next() {
            let Some(argument) = argument.to_str().and_then(|text| text.strip_prefix("--")) else { continue };
            let value = match argument.split_once('=') {
                Some((OPTION, value)) => Some(value.to_owned()),
                None if argument == OPTION => arguments.next().and_then(|value| value.into_string().ok()),
                _ => None,
            };
            if let Some(value) = value.and_then(|value| Self::from_str(&value, false).ok()) {
                found = value;
            }
        }
        found
    }

    /// For help and mistakes, which clap prints.
    pub const fn of_help(self) -> clap::ColorChoice {
        match self {
            Self::Auto => clap::ColorChoice::Auto,
            Self::Always => clap::ColorChoice::Always,
            Self::Never => clap::ColorChoice::Never,
        }
    }

    /// Settles for the rest of the run whether messages are coloured.
    pub fn settle(self) {
        let wanted = match self {
            Self::Always => true,
            Self::Never => false,
            Self::Auto => {
                let is_set = |name| env::var_os(name).is_some_and(|value| !value.is_empty());
                let is_dumb = env::var_os("TERM").is_some_and(|term| term == "dumb");
                io::stderr().is_terminal() && !is_set("NO_COLOR") && !is_dumb
            }
        };
        // It is settled once, before anything is printed.
        let _ = MESSAGES.set(wanted);
    }
}

/// How a message begins, and the colour of that (ANSI codes).
const BEGINNINGS: [(&str, &str); 3] = [("toeline:", "1;31"), ("Warning:", "1;33"), ("Caution:", "1;36")];

/// A message with its beginning coloured, where that is wanted.
pub fn painted(text: &str) -> String {
    if !MESSAGES.get().copied().unwrap_or(false) {
        return text.to_owned();
    }
    paint(text)
}

fn paint(text: &str) -> String {
    for (beginning, code) in BEGINNINGS {
        if let Some(rest) = text.strip_prefix(beginning) {
            return format!("\u{1b}[{code}m{beginning}\u{1b}[0m{rest}");
        }
    }
    text.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_option_is_found_before_the_line_is_parsed() {
        let asked = |line: &str| Colour::asked_for(line.split(' ').map(OsString::from));
        assert_eq!(asked("toeline measure a.mp4"), Colour::Auto);
        assert_eq!(asked("toeline --color always measure a.mp4"), Colour::Always);
        assert_eq!(asked("toeline measure --color=never a.mp4"), Colour::Never);
        assert_eq!(asked("toeline measure --color blue"), Colour::Auto);
        assert_eq!(asked("toeline measure -- --color=always"), Colour::Auto);
        assert_eq!(asked("toeline measure --color"), Colour::Auto);
    }

    #[test]
    fn only_the_beginning_of_a_message_is_coloured() {
        assert_eq!(paint("Warning: a.mp4: dark"), "\u{1b}[1;33mWarning:\u{1b}[0m a.mp4: dark");
        assert_eq!(paint("a.mp4: 3 strokes"), "a.mp4: 3 strokes");
    }
}
