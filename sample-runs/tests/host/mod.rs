//! The host's end of the line, and what the box wrote down as true.

use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::time::{Duration, Instant};

use firmware_protocol::{Counters, Decoder, Event, Frame, Hello, Readings, encode};
use sample_runs::plow::Case;
use sample_runs::virtual_box::{BoxConfig, BoxReport, VirtualBox};
use tempfile::TempDir;

/// Longest that any test waits for anything.
pub const PATIENCE: Duration = Duration::from_secs(20);
/// Token of the ping whose answer marks the end.
pub const LAST_TOKEN: u32 = 0x0E0D_0E0D;

/// Row number, box clock in µs, counts.
pub type Row = (u32, u32, Vec<i32>);

pub struct Host {
    pub port: File,
    pub decoder: Decoder,
    pub frames: Vec<Frame>,
    pub gone: bool,
}

impl Host {
    pub fn open(path: &Path) -> Self {
        let begun = Instant::now();
        loop {
            let nonblock = rustix::fs::OFlags::NONBLOCK.union(rustix::fs::OFlags::NOCTTY);
            let flags = i32::try_from(nonblock.bits()).unwrap();
            match OpenOptions::new().read(true).write(true).custom_flags(flags).open(path) {
                Ok(port) => return Self { port, decoder: Decoder::new(), frames: Vec::new(), gone: false },
                Err(error) => assert!(begun.elapsed() < PATIENCE, "{}: {error}", path.display()),
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    pub fn say(&mut self, frame: Frame) {
        self.port.write_all(encode(&frame).as_bytes()).unwrap();
    }

    /// Takes in what is there; `false` if that is nothing.
    pub fn listen(&mut self) -> bool {
        let mut buffer = [0u8; 4096];
        match self.port.read(&mut buffer) {
            Ok(0) => self.gone = true,
            Ok(count) => {
                let mut bytes = &buffer[..count];
                while let Some(event) = self.decoder.next_event(&mut bytes) {
                    if let Event::Frame(frame) = event {
                        self.frames.push(frame);
                    }
                }
                return true;
            }
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {}
            Err(_) => self.gone = true,
        }
        false
    }

    pub fn listen_until(&mut self, what: &str, mut seen: impl FnMut(&Self) -> bool) {
        let begun = Instant::now();
        while !seen(self) {
            assert!(begun.elapsed() < PATIENCE, "waited for {what}; got {} frames", self.frames.len());
            if !self.listen() {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
    }

    /// Until the pass is over and all that was sent is read: the box goes then, or answers a ping, and a
    /// line keeps the order. Damage may take the answer, so it asks again.
    pub fn listen_to_the_end(&mut self, handle: &VirtualBox) {
        self.listen_until("the end of the pass", |_| handle.is_pass_over());
        let answer = |frame: &Frame| matches!(frame, Frame::Time(time) if time.token == LAST_TOKEN);
        let answered = |host: &Self| host.gone || host.frames.iter().any(answer);
        let begun = Instant::now();
        while !answered(self) {
            // A box that has seen everything read is gone, and cannot be asked any more.
            let _ = self.port.write_all(encode(&Frame::Ping { token: LAST_TOKEN }).as_bytes());
            let asked = Instant::now();
            while asked.elapsed() < Duration::from_millis(200) && !answered(self) {
                if !self.listen() {
                    std::thread::sleep(Duration::from_millis(1));
                }
            }
            assert!(begun.elapsed() < PATIENCE, "the box does not answer");
        }
    }

    pub fn hellos(&self) -> Vec<&Hello> {
        self.each(|frame| if let Frame::Hello(hello) = frame { Some(hello) } else { None })
    }

    pub fn readings(&self) -> Vec<&Readings> {
        self.each(|frame| if let Frame::Readings(readings) = frame { Some(readings) } else { None })
    }

    pub fn each<'a, T>(&'a self, of: impl Fn(&'a Frame) -> Option<T>) -> Vec<T> {
        self.frames.iter().filter_map(of).collect()
    }

    /// Every row, in the order of arrival.
    pub fn rows(&self) -> Vec<Row> {
        let rows = |r: &Readings| -> Vec<Row> {
            let place = |i: u32| (r.first_row.wrapping_add(i), r.clock_us.wrapping_add(i * r.interval_us));
            (0..).zip(r.rows()).map(|(i, row)| (place(i).0, place(i).1, row.to_vec())).collect()
        };
        self.readings().into_iter().flat_map(rows).collect()
    }
}

/// A short pass, much faster than real time: 14 s of it in about 0.3 s.
pub fn quick(folder: &TempDir) -> BoxConfig {
    let mut config = BoxConfig::of_case(Case::Balanced, 1, 5.0);
    config.speed_up = 40.0;
    config.linger_s = 20.0;
    config.link = Some(folder.path().join("port"));
    config.truth_csv = Some(folder.path().join("truth.csv"));
    config
}

/// A box, and its host, which has opened the port.
pub fn opened(config: BoxConfig) -> (VirtualBox, Host) {
    let handle = VirtualBox::open(config).unwrap();
    let host = Host::open(handle.path());
    (handle, host)
}

/// The same, and the host has said *start*.
pub fn started(config: BoxConfig) -> (VirtualBox, Host) {
    let (handle, mut host) = opened(config);
    host.say(Frame::Start);
    (handle, host)
}

/// Runs a pass from *start* to its end; what the host got, what the box says, and the truth file's rows.
pub fn ride(config: BoxConfig, folder: &TempDir) -> (Vec<Row>, Counters, BoxReport, Vec<TruthRow>) {
    let (handle, mut host) = started(config);
    host.listen_to_the_end(&handle);
    let (rows, counters) = (host.rows(), host.decoder.counters());
    drop(host);
    let report = handle.join().unwrap();
    (rows, counters, report, truth_rows(folder))
}

#[derive(Debug)]
pub struct TruthRow {
    pub boot: u32,
    pub row: u32,
    pub clock_us: u32,
    pub fate: String,
    pub counts: Vec<i32>,
}

pub fn truth_rows(folder: &TempDir) -> Vec<TruthRow> {
    let text = std::fs::read_to_string(folder.path().join("truth.csv")).unwrap();
    let (header, rows) = text.split_once('\n').unwrap();
    let counts = header.split(',').filter(|name| name.ends_with("_count")).count();
    let parse = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells.len(), header.split(',').count());
        TruthRow {
            boot: cells[0].parse().unwrap(),
            row: cells[1].parse().unwrap(),
            clock_us: cells[2].parse().unwrap(),
            fate: cells[3].to_owned(),
            counts: cells[4..4 + counts].iter().map(|cell| cell.parse().unwrap()).collect(),
        }
    };
    rows.lines().map(parse).collect()
}

pub fn same(got: &Row, truth: &TruthRow) -> bool {
    (got.0, got.1, &got.2) == (truth.row, truth.clock_us, &truth.counts)
}
