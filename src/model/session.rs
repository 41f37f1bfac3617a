//! A loaded model that answers batches of inputs.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use ort::session::SessionOutputs;
use ort::value::TensorRef;

use super::card::Layout;
use super::together::{Network, Together, Told};
use super::{Card, Device, ModelError, Places, Processor, SeriesCard, runtime};
use crate::memory;

/// Steps of a series that are run at a time, and those before and after them that are run beside them.
const PART: usize = 1800;
const BESIDE: usize = 180;

/// A loaded model.
#[derive(Debug)]
pub struct Session {
    runs: Runs,
    input: String,
    shape: Vec<usize>,
    path: PathBuf,
}

/// Who runs a model.
#[derive(Debug)]
enum Runs {
    /// Whoever asks, on the computer's own cores.
    Here(ort::session::Session),
    /// One thread, on a graphics card, for all who ask.
    Together(Arc<Together>),
}

impl Session {
    /// Loads the model of a card for a processor, after a look at the file's checksum.
    ///
    /// # Errors
    /// Those of [`runtime::environment`] and [`Card::verify`]; [`ModelError::Session`] where the library refuses the file
    /// or the file lacks an input or output that the card names.
    pub fn load(places: &Places, card: &Card, on: impl Into<Processor>) -> Result<Self, ModelError> {
        card.verify()?;
        let on = on.into();
        match on.device {
            Device::Cpu => Self::load_on(places, card, on),
            Device::Cuda => Self::load_shared(places, card, on),
            // Without a usable card the computer's own cores serve.
            Device::Auto => Self::load_shared(places, card, Processor { device: Device::Cuda, ..on })
                .or_else(|_| Self::load_on(places, card, Processor { device: Device::Cpu, ..on })),
        }
    }

    fn load_on(places: &Places, card: &Card, on: Processor) -> Result<Self, ModelError> {
        Self::open(places, card.model_path(), (&card.input.name, &card.head.outputs()), shape_of(card), on)
    }

    /// A model that all who load it ask together.
    pub(super) fn load_shared(places: &Places, card: &Card, on: Processor) -> Result<Self, ModelError> {
        let (path, input, shape) = (card.model_path(), card.input.name.clone(), shape_of(card));
        let outputs: Vec<String> = card.head.outputs().into_iter().map(str::to_owned).collect();
        let open = {
            let (places, path, input, outputs) =
                (places.clone(), path.clone(), input.clone(), outputs.clone());
            move || {
                let outputs: Vec<&str> = outputs.iter().map(String::as_str).collect();
                opened(&places, &path, (&input, &outputs), on)
            }
        };
        let (open, input_of) = (Box::new(open), input.clone());
        let network = Network { open, input: input_of, shape: shape.clone(), outputs };
        let network = Together::of(&path, network)?;
        Ok(Self { runs: Runs::Together(network), input, shape, path })
    }

    /// Loads the model of a card for series of numbers; the same errors as [`Session::load`].
    ///
    /// # Errors
    /// See [`Session::load`].
    pub fn load_series(places: &Places, card: &SeriesCard) -> Result<Self, ModelError> {
        card.verify()?;
        let shape = vec![card.channels, 0];
        Self::open(places, card.model_path(), (&card.input, &[&card.output]), shape, 1.into())
    }

    fn open(
        places: &Places,
        path: PathBuf,
        (input, outputs): (&str, &[&str]),
        shape: Vec<usize>,
        on: Processor,
    ) -> Result<Self, ModelError> {
        let session = opened(places, &path, (input, outputs), on)?;
        Ok(Self { runs: Runs::Here(session), input: input.to_owned(), shape, path })
    }

    /// Number of values in one input.
    pub fn input_len(&self) -> usize {
        self.shape.iter().product()
    }

    /// Runs a batch: `input` holds one or more inputs one after another.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the library fails, for instance because the model takes one input at a time.
    ///
    /// # Panics
    /// Where `input` isn't a whole number of inputs.
    pub fn run(&mut self, input: &[f32]) -> Result<Outputs<'_>, ModelError> {
        assert_eq!(input.len() % self.input_len(), 0, "a whole number of inputs");
        let batch = input.len() / self.input_len();
        let shape = [&[batch], self.shape.as_slice()].concat();
        self.run_shaped(shape, input)
    }

    /// Runs one series: `input` holds all values in time of the first channel, then of the next. The answer has the same order: for each of
    /// `rows` rows one value for so many samples as are `a_step`. A long series is run in parts that overlap by more than the
    /// networks look ahead and back, so that it needs no more memory than a short one.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the library fails, or answers with another shape.
    pub fn run_series(
        &mut self,
        input: &[f32],
        output: &str,
        (rows, a_step): (usize, usize),
    ) -> Result<Vec<f32>, ModelError> {
        let channels = self.shape[0];
        let samples = input.len() / channels;
        let steps = samples / a_step;
        let mut answer = vec![0.0; rows * steps];
        for first in (0..steps).step_by(PART) {
            let (from, end) = (first.saturating_sub(BESIDE), (first + PART).min(steps));
            let to = (end + BESIDE).min(steps);
            let part: Vec<f32> = input
                .chunks_exact(samples)
                .flat_map(|channel| &channel[from * a_step..to * a_step])
                .copied()
                .collect();
            let path = self.path.clone();
            let outputs = self.run_shaped(vec![1, channels, (to - from) * a_step], &part)?;
            let (shape, values) = outputs.get(output, 0)?;
            if shape != [rows as i64, (to - from) as i64] {
                let reason =
                    format!("its output has the shape {shape:?} for {} samples", (to - from) * a_step);
                return Err(ModelError::Session { path, reason });
            }
            for (row, told) in answer.chunks_exact_mut(steps).zip(values.chunks_exact(to - from)) {
                row[first..end].copy_from_slice(&told[first - from..end - from]);
            }
        }
        Ok(answer)
    }

    fn run_shaped(&mut self, shape: Vec<usize>, input: &[f32]) -> Result<Outputs<'_>, ModelError> {
        let path = &self.path;
        let batch = shape[0];
        let fail = |error: ort::Error| ModelError::Session { path: path.clone(), reason: error.to_string() };
        let given = match &mut self.runs {
            Runs::Here(session) => {
                let tensor = TensorRef::from_array_view((shape, input)).map_err(fail)?;
                Given::Here(session.run(ort::inputs![self.input.as_str() => tensor]).map_err(fail)?)
            }
            Runs::Together(network) => {
                let told = network.ask(input, batch);
                Given::Told(told.map_err(|reason| ModelError::Session { path: path.clone(), reason })?)
            }
        };
        Ok(Outputs { given, path, batch })
    }
}

