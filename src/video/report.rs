//! What reading a clip has shown, for the person and for the notes beside the numbers.

use serde::{Deserialize, Serialize};

use crate::units::Seconds;

/// What reading a clip has shown. Complete once the last frame has been taken.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ClipReport {
    /// Frames handed out.
    pub frames: usize,
    /// Frames that repeat the one before.
    pub duplicates: usize,
    /// Frames that were decoded from damaged data and may look wrong.
    pub damaged: usize,
    /// Packets that could not be decoded at all; their pictures are missing.
    pub skipped: usize,
    /// Timestamps that were missing or did not increase, and were filled in.
    pub repaired_times: usize,
    /// Times at which the container's clock leapt, as where files were joined.
    pub clock_restarts: usize,
    /// When the last picture gives way, in stored time (slow motion not undone).
    pub stored_end: Seconds,
    /// Whether the pictures come at uneven intervals.
    pub variable_rate: bool,
    /// The middle one of the intervals between frames, in real time; `None` for a single frame.
    pub median_interval: Option<Seconds>,
    /// Whether the clip breaks off before its stated end.
    pub truncated: bool,
    /// The above in words where a person should know of it, one line each.
    pub warnings: Vec<String>,
}
