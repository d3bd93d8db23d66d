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
mod tests {
    use super::*;

    fn received(host_us: u64, length: usize) -> Record {
        let mut bytes = vec![1; length];
        *bytes.last_mut().unwrap() = 0;
        Record { host_us, what: WireEvent::Received(bytes) }
    }

    fn push(ring: &mut LookBack, number: usize, record: Record) {
        ring.push(number, record, SoFar::default(), (None, None));
    }

    #[test]
    fn noise_is_bounded_and_counted_where_it_was_and_the_hello_stays() {
        let mut ring = LookBack::default();
        push(&mut ring, 0, Record { host_us: 1, what: WireEvent::PortOpened("port".to_owned()) });
        (2..10_000).for_each(|host_us| push(&mut ring, 0, received(host_us, 4096)));
        push(&mut ring, 1, received(10_000, 7));
        ring.push(0, received(10_001, 100), SoFar::default(), (Some(vec![7; 30]), Some(Form::Binary)));
        (10_002..20_000).for_each(|host_us| push(&mut ring, 0, received(host_us, 1000)));
        let records = ring.of_run(20_000, 2);
        assert!(records.is_sorted_by_key(|(_, record)| record.host_us));
        let of_port =
            |port| records.iter().filter(move |(number, _)| *number == port).map(|(_, record)| record);
        let started = Record { host_us: 20_000, what: WireEvent::Started };
        assert_eq!(of_port(1).collect::<Vec<_>>(), [&received(10_000, 7), &started]);
        let weight_bytes: usize = of_port(0).map(Record::weight_bytes).sum();
        assert!((BYTES_MAX * 9 / 10..BYTES_MAX + 2000).contains(&weight_bytes), "{weight_bytes}");
        let head: Vec<_> = of_port(0).take(3).map(|record| &record.what).collect();
        assert_eq!(head[0], &WireEvent::PortOpened("port".to_owned()));
        assert_eq!(head[1], &WireEvent::Known(vec![7; 30]));
        let kept: u64 = of_port(0)
            .map(|record| if let WireEvent::Received(bytes) = &record.what { bytes.len() as u64 } else { 0 })
            .sum();
        assert!(matches!(head[2], WireEvent::Lost { .. }), "{head:?}");
        let WireEvent::Lost { bytes } = head[2] else { return };
        // The bytes of the first one that is kept go up to the end of a frame.
        let all = 9998 * 4096 + 100 + 9998 * 1000;
        assert!((bytes + kept..=bytes + kept + 1000).contains(&all), "{bytes} + {kept} of {all}");
    }

    #[test]
    fn what_is_old_goes_and_is_not_lost_and_an_opening_ends_what_a_run_begins_with() {
        let mut ring = LookBack::default();
        push(&mut ring, 0, Record { host_us: 0, what: WireEvent::PortOpened("port".to_owned()) });
        for second in 1..100u64 {
            let line = WireEvent::Received(format!("{second},1\n{second},2\n{second},").into_bytes());
            push(&mut ring, 0, Record { host_us: second * 1_000_000, what: line });
        }
        let began: Vec<_> = ring.of_run(94_000_000, 1).into_iter().map(|(_, record)| record).collect();
        assert_eq!(began[0].what, WireEvent::PortOpened("port".to_owned()));
        assert_eq!(
            began[1],
            Record { host_us: 87_000_000, what: WireEvent::Received(b"87,2\n87,".to_vec()) },
            "from the first whole line on"
        );
        let started = began.iter().position(|record| record.what == WireEvent::Started);
        assert_eq!((started, began.len()), (Some(9), 15));
        assert_eq!(ring.since_us(), 86_000_001);
        assert_eq!(ring.free_us(94_000_000), 93_999_999);
        // Out and in again in the look-back.
        push(&mut ring, 0, Record { host_us: 99_100_000, what: WireEvent::PortGone("out".to_owned()) });
        push(&mut ring, 0, Record { host_us: 99_200_000, what: WireEvent::PortOpened("again".to_owned()) });
        push(&mut ring, 0, Record { host_us: 99_300_000, what: WireEvent::Received(b"5,1\n".to_vec()) });
        let began: Vec<_> = ring.of_run(99_250_000, 1).into_iter().map(|(_, record)| record.what).collect();
        let whole = WireEvent::Received(b"5,1\n".to_vec());
        assert_eq!(began, [WireEvent::PortOpened("again".to_owned()), WireEvent::Started, whole]);
    }

    /// Found: the first bytes that are kept are cut, as they may begin in the middle of a frame; where the hello of the
    /// box was in them, the run knew of no hello, and the next boot passed for the first one.
    #[test]
    fn a_hello_in_the_bytes_that_are_cut_off_stays_known() {
        let mut ring = LookBack::default();
        push(&mut ring, 0, Record { host_us: 0, what: WireEvent::PortOpened("port".to_owned()) });
        let half = Record { host_us: 1_000_000, what: WireEvent::Received(vec![1; 30]) };
        ring.push(0, half, SoFar::default(), (None, Some(Form::Binary)));
        ring.push(0, received(2_000_000, 30), SoFar::default(), (Some(vec![7; 30]), Some(Form::Binary)));
        (3..15).for_each(|second| push(&mut ring, 0, received(second * 1_000_000 - 500_000, 30)));
        let began: Vec<_> = ring.of_run(9_000_000, 1).into_iter().map(|(_, record)| record.what).collect();
        let head = [
            WireEvent::PortOpened("port".to_owned()),
            WireEvent::Known(vec![7; 30]),
            WireEvent::Received(vec![]),
        ];
        assert_eq!(began[..3], head);
        assert_eq!(began.iter().filter(|what| matches!(what, WireEvent::Known(_))).count(), 1);
    }

