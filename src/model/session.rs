//! A loaded model that answers batches of inputs.

use std::path::PathBuf;

use ort::session::SessionOutputs;
use ort::value::TensorRef;

use super::card::Layout;
use super::{Card, ModelError, Places, runtime};

/// A loaded model.
#[derive(Debug)]
pub struct Session {
    session: ort::session::Session,
    input: String,
    shape: [usize; 3],
    path: PathBuf,
}

impl Session {
    /// Loads the model of a card for the processor's `threads` cores, after a look at the file's checksum.
    ///
    /// # Errors
    /// Those of [`runtime::environment`] and [`Card::verify`]; [`ModelError::Session`] where the library refuses the file
    /// or the file lacks an input or output that the card names.
    pub fn load(places: &Places, card: &Card, threads: usize) -> Result<Self, ModelError> {
        let environment = runtime::environment(places)?;
        card.verify()?;
        let path = card.model_path();
        let fail = |reason: String| ModelError::Session { path: path.clone(), reason };
        let session = ort::session::Session::builder(&environment)
            .map_err(|error| fail(error.to_string()))?
            .with_intra_threads(threads.max(1))
            .map_err(|error| fail(error.to_string()))?
            // Threads that spin between runs slow everything else down on a busy machine.
            .with_intra_op_spinning(false)
            .map_err(|error| fail(error.to_string()))?
            .commit_from_file(&path)
            .map_err(|error| fail(error.to_string()))?;
        if !session.inputs().iter().any(|input| input.name() == card.input.name) {
            return Err(fail(format!("it has no input `{}`, which its card names", card.input.name)));
        }
        for name in card.head.outputs() {
            if !session.outputs().iter().any(|output| output.name() == name) {
                return Err(fail(format!("it has no output `{name}`, which its card names")));
            }
        }
        let shape = match card.input.layout {
            Layout::Nhwc => [card.input.height, card.input.width, 3],
            Layout::Nchw => [3, card.input.height, card.input.width],
        };
        Ok(Self { session, input: card.input.name.clone(), shape, path })
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
        let [a, b, c] = self.shape;
        let path = &self.path;
        let fail = |error: ort::Error| ModelError::Session { path: path.clone(), reason: error.to_string() };
        let tensor = TensorRef::from_array_view(([batch, a, b, c], input)).map_err(fail)?;
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
