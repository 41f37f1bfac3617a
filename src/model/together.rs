//! One network on a graphics card that many threads ask. A card answers many inputs in hardly more time than one, but the library
//! prepares itself anew, for a second or so, wherever their number is another than the last time.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::thread;

use ort::value::TensorRef;

use super::ModelError;

/// Numbers of inputs that a card is shown at a time, each by a session of its own; zeros fill up what is missing.
const SIZES: [usize; 3] = [1, 4, 16];
const MOST: usize = SIZES[SIZES.len() - 1];

/// Networks that run, by their files: all who load one file ask the same network.
static RUNNING: Mutex<Vec<(PathBuf, Weak<Together>)>> = Mutex::new(Vec::new());

/// An output of a network: its name, its shape and its values.
pub(super) type Told = (String, Vec<i64>, Vec<f32>);

/// The answers to one batch, all outputs in the network's order; or what the library said.
pub(super) type Answer = Result<Vec<Told>, String>;

/// A batch of inputs one after another, and where its answer goes.
#[derive(Debug)]
struct Question {
    input: Vec<f32>,
    count: usize,
    answer: Sender<Answer>,
}

/// A network that a thread of its own runs; whatever waits while it is busy is answered in one go. It ends with the last who ask it.
#[derive(Debug)]
pub(super) struct Together {
    questions: Sender<Question>,
}

/// A network with the name of its input, the shape of one input, and the names of the outputs that are wanted.
pub(super) struct Network {
    /// Opens the network.
    pub open: Box<dyn Fn() -> Result<ort::session::Session, ModelError> + Send>,
    pub input: String,
    pub shape: Vec<usize>,
    pub outputs: Vec<String>,
}

/// The sessions of a network, each with the number of inputs that it is shown.
struct Sessions {
    network: Network,
    /// How many inputs the network takes at a time.
    most: usize,
    /// The first was opened before anybody asked, and is shown what comes first.
    of: Vec<(Option<usize>, ort::session::Session)>,
}

impl Sessions {
    fn open(network: Network) -> Result<Self, ModelError> {
        let session = (network.open)()?;
        let input = session.inputs().iter().find(|input| input.name() == network.input);
        let batch = input.and_then(|input| input.dtype().tensor_shape()?.first().copied());
        let most = batch.and_then(|batch| usize::try_from(batch).ok()).unwrap_or(MOST).max(1);
        Ok(Self { network, most, of: vec![(None, session)] })
    }

    /// The wanted outputs for so many inputs.
    fn run(&mut self, input: &[f32], size: usize) -> Answer {
        let place = self.of.iter().position(|(of, _)| of.is_none_or(|of| of == size));
        let place = match place {
            Some(place) => place,
            None => {
                let session = (self.network.open)().map_err(|error| error.to_string())?;
                self.of.push((None, session));
                self.of.len() - 1
            }
        };
        let (of, session) = &mut self.of[place];
        *of = Some(size);
        let shape = [&[size], self.network.shape.as_slice()].concat();
        let tensor = TensorRef::from_array_view((shape, input)).map_err(|error| error.to_string())?;
        let given = session.run(ort::inputs![self.network.input.as_str() => tensor]);
        let given = given.map_err(|error| error.to_string())?;
        let told = |name: &String| {
            let value = given.get(name).ok_or_else(|| format!("it gave no output `{name}`"))?;
            let (shape, values) = value.try_extract_tensor::<f32>().map_err(|error| error.to_string())?;
            if shape.first().copied() != i64::try_from(size).ok() {
                return Err(format!("output `{name}` has the shape {shape:?} for {size} inputs"));
            }
            Ok((name.clone(), shape.to_vec(), values.to_vec()))
        };
        self.network.outputs.iter().map(told).collect()
    }
}

impl Together {
    /// The network of a file that runs already, or else this one, which is opened now.
    pub fn of(path: &Path, network: Network) -> Result<Arc<Self>, ModelError> {
        let mut running = RUNNING.lock().unwrap_or_else(PoisonError::into_inner);
        running.retain(|(_, network)| network.strong_count() > 0);
        if let Some(network) =
            running.iter().find(|(of, _)| of == path).and_then(|(_, network)| network.upgrade())
        {
            return Ok(network);
        }
        let sessions = Sessions::open(network)?;
        let (questions, asked) = mpsc::channel();
        thread::spawn(move || serve(sessions, &asked));
        let network = Arc::new(Self { questions });
        running.push((path.to_owned(), Arc::downgrade(&network)));
        Ok(network)
    }

