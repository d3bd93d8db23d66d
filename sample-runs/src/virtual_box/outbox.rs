//! Bytes on their way to the host: first frames that are held back by jitter, then what the line takes.

use std::collections::VecDeque;

/// Bytes that may wait for a slow host before the box stops to sample, in all.
const BYTES_MAX: usize = 64 * 1024;

#[derive(Debug, Default)]
pub(super) struct Outbox {
    /// World time at which a frame may leave, and its bytes; times rise, for a line keeps the order.
    held: VecDeque<(f64, Vec<u8>)>,
    bytes: VecDeque<u8>,
}

impl Outbox {
    /// Takes a frame that may leave at `from_s` of world time, but not before the one ahead of it.
    pub(super) fn push(&mut self, from_s: f64, frame: &[u8]) {
        let ahead_s = self.held.back().map_or(from_s, |(s, _)| *s);
        self.held.push_back((from_s.max(ahead_s), frame.to_vec()));
    }

    /// Lets those go that may leave by `now_s`.
    pub(super) fn release(&mut self, now_s: f64) {
        while self.held.front().is_some_and(|(from_s, _)| *from_s <= now_s) {
            self.bytes.extend(self.held.pop_front().into_iter().flat_map(|(_, frame)| frame));
        }
    }

    /// When the next held frame may leave, in world time.
    pub(super) fn next_s(&self) -> Option<f64> {
        self.held.front().map(|(from_s, _)| *from_s)
    }

    /// What the line may have now.
    pub(super) fn ready(&self) -> &[u8] {
        self.bytes.as_slices().0
    }

    /// The line took this many of them.
    pub(super) fn took(&mut self, count: usize) {
        self.bytes.drain(..count.min(self.bytes.len()));
    }

    /// Nobody will ever have them.
    pub(super) fn clear(&mut self) {
        self.held.clear();
        self.bytes.clear();
    }

    /// Nothing waits any more.
    pub(super) fn is_empty(&self) -> bool {
        self.held.is_empty() && self.bytes.is_empty()
    }

    /// The host is too slow: no more until it has read some.
    pub(super) fn is_full(&self) -> bool {
        self.bytes.len() >= BYTES_MAX
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_stays_whatever_the_delays() {
        let mut outbox = Outbox::default();
        outbox.push(3.0, &[1, 2]);
        outbox.push(1.0, &[3]);
        outbox.release(2.9);
        assert!(outbox.ready().is_empty() && !outbox.is_empty());
        assert_eq!(outbox.next_s(), Some(3.0));
        outbox.release(3.0);
        assert_eq!(outbox.ready(), [1, 2, 3]);
        outbox.took(1);
        assert_eq!(outbox.ready(), [2, 3]);
        outbox.took(9);
        assert!(outbox.is_empty());
    }
}
