//! Short sounds in a clip: when they begin, how surely, and how loud they are. What made them is not this room's matter.

mod onset;

pub use onset::{Onset, onsets};

use crate::units::Seconds;
use crate::video::{SOUND_RATE, Sound};

/// What there is to hear in a clip.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heard {
    /// Short sounds in order of time; seconds since the clip's first picture.
    pub onsets: Vec<Onset>,
    /// Length of the sound.
    pub length: Seconds,
    /// Usual level above 800 Hz, dB of full scale.
    pub floor: f64,
    /// Whether some program has written the file anew, which is where sound and pictures get shifted most.
    pub rewritten: bool,
}

impl Heard {
    /// Listens to a clip's sound; `None` for a muted microphone, which records zeros or another constant.
    pub fn listen(sound: &Sound) -> Option<Self> {
        let mute = |samples: &[f32]| samples.windows(2).all(|pair| pair[0] == pair[1]);
        let rate = f64::from(SOUND_RATE);
        let mut heard = Self { rewritten: sound.rewritten, ..Self::default() };
        let mut floors = Vec::new();
        for stretch in sound.stretches.iter().filter(|stretch| !mute(&stretch.samples)) {
            let (onsets, floor) = onset::listen(&stretch.samples, rate);
            heard.onsets.extend(onsets.into_iter().map(|o| Onset { time: o.time + stretch.start, ..o }));
            heard.length = heard.length + Seconds(stretch.samples.len() as f64 / rate);
            floors.extend(floor);
        }
        heard.onsets.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
        heard.floor = onset::decibels(onset::median(&floors).max(onset::QUIETEST));
        (!floors.is_empty()).then_some(heard)
    }
}
