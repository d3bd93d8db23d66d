//! Any bytes as a script of what happens at a port, for the bodies that feed a state machine.

use ingest::wire_file::{Record, WireEvent};

/// Steps {what, delay, length, bytes}; `event` makes one of what (modulo 14), the bytes, and their first four as a
/// number.
pub fn records(mut data: &[u8], event: impl Fn(u8, &[u8], u32) -> WireEvent) -> Vec<Record> {
    let mut records = Vec::new();
    let mut host_us = 0u64;
    while let [what, delay, length, rest @ ..] = data {
        let (bytes, after) = rest.split_at(usize::from(*length).min(rest.len()));
        data = after;
        host_us += 1 << (delay % 28);
        let word = bytes.iter().take(4).fold(0u32, |word, byte| word << 8 | u32::from(*byte));
        records.push(Record { host_us, what: event(what % 14, bytes, word) });
    }
    records
}
