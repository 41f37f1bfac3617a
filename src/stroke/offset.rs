//! How far a clip's sound is off its pictures, told by hits that were both seen and heard.

use crate::order::median;
use crate::units::{Reading, Seconds};

/// Hits seen and heard that it takes to tell.
const FEWEST: usize = 2;

/// What is left of a sound's time when the clip's offset is known, at least: the onset itself (1 standard deviation).
const LEAST: Seconds = Seconds(0.0015);

/// The median deviation of normal errors in standard deviations, upside down.
const DEVIATION: f64 = 1.4826;

/// Sounds of a clip's hits in the time of its pictures. Their delay is reckoned from the distance, whose error, like a
/// recorder's own delay, is the same for the whole clip; where at least [`FEWEST`] balls were seen to turn, these tell it.
pub fn in_pictures(sounds: &[Option<Reading>], balls: &[Option<Reading>]) -> Vec<Option<Reading>> {
    let both: Vec<f64> = sounds
        .iter()
        .zip(balls)
        .filter_map(|(sound, ball)| Some(((*sound)?.time - (*ball)?.time).0))
        .collect();
    let late = match median(both.iter().copied()) {
        Some(late) if both.len() >= FEWEST => late,
        _ => return sounds.to_vec(),
    };
    let stray = median(both.iter().map(|apart| (apart - late).abs())).unwrap_or(0.0);
    let spread = Seconds((DEVIATION * stray).hypot(LEAST.0));
    let moved =
        |sound: Reading| Reading { time: sound.time - Seconds(late), spread: spread.min(sound.spread) };
    sounds.iter().map(|sound| sound.map(moved)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(times: &[f64], spread: f64) -> Vec<Option<Reading>> {
        let reading =
            |t: &f64| t.is_finite().then_some(Reading { time: Seconds(*t), spread: Seconds(spread) });
        times.iter().map(reading).collect()
    }

    #[test]
    fn balls_that_were_seen_tell_when_the_other_hits_were() {
        // Every hit is heard 12 ms late; the ball of the third was not seen.
        let sounds = at(&[1.012, 2.013, 3.012, 4.011], 0.005);
        let balls = at(&[1.0, 2.0, f64::NAN, 4.0], 0.001);
        let moved = in_pictures(&sounds, &balls);
        let third = moved[2].unwrap();
        assert!((third.time.0 - 3.0).abs() < 5e-4 && third.spread < Seconds(0.003), "{third:?}");
    }

    #[test]
    fn one_ball_tells_nothing_of_the_clip() {
        let sounds = at(&[1.012, 2.013], 0.005);
        assert_eq!(in_pictures(&sounds, &at(&[1.0, f64::NAN], 0.001)), sounds);
    }
}
