//! What sort of fault an error is: the same for every error of the crate.

use std::error::Error;

/// What sort of fault ended the work. Every error of the crate says so with `kind()`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ErrorKind {
    /// What was asked for can't be done.
    Usage,
    /// A clip, a table or another file that was given can't be read or used.
    Input,
    /// A model or the inference library is missing or damaged.
    Model,
    /// Results can't be made or written.
    Output,
    /// Whoever watches the work has cancelled it.
    Cancelled,
}

/// An error with all its causes as one text: `what failed: why: why that`. A cause that the text before it names already is
/// not named again.
pub fn in_full(error: &dyn Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let words = error.to_string();
        if !text.contains(&words) {
            text.push_str(": ");
            text.push_str(&words);
        }
        cause = error.source();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, thiserror::Error)]
    #[error("{words}")]
    struct Link {
        words: &'static str,
        source: Option<Box<Link>>,
    }

    fn link(words: &'static str, source: Option<Link>) -> Link {
        Link { words, source: source.map(Box::new) }
    }

    #[test]
    fn every_cause_is_named_once() {
        let disk = link("the disk is full", None);
        let file = link("a.csv: cannot be written (the disk is full)", Some(disk));
        let clip = link("a.mp4: the results are lost", Some(file));
        assert_eq!(
            in_full(&clip),
            "a.mp4: the results are lost: a.csv: cannot be written (the disk is full)"
        );
        let bare = link("a.mp4: the player could not be followed", Some(link("no such output", None)));
        assert_eq!(in_full(&bare), "a.mp4: the player could not be followed: no such output");
    }
}
