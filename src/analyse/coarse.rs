//! From coarse to fine: a long clip is looked at in single pictures first, and in all pictures only around its strokes.

use std::borrow::Cow;
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::thread;

use super::observer::go_on;
use super::source::{Source, ranges};
use super::{AnalyseError, Networks, Observer};
use crate::kept::Followed;
use crate::pose::{
    Care, FollowError, Guide, Landmarker, People, SeenClosely, Settings, TrackFrame, follow_clip,
    follow_closely, slow_step,
};
use crate::units::{FrameIndex, Seconds};
use crate::video::{Index, Parts, Thinned, VideoError};

/// Pictures a second of the first look: a swing has three of them.
const RATE: f64 = 12.5;

/// Beside what was looked at already, a stretch shorter than this needs no look: single pictures show what is in it.
const LEAST: Seconds = Seconds(0.12);

/// Follows everybody through single pictures of the clip. Tracks have every picture of the clip all the same, without a pose
/// in those that were not looked at; the background moves evenly through these.
pub(super) fn follow<'s>(
    source: &Source<'s>,
    index: &Arc<Index>,
    how: Settings,
    networks: &mut Networks,
    observer: &mut dyn Observer,
) -> Result<(People<'static>, Thinned), AnalyseError> {
    let models = networks.models()?;
    let mut frames = Thinned::open(source.path, source.capture_rate, index, RATE)?;
    let all = index.len() as f64 / source.info.capture_rate * RATE;
    let people = follow_clip(&mut frames, models, how, |done| {
        observer.progress(done as f64 / all.max(1.0));
        go_on(observer, &source.info)
    });
    let mut people = people.map_err(|error| AnalyseError::following(&source.info.name(), error))?;
    let looked_at: Vec<usize> = match people.candidates.first() {
        Some(candidate) => candidate.track.frames.iter().map(|frame| frame.index.0).collect(),
        None => Vec::new(),
    };
    people.background = Cow::Owned(people.background.between(&looked_at, index.len()));
    for candidate in &mut people.candidates {
        let empty = |(i, time): (usize, &Seconds)| TrackFrame {
            index: FrameIndex(i),
            time: *time,
            duplicate: false,
            pose: None,
        };
        let frames = &mut candidate.track.to_mut().frames;
        let looked_at = std::mem::take(frames);
        *frames = index.times().iter().enumerate().map(empty).collect();
        for frame in looked_at {
            let place = frame.index.0;
            frames[place] = frame;
        }
    }
    Ok((people, frames))
}

/// Looking at a picture costs so many times what decoding it does.
const LOOK: usize = 4;

/// Stretches of time, each from one to another.
type Spans = [(Seconds, Seconds)];

/// What has been looked at closely.
#[derive(Debug, Default)]
pub(super) struct Looked {
    pub pictures: usize,
    pub duplicates: usize,
}

/// Looks at one person in spans in which nobody has looked yet, with the care that they need.
pub(super) fn look_closely(
    source: &Source<'_>,
    index: &Arc<Index>,
    followed: &mut Followed,
    person: usize,
    (spans, care): (&Spans, &Care),
    networks: &mut Networks,
    observer: &mut dyn Observer,
) -> Result<Looked, AnalyseError> {
    let known = followed.closely.get(&person).cloned().unwrap_or_default();
    let rate = source.info.capture_rate;
    let wanted = left(index.times(), rate, (spans, &care.fast), &known);
    let guide = Guide::of(&followed.tracks[person], rate, care.clone());
    let found = in_parallel(source, index, &wanted, &guide, networks.landmarkers()?, observer)?;
    let frames = &mut followed.tracks[person].frames;
    let mut looked = Looked::default();
    let ranges = followed.closely.entry(person).or_default();
    for share in found {
        looked.pictures += share.read;
        looked.duplicates += share.duplicates;
        ranges.extend(runs(share.frames.iter().map(|frame| frame.index.0)));
        for frame in share.frames {
            let place = frame.index.0;
            // A single picture may have shown what the pictures around it did not.
            if frame.pose.is_some() || frames[place].pose.is_none() {
                frames[place] = frame;
            }
        }
    }
    ranges.sort_unstable();
    Ok(looked)
}

