//! For tests: what a box would send, as records, with faults put in by hand.

use crate::assemble::{Assembler, CalibratedSensor, Row, calibrated};
use crate::calibration::Fit;
use crate::plow::{Calibration, CalibrationPoint, ChannelRole, Sensor};
use crate::run_event::{Item, RunEvent};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{Channel, ChannelKind, Frame, Hello, Label, Readings, Time, encode};

/// Two channels: pull (0.5 N a count from 1000) and depth (0.1 mm a count from 0).
pub fn sensors() -> Vec<CalibratedSensor> {
    let sensor = |channel: &str, measures, points: [(f64, &str); 2]| Sensor {
        channel: channel.to_owned(),
        measures,
        calibration: Calibration {
            date: "2027-03-01".to_owned(),
            fit: Fit::Line,
            reference: None,
            points: points.map(|(count, value)| CalibrationPoint(count, value.to_owned())).to_vec(),
        },
        count_limits: None,
    };
    let known = [
        sensor("depth", ChannelRole::Depth, [(0.0, "0 mm"), (1000.0, "100 mm")]),
        sensor("pull", ChannelRole::Pull, [(1000.0, "0 N"), (3000.0, "1 kN")]),
    ];
    calibrated(&known, &[]).unwrap()
}

pub fn hello(boot: u32) -> Hello {
    let channel =
        |name, kind| Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 1_000_000 };
    let table = [channel("pull", ChannelKind::Pull), channel("depth", ChannelKind::Depth)];
    let (serial, name) = (Label::new("0001").unwrap(), Label::new("box").unwrap());
    Hello::new(boot, (1, 2, 3), 1_000_000, serial, name, &table).unwrap()
}

/// Bytes of a frame on the wire.
pub fn bytes(frame: &Frame) -> Vec<u8> {
    encode(frame).as_bytes().to_vec()
}

/// The counts of the row of this number: pull, depth.
pub fn counts(row: u32) -> [i32; 2] {
    [i32::try_from(row % 20_000).unwrap() + 1000, i32::try_from(row % 97).unwrap() + 1]
}

/// A box that is recorded: rows of 1 ms, eight a frame.
pub struct Script {
    pub records: Vec<Record>,
    pub host_us: u64,
    /// Box clock minus host time.
    pub box_ahead_us: u64,
    pub row: u32,
    token: u32,
}

impl Script {
    /// Nothing has come yet.
    pub fn bare() -> Self {
        Self { records: Vec::new(), host_us: 0, box_ahead_us: 0, row: 0, token: 0 }
    }

    /// A box whose hello came, whose pings were answered, and whose run has begun.
    pub fn begun(box_ahead_us: u64, first_row: u32) -> Self {
        let mut script = Self { box_ahead_us, row: first_row, ..Self::bare() };
        script.record(WireEvent::PortOpened("port".to_owned()));
        script.frame(&Frame::Hello(hello(7)));
        for _ in 0..3 {
            script.ping();
        }
        script.host_us += 10_000;
        script.record(WireEvent::Started);
        script
    }

    pub fn record(&mut self, what: WireEvent) {
        self.host_us += 1;
        self.records.push(Record { host_us: self.host_us, what });
    }

    pub fn frame(&mut self, frame: &Frame) {
        self.record(WireEvent::Received(bytes(frame)));
    }

    pub fn ping(&mut self) {
        self.token += 1;
        self.record(WireEvent::PingSent { token: self.token });
        self.host_us += 200;
        let clock_us = (self.host_us + self.box_ahead_us) as u32;
        self.host_us += 200;
        self.frame(&Frame::Time(Time { token: self.token, clock_us }));
    }

    /// The next frame of eight rows, 8 ms later.
    pub fn rows(&mut self) -> Readings {
        let counts: Vec<i32> = (0..8).flat_map(|k| counts(self.row.wrapping_add(k))).collect();
        self.rows_of(2, &counts)
    }

    fn rows_of(&mut self, channels: usize, counts: &[i32]) -> Readings {
        let clock_us = (self.host_us + self.box_ahead_us) as u32;
        let readings = Readings::new(self.row, clock_us, 1000, channels, counts).unwrap();
        self.row = self.row.wrapping_add(8);
        self.host_us += 8000;
        readings
    }

    /// The next frame, with these counts.
    pub fn send_counts(&mut self, channels: usize, counts: &[i32]) {
        let rows = self.rows_of(channels, counts);
        self.frame(&Frame::Readings(rows));
    }

    pub fn send_rows(&mut self, frames: u32) {
        for _ in 0..frames {
            let rows = self.rows();
            self.frame(&Frame::Readings(rows));
        }
    }

    pub fn ended(mut self) -> Vec<Record> {
        self.record(WireEvent::Ended("test".to_owned()));
        self.records
    }
}

/// All rows and events of records.
pub fn assemble(records: &[Record]) -> (Vec<Row>, Vec<RunEvent>, Assembler) {
    let mut assembler = Assembler::new(sensors());
    let mut items = Vec::new();
    for record in records {
        assembler.take(record, &mut items);
    }
    assembler.finish(&mut items);
    let (rows, events) = Item::split(items);
    (rows, events, assembler)
}

/// A sentence of NMEA 0183 as a line.
pub fn nmea_line(body: &str) -> String {
    format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
}
