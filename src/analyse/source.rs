//! A clip's file while it is measured: opened as often as needed, and read in stretches where that can be done.

use std::ops::Range;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use crate::units::Seconds;
use crate::video::{Clip, ClipInfo, Frame, Index, Parts, VideoError};

/// Stretches of a clip with less than this between them are read as one.
const APART: Seconds = Seconds(0.25);

/// A clip's pictures, from wherever they come.
pub(super) type Pictures = Box<dyn Iterator<Item = Result<Frame, VideoError>> + Send>;

/// A clip's file.
pub(super) struct Source<'a> {
    pub path: &'a Path,
    pub capture_rate: Option<f64>,
    pub info: ClipInfo,
    /// How much of it is looked at, from its beginning, where it can be read in stretches; all where that isn't said.
    first: Option<Seconds>,
    index: OnceLock<Option<Arc<Index>>>,
}

impl<'a> Source<'a> {
    /// Opens the file and looks at what it says of itself.
    pub fn open(
        path: &'a Path,
        capture_rate: Option<f64>,
        first: Option<Seconds>,
    ) -> Result<Self, VideoError> {
        let info = Clip::open(path, capture_rate)?.info().clone();
        Ok(Self { path, capture_rate, info, first, index: OnceLock::new() })
    }

    /// The numbers of the clip's pictures; `None` where the file has to be read from its beginning.
    pub fn index(&self) -> Result<Option<&Arc<Index>>, VideoError> {
        if self.index.get().is_none() {
            let all = Index::read(&self.info)?;
            let found = match self.first {
                Some(end) => all.map(|all| all.up_to(end)),
                None => all,
            };
            let found = found.map(Arc::new);
            // Nobody else can have set it meanwhile.
            let _ = self.index.set(found);
        }
        Ok(self.index.get().and_then(Option::as_ref))
    }

    /// The pictures at these times (spans, in any order) in order of time; all pictures where the file can only be read from its
    /// beginning.
    pub fn parts(&self, spans: &[(Seconds, Seconds)]) -> Result<Pictures, VideoError> {
        Ok(match self.index()? {
            Some(index) => {
                let ranges = ranges(index.times(), spans);
                Box::new(Parts::open(self.path, self.capture_rate, index, ranges)?)
            }
            None => Box::new(Clip::open(self.path, self.capture_rate)?.frames()?),
        })
    }
}

/// The pictures whose times lie in spans, as ranges in order that don't touch.
pub(super) fn ranges(times: &[Seconds], spans: &[(Seconds, Seconds)]) -> Vec<Range<usize>> {
    let mut spans: Vec<(Seconds, Seconds)> = spans.to_vec();
    spans.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let mut joined: Vec<(Seconds, Seconds)> = Vec::new();
    for (from, to) in spans {
        match joined.last_mut() {
            Some(last) if from - last.1 < APART => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    let range = |(from, to): (Seconds, Seconds)| {
        times.partition_point(|t| *t < from)..times.partition_point(|t| *t <= to)
    };
    joined.into_iter().map(range).filter(|range| !range.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_become_ranges_in_order_that_do_not_touch() {
        let times: Vec<Seconds> = (0..100).map(|i| Seconds(f64::from(i) / 10.0)).collect();
        let span = |from, to| (Seconds(from), Seconds(to));
        let spans = [span(5.0, 5.45), span(1.0, 2.0), span(1.5, 2.5), span(2.65, 3.0), span(20.0, 30.0)];
        assert_eq!(ranges(&times, &spans), [10..31, 50..55]);
    }
}