/// Whether spans have been looked at as closely as they need: in every frame where the player moves fast.
pub(super) fn are_known(
    source: &Source<'_>,
    index: &Index,
    followed: &Followed,
    person: usize,
    wanted: (&Spans, &Spans),
) -> bool {
    let known = followed.closely.get(&person).map_or(&[][..], Vec::as_slice);
    left(index.times(), source.info.capture_rate, wanted, known).is_empty()
}

/// What is left of spans to be looked at, and of those in which every frame is; what is too short to matter is not.
fn left(
    times: &[Seconds],
    rate: f64,
    (spans, fast): (&Spans, &Spans),
    known: &[(usize, usize)],
) -> Vec<Range<usize>> {
    let matters = |range: &Range<usize>| times[range.end - 1] - times[range.start] >= LEAST;
    let mut left = without(ranges(times, spans), &joined(known, slow_step(rate)));
    left.retain(|range| known.is_empty() || matters(range));
    for range in ranges(times, fast) {
        // Frames were passed over in it: from the first to the last of them.
        let missing = without(vec![range], known);
        let Some((first, last)) = missing.first().zip(missing.last()) else { continue };
        left.extend(Some(first.start..last.end).filter(matters));
    }
    united(left)
}

/// Ranges in order, with those as one between which fewer frames than so many lie.
fn joined(ranges: &[(usize, usize)], step: usize) -> Vec<(usize, usize)> {
    let mut joined: Vec<(usize, usize)> = Vec::new();
    for &(start, end) in ranges {
        match joined.last_mut() {
            Some(last) if start < last.1 + step => last.1 = last.1.max(end),
            _ => joined.push((start, end)),
        }
    }
    joined
}

/// The same frames in ranges in order that don't touch.
fn united(mut ranges: Vec<Range<usize>>) -> Vec<Range<usize>> {
    ranges.sort_unstable_by_key(|range| range.start);
    let pairs: Vec<(usize, usize)> = ranges.iter().map(|range| (range.start, range.end)).collect();
    joined(&pairs, 1).into_iter().map(|(start, end)| start..end).collect()
}

/// Numbers in rising order as ranges of those that follow one another.
fn runs(numbers: impl Iterator<Item = usize>) -> Vec<(usize, usize)> {
    joined(&numbers.map(|number| (number, number + 1)).collect::<Vec<_>>(), 1)
}

/// Shares the ranges among the landmarkers and follows in each share at the same time.
fn in_parallel(
    source: &Source<'_>,
    index: &Arc<Index>,
    wanted: &[Range<usize>],
    guide: &Guide<'_>,
    landmarkers: &mut [Landmarker],
    observer: &mut dyn Observer,
) -> Result<Vec<SeenClosely>, AnalyseError> {
    let all: usize = wanted.iter().map(Range::len).sum();
    let work = |range: &Range<usize>| range.len() + LOOK * guide.looks(range);
    let shares = shares(wanted, landmarkers.len(), work);
    let cancelled = AtomicBool::new(false);
    let (told, done) = mpsc::channel();
    let found: Vec<Result<SeenClosely, FollowError>> = thread::scope(|scope| {
        let workers: Vec<_> = shares
            .iter()
            .zip(landmarkers)
            .map(|(share, landmarker)| {
                let (told, cancelled) = (told.clone(), &cancelled);
                scope.spawn(move || {
                    let ranges = share.iter().cloned();
                    let frames = Parts::open_beside(source.path, source.capture_rate, index, ranges)?;
                    follow_closely(frames, landmarker, &Settings::default(), guide, || {
                        // Nobody listens any more where another share has failed.
                        let _ = told.send(());
                        match cancelled.load(Ordering::Relaxed) {
                            true => Err(VideoError::cancelled(source.path)),
                            false => Ok(()),
                        }
                    })
                })
            })
            .collect();
        drop(told);
        for (count, ()) in done.iter().enumerate() {
            observer.progress((count + 1) as f64 / all as f64);
            if observer.is_cancelled() {
                cancelled.store(true, Ordering::Relaxed);
            }
        }
        workers
            .into_iter()
            .map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    });
    let following = |error| AnalyseError::following(&source.info.name(), error);
    found.into_iter().map(|share| share.map_err(following)).collect()
}

