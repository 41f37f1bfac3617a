//! Printing. The standard macros panic when nobody reads any more; here a closed pipe is no failure.

use std::fmt::Write as _;
use std::io::{self, ErrorKind, Write};
use std::panic;
use std::path::Path;

use super::colour;
use super::exit::{Failure, PrintError};
use crate::error::in_full;

/// Prints to standard output.
///
/// # Errors
/// [`PrintError`] where the output can't be written for another reason than a reader that has gone away.
pub fn print(text: &str) -> Result<(), PrintError> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(PrintError(error)),
        _ => Ok(()),
    }
}

/// Prints a line to standard error. Whatever names it holds, it stays one line.
pub fn note(text: &str) {
    let text = one_line(text);
    // There is no other place to complain to.
    let _ = writeln!(io::stderr().lock(), "{}", colour::painted(&text));
}

/// Prints an error with its causes as one line.
pub fn error(error: &Failure) {
    note(&format!("toeline: {}", in_full(error)));
}

/// A path as it is printed: one line, without control characters.
pub fn path(path: &Path) -> String {
    one_line(&path.display().to_string())
}

/// Whether a character moves the cursor, changes colours, or lets text appear in another order than it is written.
fn is_disruptive(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A text without line breaks and control characters, so that no file name or library breaks out of its line.
pub fn one_line(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    for part in text.lines().map(str::trim).filter(|part| !part.is_empty()) {
        if !line.is_empty() {
            line.push(' ');
        }
        for c in part.chars() {
            if is_disruptive(c) {
                let _ = write!(line, "{}", c.escape_unicode());
            } else {
                line.push(c);
            }
        }
    }
    line
}

/// A mistake in the program itself ends in one line as well, whatever the environment asks for.
pub fn panic_in_one_line() {
    panic::set_hook(Box::new(|info| {
        let place = info.location().map_or_else(String::new, |place| format!(" at {place}"));
        let payload = info.payload();
        let reason = payload.downcast_ref::<&str>().copied();
        let reason = reason.or_else(|| payload.downcast_ref::<String>().map(String::as_str));
        let reason = reason.unwrap_or("no reason given");
        note(&format!("toeline: a mistake in the program{place}: {reason}"));
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_stay_on_one_line() {
        assert_eq!(one_line("a\n  b\n\nc\u{1b}[31m"), "a b c\\u{1b}[31m");
        assert_eq!(one_line("a\u{202e}4pm.exe"), "a\\u{202e}4pm.exe", "it would be read backward");
    }
}
