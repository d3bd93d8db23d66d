//! An afternoon made of stored passes: as rows of counts, as another logger's CSV, as the recording of a box; and each
//! pass of it alone.

use std::fmt::Write as _;
use std::fs;
use std::ops::Range;
use std::path::Path;

use firmware_protocol::{Frame, Hello, Readings, Time, encode};
use hitchwright_tests::command::sample;
use hitchwright_tests::synthetic::{bytes_in_wire, frames_in};
use ingest::wire_file::{Record, WIRE_MAGIC, WireEvent};

/// Counts of a row: pull, tail, depth.
pub type Counts = [i32; 3];

/// Counts at 0 N and 0 mm, and in a N and mm, by the calibrations of the stored runs.
const ZERO: Counts = [12_840, 2_150, 16_200];
const PER_UNIT: [f64; 3] = [400.0, 400.0, 120.0];
pub const RATE_HZ: f64 = 50.0;
const INTERVAL_US: u32 = 20_000;
/// A stored pass is half-way on its way into the ground and out of it at these times, in s.
pub const IN_S: f64 = 4.75;
pub const OUT_S: f64 = 66.25;

/// A stored pass: 4 s of rolling with the plow out, on its way in, a minute at work, out again. In soil that pulls
/// so many times as hard.
pub fn stored_pass(case: &str, hardness: f64) -> Vec<Counts> {
    let frames = frames_in(&bytes_in_wire(&sample("runs").join(case)).unwrap());
    let readings = frames.into_iter().filter_map(|frame| match frame {
        Frame::Readings(readings) => Some(readings),
        _ => None,
    });
    let rows: Vec<Vec<i32>> =
        readings.flat_map(|some| some.rows().map(<[i32]>::to_vec).collect::<Vec<_>>()).collect();
    let row = |counts: &Vec<i32>| {
        let [pull, tail, depth] = counts[..] else { panic!("{counts:?}") };
        [ZERO[0] + (hardness * f64::from(pull - ZERO[0])) as i32, tail, depth]
    };
    rows.iter().map(row).collect()
}

/// So many s of these means (N, mm, mm) with a little noise.
fn steady(lasts_s: f64, means: [f64; 3], noise: f64) -> Vec<Counts> {
    let row = |number: u32| {
        let mixed = number.wrapping_mul(2_654_435_761);
        let noise =
            noise * (f64::from((mixed ^ (mixed >> 15)).wrapping_mul(2_246_822_519) >> 16) / 65_536.0 - 0.5);
        let count = |k: usize| ZERO[k] + (PER_UNIT[k] * (means[k] + noise * [1.0, 0.02, 0.1][k])) as i32;
        [count(0), count(1), count(2)]
    };
    (0..(lasts_s * RATE_HZ) as u32).map(row).collect()
}

/// What happens between two passes. Nothing of it is a pass.
#[derive(Clone, Copy)]
pub enum Headland {
    /// The plow is carried.
    Carried(f64),
    /// It hangs still for so many s, carried before and after.
    Stood(f64),
    /// It is let down halfway and dragged around.
    Dragged,
    /// It is let down and pulled for so many s, carried before and after.
    LetDown(f64),
}

impl Headland {
    fn rows(self) -> Vec<Counts> {
        let out = stored_pass("balanced", 1.0);
        let carried = |lasts_s: f64| -> Vec<Counts> {
            out.iter().copied().take(190).cycle().take((lasts_s * RATE_HZ) as usize).collect()
        };
        let between = |rows: Vec<Counts>| [carried(5.0), rows, carried(7.0)].concat();
        match self {
            Self::Carried(lasts_s) => carried(lasts_s),
            Self::Stood(lasts_s) => between(steady(lasts_s, [0.0, 40.0, -58.0], 1.0)),
            Self::Dragged => between(steady(12.0, [1500.0, 30.0, 45.0], 200.0)),
            Self::LetDown(lasts_s) => between(steady(lasts_s, [6500.0, 8.0, 150.0], 900.0)),
        }
    }
}

