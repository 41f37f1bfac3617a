//! A low-pass filter that follows fast changes and steadies slow ones (Casiez et al., "1 € Filter", CHI 2012).

use std::f64::consts::TAU;

/// Settings of the filter.
#[derive(Debug, Clone, Copy)]
pub struct Cutoffs {
    /// Cutoff of a value at rest, Hz.
    pub minimum: f64,
    /// How much the cutoff grows with speed, Hz per (value × scale) / s.
    pub slope: f64,
    /// Cutoff of the speed, Hz.
    pub speed: f64,
}

/// Filters `N` values together, each with its own speed.
#[derive(Debug, Clone)]
pub struct OneEuro<const N: usize> {
    cutoffs: Cutoffs,
    state: Option<State<N>>,
}

#[derive(Debug, Clone)]
struct State<const N: usize> {
    time: f64,
    raw: [f64; N],
    value: [f64; N],
    speed: [f64; N],
}

impl<const N: usize> OneEuro<N> {
    /// A filter that has seen nothing yet.
    pub fn new(cutoffs: Cutoffs) -> Self {
        Self { cutoffs, state: None }
    }

    /// The filtered values at `time` (seconds); `scale` turns values into the unit that the cutoffs' slope is for.
    ///
    /// A time that doesn't lie after the previous one leaves the values as they were.
    pub fn filter(&mut self, time: f64, values: [f64; N], scale: f64) -> [f64; N] {
        let Some(state) = &mut self.state else {
            self.state = Some(State { time, raw: values, value: values, speed: [0.0; N] });
            return values;
        };
        let step = time - state.time;
        if step <= 0.0 {
            return state.value;
        }
        let share = |cutoff: f64| 1.0 / (1.0 + 1.0 / (TAU * cutoff * step));
        let speed_share = share(self.cutoffs.speed);
        for (i, &value) in values.iter().enumerate() {
            let speed = (value - state.raw[i]) * scale / step;
            state.speed[i] += speed_share * (speed - state.speed[i]);
            let cutoff = self.cutoffs.minimum + self.cutoffs.slope * state.speed[i].abs();
            state.value[i] += share(cutoff) * (value - state.value[i]);
        }
        state.raw = values;
        state.time = time;
        state.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn still_values_stay_and_fast_ones_are_followed() {
        let mut filter = OneEuro::new(Cutoffs { minimum: 0.01, slope: 10.0, speed: 1.0 });
        assert_eq!(filter.filter(0.0, [3.0, 0.0], 1.0), [3.0, 0.0]);
        let mut last = [0.0; 2];
        for i in 1..60 {
            let t = f64::from(i) / 30.0;
            last = filter.filter(t, [3.0, 2.0 * t], 1.0);
        }
        assert_eq!(last[0], 3.0);
        assert!((last[1] - 2.0 * 59.0 / 30.0).abs() < 0.05, "{last:?}");
    }

    #[test]
    fn time_that_stands_still_changes_nothing() {
        let mut filter = OneEuro::new(Cutoffs { minimum: 1.0, slope: 1.0, speed: 1.0 });
        filter.filter(0.0, [1.0], 1.0);
        assert_eq!(filter.filter(0.0, [9.0], 1.0), [1.0]);
    }
}
