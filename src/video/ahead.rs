//! Frames that are decoded while those before them are looked at.

use std::sync::mpsc;
use std::thread;

/// Frames that wait between decoding and looking: enough to even out how long each takes, few enough for a small memory.
const WAITING: usize = 4;

/// Reads frames in a thread of its own, a few ahead of `look`, which gets them in their order. Reading ends where `look` does.
pub fn ahead<F: Send, T>(
    frames: impl Iterator<Item = F> + Send,
    look: impl FnOnce(mpsc::IntoIter<F>) -> T,
) -> T {
    thread::scope(|scope| {
        let (send, receive) = mpsc::sync_channel(WAITING);
        scope.spawn(move || {
            for frame in frames {
                // The other end hangs up where nobody looks any more.
                if send.send(frame).is_err() {
                    break;
                }
            }
        });
        look(receive.into_iter())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_keep_their_order_and_reading_ends_with_the_look() {
        assert_eq!(ahead(0..100, |frames| frames.collect::<Vec<_>>()), (0..100).collect::<Vec<_>>());
        let mut read = 0;
        let counted = (0..1_000_000).inspect(|_| read += 1);
        assert_eq!(ahead(counted, |frames| frames.take(3).collect::<Vec<_>>()), [0, 1, 2]);
        assert!(read <= 3 + WAITING + 1, "{read}");
    }
}
