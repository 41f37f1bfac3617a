//! Times of pictures from container timestamps: counted from the first picture, always increasing, repaired where the
//! file is wrong.

use crate::units::Seconds;

/// A timestamp this far (seconds, stored time) before its predecessor starts a new stretch of the clip (joined files);
/// a smaller step back is a single wrong stamp.
const NEW_STRETCH: f64 = 1.0;

/// A step forward beyond this (seconds, stored time) is a wrong stamp, not a pause.
const LONGEST_GAP: f64 = 6.0 * 3600.0;

/// An interval counts as different from the median beyond this share of it.
const INTERVAL_TOLERANCE: f64 = 0.15;

/// Rounding of a stamp to the container's ticks moves an interval by up to one tick.
const TICK_TOLERANCE: f64 = 1.05;

/// The clip has a variable rate when more than this share of its intervals differs from the median.
const VARIABLE_SHARE: f64 = 0.01;

/// Turns timestamps into times. Remembers each interval (eight bytes a picture) for the median at the end.
#[derive(Debug)]
pub(super) struct Timeline {
    /// Seconds of stored time a tick.
    tick: f64,
    /// Interval to assume where a stamp is missing, stored seconds.
    nominal: f64,
    /// Real seconds in a second of stored time (below 1 for slow motion).
    stretch: f64,
    /// A stamp and the stored time that it stands for.
    anchor: Option<(i64, f64)>,
    last: Option<f64>,
    intervals: Vec<f64>,
    repaired: usize,
    restarts: usize,
}

impl Timeline {
    /// `tick`: seconds a tick of the container's clock; `stored_rate` and `capture_rate` in frames/s.
    pub(super) fn new(tick: f64, stored_rate: f64, capture_rate: f64) -> Self {
        Self {
            tick,
            nominal: 1.0 / stored_rate,
            stretch: stored_rate / capture_rate,
            anchor: None,
            last: None,
            intervals: Vec::new(),
            repaired: 0,
            restarts: 0,
        }
    }

    /// Real time of the next picture in order of presentation, given its stamp; later than that of the one before.
    pub(super) fn next(&mut self, stamp: Option<i64>) -> Seconds {
        let stamp = stamp.filter(|_| self.tick.is_finite() && self.tick > 0.0);
        let Some(last) = self.last else {
            self.anchor = stamp.map(|stamp| (stamp, 0.0));
            self.repaired += usize::from(stamp.is_none());
            self.last = Some(0.0);
            return Seconds(0.0);
        };
        let time = match (stamp, self.anchor) {
            (None, _) => {
                self.repaired += 1;
                last + self.nominal
            }
            (Some(stamp), None) => {
                self.anchor = Some((stamp, last + self.nominal));
                last + self.nominal
            }
            (Some(stamp), Some((at, when))) => {
                let ticks = i128::from(stamp) - i128::from(at);
                let time = when + ticks as f64 * self.tick;
                if time > last && time < last + LONGEST_GAP {
                    time
                } else if time > last || time < last - NEW_STRETCH {
                    self.repaired += 1;
                    self.restarts += 1;
                    self.anchor = Some((stamp, last + self.nominal));
                    last + self.nominal
                } else {
                    // Half a step leaves room before the next picture, whose own stamp may well be right.
                    self.repaired += 1;
                    last + self.nominal / 2.0
                }
            }
        };
        self.intervals.push(time - last);
        self.last = Some(time);
        Seconds(time * self.stretch)
    }

    /// How many stamps were missing or did not increase.
    pub(super) fn repaired(&self) -> usize {
        self.repaired
    }

    /// How often the container's clock leapt, so that it no longer tells the times counted here.
    pub(super) fn restarts(&self) -> usize {
        self.restarts
    }

    /// The middle one of the intervals, stored seconds; `None` before the second picture.
    fn stored_median(&self) -> Option<f64> {
        let mut intervals = self.intervals.clone();
        let middle = intervals.len() / 2;
        if intervals.is_empty() {
            return None;
        }
        let (_, median, _) = intervals.select_nth_unstable_by(middle, f64::total_cmp);
        Some(*median)
    }

    /// The middle one of the intervals between pictures, in real time; `None` for a single picture.
    pub(super) fn median_interval(&self) -> Option<Seconds> {
        self.stored_median().map(|interval| Seconds(interval * self.stretch))
    }

    /// Whether the pictures come at uneven intervals, beyond what rounding to ticks explains.
    pub(super) fn is_variable(&self) -> bool {
        let Some(median) = self.stored_median() else { return false };
        let rounding = (self.tick * TICK_TOLERANCE).min(median / 2.0);
        let tolerance = rounding.max(median * INTERVAL_TOLERANCE);
        let uneven = self.intervals.iter().filter(|interval| (**interval - median).abs() > tolerance).count();
        uneven as f64 > self.intervals.len() as f64 * VARIABLE_SHARE
    }

    /// When the last picture gives way, in stored time.
    pub(super) fn stored_end(&self) -> Seconds {
        Seconds(self.last.unwrap_or(0.0) + self.stored_interval().0)
    }

    /// The usual interval in stored time, nominal where there is none to measure.
    pub(super) fn stored_interval(&self) -> Seconds {
        Seconds(self.stored_median().unwrap_or(self.nominal))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(stamps: &[Option<i64>]) -> (Vec<f64>, Timeline) {
        let mut timeline = Timeline::new(0.1, 10.0, 10.0);
        let times = stamps.iter().map(|stamp| (timeline.next(*stamp).0 * 1000.0).round() / 1000.0).collect();
        (times, timeline)
    }

    #[test]
    fn counts_from_the_first_picture() {
        let (times, timeline) = times(&[Some(7), Some(8), Some(10)]);
        assert_eq!(times, [0.0, 0.1, 0.3]);
        assert_eq!(timeline.repaired(), 0);
        assert!(timeline.is_variable());
    }

    #[test]
    fn fills_missing_stamps() {
        let (times, timeline) = times(&[None, None, Some(50), None, Some(52)]);
        assert_eq!(times, [0.0, 0.1, 0.2, 0.3, 0.4]);
        assert_eq!(timeline.repaired(), 3);
    }

    #[test]
    fn a_stamp_twice_costs_one_repair() {
        let (times, timeline) = times(&[Some(0), Some(1), Some(1), Some(2), Some(3)]);
        assert_eq!(times, [0.0, 0.1, 0.15, 0.2, 0.3]);
        assert_eq!(timeline.repaired(), 1);
    }

    #[test]
    fn goes_on_after_a_new_start() {
        let (times, timeline) = times(&[Some(100), Some(101), Some(0), Some(1)]);
        assert_eq!(times, [0.0, 0.1, 0.2, 0.3]);
        assert_eq!((timeline.repaired(), timeline.restarts()), (1, 1));
    }

    #[test]
    fn survives_extreme_stamps() {
        let (times, timeline) = times(&[Some(i64::MIN + 1), Some(i64::MAX), Some(i64::MIN + 1)]);
        assert_eq!(times, [0.0, 0.1, 0.2]);
        assert_eq!(timeline.repaired(), 2);
    }
}