/// An afternoon: its rows, and those of its passes.
#[derive(Default)]
pub struct Afternoon {
    pub rows: Vec<Counts>,
    pub passes: Vec<Range<usize>>,
}

impl Afternoon {
    pub fn then(mut self, headland: Headland) -> Self {
        self.rows.extend(headland.rows());
        self
    }

    pub fn pass(mut self, case: &str, hardness: f64) -> Self {
        let from = self.rows.len();
        self.rows.extend(stored_pass(case, hardness));
        self.passes.push(from..self.rows.len());
        self
    }

    /// When this pass begins, in s.
    pub fn pass_s(&self, pass: usize) -> f64 {
        self.passes[pass].start as f64 / RATE_HZ
    }
}

/// These rows as a logger writes them.
pub fn csv(rows: &[Counts]) -> String {
    let mut text = String::from("Time,Pull,Tail,Depth\n");
    for (number, row) in rows.iter().enumerate() {
        let value = |k: usize| f64::from(row[k] - ZERO[k]) / PER_UNIT[k];
        let t_s = number as f64 / RATE_HZ;
        writeln!(text, "{t_s:.2},{:.4},{:.4},{:.4}", value(0), value(1), value(2)).unwrap();
    }
    text
}

/// A run folder as a recorder leaves it where the power goes at the end of these rows: a description and the raw bytes.
pub fn recording(rows: &[Counts], folder: &Path) {
    let stored = sample("runs/balanced");
    fs::create_dir(folder).unwrap();
    let text = fs::read_to_string(stored.join("run.toml")).unwrap();
    let text =
        text.replace("id = \"balanced\"", &format!("id = \"{}\"", folder.file_name().unwrap().display()));
    fs::write(folder.join("run.toml"), text).unwrap();
    let hello = frames_in(&bytes_in_wire(&stored).unwrap()).into_iter().find_map(|frame| match frame {
        Frame::Hello(hello) => Some(hello),
        _ => None,
    });
    fs::write(folder.join("plow.wire"), wire(rows, &hello.unwrap())).unwrap();
}

/// What a recorder keeps of a box that sends these rows, six a frame, and answers a ping a second at once.
fn wire(rows: &[Counts], hello: &Hello) -> Vec<u8> {
    const AHEAD_US: u64 = 4_200_000_000;
    const BEGIN_US: u64 = 1_000_000;
    let clock_us = |host_us: u64| (host_us + AHEAD_US) as u32;
    let received = |frame: &Frame| WireEvent::Received(encode(frame).as_bytes().to_vec());
    let mut records = vec![
        (1, WireEvent::PortOpened("virtual".to_owned())),
        (2, received(&Frame::Hello(*hello))),
        (BEGIN_US - 1, WireEvent::Started),
    ];
    let lasts_us = rows.len() as u64 * u64::from(INTERVAL_US);
    for token in 1..(BEGIN_US + lasts_us) / 300_000 {
        let sent_us = u64::from(token as u32) * 300_000;
        records.push((sent_us, WireEvent::PingSent { token: token as u32 }));
        let answer = Time { token: token as u32, clock_us: clock_us(sent_us + 200) };
        records.push((sent_us + 400, received(&Frame::Time(answer))));
    }
    for (number, some) in (0..).zip(rows.chunks(6)) {
        let first_us = BEGIN_US + 6 * number * u64::from(INTERVAL_US);
        let counts = some.concat();
        let frame = Readings::new(6 * number as u32, clock_us(first_us), INTERVAL_US, 3, &counts).unwrap();
        records.push((first_us + 5 * u64::from(INTERVAL_US) + 1_000, received(&Frame::Readings(frame))));
    }
    records.sort_by_key(|(host_us, _)| *host_us);
    records.push((BEGIN_US + lasts_us + 200_000, WireEvent::Ended("stopped".to_owned())));
    let mut bytes = WIRE_MAGIC.to_vec();
    records.into_iter().for_each(|(host_us, what)| Record { host_us, what }.write_to(&mut bytes));
    bytes
}
