//! Records on their way to the disk: bounded, and what does not fit is counted.

use crate::wire_file::{Record, WireEvent};
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::Notify;

/// Most that may wait for the disk, in bytes of memory: three minutes of four boxes of eight channels at 1 kHz. With 16 MiB,
/// which is one minute of them, a disk that others wrote gigabytes to cost 56 s of an hour; what a batch that is being
/// written takes comes on top.
pub const QUEUE_BYTES_MAX: usize = 48 * 1024 * 1024;

#[derive(Debug, Default)]
struct Waiting {
    records: VecDeque<(usize, Record)>,
    weight_bytes: usize,
    /// Received bytes that did not fit, for each box, since its last record that did.
    lost_bytes: BTreeMap<usize, u64>,
    closed: bool,
}

/// A queue between the recorder's loop, which must never wait, and the thread that owns the disk.
#[derive(Debug)]
pub struct Queue {
    waiting: Mutex<Waiting>,
    came: Notify,
    bytes_max: usize,
}

impl Queue {
    /// An empty queue that holds at most `bytes_max`.
    pub fn new(bytes_max: usize) -> Self {
        Self { waiting: Mutex::default(), came: Notify::new(), bytes_max }
    }

    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // Nothing in here can panic half-way through a change.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Appends a record of a box. Received bytes that do not fit are dropped and counted, and a
    /// [`WireEvent::Lost`] stands where they would have been.
    pub fn push(&self, number: usize, record: Record) {
        let mut waiting = self.lock();
        let full = waiting.weight_bytes + record.weight_bytes() > self.bytes_max;
        if let (true, WireEvent::Received(bytes)) = (full, &record.what) {
            *waiting.lost_bytes.entry(number).or_default() += bytes.len() as u64;
            return;
        }
        if let Some(bytes) = waiting.lost_bytes.remove(&number) {
            let lost = Record { host_us: record.host_us, what: WireEvent::Lost { bytes } };
            waiting.weight_bytes += lost.weight_bytes();
            waiting.records.push_back((number, lost));
        }
        waiting.weight_bytes += record.weight_bytes();
        waiting.records.push_back((number, record));
        self.came.notify_one();
    }

    /// No record comes any more.
    pub fn close(&self) {
        self.lock().closed = true;
        self.came.notify_one();
    }

    /// Whether no record comes any more.
    pub fn is_closed(&self) -> bool {
        self.lock().closed
    }

    /// Takes all that waits, after waiting for at most `patience` for the first; the second value says
    /// that nothing will come after it.
    pub async fn take(&self, patience: Duration) -> (Vec<(usize, Record)>, bool) {
        let something_came = async {
            while {
                let waiting = self.lock();
                waiting.records.is_empty() && !waiting.closed
            } {
                // One that came since the look is remembered.
                self.came.notified().await;
            }
        };
        // Nothing came in time: nothing is taken.
        let _ = tokio::time::timeout(patience, something_came).await;
        let mut waiting = self.lock();
        waiting.weight_bytes = 0;
        (waiting.records.drain(..).collect(), waiting.closed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn what_does_not_fit_is_counted_where_it_would_have_been() {
        let queue = Queue::new(1000);
        for host_us in 0..10 {
            queue.push(0, Record { host_us, what: WireEvent::Received(vec![0; 300]) });
        }
        let (taken, closed) = queue.take(Duration::ZERO).await;
        let kept = taken.len() as u64;
        assert!((1..4).contains(&kept), "{kept}");
        assert!(!closed);
        queue.push(0, Record { host_us: 10, what: WireEvent::Received(vec![1]) });
        queue.close();
        let (taken, closed) = queue.take(Duration::ZERO).await;
        let lost = Record { host_us: 10, what: WireEvent::Lost { bytes: (10 - kept) * 300 } };
        assert_eq!(taken.first(), Some(&(0, lost)));
        assert_eq!((taken.len(), closed), (2, true));
    }
}
