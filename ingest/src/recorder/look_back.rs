//! The last seconds of each port, so that a run can begin before the moment at which it was asked for: bounded in
//! time and in memory, however long the recorder stands by and whatever a port brings.

use crate::passes::rule::BEFORE_S;
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{Form, Frame, Hello, encode, sentences};
use std::collections::VecDeque;

/// [`BEFORE_S`] in µs.
pub const BEFORE_US: u64 = (BEFORE_S * 1e6) as u64;
/// What is older goes, in µs: besides [`BEFORE_US`] the time in which the plow is seen to go in, and some seconds of
/// pings and statuses, by which a run knows clocks and counts from its first row on.
const KEPT_US: u64 = 12_000_000;
/// Most memory for the records of one port: [`KEPT_US`] at 921,600 baud, and room for what stands around the bytes.
const BYTES_MAX: usize = 3 * 512 * 1024;

/// What was counted before a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SoFar {
    /// Rows that came.
    pub rows: u64,
    /// Rows that were lost.
    pub rows_lost: u64,
    /// Time without rows that is in no other count, in ms.
    pub without_readings_ms: u64,
    /// Rows that were refused.
    pub rows_refused: u64,
    /// Marks.
    pub marks: u64,
}

/// The same for a port that has not brought a hello: more than any hello, or some seconds of a receiver.
const UNKNOWN_BYTES_MAX: usize = 256 * 1024;

#[derive(Debug)]
struct Kept {
    record: Record,
    /// The hello that it brought, as on the wire.
    hello: Option<Vec<u8>>,
    before: SoFar,
}

/// The byte with which a frame or a line ends.
fn end_of(form: Option<Form>) -> u8 {
    if form == Some(Form::Binary) { 0 } else { b'\n' }
}

/// What is left of records that went.
#[derive(Clone, Debug, Default)]
struct Before {
    opened: Option<Record>,
    gone: Option<Record>,
    hello: Option<Record>,
    /// The next bytes may begin in the middle of a frame or line.
    cut: bool,
}

impl Before {
    fn take(&mut self, kept: &Kept, form: Option<Form>) {
        match &kept.record.what {
            WireEvent::PortOpened(_) => {
                (self.opened, self.gone, self.cut) = (Some(kept.record.clone()), None, false);
            }
            WireEvent::PortGone(_) => self.gone = Some(kept.record.clone()),
            WireEvent::Received(bytes) => {
                self.cut = bytes.last().map_or(self.cut, |last| *last != end_of(form))
            }
            _ => {}
        }
        if let Some(said) = &kept.hello {
            self.hello = Some(Record { host_us: kept.record.host_us, what: WireEvent::Known(said.clone()) });
        }
    }

    fn records(self) -> impl Iterator<Item = Record> {
        [self.opened, self.hello, self.gone].into_iter().flatten()
    }
}

#[derive(Debug, Default)]
struct PortRing {
    before: Before,
    kept: VecDeque<Kept>,
    weight_bytes: usize,
    /// Host time of the last record that went because it was old.
    old_us: Option<u64>,
    /// Received bytes that there was no room for: host time of the last of them, and how many.
    lost: Option<(u64, u64)>,
    form: Option<Form>,
    has_hello: bool,
}

impl PortRing {
    fn push(&mut self, kept: Kept) {
        self.has_hello |= kept.hello.is_some();
        let bytes_max = if self.has_hello { BYTES_MAX } else { UNKNOWN_BYTES_MAX };
        let now_us = kept.record.host_us;
        self.weight_bytes += kept.record.weight_bytes();
        self.kept.push_back(kept);
        let is_old = |host_us: u64| host_us + KEPT_US < now_us;
        self.lost = self.lost.filter(|(host_us, _)| !is_old(*host_us));
        while let Some(oldest) = self.kept.front() {
            let old = is_old(oldest.record.host_us);
            if !old && self.weight_bytes <= bytes_max {
                return;
            }
            if old {
                self.old_us = Some(oldest.record.host_us);
            }
            if let (false, WireEvent::Received(bytes)) = (old, &oldest.record.what) {
                let lost = self.lost.map_or(0, |(_, bytes)| bytes) + bytes.len() as u64;
                self.lost = Some((oldest.record.host_us, lost));
            }
            self.weight_bytes -= oldest.record.weight_bytes();
            self.before.take(oldest, self.form);
            self.kept.pop_front();
        }
    }