/// The shape of one input.
fn shape_of(card: &Card) -> Vec<usize> {
    match card.input.layout {
        Layout::Nhwc => vec![card.input.height, card.input.width, 3],
        Layout::Nchw => vec![3, card.input.height, card.input.width],
    }
}

/// The model of a file, which has the input and the outputs.
fn opened(
    places: &Places,
    path: &Path,
    (input, outputs): (&str, &[&str]),
    on: Processor,
) -> Result<ort::session::Session, ModelError> {
    let environment = runtime::environment(places)?;
    let fail = |reason: String| ModelError::Session { path: path.to_owned(), reason };
    let builder = ort::session::Session::builder(&environment).map_err(|error| fail(error.to_string()))?;
    let session = on
        .register(builder, || places.runtime().ok())?
        .with_intra_threads(on.threads.max(1))
        .map_err(|error| fail(error.to_string()))?
        // Threads that spin between runs slow everything else down on a busy machine.
        .with_intra_op_spinning(false)
        .map_err(|error| fail(error.to_string()))?
        .commit_from_file(path)
        .map_err(|error| fail(error.to_string()))?;
    if !session.inputs().iter().any(|found| found.name() == input) {
        return Err(fail(format!("it has no input `{input}`, which its card names")));
    }
    for name in outputs {
        if !session.outputs().iter().any(|output| output.name() == *name) {
            return Err(fail(format!("it has no output `{name}`, which its card names")));
        }
    }
    // Loading needs twice the memory that is needed afterwards.
    memory::give_back();
    Ok(session)
}

/// The answers to one batch.
#[derive(Debug)]
pub struct Outputs<'s> {
    given: Given<'s>,
    path: &'s PathBuf,
    batch: usize,
}

/// Outputs in the library's own memory, or copies of those that a card names.
#[derive(Debug)]
enum Given<'s> {
    Here(SessionOutputs<'s>),
    Told(Vec<Told>),
}

impl Outputs<'_> {
    /// One output for one input of the batch: its shape without the batch, and its values.
    ///
    /// # Errors
    /// [`ModelError::Session`] where there is no such output, or it isn't 32-bit floats in batches.
    pub fn get(&self, name: &str, item: usize) -> Result<(&[i64], &[f32]), ModelError> {
        let fail = |reason: String| ModelError::Session { path: self.path.clone(), reason };
        let none = || fail(format!("it gave no output `{name}`"));
        let (shape, data): (&[i64], &[f32]) = match &self.given {
            Given::Here(outputs) => {
                let value = outputs.get(name).ok_or_else(none)?;
                let (shape, data) =
                    value.try_extract_tensor::<f32>().map_err(|error| fail(error.to_string()))?;
                (shape, data)
            }
            Given::Told(outputs) => {
                let (_, shape, data) = outputs.iter().find(|(told, ..)| told == name).ok_or_else(none)?;
                (shape, data)
            }
        };
        if shape.first().copied() != i64::try_from(self.batch).ok() || item >= self.batch {
            return Err(fail(format!("output `{name}` has the shape {shape:?} for {} inputs", self.batch)));
        }
        let size = data.len() / self.batch;
        Ok((&shape[1..], &data[item * size..(item + 1) * size]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_series_is_answered_like_its_stretches() {
        let places = Places::usual();
        let card = places.series_card("pose_lifter").unwrap();
        let mut session = Session::load_series(&places, &card).unwrap();
        let (channels, rows, length) = (card.channels, 28, PART + 700);
        let value = |channel: usize, t: usize| (0.013 * (channel + 1) as f32 * t as f32).sin();
        let series = |from: usize, to: usize| -> Vec<f32> {
            (0..channels).flat_map(|channel| (from..to).map(move |t| value(channel, t))).collect()
        };
        let whole = session.run_series(&series(0, length), &card.output, (rows, 1)).unwrap();
        assert_eq!(whole.len(), rows * length);
        // A stretch that is run at once and crosses the place where the parts of the whole meet.
        let (from, to) = (PART - 500, PART + 500);
        let stretch = session.run_series(&series(from, to), &card.output, (rows, 1)).unwrap();
        for row in 0..rows {
            for t in from + BESIDE..to - BESIDE {
                let (a, b) = (whole[row * length + t], stretch[row * (to - from) + t - from]);
                assert!((a - b).abs() < 1e-4, "row {row}, {t}: {a} {b}");
            }
        }
        let error = session.run_series(&series(0, 50), &card.output, (rows + 1, 1)).unwrap_err();
        assert!(error.to_string().contains("shape"), "{error}");
    }
}
