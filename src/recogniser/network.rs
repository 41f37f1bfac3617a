//! The network itself.

use super::input::{CHANNELS, Grid};
use super::{Chances, KINDS, Moment, PACES, Paced};
use crate::model::{ModelError, Places, SeriesCard, Session};
use crate::pose::{Motion, Track};
use crate::units::Seconds;

/// Name of the network among the models.
pub const NETWORK: &str = "recogniser";

/// Rows of the output.
const ROWS: usize = 1 + 2 * KINDS + 4;
const VOLLEY: usize = 1 + 2 * KINDS;

/// The network answers once for two samples.
const SAMPLES_A_STEP: usize = 2;

/// The recogniser, ready to run.
#[derive(Debug)]
pub struct Recogniser {
    /// One for motions as they are and one for them as a mirror shows them, which are read at the same time.
    sessions: [Session; 2],
    card: SeriesCard,
}

impl Recogniser {
    /// Loads the network that lies beside the pose networks.
    ///
    /// # Errors
    /// [`ModelError`] where the network, its card or the inference library is missing or damaged.
    pub fn load(places: &Places) -> Result<Self, ModelError> {
        let card = places.series_card(NETWORK)?;
        if card.channels != CHANNELS {
            let reason = format!("it has {} channels; {CHANNELS} are needed", card.channels);
            return Err(ModelError::Card { path: card.path, reason });
        }
        let load = || Session::load_series(places, &card);
        Ok(Self { sessions: [load()?, load()?], card })
    }

    /// Reads a motion at every pace; without any reading where the hips or another point are never seen. The `track` that the motion was
    /// made of knows where the pose model guesses hidden points.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the inference library fails.
    pub fn read(&mut self, motion: &Motion, track: Option<&Track>) -> Result<Chances, ModelError> {
        let mut readings = Vec::new();
        let guesses = [None].into_iter().chain(track.map(Some));
        for (guesses, pace) in guesses.flat_map(|guesses| PACES.map(|pace| (guesses, pace))) {
            let Some(grid) = Grid::new(motion, guesses, pace, self.card.rate) else { continue };
            let [plain, mirrored] = &mut self.sessions;
            let output = &self.card.output;
            let (plain, mirrored) = rayon::join(
                || run(plain, output, &grid.input(false)),
                || run(mirrored, output, &grid.input(true)),
            );
            let (plain, mirrored) = (plain?, mirrored?);
            let pairs = grid.times.chunks_exact(SAMPLES_A_STEP).zip(plain.iter().zip(&mirrored));
            let moments = pairs.map(|(times, (plain, mirrored))| moment(times, plain, mirrored)).collect();
            readings.push(Paced { pace, moments });
        }
        Ok(Chances { readings })
    }
}

/// What the network answers to one input.
fn run(session: &mut Session, output: &str, input: &[f32]) -> Result<Vec<[f32; ROWS]>, ModelError> {
    let steps = input.len() / CHANNELS / SAMPLES_A_STEP;
    let values = session.run_series(input, output, (ROWS, SAMPLES_A_STEP))?;
    Ok((0..steps).map(|s| std::array::from_fn(|row| values[row * steps + s])).collect())
}

/// The mean of what is read as it is and in a mirror, where the hands are exchanged.
fn moment(times: &[f64], plain: &[f32; ROWS], mirrored: &[f32; ROWS]) -> Moment {
    let twin = |row: usize| match row {
        1..=KINDS => row + KINDS,
        row if row > KINDS && row <= 2 * KINDS => row - KINDS,
        row => row,
    };
    let mean = |row: usize| 0.5 * (plain[row] + mirrored[twin(row)]);
    Moment {
        time: Seconds(times.iter().sum::<f64>() / times.len() as f64),
        strokes: std::array::from_fn(mean),
        volley: mean(VOLLEY),
        both: mean(VOLLEY + 1),
        ahead: mean(VOLLEY + 2),
        spread: mean(VOLLEY + 3),
    }
}