    /// Runs a batch of so many inputs, together with those of whoever else asks meanwhile.
    pub fn ask(&self, input: &[f32], count: usize) -> Answer {
        let (answer, told) = mpsc::channel();
        let ended = || "its thread has ended".to_owned();
        self.questions.send(Question { input: input.to_vec(), count, answer }).map_err(|_| ended())?;
        told.recv().map_err(|_| ended())?
    }
}

/// Answers until nobody can ask any more.
fn serve(mut sessions: Sessions, asked: &Receiver<Question>) {
    let mut left = None;
    while let Some(first) = left.take().or_else(|| asked.recv().ok()) {
        let mut count = first.count;
        let mut batch = vec![first];
        while count < sessions.most {
            let Ok(next) = asked.try_recv() else { break };
            if count + next.count > sessions.most {
                left = Some(next);
                break;
            }
            count += next.count;
            batch.push(next);
        }
        answer(&mut sessions, batch, count);
    }
}

/// Runs a batch of questions of `count` inputs in all, and gives each its answer.
fn answer(sessions: &mut Sessions, batch: Vec<Question>, count: usize) {
    let size = SIZES.into_iter().find(|size| (count..=sessions.most).contains(size)).unwrap_or(count);
    let mut input: Vec<f32> = batch.iter().flat_map(|question| &question.input).copied().collect();
    input.resize(sessions.network.shape.iter().product::<usize>() * size, 0.0);
    let told = sessions.run(&input, size);
    let mut from = 0;
    for question in batch {
        let range = from..from + question.count;
        from = range.end;
        let part = told.as_ref().map_err(Clone::clone).map(|outputs| {
            let part = |(name, shape, values): &Told| {
                let each = values.len() / size;
                let values = values[range.start * each..range.end * each].to_vec();
                (name.clone(), [&[question.count as i64], &shape[1..]].concat(), values)
            };
            outputs.iter().map(part).collect()
        });
        // Whoever no longer listens needs no answer.
        let _ = question.answer.send(part);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Places, Processor, Session};

    #[test]
    fn all_who_ask_at_once_are_answered_as_each_alone() {
        let places = Places::usual();
        let card = places.card("racket").unwrap();
        let mut alone = Session::load(&places, &card, 1).unwrap();
        let shared: Vec<Session> =
            (0..6).map(|_| Session::load_shared(&places, &card, Processor::from(1)).unwrap()).collect();
        assert_eq!(RUNNING.lock().unwrap().iter().filter(|(path, _)| *path == card.model_path()).count(), 1);
        let size = alone.input_len();
        let noise = |seed: usize, count: usize| -> Vec<f32> {
            (0..size * count).map(|i| (((i * (seed + 3)) % 251) as f32 / 125.0) - 1.0).collect()
        };
        let names = card.head.outputs();
        let all = |session: &mut Session, input: &[f32], count: usize| -> Vec<f32> {
            let outputs = session.run(input).unwrap();
            let each = (0..count).flat_map(|item| names.iter().map(move |name| (item, *name)));
            each.flat_map(|(item, name)| outputs.get(name, item).unwrap().1.to_vec()).collect()
        };
        let told: Vec<Vec<f32>> = thread::scope(|scope| {
            let asking: Vec<_> = shared
                .into_iter()
                .enumerate()
                .map(|(i, mut session)| {
                    scope.spawn(move || all(&mut session, &noise(i, 1 + i % 3), 1 + i % 3))
                })
                .collect();
            asking.into_iter().map(|thread| thread.join().unwrap()).collect()
        });
        for (i, told) in told.iter().enumerate() {
            let known = all(&mut alone, &noise(i, 1 + i % 3), 1 + i % 3);
            assert_eq!(told.len(), known.len());
            assert!(told.iter().zip(&known).all(|(a, b)| (a - b).abs() < 1e-3), "asked by {i}");
        }
        // Nobody asks any more, so the next who do load it again.
        assert!(
            RUNNING
                .lock()
                .unwrap()
                .iter()
                .all(|(path, network)| { *path != card.model_path() || network.upgrade().is_none() })
        );
    }
}
