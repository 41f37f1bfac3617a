//! A loaded model that answers batches of inputs.

use std::path::PathBuf;

use ort::session::SessionOutputs;
use ort::value::TensorRef;

use super::card::Layout;
use super::{Card, ModelError, Places, Processor, SeriesCard, runtime};

/// A loaded model.
#[derive(Debug)]
pub struct Session {
    session: ort::session::Session,
    input: String,
    shape: Vec<usize>,
    path: PathBuf,
}

impl Session {
    /// Loads the model of a card for a processor, after a look at the file's checksum.
    ///
    /// # Errors
    /// Those of [`runtime::environment`] and [`Card::verify`]; [`ModelError::Session`] where the library refuses the file
    /// or the file lacks an input or output that the card names.
    pub fn load(places: &Places, card: &Card, on: impl Into<Processor>) -> Result<Self, ModelError> {
        card.verify()?;
        let shape = match card.input.layout {
            Layout::Nhwc => vec![card.input.height, card.input.width, 3],
            Layout::Nchw => vec![3, card.input.height, card.input.width],
        };
        Self::open(places, card.model_path(), &card.input.name, &card.head.outputs(), shape, on.into())
    }

    /// Loads the model of a card for series of numbers; the same errors as [`Session::load`].
    ///
    /// # Errors
    /// See [`Session::load`].
    pub fn load_series(places: &Places, card: &SeriesCard) -> Result<Self, ModelError> {
        card.verify()?;
        Self::open(places, card.model_path(), &card.input, &[&card.output], vec![card.channels, 0], 1.into())
    }

    fn open(
        places: &Places,
        path: PathBuf,
        input: &str,
        outputs: &[&str],
        shape: Vec<usize>,
        on: Processor,
    ) -> Result<Self, ModelError> {
        let environment = runtime::environment(places)?;
        let fail = |reason: String| ModelError::Session { path: path.clone(), reason };
        let builder =
            ort::session::Session::builder(&environment).map_err(|error| fail(error.to_string()))?;
        let session = on
            .register(builder, || places.runtime().ok())?
            .with_intra_threads(on.threads.max(1))
            .map_err(|error| fail(error.to_string()))?
            // Threads that spin between runs slow everything else down on a busy machine.
            .with_intra_op_spinning(false)
            .map_err(|error| fail(error.to_string()))?
            .commit_from_file(&path)
            .map_err(|error| fail(error.to_string()))?;
        if !session.inputs().iter().any(|found| found.name() == input) {
            return Err(fail(format!("it has no input `{input}`, which its card names")));
        }
        for name in outputs {
            if !session.outputs().iter().any(|output| output.name() == *name) {
                return Err(fail(format!("it has no output `{name}`, which its card names")));
            }
        }
        Ok(Self { session, input: input.to_owned(), shape, path })
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

    /// Runs one series: `input` holds all values in time of the first channel, then of the next.
    ///
    /// # Errors
    /// [`ModelError::Session`] where the library fails.
    pub fn run_series(&mut self, input: &[f32]) -> Result<Outputs<'_>, ModelError> {
        let channels = self.shape[0];
        self.run_shaped(vec![1, channels, input.len() / channels], input)
    }

    fn run_shaped(&mut self, shape: Vec<usize>, input: &[f32]) -> Result<Outputs<'_>, ModelError> {
        let path = &self.path;
        let batch = shape[0];
        let fail = |error: ort::Error| ModelError::Session { path: path.clone(), reason: error.to_string() };
        let tensor = TensorRef::from_array_view((shape, input)).map_err(fail)?;
        let outputs = self.session.run(ort::inputs![self.input.as_str() => tensor]).map_err(fail)?;
        Ok(Outputs { outputs, path, batch })
    }
}

/// The answers to one batch.
#[derive(Debug)]
pub struct Outputs<'s> {
    outputs: SessionOutputs<'s>,
    path: &'s PathBuf,
    batch: usize,
}

impl Outputs<'_> {
    /// One output for one input of the batch: its shape without the batch, and its values.
    ///
    /// # Errors
    /// [`ModelError::Session`] where there is no such output, or it isn't 32-bit floats in batches.
    pub fn get(&self, name: &str, item: usize) -> Result<(&[i64], &[f32]), ModelError> {
        let fail = |reason: String| ModelError::Session { path: self.path.clone(), reason };
        let value = self.outputs.get(name).ok_or_else(|| fail(format!("it gave no output `{name}`")))?;
        let (shape, data) = value.try_extract_tensor::<f32>().map_err(|error| fail(error.to_string()))?;
        if shape.first().copied() != i64::try_from(self.batch).ok() || item >= self.batch {
            return Err(fail(format!("output `{name}` has the shape {shape:?} for {} inputs", self.batch)));
        }
        let size = data.len() / self.batch;
        Ok((&shape[1..], &data[item * size..(item + 1) * size]))
    }
}
