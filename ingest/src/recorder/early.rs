//! What came before the run folder was made: bounded, however much noise a port brings before its hello.

use crate::wire_file::{Record, WireEvent};
use std::collections::{BTreeMap, VecDeque};

/// Most memory for received bytes of a port before its hello, and as much again after it: more than any hello,
/// and the rows of some seconds.
const BYTES_MAX: usize = 256 * 1024;

#[derive(Debug, Default)]
struct EarlyPort {
    /// What stays: all that is not received bytes, and the bytes that brought the hello.
    kept: Vec<Record>,
    /// Received bytes, of which the oldest go.
    received: VecDeque<Record>,
    weight_bytes: usize,
    /// Time of the last record that went, and bytes that went.
    went: Option<(u64, u64)>,
    has_hello: bool,
}

impl EarlyPort {
    fn push(&mut self, record: Record) {
        if !matches!(record.what, WireEvent::Received(_)) {
            self.kept.push(record);
            return;
        }
        self.weight_bytes += record.weight_bytes();
        self.received.push_back(record);
        while self.weight_bytes > BYTES_MAX
            && let Some(oldest) = self.received.pop_front()
        {
            self.weight_bytes -= oldest.weight_bytes();
            if let WireEvent::Received(bytes) = oldest.what {
                let went = self.went.map_or(0, |(_, bytes)| bytes) + bytes.len() as u64;
                self.went = Some((oldest.host_us, went));
            }
        }
    }

    /// What is there now stays; a [`WireEvent::Lost`] stands where the oldest were.
    fn keep(&mut self) {
        let lost =
            self.went.take().map(|(host_us, bytes)| Record { host_us, what: WireEvent::Lost { bytes } });
        self.kept.extend(lost);
        self.kept.extend(self.received.drain(..));
        self.weight_bytes = 0;
    }
}

/// Records of all ports from before the run began.
#[derive(Debug, Default)]
pub struct Early {
    ports: BTreeMap<usize, EarlyPort>,
}

impl Early {
    /// Takes a record of a port, which has brought its hello by now or not yet.
    pub fn push(&mut self, number: usize, record: Record, has_hello: bool) {
        let port = self.ports.entry(number).or_default();
        port.push(record);
        if has_hello && !std::mem::replace(&mut port.has_hello, true) {
            port.keep();
        }
    }

    /// All that was kept, in the order of its times, each with its port.
    pub fn take(&mut self) -> Vec<(usize, Record)> {
        let of_port = |(number, mut port): (usize, EarlyPort)| {
            port.keep();
            port.kept.into_iter().map(move |record| (number, record))
        };
        let mut records: Vec<_> = std::mem::take(&mut self.ports).into_iter().flat_map(of_port).collect();
        records.sort_by_key(|(_, record)| record.host_us);
        records
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn received(host_us: u64, length: usize) -> Record {
        Record { host_us, what: WireEvent::Received(vec![host_us as u8; length]) }
    }

    #[test]
    fn noise_before_a_hello_and_after_it_is_bounded_and_counted_where_it_was() {
        let mut early = Early::default();
        early.push(0, Record { host_us: 1, what: WireEvent::PortOpened("port".to_owned()) }, false);
        (2..10_000).for_each(|host_us| early.push(0, received(host_us, 4096), false));
        early.push(1, received(10_000, 7), false);
        early.push(0, received(10_001, 100), true);
        (10_002..20_000).for_each(|host_us| early.push(0, received(host_us, 1), true));
        let records = early.take();
        assert!(records.is_sorted_by_key(|(_, record)| record.host_us));
        let of_port =
            |port| records.iter().filter(move |(number, _)| *number == port).map(|(_, record)| record);
        assert_eq!(of_port(1).collect::<Vec<_>>(), [&received(10_000, 7)]);
        let weight_bytes: usize = of_port(0).map(Record::weight_bytes).sum();
        assert!((BYTES_MAX..2 * BYTES_MAX + 1000).contains(&weight_bytes), "{weight_bytes}");
        let hello = of_port(0).position(|record| *record == received(10_001, 100));
        assert!(hello.is_some_and(|at| at > 50), "{hello:?}");
        let bytes = |what: &WireEvent| match what {
            WireEvent::Received(bytes) => bytes.len() as u64,
            WireEvent::Lost { bytes } => *bytes,
            _ => 0,
        };
        assert_eq!(of_port(0).map(|record| bytes(&record.what)).sum::<u64>(), 9998 * 4096 + 100 + 9998);
        let lost = of_port(0).filter(|record| matches!(record.what, WireEvent::Lost { .. })).count();
        assert_eq!(
            (lost, &of_port(0).nth(1).unwrap().what),
            (2, &WireEvent::Lost { bytes: (9998 - 63) * 4096 })
        );
        assert_eq!(early.take(), []);
    }
}
