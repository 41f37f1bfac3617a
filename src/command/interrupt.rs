//! Ctrl-C: the run stops at the next picture and cleans up after itself.

use std::sync::atomic::{AtomicBool, Ordering};

use super::exit::{Exit, Interrupted};

static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Listens for Ctrl-C and for requests to end. A second one ends the program at once.
pub fn listen() {
    let listening = ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::SeqCst) {
            std::process::exit(Exit::Interrupted as i32);
        }
    });
    // Without a handler Ctrl-C ends the program at once, and only the temporary folder stays behind.
    drop(listening);
}

/// Fails when the user wants to stop.
///
/// # Errors
/// [`Interrupted`].
pub fn check() -> Result<(), Interrupted> {
    if INTERRUPTED.load(Ordering::SeqCst) { Err(Interrupted) } else { Ok(()) }
}

/// A stream that ends early when the user wants to stop.
pub struct Stoppable<'a, I>(pub &'a mut I);

impl<I: Iterator> Iterator for Stoppable<'_, I> {
    type Item = I::Item;

    fn next(&mut self) -> Option<I::Item> {
        check().ok().and_then(|()| self.0.next())
    }
}