    fn events(ring: &LookBack, at_us: u64) -> Vec<WireEvent> {
        ring.of_run(at_us, 1).into_iter().map(|(_, record)| record.what).collect()
    }

    fn received_bytes(events: &[WireEvent]) -> u64 {
        let bytes = |event: &WireEvent| if let WireEvent::Received(bytes) = event { bytes.len() } else { 0 };
        events.iter().map(|event| bytes(event) as u64).sum()
    }

    #[test]
    fn a_port_without_a_hello_keeps_little_and_what_it_lost_is_counted_to_the_byte_and_forgotten() {
        let noisy = || {
            let mut ring = LookBack::default();
            for host_us in 2..202 {
                ring.push(0, received(host_us, 4096), SoFar::default(), (None, Some(Form::Binary)));
            }
            ring
        };
        let began = events(&noisy(), 300);
        let kept = received_bytes(&began);
        assert!((200_000..UNKNOWN_BYTES_MAX as u64).contains(&kept), "{kept}");
        assert_eq!(began[0], WireEvent::Lost { bytes: 200 * 4096 - kept });
        // A step of the clock, or another opening, stands between the loss and the run.
        let step = WireEvent::ClockStep { step_us: 5 };
        for (broken, begins) in [
            (step, None),
            (WireEvent::PortOpened("again".to_owned()), Some(WireEvent::PortOpened("again".to_owned()))),
        ] {
            let mut ring = noisy();
            push(&mut ring, 0, Record { host_us: 400, what: broken });
            push(&mut ring, 0, Record { host_us: 500, what: WireEvent::Received(vec![1, 0, 2, 0]) });
            let whole = Some(WireEvent::Received(vec![1, 0, 2, 0]));
            let expected = [begins, whole, Some(WireEvent::Started)];
            assert_eq!(events(&ring, 600), expected.into_iter().flatten().collect::<Vec<_>>());
        }
        // Older than all that is kept.
        let mut ring = noisy();
        push(&mut ring, 0, received(202 + KEPT_US, 10));
        assert!(!events(&ring, 300 + KEPT_US).iter().any(|event| matches!(event, WireEvent::Lost { .. })));
    }

    #[test]
    fn what_was_counted_at_the_moment_that_a_run_begins_is_told() {
        let mut ring = LookBack::default();
        for second in 1..4u64 {
            let before = SoFar { rows: 10 * second, ..SoFar::default() };
            ring.push(0, received(second * 1_000_000, 10), before, (None, None));
        }
        let rows = |at_us: u64| ring.before(0, at_us).map(|before| before.rows);
        assert_eq!([rows(0), rows(1_999_999), rows(2_000_000)], [Some(10), Some(20), Some(30)]);
        assert_eq!((rows(3_000_000), ring.before(1, 0)), (None, None));
        assert_eq!([ring.free_us(1_500_000), ring.free_us(2_000_000)], [1_500_000, 1_999_999]);
    }

    /// What is cut off of the first bytes that are kept is lost with those before them, to the end of its frame.
    #[test]
    fn a_frame_that_lost_its_beginning_is_lost_whole() {
        let mut ring = LookBack::default();
        let mut bytes = vec![1; 4096];
        bytes[100] = 0;
        for host_us in 2..202 {
            let record = Record { host_us, what: WireEvent::Received(bytes.clone()) };
            ring.push(0, record, SoFar::default(), (None, Some(Form::Binary)));
        }
        let began = events(&ring, 300);
        assert_eq!(began[0], WireEvent::Lost { bytes: 200 * 4096 - received_bytes(&began) });
        assert_eq!(began[1], WireEvent::Received(bytes[101..].to_vec()));
    }

    /// A frame may be longer than what the port hands over at a time.
    #[test]
    fn the_rest_of_a_frame_is_cut_off_over_several_pieces() {
        let mut ring = LookBack::default();
        let pieces: [&[u8]; 5] = [b"1,2", b",3", b",4", b",5\n6,7\n", b"8,9\n"];
        for (second, piece) in (1u64..).zip(pieces) {
            let record = Record { host_us: second * 1_000_000, what: WireEvent::Received(piece.to_vec()) };
            push(&mut ring, 0, record);
        }
        // The first piece is old by now.
        push(
            &mut ring,
            0,
            Record { host_us: KEPT_US + 1_500_000, what: WireEvent::Received(b"0\n".to_vec()) },
        );
        let whole = [b"6,7\n".to_vec(), b"8,9\n".to_vec(), b"0\n".to_vec()].map(WireEvent::Received);
        let [six, eight, last] = whole;
        assert_eq!(events(&ring, 5_500_000), [six, eight, WireEvent::Started, last]);
    }

    /// As much as there is room for is kept, to the byte.
    #[test]
    fn room_is_used_up_to_its_end() {
        let kept = |beyond: usize| {
            let mut ring = LookBack::default();
            let around = received(1, 1).weight_bytes() - 1;
            push(&mut ring, 0, received(1, UNKNOWN_BYTES_MAX - around + beyond));
            received_bytes(&events(&ring, 9))
        };
        assert_eq!((kept(0) > 0, kept(1)), (true, 0));
    }
}