    /// The records of a run whose time 0 is at this host time, as they would have come to one that began with them:
    /// those of before, which it knows clocks and counts by, are of one opening of the port.
    fn of_run(&self, at_us: u64) -> Vec<Record> {
        let breaks = |kept: &Kept| {
            matches!(
                kept.record.what,
                WireEvent::PortOpened(_) | WireEvent::PortGone(_) | WireEvent::ClockStep { .. }
            )
        };
        let in_run = self.kept.partition_point(|kept| kept.record.host_us <= at_us);
        let from = self.kept.iter().take(in_run).rposition(breaks).map_or(0, |at| at + 1);
        let mut before = self.before.clone();
        self.kept.iter().take(from).for_each(|kept| before.take(kept, self.form));
        let mut cut = before.cut;
        let mut records: Vec<Record> = before.records().collect();
        let broken_us = from.checked_sub(1).and_then(|at| self.kept.get(at)).map(|kept| kept.record.host_us);
        let mut lost_at = None;
        if let Some((host_us, bytes)) = self.lost
            && broken_us.is_none_or(|broken_us| host_us > broken_us)
        {
            lost_at = Some(records.len());
            records.push(Record { host_us, what: WireEvent::Lost { bytes } });
        }
        for Kept { record, hello, .. } in self.kept.iter().skip(from) {
            match &record.what {
                WireEvent::Received(bytes) if cut => {
                    let at = bytes.iter().position(|byte| *byte == end_of(self.form));
                    // Where bytes went for want of room, the rest of what they were part of is lost with them.
                    let before = lost_at.and_then(|at: usize| records.get_mut(at));
                    if let Some(Record { what: WireEvent::Lost { bytes: lost }, .. }) = before {
                        *lost += at.map_or(bytes.len(), |at| at + 1) as u64;
                    }
                    // A hello in what is cut off stays known.
                    let known = || hello.clone().map(WireEvent::Known);
                    records.extend(known().map(|what| Record { host_us: record.host_us, what }));
                    let Some(at) = at else { continue };
                    cut = false;
                    let whole = bytes.get(at + 1..).unwrap_or_default().to_vec();
                    records.push(Record { host_us: record.host_us, what: WireEvent::Received(whole) });
                }
                _ => records.push(record.clone()),
            }
        }
        records
    }
}

/// A hello as on the wire, in the form in which its box speaks.
pub fn as_said(hello: &Hello, form: Option<Form>) -> Vec<u8> {
    let hello = Frame::Hello(*hello);
    match form {
        Some(Form::Text) => sentences(&hello).flat_map(|sentence| sentence.as_bytes().to_vec()).collect(),
        _ => encode(&hello).as_bytes().to_vec(),
    }
}

/// The last seconds of all ports.
#[derive(Debug, Default)]
pub struct LookBack {
    ports: Vec<PortRing>,
}

impl LookBack {
    /// Takes a record of a port: what was counted before it, the hello that it brought if it did, as on the wire,
    /// and the form in which the box speaks.
    pub fn push(
        &mut self,
        number: usize,
        record: Record,
        before: SoFar,
        (hello, form): (Option<Vec<u8>>, Option<Form>),
    ) {
        if self.ports.len() <= number {
            self.ports.resize_with(number + 1, PortRing::default);
        }
        if let Some(port) = self.ports.get_mut(number) {
            port.form = form.or(port.form);
            port.push(Kept { record, hello, before });
        }
    }

    /// Host time before which something is too old to be kept: no run can begin there.
    pub fn since_us(&self) -> u64 {
        self.ports.iter().filter_map(|port| port.old_us).max().map_or(0, |old_us| old_us + 1)
    }

    /// The last moment, not after this host time, at which no port has a record.
    pub fn free_us(&self, at_us: u64) -> u64 {
        let taken = |us: u64| {
            self.ports
                .iter()
                .any(|port| port.kept.binary_search_by_key(&us, |kept| kept.record.host_us).is_ok())
        };
        (0..=at_us).rev().find(|us| !taken(*us)).unwrap_or(0)
    }

    /// The records of a run of these ports whose time 0 is at this host time, each with its port, in the order of their
    /// times; `Started` stands among them.
    pub fn of_run(&self, at_us: u64, ports: usize) -> Vec<(usize, Record)> {
        let of_port = |number: usize| {
            let records = self.ports.get(number).map(|port| port.of_run(at_us)).unwrap_or_default();
            let in_run = records.partition_point(|record| record.host_us <= at_us);
            let started = Record { host_us: at_us, what: WireEvent::Started };
            let (before, after) = records.split_at(in_run);
            let all: Vec<_> = before.iter().cloned().chain([started]).chain(after.iter().cloned()).collect();
            all.into_iter().map(move |record| (number, record))
        };
        let mut records: Vec<_> = (0..ports).flat_map(of_port).collect();
        // Stable, so that records of one port stay in order.
        records.sort_by_key(|(_, record)| record.host_us);
        records
    }

    /// What was counted of a port before this host time.
    pub fn before(&self, number: usize, at_us: u64) -> Option<SoFar> {
        let kept = &self.ports.get(number)?.kept;
        kept.get(kept.partition_point(|kept| kept.record.host_us <= at_us)).map(|kept| kept.before)
    }
}

#[cfg(test)]
mod tests;
