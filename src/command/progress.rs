//! How far a clip is: a bar on a terminal, a plain line every few seconds elsewhere, nothing when quiet.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::output;

/// Plain lines come this often.
const EVERY: Duration = Duration::from_secs(3);

/// Progress through one clip.
pub struct Progress {
    kind: Kind,
    name: String,
    total: Option<u64>,
    started: Instant,
}

enum Kind {
    Bar(ProgressBar),
    Lines { last: Instant },
    Silent,
}

impl Progress {
    /// Progress through a clip of about so many pictures.
    pub fn new(name: &str, total: Option<u64>, quiet: bool) -> Self {
        let started = Instant::now();
        let kind = if quiet {
            Kind::Silent
        } else if std::io::stderr().is_terminal() {
            Kind::Bar(bar(name, total))
        } else {
            Kind::Lines { last: started }
        };
        Self { kind, name: name.to_owned(), total, started }
    }

    /// So many pictures are done.
    pub fn at(&mut self, done: usize) {
        match &mut self.kind {
            Kind::Bar(bar) => bar.set_position(done as u64),
            Kind::Lines { last } if last.elapsed() >= EVERY => {
                *last = Instant::now();
                let of = self.total.map_or_else(String::new, |total| format!(" of about {total}"));
                let rate = done as f64 / self.started.elapsed().as_secs_f64();
                output::note(&format!("{}: {done}{of} pictures, {rate:.0} a second", self.name));
            }
            Kind::Lines { .. } | Kind::Silent => {}
        }
    }

    /// All is done.
    pub fn end(&self) {
        if let Kind::Bar(bar) = &self.kind {
            bar.finish_and_clear();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.end();
    }
}

fn bar(name: &str, total: Option<u64>) -> ProgressBar {
    let (length, template) = match total {
        Some(total) => (total, "{msg} {wide_bar} {pos}/{len} pictures, {eta} left"),
        None => (0, "{msg} {spinner} {pos} pictures"),
    };
    let bar = ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
    bar.set_message(output::one_line(name));
    bar
}
