//! How far a clip is: a bar on a terminal, a plain line every few seconds elsewhere, nothing when quiet.

use std::io::IsTerminal;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::{interrupt, output};
use crate::analyse::Observer;

/// Plain lines come this often.
const EVERY: Duration = Duration::from_secs(3);

/// Steps of a bar.
const STEPS: u64 = 1000;

/// Progress through one clip.
pub struct Progress {
    kind: Kind,
    name: String,
    started: Instant,
}

enum Kind {
    Bar(ProgressBar),
    Lines { last: Instant },
    Silent,
}

impl Progress {
    /// Progress through a clip.
    pub fn new(name: &str, quiet: bool) -> Self {
        let started = Instant::now();
        let kind = if quiet {
            Kind::Silent
        } else if std::io::stderr().is_terminal() {
            Kind::Bar(bar(name))
        } else {
            Kind::Lines { last: started }
        };
        Self { kind, name: name.to_owned(), started }
    }

    /// All is done.
    pub fn end(&self) {
        if let Kind::Bar(bar) = &self.kind {
            bar.finish_and_clear();
        }
    }
}

impl Observer for Progress {
    fn progress(&mut self, share: f64) {
        match &mut self.kind {
            Kind::Bar(bar) => bar.set_position((share * STEPS as f64) as u64),
            Kind::Lines { last } if last.elapsed() >= EVERY => {
                *last = Instant::now();
                let left = left(self.started, share);
                output::note(&format!("{}: {:.0} %{left}", self.name, 100.0 * share));
            }
            Kind::Lines { .. } | Kind::Silent => {}
        }
    }

    fn is_cancelled(&self) -> bool {
        interrupt::is_wanted()
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.end();
    }
}

fn bar(name: &str) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(STEPS), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {percent} %, {eta} left") {
        bar.set_style(style);
    }
    bar.set_message(output::one_line(name));
    bar
}

/// How long it takes on, when a share is done since then.
fn left(started: Instant, share: f64) -> String {
    if share <= 0.0 {
        return String::new();
    }
    let left = started.elapsed().mul_f64(((1.0 - share) / share.max(1e-6)).clamp(0.0, 1e4));
    format!(", about {} left", in_words(left))
}

/// Progress through many clips, several at a time; by their sizes, because the work is not known better.
pub struct Season {
    bar: Option<ProgressBar>,
    quiet: bool,
    clips: usize,
    bytes: f64,
    started: Instant,
    done: Mutex<Done>,
}

/// What is done: clips, and bytes with the shares of clips at hand.
#[derive(Debug, Clone, Copy, Default)]
struct Done {
    clips: usize,
    bytes: f64,
}

/// Progress through one of many clips.
pub struct Share<'a> {
    season: &'a Season,
    bytes: f64,
    told: f64,
}

impl Season {
    /// Progress through so many clips of so many bytes together.
    pub fn new(clips: usize, bytes: u64, quiet: bool) -> Self {
        let bar = (!quiet && std::io::stderr().is_terminal()).then(|| {
            let bar = ProgressBar::with_draw_target(Some(STEPS), ProgressDrawTarget::stderr());
            if let Ok(style) = ProgressStyle::with_template("{wide_bar} {msg}") {
                bar.set_style(style);
            }
            bar.enable_steady_tick(Duration::from_millis(500));
            bar
        });
        let bytes = (bytes as f64).max(1.0);
        Self { bar, quiet, clips, bytes, started: Instant::now(), done: Mutex::new(Done::default()) }
    }

    /// Begins a clip of so many bytes.
    pub fn share(&self, bytes: u64) -> Share<'_> {
        Share { season: self, bytes: bytes as f64, told: 0.0 }
    }

    /// All is done.
    pub fn end(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    fn add(&self, bytes: f64, clips: usize) -> Done {
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        done.bytes += bytes;
        done.clips += clips;
        *done
    }

    fn words(&self, done: Done) -> String {
        let left = left(self.started, done.bytes / self.bytes);
        format!("{} of {} clips{left}", done.clips, self.clips)
    }
}

impl Observer for Share<'_> {
    fn progress(&mut self, share: f64) {
        let now = self.bytes * share;
        let all = self.season.add(now - self.told, 0);
        self.told = now;
        if let Some(bar) = &self.season.bar {
            bar.set_position((STEPS as f64 * all.bytes / self.season.bytes) as u64);
            bar.set_message(self.season.words(all));
        }
    }

    fn is_cancelled(&self) -> bool {
        interrupt::is_wanted()
    }
}

impl Share<'_> {
    /// The clip is done; `line` says what has become of it.
    pub fn end(self, line: &str) {
        let all = self.season.add(self.bytes - self.told, 1);
        match &self.season.bar {
            Some(bar) => {
                bar.set_position((STEPS as f64 * all.bytes / self.season.bytes) as u64);
                bar.set_message(self.season.words(all));
                bar.suspend(|| output::note(line));
            }
            // What went wrong is told in any case.
            None if self.season.quiet && !line.starts_with("toeline: ") => {}
            None if self.season.quiet => output::note(line),
            None => output::note(&format!("{line} ({})", self.season.words(all))),
        }
    }
}

fn in_words(time: Duration) -> String {
    match time.as_secs() {
        seconds @ 0..60 => format!("{seconds} s"),
        seconds @ 60..3600 => format!("{} min", seconds.div_ceil(60)),
        seconds => format!("{} h {} min", seconds / 3600, seconds % 3600 / 60),
    }
}