/// The ranges in so many shares of about the same work.
fn shares(
    ranges: &[Range<usize>],
    count: usize,
    work: impl Fn(&Range<usize>) -> usize,
) -> Vec<Vec<Range<usize>>> {
    let work: Vec<usize> = ranges.iter().map(work).collect();
    let each = work.iter().sum::<usize>().div_ceil(count.max(1)).max(1);
    let mut shares: Vec<Vec<Range<usize>>> = vec![Vec::new()];
    let mut filled = 0;
    for (range, work) in ranges.iter().zip(work) {
        // A range goes where most of it fits.
        if filled > 0 && filled + work / 2 >= each && shares.len() < count {
            shares.push(Vec::new());
            filled = 0;
        }
        filled += work;
        if let Some(share) = shares.last_mut() {
            share.push(range.clone());
        }
    }
    shares
}

/// What is left of ranges when others are taken out.
fn without(ranges: Vec<Range<usize>>, others: &[(usize, usize)]) -> Vec<Range<usize>> {
    let mut left = Vec::new();
    for range in ranges {
        let mut from = range.start;
        for (start, end) in
            others.iter().copied().filter(|(start, end)| *start < range.end && *end > range.start)
        {
            if start > from {
                left.push(from..start);
            }
            from = from.max(end);
        }
        if from < range.end {
            left.push(from..range.end);
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_looked_at_is_not_looked_at_again() {
        let known = [(5, 8), (20, 30), (30, 35)];
        assert_eq!(without(vec![0..10, 18..40], &known), [0..5, 8..10, 18..20, 35..40]);
        assert!(without(vec![21..29, 31..33], &known).is_empty());
    }

    #[test]
    fn frames_that_were_passed_over_are_left_only_where_the_player_turns_out_to_move_fast() {
        let times: Vec<Seconds> = (0..120).map(|i| Seconds(f64::from(i) / 60.0)).collect();
        let looked = runs((10..60).filter(|i| *i >= 40 || i % 2 == 0));
        assert_eq!(looked[..2], [(10, 11), (12, 13)]);
        let left = |spans: &[(f64, f64)], fast: &[(f64, f64)]| {
            let seconds = |spans: &[(f64, f64)]| -> Vec<(Seconds, Seconds)> {
                spans.iter().map(|(from, to)| (Seconds(*from), Seconds(*to))).collect()
            };
            let left = left(&times, 60.0, (&seconds(spans), &seconds(fast)), &looked);
            left.into_iter().map(|frames| (frames.start, frames.end)).collect::<Vec<_>>()
        };
        // From frame 10 to frame 59; all of them from frame 40 on.
        assert!(left(&[(0.16, 0.99)], &[(0.66, 0.99)]).is_empty());
        // A little earlier is known well enough, much earlier is not.
        assert!(left(&[(0.16, 0.99)], &[(0.60, 0.99)]).is_empty());
        assert_eq!(left(&[(0.16, 0.99)], &[(0.40, 0.99)]), [(25, 40)]);
        assert_eq!(left(&[(0.16, 1.29)], &[(0.66, 0.99)]), [(60, 78)]);
    }

    #[test]
    fn shares_are_of_about_the_same_work_and_keep_the_order() {
        let ranges: Vec<Range<usize>> = (0..7).map(|i| 100 * i..100 * i + 10).collect();
        let counts = |shares: &[Vec<Range<usize>>]| shares.iter().map(Vec::len).collect::<Vec<_>>();
        let even = shares(&ranges, 2, Range::len);
        assert_eq!((counts(&even), even.concat()), (vec![3, 4], ranges.clone()));
        // Three in which much has to be looked at come last.
        let uneven = shares(&ranges, 2, |range| if range.start >= 400 { 50 } else { 10 });
        assert_eq!(counts(&uneven), [5, 2]);
        assert_eq!(shares(&ranges[..1], 4, Range::len).len(), 1);
    }
}
