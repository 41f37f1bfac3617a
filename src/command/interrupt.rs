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

/// Whether the user wants to stop.
pub fn is_wanted() -> bool {
    INTERRUPTED.load(Ordering::SeqCst)
}

/// Fails when the user wants to stop.
///
/// # Errors
/// [`Interrupted`].
pub fn check() -> Result<(), Interrupted> {
    if is_wanted() { Err(Interrupted) } else { Ok(()) }
}
