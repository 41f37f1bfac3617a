//! What networks run on.

use std::path::PathBuf;

use ort::ep::cuda::ConvAlgorithmSearch;
use ort::ep::{CUDA, ExecutionProvider};
use ort::session::builder::SessionBuilder;

use super::ModelError;

/// A kind of processor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum Device {
    /// The computer's own processor.
    #[default]
    Cpu,
    /// An NVIDIA graphics card (needs ONNX Runtime's GPU library).
    Cuda,
    /// The graphics card where it can be used, else the processor.
    Auto,
}

impl Device {
    /// The word used in options.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Cpu => "cpu",
            Self::Cuda => "cuda",
            Self::Auto => "auto",
        }
    }
}

/// What a network runs on. A number of cores stands for so many of the computer's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Processor {
    /// How many of the computer's cores a network may use, at least 1.
    pub threads: usize,
    /// Where it runs.
    pub device: Device,
}

impl From<usize> for Processor {
    fn from(threads: usize) -> Self {
        Self { threads, device: Device::Cpu }
    }
}

impl Processor {
    /// Tells a session that is being built where to run: on the computer's cores unless CUDA is asked for by name. The inference library is loaded already, from the file at `library`.
    ///
    /// # Errors
    /// [`ModelError::NoCuda`] where CUDA is asked for and the library or the computer has none.
    pub(super) fn register(
        self,
        builder: SessionBuilder,
        library: impl FnOnce() -> Option<PathBuf>,
    ) -> Result<SessionBuilder, ModelError> {
        let missing = |reason: String| ModelError::NoCuda { library: library(), reason };
        match self.device {
            Device::Cpu | Device::Auto => Ok(builder),
            Device::Cuda => match CUDA::is_available() {
                Ok(true) => builder
                    .with_execution_providers([cuda().build().error_on_failure()])
                    .map_err(|error| missing(error.to_string())),
                Ok(false) => Err(missing("it was built without CUDA".to_owned())),
                Err(error) => Err(missing(error.to_string())),
            },
        }
    }
}

/// How a card is used. Trying out every way to convolve, which is usual, takes seconds for each number of inputs and gains nothing.
fn cuda() -> CUDA {
    CUDA::default().with_conv_algorithm_search(ConvAlgorithmSearch::Heuristic)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::ErrorKind;
    use crate::model::{Places, Session};

    #[test]
    fn a_library_without_cuda_says_so_and_auto_does_without() {
        let places = Places::usual();
        let card = places.card("pose_detection").unwrap();
        let load = |device| Session::load(&places, &card, Processor { threads: 1, device });
        assert!(load(Device::Auto).is_ok());
        if CUDA::is_available().unwrap() {
            return;
        }
        let error = load(Device::Cuda).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::Model);
        let text = error.to_string();
        assert!(
            text.contains("CUDA") && text.contains("onnxruntime-gpu") && text.contains("--device cpu"),
            "{text}"
        );
    }
}
